"""What is poured from its bottle gives off what the same liquid does where it is an item's own."""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine, Review, loads
from tests.support import shared_engine

ROOM = "ventilation: {room_volume: 30 m3, air_changes: 1 / hour}\n"
OPEN = """
title: Poured
reagents:
  water: {state: liquid, composition: {water: 100 %}, amount: 200 mL, density: 1 g/mL,
    held: {as: bottle}}
  other: {state: liquid, composition: {OTHER}, amount: AMOUNT, density: 1 g/mL,
    held: {as: bottle}}
train:
  - {id: beaker, kind: beaker, capacity: 1 L, material: borosilicate glass 3.3, joint: none, LIQUID}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 90 mm}
procedure: [{step: stand, duration: 30 min}]
"""
CLOSED = """
title: Blown over
reagents:
  gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
    pressure: 150 bar gauge, regulator: 0.1 bar gauge}}
  other: {state: liquid, composition: {OTHER}, amount: 50 mL, held: {as: bottle}}
flows: {feed: {reagent: gas, into: INTO, rate: 200 mL/min, reference: standard, at_most: 1 L/min}}
train:
  - {id: flask, kind: flask, gas_volume: 200 mL, material: borosilicate glass 3.3,
    joint: screw-thread connector, joint_material: PTFE, home_made: no, LIQUID}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 6 mm}
procedure: [{step: blow, duration: 30 min, flows: {feed: on}}]
"""
WATER = "liquid: water, liquid_volume: 200 mL"
AMMONIA = "ammonia: 25 %, water: 75 %"


def reviewed(text: str, other: str, liquid: str, **said: str) -> Review:
    text = text.replace("OTHER", other).replace("LIQUID", liquid).replace("INTO", "flask")
    for word, value in said.items():
        text = text.replace(word.upper(), value)
    return shared_engine().review(loads(text + ROOM), upsets=False)


def breathed(review: Review, name: str) -> np.ndarray:
    found = [m for m in review.measures if m.kind.startswith("exposure.") and m.of == name]
    assert found
    return np.concatenate([np.ravel(m.value) for m in found])


def test_a_solution_poured_into_water_is_its_mixture() -> None:
    """100 g of 25 % ammonia in 200 g of water are 300 g of 8.33 %."""
    poured = reviewed(OPEN, AMMONIA, WATER, amount="100 mL")
    mixed = reviewed(
        OPEN.replace("water: {state: liquid, composition: {water: 100 %}, amount: 200 mL",
                     "water: {state: liquid, composition: {ammonia: 8.3333 %, water: 91.6667 %}, "
                     "amount: 300 mL"),
        "water: 100 %", "liquid: water, liquid_volume: 300 mL", amount="1 mL",
    )  # fmt: skip
    one, other = breathed(poured, "ammonia"), breathed(mixed, "ammonia")
    assert (one > 0).any()
    assert one == pytest.approx(other, rel=0.01)


def test_what_does_not_mix_is_as_strong_as_in_its_bottle() -> None:
    poured = reviewed(OPEN, "carbon disulfide: 100 %", WATER, amount="100 mL")
    own = reviewed(
        OPEN, "carbon disulfide: 100 %", "liquid: other, liquid_volume: 100 mL", amount="100 mL"
    )
    one, other = breathed(poured, "carbon disulfide"), breathed(own, "carbon disulfide")
    assert (one > 0).any()
    assert one == pytest.approx(other, rel=0.01)


def test_gas_takes_it_along_from_closed_ware() -> None:
    """As from a flask of which it is the liquid: within the gas that fills the flask at first."""
    poured = breathed(reviewed(CLOSED, "bromine: 100 %", "reactions: none"), "bromine")
    own = reviewed(CLOSED, "bromine: 100 %", "liquid: other, liquid_volume: 50 mL")
    other = breathed(own, "bromine")
    assert (poured > 0).any()
    assert poured == pytest.approx(other, rel=0.1)


