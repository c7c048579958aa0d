"""Thermal mass flow controllers against conversion factors that makers publish (from memory)."""

import numpy as np
import pytest

from review.physics.meters import thermal_conversion


@pytest.mark.parametrize(
    ("name", "heat_capacity", "published"),
    [("methanol", 44.0, 0.58), ("ethanol", 65.6, 0.39), ("benzene", 82.4, 0.29)],
)
def test_vapours_without_a_published_factor_by_their_heat_capacity(name, heat_capacity, published):
    factor = thermal_conversion([name], np.ones((1, 1)), np.array([heat_capacity]))
    assert factor[0] == pytest.approx(published, rel=0.1)


def test_without_factor_and_heat_capacity_the_reading_is_the_most() -> None:
    """No molecule has less than 7/2 R, 29.1 J/(mol K) as nitrogen; ethanol's own factor is 0.39."""
    unknown = thermal_conversion(["ethanol"], np.ones((1, 1)), np.array([np.nan]))[0]
    known = thermal_conversion(["ethanol"], np.ones((1, 1)), np.array([65.6]))[0]
    assert unknown == 1.0 > known
