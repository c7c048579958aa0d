"""Gas shut in over a liquid it bubbles through, and ways that part where one stands open."""

from __future__ import annotations

import pytest

from review import Engine, Review
from tests.support import shared_engine

BOTTLE = """
title: Nitrogen through a liquid, then shut in
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 200 bar gauge, regulator: 0.5 bar gauge}}}
flows: {feed: {reagent: gas, into: bottle, rate: 200 mL/min, reference: ambient, at_most: 1 L/min}}
train:
  - {id: bottle, kind: KIND, liquid: LIQUID, liquid_volume: 100 mL, gas_volume: 100 mL,
     rating: 1 bar gauge, joint: none}
  - {id: out, kind: outlet, to: room}
procedure:
  - {step: flow, duration: 60 min, flows: {feed: on}}
  - {step: rest, duration: 60 min, flows: {feed: off}}
"""
DIPS = "wash bottle, dip_depth: 20 mm, dip_tube_bore: 6 mm, lift: 100 mm"
#: Vapour pressure at 20 degC, bar (CRC Handbook of Chemistry and Physics, from memory).
VAPOUR = {"water": 0.0234, "ethanol": 0.0585}
#: A tee with a flask on one side and a seal of 20 mm of water on the other.
PARTED = """
title: Nitrogen over a flask, past a seal
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}}}
flows: {feed: {reagent: gas, into: tee, rate: 200 mL/min, reference: ambient}}
train:
  - {id: tee, kind: tee, gas_volume: 3 mL}
  - {id: flask, kind: vessel, from: [tee], gas_volume: 100 mL}
  - {id: hose, kind: line, inner_diameter: 6 mm, length: 1 m}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
  - {id: seal, kind: bubbler, from: [tee], liquid: water, liquid_volume: 100 mL,
     gas_volume: 100 mL, dip_depth: 20 mm, dip_tube_bore: 6 mm, lift: 100 mm}
  - {id: seal out, kind: outlet, to: hood, inner_diameter: 6 mm}
procedure:
  - {step: flow, duration: 60 min, flows: {feed: on}}
"""
#: Two hoses into a valve, which leads the first one's gas on.
SELECTED = """
title: One of two gases by a three-way valve
reagents:
  one: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
    pressure: 200 bar gauge, regulator: 0.5 bar gauge}}
flows:
  one: {reagent: one, into: first, rate: 200 mL/min, reference: ambient, at_most: 1 L/min}
  two: {reagent: one, into: second, rate: 200 mL/min, reference: ambient, at_most: 1 L/min}
train:
  - {id: first, kind: hose, from: [], inner_diameter: 4 mm, length: 1 m}
  - {id: second, kind: hose, from: [], inner_diameter: 4 mm, length: 1 m, rating: 8 bar gauge,
     joint: none}
  - {id: valve, kind: three-way valve, from: [first, second], gas_volume: 3 mL}
  - {id: out, kind: outlet, to: room, inner_diameter: 4 mm}
procedure:
  - {step: flow, duration: 60 min, flows: {one: on}POSITION}
"""


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def reviewed(engine: Engine, text: str) -> Review:
    return engine.review(engine.loads(text, "x.yaml"))


def pressed(engine: Engine, liquid: str, kind: str) -> float:
    """Pressure over the room's, bar, in a bottle of 1 bar that is blocked, its feed off again."""
    review = reviewed(engine, BOTTLE.replace("LIQUID", liquid).replace("KIND", kind))
    (run,) = [n for n, each in enumerate(review.trials.runs) if each.id == "blocked:bottle:flow"]
    (measure,) = [m for m in review.measures if m.kind == "pressure.working_over_rating"]
    return float(measure.value[2, run])


@pytest.mark.parametrize("liquid", VAPOUR)
def test_gas_pressed_in_through_a_liquid_holds_its_vapour_already(engine, liquid: str) -> None:
    assert pressed(engine, liquid, DIPS) == pytest.approx(0.5, abs=2e-3)


@pytest.mark.parametrize("liquid", VAPOUR)
def test_over_a_liquid_that_it_passes_by_vapour_comes_on_top(engine, liquid: str) -> None:
    assert pressed(engine, liquid, "vessel") == pytest.approx(0.5 + VAPOUR[liquid], abs=3e-3)


@pytest.mark.parametrize("opened", ["flask", "hose"])
def test_a_branch_whose_joint_stands_open_takes_what_the_seal_of_the_other_holds(engine, opened):
    """20 mm of water are 196 Pa; an open joint, or a metre of hose, costs less than 10 Pa."""
    review = reviewed(engine, PARTED)
    run = [each.id for each in review.trials.runs].index(f"joint open outward:{opened}:flow")
    found = {m.at: m for m in review.measures if m.kind == "train.pressure"}
    assert found["tee"].value[1, run] == pytest.approx(101325, abs=20)
    assert found["tee"].status[1, run] == found["tee"].status[1, 0]  # it settles, as the plan does


@pytest.mark.parametrize("position", [", valves: {valve: first}", ""])
def test_what_a_three_way_valve_shuts_is_not_pressed_from_its_other_side(engine, position) -> None:
    """The outlet is blocked: half a bar stands in the first hose, in both where none is shut."""
    review = reviewed(engine, SELECTED.replace("POSITION", position))
    run = [each.id for each in review.trials.runs].index("blocked:out:flow")
    found = {m.at: m.value[1, run] for m in review.measures if m.kind == "train.pressure"}
    assert found["first"] == pytest.approx(151325)
    assert found["second"] == pytest.approx(101325 if position else 151325)


HOSE = """
title: Nitrogen through a hose into water
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}}}
flows: {feed: {reagent: gas, into: hose, rate: 200 mL/min, reference: ambient}}
train:
  - {id: hose, kind: line, material: PTFE, inner_diameter: 6 mm, length: 1 m, joint: none}
  - {id: bubbler, kind: bubbler, liquid: water, liquid_volume: 500 mL, gas_volume: 100 mL,
     dip_depth: DIPS, dip_tube_bore: 6 mm, lift: 300 mm}
  - {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
procedure:
  - {step: flow, duration: 60 min, flows: {feed: on}}
"""


@pytest.mark.parametrize(("dips", "known"), [("50 mm", True), ("200 mm", False)])
def test_a_hose_of_unknown_strength_bears_what_moves_its_gas(engine, dips: str, known: bool):
    """50 mm of water are 489 Pa and nothing to burst a hose; 200 mm are 1958 Pa."""
    review = reviewed(engine, HOSE.replace("DIPS", dips))
    found = [m for m in review.measures if m.kind == "pressure.working_over_rating"]
    (hose,) = [m for m in found if m.at == "hose"]
    assert bool(hose.value[1, 0] == 0.0) is known
