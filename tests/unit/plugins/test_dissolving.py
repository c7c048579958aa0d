"""A solid that warms the water it is put into, with nothing declared.

A mole of sodium hydroxide gives 44.5 kJ to a kilogram of water and warms it by 10.6 K, and with a
mole of strong acid 55.8 kJ more (CRC Handbook of Chemistry and Physics, from memory).
"""

from __future__ import annotations

import pytest

from review import Engine, loads
from review.testing import measure

TEXT = """
title: Dissolved
reagents:
  liquid: {state: liquid, composition: {LIQUID}, amount: 1 L, held: {as: bottle}}
  pellets: {state: solid, composition: {SOLID: 100 %}, amount: GRAMS}
train:
  - {id: beaker, kind: beaker, capacity: 2 L, material: borosilicate glass 3.3, joint: none,
    liquid: liquid, liquid_volume: 1 L}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 100 mm}
procedure: [{step: stir, duration: 10 min}]
"""


def margin(solid: str, grams: str, liquid: str = "water: 100 %", at: str = "beaker") -> float:
    text = TEXT.replace("SOLID", solid).replace("GRAMS", grams).replace("LIQUID", liquid)
    found = measure(
        Engine().review(loads(text)), "heat.runaway_margin", at, solid * (at != "train")
    )
    return float(found.value[0, 0])


@pytest.mark.parametrize(
    ("solid", "grams", "liquid", "rise"),
    [
        ("sodium hydroxide", "40 g", "water: 100 %", 10.6),
        ("potassium hydroxide", "56.1 g", "water: 100 %", 13.8),
        ("sodium hydroxide", "40 g", "hydrogen chloride: 3.65 %, water: 96.35 %", 24.0),
    ],
)
def test_a_mole_warms_a_litre(solid: str, grams: str, liquid: str, rise: float) -> None:
    """Below boiling by 80 K less the rise, whose heat is known to a fifth."""
    assert margin(solid, grams, liquid) == pytest.approx(80 - 1.2 * rise, abs=1.5)


def test_what_hardly_warms_is_no_matter() -> None:
    assert margin("sodium chloride", "300 g", at="train") == float("inf")
