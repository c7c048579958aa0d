"""Flow against fluids and numerical integration, over ranges a table of rows cannot hold."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.compressible import isothermal_gas
from fluids.friction import Churchill_1977
from fluids.safety_valve import API520_A_g
from scipy.integrate import solve_ivp

from review.physics.flow import (
    churchill_friction_factor,
    line_loss,
    orifice_mass_flow,
    upstream_pressure,
)
from review.physics.gas import R


@pytest.mark.parametrize("roughness", [0.0, 1e-5, 1e-3, 0.05])
def test_friction_factor_in_every_regime(roughness: float) -> None:
    re = np.geomspace(1.0, 1e8, 60)
    expected = [Churchill_1977(x, roughness) for x in re]
    np.testing.assert_allclose(churchill_friction_factor(re, roughness), expected, rtol=1e-9)


@pytest.mark.parametrize("re", [1e-300, 1e-30, 1e-3, 1e15, 1e20])
def test_friction_factor_at_the_far_ends(re: float) -> None:
    factor = churchill_friction_factor(re, 1e-3)
    assert np.isfinite(factor)
    if re < 1:
        assert factor == pytest.approx(64 / re)


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
        "factor": float(churchill_friction_factor(rho * velocity * diameter / 1.8e-5)),
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


def test_choked_flow_against_api_520() -> None:
    """Area that API 520 asks for at the computed flow is the area computed with."""
    for k, molar_mass, temperature in ((1.4, 28.0, 350.0), (1.66, 39.9, 293.0), (1.2, 44.0, 600.0)):
        area = 2e-5
        flow = orifice_mass_flow(8e5, 1e5, temperature, molar_mass / 1e3, k, area, 0.975)
        asked = API520_A_g(
            m=float(flow), T=temperature, Z=1.0, MW=molar_mass, k=k, P1=8e5, P2=1e5, Kd=0.975
        )
        assert asked == pytest.approx(area, rel=2e-3)


def test_flow_does_not_rise_below_the_critical_ratio_nor_run_backwards() -> None:
    downstream = np.array([0.0, 1e4, 1e5, 1.5e5, 1.9e5, 2e5, 3e5])
    flow = orifice_mass_flow(2e5, downstream, 300.0, 0.029, 1.4, 1e-6, 1.0)
    assert flow[0] == flow[1] == flow[2]
    assert (np.diff(flow) <= 0).all()
    assert flow[-1] == flow[-2] == 0.0
