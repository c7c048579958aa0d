"""Flow against fluids and numerical integration, over ranges a table of rows cannot hold."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.compressible import isothermal_gas
from fluids.friction import Churchill_1977
from scipy.integrate import solve_ivp

from review.physics.flow import (
    line_loss,
    upstream_pressure,
)
from review.physics.gas import R


def test_no_flow_loses_nothing() -> None:
    assert line_loss(0.0, 1.2, 1.8e-5, 0.005, 1.0, 1e-5, 1.5) == 0.0


def pipe(mass_flow: float) -> dict[str, float]:
    diameter, molar_mass, temperature, outlet = 0.004, 28.9644e-3, 293.15, 101325.0
    rho = outlet * molar_mass / (R * temperature)
    velocity = mass_flow / (rho * np.pi / 4 * diameter**2)
    return {
        "diameter": diameter,
        "specific": R * temperature / molar_mass,
        "outlet": outlet,
        "density": rho,
        "velocity": velocity,
        "factor": Churchill_1977(rho * velocity * diameter / 1.8e-5, 0.0),
    }


@pytest.mark.parametrize("mass_flow", [1e-5, 2e-4, 1e-3])
def test_compressible_line_against_marching(mass_flow: float) -> None:
    """Friction alone, marched against the flow from the outlet, isothermal."""
    p = pipe(mass_flow)
    flux = p["density"] * p["velocity"]

    def slope(_: float, pressure: np.ndarray) -> np.ndarray:
        return p["factor"] * flux**2 * p["specific"] / (2 * p["diameter"] * pressure)

    marched = solve_ivp(slope, (0, 1.0), [p["outlet"]], rtol=1e-10, atol=1e-6).y[0, -1]
    loss = line_loss(p["velocity"], p["density"], 1.8e-5, p["diameter"], 1.0)
    assert upstream_pressure(p["outlet"], loss) == pytest.approx(marched, rel=1e-7)


@pytest.mark.parametrize("mass_flow", [1e-5, 2e-4, 6e-4])
def test_exit_head_covers_acceleration(mass_flow: float) -> None:
    """The pressure before the line is not below the full isothermal solution (fluids)."""
    p = pipe(mass_flow)
    exact = isothermal_gas(
        rho=p["density"],
        fd=p["factor"],
        P2=p["outlet"],
        L=1.0,
        D=p["diameter"],
        m=mass_flow,
        P1=None,
    )
    # fluids wants the density at the mean pressure: put it in until it stands still.
    for _ in range(60):
        mean = p["density"] * (exact + p["outlet"]) / 2 / p["outlet"]
        exact = isothermal_gas(
            rho=mean, fd=p["factor"], P2=p["outlet"], L=1.0, D=p["diameter"], m=mass_flow
        )
    loss = line_loss(p["velocity"], p["density"], 1.8e-5, p["diameter"], 1.0, 0.0, 1.0)
    ours = upstream_pressure(p["outlet"], loss)
    assert ours / p["outlet"] < 1.6, "outside the stated range"
    assert ours >= exact * (1 - 1e-9)
    assert ours == pytest.approx(exact, rel=0.05)


@pytest.mark.parametrize("length", [0.3, 1.0, 5.0])
@pytest.mark.parametrize("mass_flow", [6e-3, 1e-2, 4e-2])
def test_a_choked_line_against_the_full_solution(mass_flow: float, length: float) -> None:
    """The gas leaves with the speed sqrt(p/rho) at a pressure above the room's; from just before
    there the momentum of friction and acceleration is marched upstream."""
    p = pipe(mass_flow)
    driven = (p["density"] * p["velocity"]) ** 2 * p["specific"]
    mouth = np.sqrt(driven)
    assert mouth > p["outlet"]

    def slope(_: float, pressure: np.ndarray) -> np.ndarray:
        friction = p["factor"] * driven / (2 * p["diameter"] * pressure)
        return friction / (1 - driven / pressure**2)

    marched = solve_ivp(slope, (0, length), [mouth * 1.0001], rtol=1e-10, method="LSODA").y[0, -1]
    loss = line_loss(p["velocity"], p["density"], 1.8e-5, p["diameter"], length)
    ours = upstream_pressure(p["outlet"], loss, p["velocity"], p["density"])
    assert ours == pytest.approx(marched, rel=1e-4)


@pytest.mark.parametrize("mass_flow", [6e-3, 1e-2, 4e-2])
def test_a_choked_opening_costs_no_less_than_a_sharp_orifice(mass_flow: float) -> None:
    """Choked, with the discharge coefficient 0.84 of a sharp edge (Perry, from memory)."""
    p = pipe(mass_flow)
    loss = line_loss(p["velocity"], p["density"], 1.8e-5, p["diameter"], 1e-9, 0.0, 1.5)
    ours = upstream_pressure(p["outlet"], loss, p["velocity"], p["density"])
    flux = p["density"] * p["velocity"]
    sharp = flux * np.sqrt(p["specific"]) / (0.84 * np.sqrt(1.4) * (2 / 2.4) ** (2.4 / 0.8))
    assert sharp < ours < 1.3 * sharp
