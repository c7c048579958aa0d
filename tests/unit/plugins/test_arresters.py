"""Arresters that count and that do not, and the one figure that each of them needs."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: Gas through an arrester
reagents:
  gas: {state: gas, composition: {methane: 100 %}, held: {as: cylinder, volume: 2 L,
    pressure: 50 bar gauge, regulator: 0.1 bar gauge}}
flows: {gas: {reagent: gas, into: arrester, rate: 100 mL/min, reference: standard}}
train:
- {id: arrester, kind: arrester, inner_diameter: 12 mm, length: 60 mm,
   material: stainless steel 316, packing: {material: stainless steel 316, PACKING, length: 50 mm}}
- {id: hose, kind: line, inner_diameter: 6 mm, length: 200 mm, material: silicone rubber}
- {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
procedure: [{step: run, duration: 10 min, flows: {gas: on}}]
"""
BEADS = "voidage: 40 %, particle_diameter: 1 mm"
WOOL = "voidage: 85 %, fibre_diameter: 0.09 mm"


def found(packing: str, *changes: tuple[str, str]) -> tuple[float, str]:
    text = TEXT.replace("PACKING", packing)
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    review = shared_engine().review(loads(text, "arrester.yaml"), upsets=False)
    (measure,) = [m for m in review.measures if m.kind == "ignition.arrester"]
    return float(measure.value[0, 0]), measure.note


@pytest.mark.parametrize("packing", [BEADS, WOOL])
def test_narrow_channels_count(packing: str) -> None:
    """Holes of 0.41 mm and channels of 0.51 mm; half of methane's safe gap is 0.56 mm."""
    assert found(packing) == (0.0, "")


@pytest.mark.parametrize(
    ("packing", "old", "new", "why"),
    [
        (BEADS, "particle_diameter: 1 mm", "particle_diameter: 2 mm", "wider"),
        (BEADS, ", particle_diameter: 1 mm", "", "particle_diameter"),
        (WOOL, "voidage: 85 %, ", "", "voidage"),
        (WOOL, "voidage: 85 %", "voidage: 95 %", "wider"),
        (BEADS, "{methane: 100 %}", "{hydrogen: 100 %}", "wider"),
        (BEADS, "{methane: 100 %}", "{carbon monoxide: 100 %}", "not known"),
        (BEADS, ", length: 50 mm", ", length: 5 mm", "too short"),
        (BEADS, "length: 200 mm", "length: 2 m", "wider"),  # the flame speeds up in the hose
        (BEADS, "kind: line, inner_diameter: 6 mm, length: 200 mm", "kind: trap, gas_volume: 1 L",
         "speeds up"),
        (BEADS, "{material: stainless steel 316, ", "{", "made of"),
    ],
)  # fmt: skip
def test_one_figure_less_and_it_does_not(packing: str, old: str, new: str, why: str) -> None:
    value, note = found(packing, (old, new))
    assert value == 1.0
    assert why in note


@pytest.mark.parametrize(
    "packing, datum",
    [
        (BEADS, ", particle_diameter: 1 mm"), (WOOL, ", fibre_diameter: 0.09 mm"),
        (WOOL, "voidage: 85 %, "), (BEADS, ", length: 50 mm"),
        (BEADS, "{material: stainless steel 316, "),
    ],
)  # fmt: skip
def test_each_figure_dropped_takes_its_credit(packing: str, datum: str) -> None:
    """Of the element; without the hose's bore or length the file is refused."""
    assert found(packing)[0] == 0.0
    assert found(packing, (datum, "{" if datum.startswith("{") else ""))[0] == 1.0


def test_wool_of_plastic_or_in_oxygen_burns_itself() -> None:
    plastic = ("{material: stainless steel 316, voi", "{material: PTFE, voi")
    assert found(WOOL, plastic)[0] == 2.0
    oxygen = ("{methane: 100 %}", "{methane: 5 %, oxygen: 95 %}")
    assert found(WOOL, oxygen)[0] == 2.0


def test_half_the_distance_at_twice_the_pressure_is_out_of_scope() -> None:
    shut = ("to: hood, ", "to: hood, open: no, ")
    value, note = found(BEADS, shut, ("0.1 bar gauge", "1 bar gauge"))
    assert (value, "covers" in note) == (1.0, True)
