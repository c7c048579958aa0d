"""Gas properties against chemicals; limits at the edges of their definitions."""

from __future__ import annotations

import numpy as np
import pytest
from chemicals.critical import Pc, Tc, Zc
from chemicals.identifiers import MW
from chemicals.viscosity import Lucas_gas

from review.physics.gas import lucas_viscosity
from review.physics.mixtures import (
    burgess_wheeler_lower,
    iso10156_ratio,
    limit_flame_temperature,
    limit_ratio,
    upper_boundary,
)

GASES = {  # CAS number: quantum parameter, dipole moment in debye
    "1333-74-0": 0.76,
    "7440-59-7": 1.38,
    "7727-37-9": 0.0,
    "7440-37-1": 0.0,
    "124-38-9": 0.0,
    "7732-18-5": 0.0,
    "7664-41-7": 0.0,
    "7647-01-0": 0.0,
}


@pytest.mark.parametrize("cas", GASES)
def test_lucas_over_temperature(cas: str) -> None:
    quantum = GASES[cas]
    temperature = np.array([250.0, 300.0, 450.0, 800.0, 1300.0])
    expected = [
        Lucas_gas(T=t, Tc=Tc(cas), Pc=Pc(cas), Zc=Zc(cas), MW=MW(cas), dipole=0.0, CASRN=cas)
        for t in temperature
    ]
    result = lucas_viscosity(temperature, Tc(cas), Pc(cas), MW(cas) / 1e3, quantum)
    np.testing.assert_allclose(result, expected, rtol=1e-9)


def test_no_fuel_has_no_limit_and_reaches_none() -> None:
    fractions = [np.array([0.0, 0.01]), np.array([0.0, 0.02])]
    assert limit_ratio(fractions, [0.04, 0.05])[0] == 0.0
    assert iso10156_ratio([0.0], [0.055], [1.0], [1.0]) == 0.0


def test_an_unknown_limit_makes_the_mixture_unknown() -> None:
    assert np.isnan(limit_ratio([0.01, 0.02], [0.04, np.nan]))
    assert np.isnan(iso10156_ratio([0.01, 0.02], [0.055, np.nan], [0.9], [1.0]))


def test_the_lower_limit_stays_above_zero_and_never_grows() -> None:
    hot = burgess_wheeler_lower(0.04, np.array([200.0, 298.15, 1000.0, 3000.0]))
    assert (hot > 0).all()
    assert (np.diff(hot) <= 0).all()
    assert hot[0] == hot[1] == 0.04


def test_the_upper_boundary_never_falls_with_oxygen() -> None:
    oxygen = np.linspace(0, 1, 400)
    for air, pure in ((0.15, 0.61), (0.77, 0.94), (0.77, 0.99), (1.0, 1.0), (0.3, 0.2)):
        boundary = upper_boundary(oxygen, air, pure)
        assert (np.diff(boundary) >= 0).all()
        assert boundary[0] == air
        assert boundary[-1] == max(air, pure)


def test_nitrogen_that_a_fuel_brings_cools_its_flame() -> None:
    plain, with_nitrogen = limit_flame_temperature(0.044, 802.6e3, 1, 4, np.array([0.0, 3.0]), 2)
    assert with_nitrogen < plain
