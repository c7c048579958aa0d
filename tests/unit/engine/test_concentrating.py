"""A mixture whose light part boils away ends at the boiling point of the heavy one, or its heat.

Boiling points: sulfuric acid 337 degC, glycerol 290 degC (CRC Handbook). Driving 30 g of water out
of 100 g of 70 % acid takes 68 kJ (2.256 MJ/kg, IAPWS-95): 500 W need two minutes and a quarter.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from review import Reference
from review.walk.elevation import solution_boils

REFERENCE = Reference()

TEXT = """
title: A mixture boiled
reagents: {mix: {state: liquid, composition: {MIX}, amount: 60 mL, held: {as: bottle}}}
train:
  - {id: flask, kind: vessel, gas_volume: 150 mL, liquid: mix, liquid_volume: 60 mL}
  - {id: condenser, kind: line, orientation: vertical, inner_diameter: 18 mm, wall: 2 mm, length: 400 mm, coolant_temperature: 15 degC}
  - {id: receiver, kind: KIND}
  - {id: vent, kind: outlet, to: hood, inner_diameter: 8 mm}
heat: {plate: {heats: flask, kind: hot plate, set_temperature: 400 degC, hottest: 400 degCPOWER}}
procedure: [{step: boil, duration: LASTS, heat: {plate: on}}]
"""  # noqa: E501
ACID, GLYCEROL = "sulfuric acid: 70 %, water: 30 %", "glycerol: 60 %, water: 40 %"
TRAP, HOSE = "trap, gas_volume: 250 mL", "line, inner_diameter: 8 mm, length: 1 m"


def hottest(walked, mix: str, power: str, lasts: str, kind: str = TRAP) -> float:
    text = TEXT.replace("MIX", mix).replace("POWER", power).replace("LASTS", lasts)
    setup = walked(text.replace("KIND", kind))
    flask = next(place for place in setup.places if place.id == "flask")
    return float(flask.hottest.value.reshape(setup.shape)[1, 0]) - 273.15


@pytest.mark.parametrize(
    ("mix", "power", "lasts", "least", "most"),
    [
        (ACID, ", power: 500 W", "3 min", 330, 345),
        (ACID, "", "30 min", 330, 345),
        (ACID, ", power: 500 W", "2 h", 399, 401),
        (ACID, ", power: 500 W", "20 s", 100, 200),
        (GLYCEROL, ", power: 500 W", "3 min", 285, 295),
        ("ethanol: 40 %, water: 60 %", ", power: 300 W", "5 min", 78, 101),
    ],
)
def test_it_climbs_as_far_as_the_heat_drives(walked, mix, power, lasts, least, most) -> None:
    assert least <= hottest(walked, mix, power, lasts) <= most


def test_what_a_condenser_gives_back_climbs_nowhere(walked) -> None:
    """Behind it is only a hose: nothing is caught. In a receiver it would be."""
    assert hottest(walked, GLYCEROL, ", power: 100 W", "10 min", HOSE) < 120
    assert hottest(walked, GLYCEROL, ", power: 100 W", "10 min", TRAP) > 150


def test_more_time_is_never_cooler(walked) -> None:
    found = [hottest(walked, ACID, ", power: 200 W", f"{n} min") for n in (1, 2, 4, 8, 16)]
    assert np.all(np.diff(found) >= 0) and found[-1] > found[0] + 100


@pytest.mark.parametrize(("strength", "pressure"), [(0.5, 575.0), (0.75, 240.0), (0.85, 111.0)])
def test_phosphoric_acid_boils_where_its_water_presses_an_atmosphere(strength, pressure) -> None:
    """Innophos, table 3: mmHg over the acid at 100 degC; water takes 42 kJ/mol out of it."""
    expected = 1 / (1 / 373.15 - 8.314 * math.log(760 / pressure) / 42e3)
    found = boils({"water": 1 - strength, "phosphoric acid": strength})
    assert found == pytest.approx(expected, abs=5)


@pytest.mark.parametrize(
    ("salt", "grams", "boils_at"),
    [("sodium chloride", 39, 108.4), ("potassium chloride", 59, 108.3),
     ("potassium nitrate", 335, 115.9), ("sodium acetate", 209, 124.4),
     ("calcium chloride", 325, 179.5), ("potassium carbonate", 205, 135)],
)  # fmt: skip
def test_a_saturated_solution_boils_no_hotter_than_is_told(salt, grams, boils_at) -> None:
    """Legrand: grams of salt to 100 g of water that boils with salt left over (from memory)."""
    told = boils({"water": 100 / (100 + grams), salt: grams / (100 + grams)}) - 273.15
    assert told >= boils_at - 0.5 and (told < boils_at + 12 or np.isinf(told))


def test_lye_grows_hotter_as_its_water_leaves() -> None:
    lye = {"water": 0.8, "sodium hydroxide": 0.2}
    found = [boils(lye, gone) for gone in (0.0, 0.3, 0.6, 0.9, 1.0)]
    assert np.all(np.diff(found[:-1]) > 5) and np.isinf(found[-1])
    # 0.2 in 0.2 of water is lye of 50 %: 145 degC (Dow).
    assert boils(lye, 0.75) - 273.15 == pytest.approx(145, abs=3)


def test_acid_of_seventy_per_cent_is_hot_from_the_start(walked) -> None:
    """165 degC (Perry's Handbook, from memory), and Raoult's law says 110."""
    assert hottest(walked, ACID, ", power: 500 W", "1 s") == pytest.approx(165, abs=3)


def boils(held: dict[str, float], gone: float = 0.0) -> float:
    parts = [(REFERENCE.substance(name), share) for name, share in held.items()]
    return float(solution_boils(parts, np.array([gone]))[0])
