"""Gas made in a small cold train, and what of its set-up has to hold for that."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: Hydrogen from zinc
ignition_sources: none in the room
reagents:
  acid: {state: liquid, composition: {hydrogen chloride: 7 %, water: 93 %}, amount: 30 mL,
    held: {as: bottle}}
  zinc: {state: solid, composition: {zinc: 100 %}, amount: 1 g}
  hydrogen: {state: gas, composition: {hydrogen: 100 %},
    held: {as: generator, equation: Zn(s) + 2 HCl -> ZnCl2 + H2, rate: 20 mL/min}}
flows:
  hydrogen: {reagent: hydrogen, into: flask, rate: 20 mL/min, reference: ambient,
    at_most: 60 mL/min}
train:
  - {id: flask, kind: vessel, material: borosilicate glass 3.3, gas_volume: 80 mL, liquid: acid,
     liquid_volume: 30 mL, rating: 0.3 bar gauge, joint: rubber stopper,
     joint_material: silicone rubber}
  - {id: mouth, kind: outlet, to: hood, inner_diameter: 6 mm}
ventilation: {room_volume: 100 m3, air_changes: 4 / hour,
  hood: {opening_width: 1 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes}}
procedure:
  - {step: make, duration: 10 min, flows: {hydrogen: on}}
  - {step: leave, duration: 5 min, flows: {hydrogen: off}}
"""


def grades(text: str, criterion: str) -> set[str]:
    review = shared_engine().review(loads(text, "hydrogen.yaml"), upsets=False)
    return {f.grade for f in review.findings if f.criterion == criterion}


def test_a_flask_of_80_ml_is_a_condition() -> None:
    assert grades(TEXT, "flammability.cold_train") == {"acceptable", "tolerable"}
    for criterion in ("flammability.envelope", "flammability.allowance", "readiness.order"):
        assert grades(TEXT, criterion) == {"acceptable"}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("gas_volume: 80 mL", "gas_volume: 130 mL"),  # more than group IIC may fill
        ("none in the room", "{lamp: {kind: flame, in: room}}"),  # near: nobody says how far
        ("none in the room", "{lamp: {kind: flame, in: hood, distance: 2 m}}"),
        (", equation: Zn(s) + 2 HCl -> ZnCl2 + H2", ""),  # what else it makes is not known
        ("Zn(s) + 2 HCl -> ZnCl2 + H2", "2 H2O -> 2 H2 + O2"),  # and where is the oxygen?
        ("as: generator", "as: cylinder, volume: 1 L, pressure: 10 bar gauge"),
        ("{hydrogen: 100 %}", "{hydrogen: 90 %, oxygen: 10 %}"),
        ("to: hood, ", "to: hood, open: no, "),
        ("gas_volume: 80 mL", "gas_volume: 80 mL, temperature: 300 degC"),
    ],
)  # fmt: skip
def test_what_has_to_hold(old: str, new: str) -> None:
    assert TEXT.count(old) == 1
    found = grades(TEXT.replace(old, new), "flammability.envelope")
    assert found & {"unacceptable", "undetermined"}


def test_into_a_room_that_is_aired_at_least_once_an_hour() -> None:
    room = TEXT.replace("to: hood", "to: room")
    assert grades(room, "flammability.envelope") == {"acceptable"}
    close = room.replace("4 / hour", "0.5 / hour")
    assert "unacceptable" in grades(close, "flammability.envelope")


@pytest.mark.parametrize(("gas", "own"), [("ammonia", True), ("methylamine", False)])
def test_a_gap_that_nobody_knows_counts_as_group_iic(gas: str, own: bool) -> None:
    """Half a litre: ammonia's safe gap is 3.2 mm, methylamine's is not in the data."""
    lime = "2 NH4Cl(s) + Ca(OH)2(s) -> CaCl2(s) + 2 H2O + 2 NH3"
    text = TEXT.replace("80 mL", "500 mL").replace("Zn(s) + 2 HCl -> ZnCl2 + H2", lime)
    text = text.replace("{hydrogen: 100 %}", f"{{{gas}: 100 %}}")
    assert (grades(text, "flammability.envelope") == {"acceptable"}) is own
