"""Room concentrations against numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from review.physics.room import two_zone_rise, well_mixed_rise

CASES = [
    # emission, airflow, interzonal, room, near, start near, start far
    (1e-6, 0.1, 0.05, 50.0, 0.3, 0.0, 0.0),
    (1e-6, 0.0, 0.05, 50.0, 0.3, 0.0, 1e-5),
    (0.0, 0.1, 0.05, 50.0, 0.3, 1e-3, 1e-5),
    (5e-6, 0.5, 0.001, 20.0, 5.0, 1e-4, 2e-4),
    (5e-6, 0.01, 1.0, 20.0, 9.0, 0.0, 1e-3),
]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("time", [0.0, 5.0, 300.0, 7200.0])
def test_two_zones_against_integration(case: tuple[float, ...], time: float) -> None:
    emission, airflow, beta, room, near, start_near, start_far = case

    def slopes(_: float, c: np.ndarray) -> list[float]:
        into_near = emission + beta * (c[1] - c[0])
        into_far = beta * (c[0] - c[1]) - airflow * c[1]
        return [into_near / near, into_far / (room - near)]

    start = [start_near, start_far]
    expected = start
    if time:
        expected = solve_ivp(slopes, (0, time), start, method="LSODA", rtol=1e-10, atol=1e-16).y[
            :, -1
        ]
    result = two_zone_rise(time, emission, airflow, beta, room, near, start_near, start_far)
    np.testing.assert_allclose(result, expected, rtol=1e-6, atol=1e-14)


def test_well_mixed_room_pieced_together() -> None:
    """Two spans, the second from where the first ended, are one span."""
    args = (1e-5, 0.1, 50.0, 3.0)
    half = well_mixed_rise(400.0, *args, 1e-5, 2e-6)
    assert well_mixed_rise(600.0, *args, half, 2e-6) == pytest.approx(
        well_mixed_rise(1000.0, *args, 1e-5, 2e-6), rel=1e-12
    )
