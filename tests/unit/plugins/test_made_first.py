"""A solid that only a declared reaction makes is not there before its gas has come."""

from __future__ import annotations

import pytest

from review import Measure, loads
from tests.support import shared_engine

TEXT = """
title: Hydrogen sulfide over zinc oxide, heated in air
reagents:
  gas: {state: gas, composition: {hydrogen sulfide: 1 %, nitrogen: 99 %}, held: {as: cylinder,
    volume: 2 L, pressure: 50 bar gauge, regulator: 0.1 bar gauge}}
  air: {state: gas, composition: {air: 100 %}, held: {as: cylinder, volume: 2 L,
    pressure: 50 bar gauge, regulator: 0.1 bar gauge}}
flows:
  gas: {reagent: gas, into: tube, rate: 100 mL/min, reference: standard, at_most: 200 mL/min}
  air: {reagent: air, into: tube, rate: 100 mL/min, reference: standard, at_most: 200 mL/min}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
   length: 400 mm, heated_length: 200 mm, ends: open, joint: none, home_made: no,
   reactions: [{equation: ZnO(s) + H2S -> ZnS(s) + H2O, limiting: hydrogen sulfide,
   conversion: 90 %}]}
- {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 500 degC, hottest: 520 degC}}
procedure:
- {step: warm, duration: 20 min, flows: {air: on}, heat: {furnace: on}}
- {step: react, duration: 20 min, flows: {air: off, gas: on}}
- {step: burn off, duration: 20 min, flows: {air: on, gas: off}}
"""
OF = "oxygen with zinc sulfide"


def pair(text: str) -> Measure:
    review = shared_engine().review(loads(text, "made.yaml"))
    (found,) = [m for m in review.measures if (m.kind, m.at, m.of) == ("reactive.pair", "tube", OF)]
    return found


def test_what_no_gas_has_made_yet_meets_nothing() -> None:
    plan = pair(TEXT).value[:, 0]
    assert plan[1] == 0  # air over zinc oxide alone
    assert plan[3] == 2  # air over what the step before has made


@pytest.mark.parametrize(
    "more",
    [
        "  left: {state: solid, composition: {zinc sulfide: 100 %}, amount: 1 g}\n",
        "",
    ],
)
def test_what_the_file_names_or_packs_is_there_from_the_first(more: str) -> None:
    text = TEXT.replace("flows:\n  gas", f"{more}flows:\n  gas", 1)
    if not more:
        text = text.replace("ends: open", "ends: open, packing: {material: zinc sulfide, "
                            "particle_diameter: 1 mm, voidage: 40 %, length: 20 mm}")
    assert pair(text).value[1, 0] == 2


HOOD = (
    "ventilation: {room_volume: 80 m3, air_changes: 4 / hour, hood: {opening_width: 1.2 m, "
    "opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes}}\n"
)
OXIDE = "  oxide: {state: solid, composition: {zinc oxide: 100 %}AMOUNT}\n"


@pytest.mark.parametrize(
    ("amount", "where", "grade"),
    [
        (", amount: 5 g", ", in: hood", 1),  # 5 g x 97.4 / 81.4 = 6.0 g of sulfide, 4 g of SO2
        (", amount: 9 g", ", in: hood", 2),  # 10.8 g
        ("", ", in: hood", 2),
        (", amount: 5 g", "", 2),
    ],
)
def test_a_few_grams_that_a_reaction_makes_smoke_away_in_a_hood(
    amount: str, where: str, grade: int
) -> None:
    oxide = OXIDE.replace("AMOUNT", amount)
    text = TEXT.replace("flows:\n  gas", f"{oxide}flows:\n  gas", 1) + HOOD
    text = text.replace("ends: open", f"ends: open{where}")
    assert pair(text).value[3, 0] == grade
