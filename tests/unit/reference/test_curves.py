"""Vapour pressures and heat capacities against published values."""

import numpy as np
import pytest

from review.reference.finding import Reference, heat_capacity_gas, vapour_pressure

REFERENCE = Reference()


def _with_vapour_pressure():
    for name in REFERENCE.names("substances"):
        substance = REFERENCE.substance(name)
        # carbon dioxide and sulfur hexafluoride sublime; acetylene boils below its triple point;
        # boiling sulfuric acid also gives off water and sulfur trioxide
        if substance.curve("vapour_pressure").state == "known" and name not in (
            "carbon_dioxide",
            "acetylene",
            "sulfur_hexafluoride",
            "sulfuric_acid",
        ):
            yield name


@pytest.mark.parametrize("name", list(_with_vapour_pressure()))
def test_vapour_pressure_is_one_atmosphere_at_the_boiling_point(name):
    # Boiling points: the data sets of chemicals (CRC Handbook, reference equations of state).
    substance = REFERENCE.substance(name)
    pressure, inside = vapour_pressure(substance, [substance.datum("boiling_point").value])
    # glycerol decomposes near its boiling point, which is the less well known for it
    assert pressure[0] == pytest.approx(101325, rel=0.04 if name == "glycerol" else 0.03)
    assert inside[0]


# Pa. Water: IAPWS-95 (2339 at 20 degC, 12352 at 50 degC). Ethanol 5.95 kPa, acetone 24.7 kPa and
# benzene 10.0 kPa at 20 degC: CRC Handbook, from memory. Nitric acid 8.3 kPa at 25 degC: CRC,
# from memory.
@pytest.mark.parametrize(
    ("name", "celsius", "pascal", "tolerance"),
    [
        ("water", 20, 2339, 0.01),
        ("water", 50, 12352, 0.01),
        ("ethanol", 20, 5950, 0.03),
        ("acetone", 20, 24700, 0.03),
        ("benzene", 20, 10000, 0.03),
        ("nitric acid", 25, 8300, 0.05),
    ],
)
def test_vapour_pressure_at_room_temperature(name, celsius, pascal, tolerance):
    pressure, inside = vapour_pressure(REFERENCE.substance(name), [celsius + 273.15])
    assert pressure[0] == pytest.approx(pascal, rel=tolerance)
    assert inside[0]


# J/(mol K): NIST-JANAF Thermochemical Tables, 4th ed. (1998), from memory.
@pytest.mark.parametrize(
    ("name", "kelvin", "joule"),
    [
        ("nitrogen", 300, 29.125),
        ("nitrogen", 600, 30.110),
        ("nitrogen", 1200, 33.723),
        ("hydrogen", 300, 28.849),
        ("hydrogen", 600, 29.327),
        ("carbon dioxide", 300, 37.221),
        ("carbon dioxide", 600, 47.321),
        ("oxygen", 300, 29.385),
        ("oxygen", 600, 32.090),
        ("water", 600, 36.325),
        ("argon", 300, 20.786),
    ],
)
def test_heat_capacity(name, kelvin, joule):
    value, inside = heat_capacity_gas(REFERENCE.substance(name), [kelvin])
    assert value[0] == pytest.approx(joule, rel=0.01)
    assert inside[0]


def test_outside_the_range_is_said():
    water = REFERENCE.substance("water")
    _, inside = vapour_pressure(water, [250.0, 300.0, 700.0])
    assert inside.tolist() == [False, True, False]
    value, inside = heat_capacity_gas(water, [1e4, 1500.0])
    assert inside.tolist() == [False, True]
    assert value[0] == value[1]  # held at the end of the range, not stretched


def test_no_curve_is_no_number():
    value, inside = vapour_pressure(REFERENCE.substance("copper"), [300.0, 400.0])
    assert np.isnan(value).all()
    assert not inside.any()


def test_nan_in_nan_out():
    value, inside = vapour_pressure(REFERENCE.substance("water"), [np.nan, 300.0])
    assert np.isnan(value[0]) and not np.isnan(value[1])
    assert inside.tolist() == [False, True]
    assert vapour_pressure(REFERENCE.substance("water"), [])[0].shape == (0,)


def test_iodine_is_never_below_what_the_handbook_gives_of_the_solid():
    # CRC Handbook, vapor pressure: 10 Pa at 9.3 degC, 100 Pa at 35.9, 1 kPa at 68.7, 10 kPa at 108
    # (from memory); 40.7 Pa at 25 degC (Baxter and Grose 1915, from memory).
    at = [282.45, 298.15, 309.05, 341.85, 381.15]
    pressure, inside = vapour_pressure(REFERENCE.substance("iodine"), at)
    assert inside.all()
    share = pressure / [10.0, 40.7, 100.0, 1e3, 1e4]
    assert (share > 0.99).all() and (share < 1.45).all()
