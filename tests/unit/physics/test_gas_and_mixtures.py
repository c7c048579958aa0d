"""Gas properties against chemicals; limits at the edges of their definitions."""

from __future__ import annotations

import numpy as np
import pytest
from chemicals.critical import Pc, Tc, Zc
from chemicals.identifiers import MW
from chemicals.viscosity import Lucas_gas, Wilke

from review.physics.gas import lucas_polarity_factor, lucas_viscosity, wilke_viscosity
from review.physics.mixtures import (
    burgess_wheeler_lower,
    iso10156_ratio,
    le_chatelier,
    limit_ratio,
    upper_boundary,
)
from review.physics.vessel import pressure_purge_cycles, thick_wall_rating, thin_wall_rating

GASES = {  # CAS number: quantum parameter, dipole moment in debye
    "1333-74-0": (0.76, 0.0),
    "7440-59-7": (1.38, 0.0),
    "7727-37-9": (0.0, 0.0),
    "7440-37-1": (0.0, 0.0),
    "124-38-9": (0.0, 0.0),
    "7732-18-5": (0.0, 1.85),
    "7664-41-7": (0.0, 1.47),
    "7647-01-0": (0.0, 1.05),
}


@pytest.mark.parametrize("cas", GASES)
def test_lucas_over_temperature(cas: str) -> None:
    quantum, dipole = GASES[cas]
    temperature = np.array([250.0, 300.0, 450.0, 800.0, 1300.0])
    expected = [
        Lucas_gas(T=t, Tc=Tc(cas), Pc=Pc(cas), Zc=Zc(cas), MW=MW(cas), dipole=dipole, CASRN=cas)
        for t in temperature
    ]
    polarity = lucas_polarity_factor(temperature, Tc(cas), Pc(cas), Zc(cas), dipole * 3.33564e-30)
    result = lucas_viscosity(temperature, Tc(cas), Pc(cas), MW(cas) / 1e3, quantum, polarity)
    np.testing.assert_allclose(result, expected, rtol=1e-9)


def test_wilke_over_composition() -> None:
    hydrogen = np.linspace(0, 1, 7)
    result = wilke_viscosity([hydrogen, 1 - hydrogen], [8.9e-6, 2.2e-5], [2.016e-3, 39.948e-3])
    expected = [Wilke([x, 1 - x], [8.9e-6, 2.2e-5], [2.016, 39.948]) for x in hydrogen]
    np.testing.assert_allclose(result, expected, rtol=1e-9)


def test_no_fuel_has_no_limit_and_reaches_none() -> None:
    fractions = [np.array([0.0, 0.01]), np.array([0.0, 0.02])]
    limit = le_chatelier(fractions, [0.04, 0.05])
    assert limit[0] == np.inf
    assert 0.04 < limit[1] < 0.05
    assert limit_ratio(fractions, [0.04, 0.05])[0] == 0.0
    assert iso10156_ratio([0.0], [0.055], [1.0], [1.0]) == 0.0


def test_an_unknown_limit_makes_the_mixture_unknown() -> None:
    assert np.isnan(le_chatelier([0.01, 0.02], [0.04, np.nan]))
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


def test_a_thick_wall_is_rated_below_the_thin_formula() -> None:
    wall = np.array([0.5e-3, 1e-3, 2e-3, 4e-3])
    thin = thin_wall_rating(7e6, wall, 0.02)
    thick = thick_wall_rating(7e6, 0.02 - 2 * wall, 0.02)
    assert (thick < thin).all()


def test_purge_cycles_at_the_edges() -> None:
    assert pressure_purge_cycles(0.01, 0.02, 1e5, 2e5) == 0
    assert pressure_purge_cycles(0.21, 0.01, 1e5, 1e5) == np.inf
    assert pressure_purge_cycles(0.21, 0.0, 1e5, 2e5) == np.inf