def test_what_is_poured_is_no_item_of_the_file() -> None:
    """Nothing breaks, is blocked or spilled there."""
    text = OPEN.replace("OTHER", AMMONIA).replace("LIQUID", WATER).replace("AMOUNT", "100 mL")
    scenario = loads(text + ROOM)
    named = [overlay.id for overlay in shared_engine().overlays(scenario)]
    assert any("beaker" in each for each in named)
    assert not any("poured" in each for each in named)
    assert [item.id for item in scenario.train] == ["beaker", "mouth"]


@pytest.mark.parametrize(("liquid", "named"), [("liquid: other", True), ("liquid: mixed", False)])
def test_a_bottle_that_only_pouring_brings_is_named(liquid: str, named: bool) -> None:
    """Water from its bottle into acetic anhydride; not where the liquid itself holds both."""
    mixed = "  mixed: {state: liquid, composition: {acetic anhydride: 60 %, water: 40 %}}\n"
    review = reviewed(
        OPEN.replace("train:", f"{mixed}train:", 1), "acetic anhydride: 100 %",
        f"{liquid}, liquid_volume: 50 mL", amount="50 mL",
    )  # fmt: skip
    met = [m for m in review.measures if m.of == "acetic anhydride with water"]
    assert met
    assert any('"water"' in m.note for m in met) == named


def test_two_bottles_for_an_empty_vessel_meet_there(engine: Engine) -> None:
    """Bleach and hydrochloric acid give chlorine; nobody says which of them the flask is for."""
    text = """
title: Two bottles for an empty flask
reagents:
  bleach: {state: liquid, basis: mass, composition: {sodium hypochlorite: 5 %, water: rest},
    amount: 100 mL, held: {as: bottle}}
  acid: {state: liquid, basis: mass, composition: {hydrogen chloride: 30 %, water: rest},
    amount: 100 mL, held: {as: bottle}}
train:
  - {id: flask, kind: vessel, capacity: 250 mL, material: borosilicate glass 3.3, joint: none}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 30 mm}
procedure: [{step: stand, duration: 10 min}]
"""
    found = engine.review(loads(text), upsets=False).findings
    pairs = {(f.at, f.of): f.grade for f in found if f.criterion == "reactive.pair"}
    assert pairs["flask", "hydrogen chloride with sodium hypochlorite"] == "unacceptable"


HOT = """
title: Water on what is hot
reagents:
  charge: {state: solid, composition: {alumina: 100 %}, amount: 10 g}
  spare: {state: liquid, composition: {water: 100 %}, amount: 50 mL, held: {as: bottle}}
train:
  - {id: crucible, kind: crucible, material: porcelain, capacity: 100 mL, joint: none, CHARGE}
  - {id: mouth, kind: outlet, to: hood, inner_diameter: 60 mm}
heat: {furnace: {heats: crucible, kind: furnace, set_temperature: HOTTEST, hottest: HOTTEST}}
procedure: [{step: heat, duration: 30 min, heat: {furnace: on}}]
"""


@pytest.mark.parametrize(
    ("charge", "hottest", "grade"),
    [
        ("packing: {material: alumina}", "400 degC", 2),
        ("packing: {material: alumina}", "120 degC", 0),
        # What is mostly water boils at 100 degC, whatever heats it: more water does nothing new.
        ("liquid: water, liquid_volume: 50 mL", "400 degC", 0),
    ],
)
def test_water_poured_on_what_is_hot_flashes(charge: str, hottest: str, grade: int) -> None:
    text = HOT.replace("CHARGE", charge).replace("HOTTEST", hottest)
    review = shared_engine().review(loads(text + ROOM), upsets=False)
    met = [m for m in review.measures if m.kind == "reactive.pair" and m.of == "water"]
    assert max((float(np.max(m.value)) for m in met), default=0.0) == grade

