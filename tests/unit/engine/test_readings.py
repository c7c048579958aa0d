"""What a file leaves open in two ways is played both ways: no condition of a volume flow, no gas
that a controller was made for."""

from __future__ import annotations

import pytest

from review import loads
from review.render.words import trial
from tests.generated.generator import scenario
from tests.laws.law import answered, let_through, read
from tests.laws.less import left_out, without
from tests.support import shared_engine

ENGINE = shared_engine()
TWO = """
title: A fuel beside a purge
reagents:
  gas: {state: gas, composition: {GAS: 100 %}, held: {as: cylinder}}
  purge: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder}}
flows:
  a: {reagent: gas, into: hose, rate: 100 mL/min, MORE}
  b: {reagent: purge, into: hose, rate: 100 mL/min}
train:
- {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
procedure:
- {step: flow, duration: 10 min, flows: {a: on, b: on}}
"""
CONTROLLED = "reference: normal, instrument: {kind: mass flow controller}"


def _plans(gas: str, more: str) -> dict[str, dict[str, float]]:
    text = TWO.replace("GAS", gas).replace("MORE", more)
    found = ENGINE.overlays(loads(text.replace(", }", "}"), "x.yaml"))
    return {o.id: dict(o.changes) for o in found if o.case == "plan"}


def test_flows_without_a_condition_are_read_at_both() -> None:
    """Fuel counts at 0 degC, the purge at 20 degC: also both at either, and each at the other."""
    plans = _plans("methane", "")
    assert set(plans) == {
        "plan", "read:all flows at the colder condition", "read:all flows at the warmer condition",
        "read:each flow at the other condition",
    }  # fmt: skip
    assert plans["read:all flows at the warmer condition"] == {
        "flows.a.reference.temperature": 293.15, "flows.a.reference.pressure": 101325.0,
    }  # fmt: skip
    colder = plans["read:all flows at the colder condition"]
    assert colder["flows.b.reference.temperature"] == 273.15


def test_on_a_mountain_the_room_counts_too() -> None:
    text = TWO.replace("GAS", "methane").replace(", MORE", "")
    text += "ambient: {pressure: 800 mbar absolute}\n"
    review = ENGINE.review(loads(text, "x.yaml"), upsets=False)
    assert len(review.trials.runs) == 4
    assert review.trials.runs[0].id == "plan"


@pytest.mark.parametrize(
    ("gas", "factors"),
    [("carbon dioxide", [0.70]), ("helium", [1.45]), ("nitrogen", [])],
)  # fmt: skip
def test_a_controller_made_for_a_gas_that_is_not_said(gas: str, factors: list[float]) -> None:
    """Also read as made for nitrogen (factors as in makers' tables, from memory)."""
    plans = _plans(gas, CONTROLLED)
    found = {c["flows.a.true_over_read"] for c in plans.values() if "flows.a.true_over_read" in c}
    assert sorted(found) == pytest.approx(factors)


@pytest.mark.parametrize(("number", "field"), [(16, "calibration_gas"), (3, "reference")])
def test_what_is_left_out_is_no_better(number: int, field: str) -> None:
    """A fifth of propane through a controller made for propane: twice the flow that it shows."""
    data = read(scenario(number))
    before = answered(ENGINE, data, upsets=False)
    assert before is not None
    for name, path in left_out(data):
        if name.endswith(field):
            now = answered(ENGINE, without(data, path), upsets=False)
            assert now is None or not let_through("less", name, now, before)[0]


def test_a_finding_says_how_the_file_was_read() -> None:
    text = TWO.replace("GAS", "methane").replace(", MORE", "")
    trials = ENGINE.review(loads(text, "x.yaml"), upsets=False).trials
    said = trial(trials, "read:all flows at the warmer condition", "flow")
    assert said == "as planned, in step flow, read with all flows at the warmer condition"
