"""Acid that condenses at a cold spot attacks there as the strong solution it is."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

ENGINE = shared_engine()
TEXT = """
title: Sulfur dioxide over a catalyst, then through a cold line
reagents: {g: {state: gas, composition: {sulfur dioxide: 0.1 %, oxygen: 20 %, WATER nitrogen: rest},
  held: {as: cylinder, volume: 2 L, pressure: 10 bar gauge, regulator: 0.2 bar gauge}}}
flows: {f: {reagent: g, into: tube, rate: 100 mL/min, reference: standard}}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, length: 700 mm,
   heated_length: 200 mm, reactions: [{equation: 2 SO2 + O2 -> 2 SO3, limiting: sulfur dioxide,
   conversion: 90 %}]}
- {id: line, kind: line, material: MATERIAL, inner_diameter: 6 mm, wall: 1 mm, length: 2 m}
- {id: out, kind: outlet, to: outdoors, inner_diameter: 6 mm}
heat: {oven: {heats: tube, kind: tube furnace, set_temperature: 430 degC, hottest: 450 degC}}
catalysts: {vanadium pentoxide: {in: tube, light_off: 380 degC}}
"""


def rated(text: str) -> dict[str, float]:
    review = ENGINE.review(loads(text), upsets=False)
    found = (m for m in review.measures if m.kind == "corrosion.rating" and m.at == "line")
    return {m.of: float(m.value[0, 0]) for m in found if "sulfuric acid" in m.of}


@pytest.mark.parametrize(
    ("water", "material", "rating"),
    [
        ("water: 2 %,", "carbon steel", 2.0),
        ("water: 2 %,", "borosilicate glass 3.3", 0.0),
        ("", "carbon steel", None),
    ],
)
def test_sulfuric_acid_condenses_with_water_alone(
    water: str, material: str, rating: float | None
) -> None:
    found = rated(TEXT.replace("WATER", water).replace("MATERIAL", material))
    assert found.get(f"{material} and sulfuric acid") == rating


def test_the_dioxide_counts_as_the_trioxide_only_over_a_catalyst() -> None:
    wet = TEXT.replace("WATER", "water: 2 %,").replace("MATERIAL", "carbon steel")
    undeclared = (
        wet[: wet.index("reactions: [")] + "reactions: none}" + wet[wet.index("\n- {id: line") :]
    )
    assert rated(undeclared)
    bare = undeclared[: undeclared.index("catalysts:")]
    assert rated(bare) == {}
