"""A temperature of an item far above the room is a source of heat, with its failures."""

from __future__ import annotations

import pytest
from review.plugins.standard_items.kinds import KINDS
from review.plugins.standard_items.upsets import upsets

from review import Overlay, loads
from review.walk.feeds import escaping_fuel
from review.walk.resolve import resolve

TEXT = (
    "title: t\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
    "flows: {feed: {reagent: gas, into: tube, rate: 1 L/min, reference: normal}}\n"
    "train:\n- {id: tube, kind: reactor, inner_diameter: 8 mm, length: 1 m, TEMPERATURE}\n"
    "- {id: out, kind: outlet, to: hood}\nHEAT"
    "procedure:\n- {step: run, duration: 1 min, flows: {feed: on}FIRST}\n"
)
HEAT = "heat: {tape: {heats: tube, kind: heating tape, set_temperature: 400 degC}}\n"


def failures(reference, text: str) -> set[str]:
    resolved = resolve(loads(text), reference, {kind.id: kind for kind in KINDS})
    heads = {o.id.split(":")[0] for o in upsets(resolved.scenario, reference)}
    return {head for head in heads if head.startswith("heat")}


@pytest.mark.parametrize(
    ("said", "heat", "first"),
    [("temperature: 400 degC", "", ""), ("joint: none", HEAT, ", heat: {tape: on}")],
    ids=["as a temperature", "as a source"],
)
def test_both_ways_of_saying_it_can_fail(reference, said, heat, first) -> None:
    text = TEXT.replace("TEMPERATURE", said).replace("HEAT", heat).replace("FIRST", first)
    assert failures(reference, text) == {"heat at its most", "heat lost"}


@pytest.mark.parametrize("mild", ["45 degC", "-20 degC"])
def test_a_mild_temperature_is_only_one(reference, mild) -> None:
    text = TEXT.replace("TEMPERATURE", f"temperature: {mild}").replace("HEAT", "")
    assert failures(reference, text.replace("FIRST", "")) == set()


def test_what_is_lacking_in_one_run_alone_is_told(walked) -> None:
    text = TEXT.replace("TEMPERATURE", "joint: none").replace("HEAT", HEAT)
    text = text.replace("FIRST", ", heat: {tape: on}")
    unknown = {"heat.tape.set_temperature": float("nan")}
    lost = Overlay("lost", "it is", "upset", changes=unknown, from_step=1)
    assert "how hot tape can get" not in walked(text).lacking
    assert "how hot tape can get" in walked(text, [lost]).lacking


BURNER = """
title: t
reagents: {fuel: {state: gas, composition: {propane: 100 %}}}
train: [{id: tube, kind: reactor, inner_diameter: 8 mm, length: 1 m}, {id: out, kind: outlet, to: hood}]
heat: {burner: {heats: tube, kind: Bunsen burner, set_temperature: 400 degC, fuel: fuel, fuel_rate: 100 mL/min}}
procedure: [{step: run, duration: 1 min, heat: {burner: on}}]
"""  # noqa: E501


def test_a_flame_that_goes_out_lets_its_gas_out_in_that_run_alone(walked) -> None:
    """100 mL/min at 20 degC and 1 atm: 101325 x 1.667e-6 / (8.314 x 293.15) mol/s."""
    out = Overlay("out", "it is", "upset", changes={"heat.burner.flame_out": 1.0}, from_step=1)
    setup = walked(BURNER, [out])
    escapes = escaping_fuel(setup.resolved, setup.runs, 1)[setup.rows["propane"]]
    assert escapes.tolist() == pytest.approx([0.0, 6.93e-5], rel=1e-3)

FAST = """
title: t
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}}}
flows: {feed: {reagent: gas, into: tube, rate: RATE, reference: normal}}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
   length: 700 mm, heated_length: 200 mmBED}
- {id: hose, kind: line, inner_diameter: 6 mm, length: 500 mm}
- {id: out, kind: outlet, to: hood}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 500 degC}}
procedure: [{step: run, duration: 60 min, flows: {feed: on}, heat: {furnace: on}}]
"""


def test_a_fast_gas_leaves_a_furnace_colder_than_its_wall(walked) -> None:
    """By hand for 20 L/min: 0.0149 mol/s at 31 J/(mol K) are 0.46 W/K, 0.055 W/(m K); over 0.2 m
    Gz = 53 and Nu = 5.9, NTU = 0.45 and 465 K. With half as much again over 0.28 m: 0.85 and 568 K.
    """
    text = FAST.replace("RATE", "20 L/min").replace("BED", "")
    fast = walked(text).places[1].hottest.value[1]
    assert 465.0 < fast < 590.0


def test_in_a_bed_it_is_as_hot_as_the_wall(walked) -> None:
    bed = ", packing: {voidage: 40 %, particle_diameter: 2 mm, length: 100 mm}"
    text = FAST.replace("RATE", "20 L/min").replace("BED", bed)
    assert walked(text).places[1].hottest.value[1] > 600.0
