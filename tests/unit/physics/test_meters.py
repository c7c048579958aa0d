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


def test_without_factor_and_heat_capacity_the_flow_is_not_known():
    assert np.isnan(thermal_conversion(["ethanol"], np.ones((1, 1)), np.array([np.nan]))[0])
