"""Liquid is drawn back by what dissolves or condenses, whether or not the file says so.

A litre of gas in a flask before 100 mL of water: what vanishes makes room for all of the water.
"""

from __future__ import annotations

import pytest

from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.steps import Walk
from tests.support import shared_engine

TEXT = """
title: A litre before a bottle
reagents:
  gas: {state: gas, composition: {GAS: 100 %}}
flows: {feed: {reagent: gas, into: flask, rate: 1 L/min, reference: ambient}}
train:
  - {id: flask, kind: vessel, gas_volume: 1 L}
  - {id: bottle, kind: wash bottle, liquid: water, liquid_volume: 100 mL, gas_volume: 100 mL,
     dip_depth: 20 mm, dip_tube_bore: 6 mm, lift: 100 mmMORE}
  - {id: out, kind: outlet, to: room}
procedure:
  - {step: flow, duration: 60 min, flows: {feed: on}}
  - {step: rest, duration: 60 min, flows: {feed: off}}
"""


@pytest.fixture(scope="module")
def reach():
    engine = shared_engine()

    def of(gas: str, more: str = "") -> float:
        text = TEXT.replace("GAS", gas).replace("MORE", more)
        review = engine.review(engine.loads(text, "x.yaml"), upsets=False)
        (measure,) = [m for m in review.measures if m.kind == "pressure.suckback_reach"]
        return float(measure.value[2, 0])

    return of


def test_a_gas_that_dissolves_draws_all_of_the_water_back(reach) -> None:
    assert reach("hydrogen chloride") == pytest.approx(0.1)  # 100 mL into a litre


def test_saying_that_it_is_absorbed_changes_nothing(reach) -> None:
    stated = reach("ammonia", ", absorbs: {ammonia: {efficiency: 90 %, capacity: 5 mol}}")
    assert reach("ammonia") == pytest.approx(stated) == pytest.approx(0.1)


@pytest.mark.parametrize("ware", ["beaker", "test tube", "safety bottle"])
def test_any_ware_into_which_a_tube_dips_runs_back_as_a_wash_bottle_does(ware) -> None:
    engine = shared_engine()
    text = TEXT.replace("GAS", "ammonia").replace("MORE", "").replace("wash bottle", ware)
    for wet, share in ((text, 0.1), (text.replace("liquid_volume: 100 mL, ", ""), 0.9)):
        review = engine.review(engine.loads(wet, "x.yaml"), upsets=False)
        (measure,) = [m for m in review.measures if m.kind == "pressure.suckback_reach"]
        assert not measure.value[2, 0] < share - 1e-9


def test_where_nobody_says_whether_the_tube_dips_it_may() -> None:
    engine = shared_engine()
    text = TEXT.replace("GAS", "ammonia").replace("MORE", "").replace("wash bottle", "beaker")
    text = text.replace("gas_volume: 1 L}", "gas_volume: 100 mL}")
    for dips, known in (("", False), ("dip_depth: 0 mm, ", True)):
        told = text.replace("dip_depth: 20 mm, ", dips)
        review = engine.review(engine.loads(told, "x.yaml"), upsets=False)
        (measure,) = [m for m in review.measures if m.kind == "pressure.suckback_reach"]
        assert (measure.value[2, 0] == 0, bool(measure.note)) == (known, not known)


def test_steam_condenses(reach) -> None:
    assert reach("water") == pytest.approx(0.1)


def test_what_stays_a_gas_draws_next_to_nothing(reach) -> None:
    assert reach("nitrogen") < 0.01


VALVE = (
    "  - {id: check, kind: non-return valve, gas_volume: 1 mL, cracking_pressure: 0.02 bar gauge}\n"
)


@pytest.mark.parametrize(("before", "drawn"), [("bottle", 0.0), ("flask", 0.1)])
def test_a_check_valve_between_them_holds_the_water_until_it_leaks(before: str, drawn: float):
    """Before the flask it holds nothing: the bottle stands behind both."""
    engine = shared_engine()
    text = TEXT.replace("GAS", "ammonia").replace("MORE", "")
    text = text.replace(f"  - {{id: {before},", f"{VALVE}  - {{id: {before},")
    review = engine.review(engine.loads(text.replace("into: flask", "into: INTO").replace(
        "INTO", "check" if before == "flask" else "flask"), "x.yaml"))  # fmt: skip
    (measure,) = [m for m in review.measures if m.kind == "pressure.suckback_reach"]
    ids = [run.id for run in review.trials.runs]
    assert measure.value[2, 0] == pytest.approx(drawn, abs=2e-3)
    leaks = measure.value[2, ids.index("check valve leaks:check:rest")]
    assert leaks == pytest.approx(0.1, abs=2e-3)


def test_the_gas_pays_for_opening_it() -> None:
    engine = shared_engine()
    text = TEXT.replace("GAS", "nitrogen").replace("MORE", "")
    valved = text.replace("  - {id: bottle,", f"{VALVE}  - {{id: bottle,")
    flask = []
    for each in (text, valved):
        scenario = engine.loads(each, "x.yaml")
        resolved = resolve(scenario, engine.reference, engine.item_kinds)
        flask.append(Walk(resolved, Runs(resolved.base, [PLAN])).cells[1].pressure[0, 0])
    assert flask[1] - flask[0] == pytest.approx(2000.0, rel=0.02)  # 0.02 bar


def test_a_bed_of_unstated_length_takes_no_room_from_the_gas() -> None:
    """A tube of 20 mm and 500 mm is 157.1 mL; a bed of 100 mm, 40 % void, takes 18.8 mL of it."""
    engine, found = shared_engine(), []
    for length in (", length: 100 mm", ""):
        bed = f"packing: {{voidage: 40 %, particle_diameter: 2 mm{length}}}"
        tube = f"kind: reactor, inner_diameter: 20 mm, length: 500 mm, {bed}"
        text = TEXT.replace("GAS", "nitrogen").replace("MORE", "")
        text = text.replace("kind: vessel, gas_volume: 1 L", tube)
        resolved = resolve(engine.loads(text, "x.yaml"), engine.reference, engine.item_kinds)
        found.append(Walk(resolved, Runs(resolved.base, [PLAN])).cells[1].volume[0, 0])
    assert found == pytest.approx([138.2e-6, 157.1e-6], rel=1e-3)
