"""Gas and wall along a cooling line against scipy's boundary-value solver and the limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp, trapezoid

from review.physics.air import air_conductivity
from review.physics.heat import (
    cooling_line,
    fin_temperature,
    outer_coefficient,
)

AMBIENT = 293.15

# Quartz tube, bore 20 mm, wall 2 mm, that leaves a 600 degC zone carrying 5 L/min (20 degC) of air.
#: Laminar flow in a tube at one wall temperature (Incropera, from memory).
LAMINAR_NUSSELT = 3.66
BORE, OUTER = 0.020, 0.024
MASS_FLOW = 5e-3 / 60 * 1.2041
CAPACITY_FLOW = MASS_FLOW * 1005.0
QUARTZ = {
    "length": 0.3,
    "gas_in": 873.15,
    "wall_in": 873.15,
    "ambient": AMBIENT,
    "gas_capacity_flow": CAPACITY_FLOW,
    "inner_coefficient": 3.66 * 0.05 / BORE,
    "inner_perimeter": np.pi * BORE,
    "outer_coefficient": 15.0,
    "outer_perimeter": np.pi * OUTER,
    "wall_conductivity": 1.4,
    "wall_area": np.pi / 4 * (OUTER**2 - BORE**2),
}


def solved(case: dict[str, float], distance: np.ndarray) -> np.ndarray:
    """Gas and wall temperature by collocation, shape (2, distances)."""
    length = case["length"]
    exchange = case["inner_coefficient"] * case["inner_perimeter"]
    loss = case["outer_coefficient"] * case["outer_perimeter"]
    conductance = case["wall_conductivity"] * case["wall_area"]

    def slopes(_: np.ndarray, y: np.ndarray) -> np.ndarray:
        gas, wall, gradient = y
        given = exchange * (gas - wall)
        curvature = (loss * (wall - case["ambient"]) - given) / conductance
        return length * np.vstack([-given / case["gas_capacity_flow"], gradient, curvature])

    def ends(start: np.ndarray, end: np.ndarray) -> np.ndarray:
        return np.array([start[0] - case["gas_in"], start[1] - case["wall_in"], end[2]])

    mesh = np.linspace(0, 1, 300)
    guess = np.vstack([np.full(300, case["gas_in"]), np.full(300, case["wall_in"]), np.zeros(300)])
    solution = solve_bvp(slopes, ends, mesh, guess, tol=1e-7, max_nodes=100_000)
    assert solution.success
    return solution.sol(distance / length)[:2]


CASES = {
    "quartz": {},
    "quartz, slow": {"gas_capacity_flow": CAPACITY_FLOW / 20},
    "quartz, fast": {"gas_capacity_flow": CAPACITY_FLOW * 20},
    "steel": {"wall_conductivity": 16.0},
    "copper, short": {"wall_conductivity": 390.0, "length": 0.05},
    "alumina, long": {"wall_conductivity": 25.0, "length": 0.5},
    "cold gas into a hot wall": {"gas_in": 300.0},
    "hot gas into a cold wall": {"wall_in": 300.0},
    "insulated outside": {"outer_coefficient": 0.0, "wall_in": 500.0},
    "draught outside": {"outer_coefficient": 60.0},
    "strong exchange": {"inner_coefficient": 150.0},
    "weak exchange": {"inner_coefficient": 0.5},
    "ambient above the gas": {"ambient": 900.0, "gas_in": 500.0, "wall_in": 600.0},
}


@pytest.mark.parametrize("change", CASES.values(), ids=CASES)
def test_against_solve_bvp(change: dict[str, float]) -> None:
    case = QUARTZ | change
    distance = np.linspace(0, case["length"], 13)
    expected = solved(case, distance)
    gas, wall = cooling_line(distance, **case)
    np.testing.assert_allclose(gas, expected[0], atol=2e-3)
    np.testing.assert_allclose(wall, expected[1], atol=2e-3)


def test_a_spread_of_lines_satisfies_balances_and_ends() -> None:
    """Where collocation gives up: the closed form put into the equations it solves."""
    draw = np.random.default_rng(7)
    runs = 4000
    case = {
        "length": draw.uniform(0.02, 1.0, runs),
        "gas_in": draw.uniform(300, 1300, runs),
        "wall_in": draw.uniform(300, 1300, runs),
        "ambient": np.full(runs, AMBIENT),
        "gas_capacity_flow": 10 ** draw.uniform(-6, 1, runs),
        "inner_coefficient": 10 ** draw.uniform(0, 2.5, runs),
        "inner_perimeter": draw.uniform(0.006, 0.1, runs),
        "outer_coefficient": 10 ** draw.uniform(-1, 2, runs),
        "outer_perimeter": draw.uniform(0.008, 0.12, runs),
        "wall_conductivity": 10 ** draw.uniform(-1, 2.6, runs),
        "wall_area": 10 ** draw.uniform(-5.5, -3, runs),
    }
    grid = np.linspace(0, 1, 41)[:, None] * case["length"]
    gas, wall = cooling_line(grid, **case)
    np.testing.assert_allclose(gas[0], case["gas_in"], rtol=1e-9)
    np.testing.assert_allclose(wall[0], case["wall_in"], rtol=1e-9)

    coldest = np.minimum(np.minimum(case["gas_in"], case["wall_in"]), AMBIENT)
    hottest = np.maximum(np.maximum(case["gas_in"], case["wall_in"]), AMBIENT)
    for course in (gas, wall):
        assert np.isfinite(course).all()
        assert (course >= coldest - 1e-6).all()
        assert (course <= hottest + 1e-6).all()

    # Heat that the gas lost and the wall took in at its start went out through the outside.
    fine = np.sin(np.linspace(0, np.pi / 2, 4001))[:, None] ** 4 * case["length"]
    gas, wall = cooling_line(fine, **case)
    loss = case["outer_coefficient"] * case["outer_perimeter"]
    lost = trapezoid(loss * (wall - AMBIENT), fine, axis=0)
    step = case["length"] * 1e-6
    near, further = (cooling_line(step * k, **case)[1] for k in (1, 2))
    gradient = (-3 * case["wall_in"] + 4 * near - further) / (2 * step)
    conducted = -case["wall_conductivity"] * case["wall_area"] * gradient
    from_gas = case["gas_capacity_flow"] * (case["gas_in"] - gas[-1])
    size = np.abs(conducted) + np.abs(from_gas) + np.abs(lost) + 1e-6
    assert np.median(np.abs(conducted + from_gas - lost) / size) < 1e-5
    assert np.quantile(np.abs(conducted + from_gas - lost) / size, 0.99) < 1e-2


def test_gas_is_still_hot_where_the_fin_is_cold() -> None:
    """5 L/min out of a 600 degC zone: gas near 500 degC at 50 mm, the wall alone near ambient."""
    mean_film = 800.0
    case = QUARTZ | {
        "inner_coefficient": LAMINAR_NUSSELT * air_conductivity(mean_film) / BORE,
        "outer_coefficient": outer_coefficient(500.0, AMBIENT, OUTER, 0.8),
    }
    gas, _ = cooling_line(0.05, **case)
    alone = fin_temperature(
        0.05,
        873.15,
        AMBIENT,
        case["outer_coefficient"],
        case["outer_perimeter"],
        case["wall_conductivity"],
        case["wall_area"],
        case["length"],
    )
    assert 480 < gas - 273.15 < 560
    assert alone - 273.15 < 45


def test_no_flow_is_the_plain_fin_and_is_reached_smoothly() -> None:
    fin = fin_temperature(
        0.05,
        QUARTZ["wall_in"],
        AMBIENT,
        QUARTZ["outer_coefficient"],
        QUARTZ["outer_perimeter"],
        QUARTZ["wall_conductivity"],
        QUARTZ["wall_area"],
        QUARTZ["length"],
    )
    gas, wall = cooling_line(0.05, **(QUARTZ | {"gas_capacity_flow": 0.0}))
    assert gas == wall
    assert wall == pytest.approx(fin, rel=1e-9)
    flows = np.array([1e-12, 1e-9, 1e-7])
    gas, wall = cooling_line(0.05, **(QUARTZ | {"gas_capacity_flow": flows}))
    np.testing.assert_allclose(gas, fin, atol=1e-3)
    np.testing.assert_allclose(wall, fin, atol=1e-3)


def test_a_flood_of_gas_keeps_its_temperature() -> None:
    gas, _ = cooling_line(0.3, **(QUARTZ | {"gas_capacity_flow": 1e9}))
    assert gas == pytest.approx(QUARTZ["gas_in"], abs=1e-3)


@pytest.mark.parametrize("lower", ["inner_coefficient", "outer_coefficient"])
def test_the_low_coefficient_is_the_hot_side_for_the_gas(lower: str) -> None:
    distance = np.linspace(0.01, 0.3, 30)
    gas, _ = cooling_line(distance, **QUARTZ)
    hotter, _ = cooling_line(distance, **(QUARTZ | {lower: QUARTZ[lower] * 0.8}))
    assert (hotter > gas).all()


def test_the_insulated_end_is_the_hot_side() -> None:
    """A line cut at L is nowhere cooler than the same place of a longer line."""
    distance = np.linspace(0.0, 0.1, 20)
    short = cooling_line(distance, **(QUARTZ | {"length": 0.1}))
    long = cooling_line(distance, **(QUARTZ | {"length": 0.4}))
    assert (short[0] >= long[0] - 1e-9).all()
    assert (short[1] >= long[1] - 1e-9).all()
