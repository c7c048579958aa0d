"""What the steps draw against what a cylinder holds, and two ways of saying that nothing flows."""

from __future__ import annotations

import numpy as np
import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: Argon through a tube
reagents:
  argon: {state: gas, composition: {argon: 100 %},
          held: {as: cylinder, volume: 1 L, pressure: 100 bar gauge, regulator: 1 bar gauge}}
flows:
  a: {reagent: argon, into: hose, rate: 1 L/min, reference: ambient}
train:
- {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
procedure:
- {step: run, duration: RUN, flows: {a: on}}
- {step: wait, duration: 10 h, flows: {a: OFF}}
"""


@pytest.fixture(scope="module")
def drawn():
    engine = shared_engine()

    def grade(run: str, off: str = "off") -> tuple[str, float]:
        text = TEXT.replace("RUN", run).replace("OFF", off)
        review = engine.review(loads(text), upsets=False)
        (found,) = [f for f in review.findings if f.criterion == "readiness.gas_drawn"]
        (measure,) = [m for m in review.measures if m.kind == "readiness.gas_drawn"]
        return found.grade, float(measure.value[0, 0])

    return grade


@pytest.mark.parametrize(
    ("run", "grade"),
    [("50 min", "acceptable"), ("90 min", "tolerable"), ("3 h", "unacceptable")],
)
def test_a_cylinder_that_runs_empty(drawn, run, grade) -> None:
    """99 bar of 1 L down to the regulator's setting: 97.7 L at 1 atm."""
    minutes = {"50 min": 50.0, "90 min": 90.0, "3 h": 180.0}[run]
    found, share = drawn(run)
    assert found == grade
    assert share == pytest.approx(minutes / (99e5 / 101325.0), rel=1e-3)


def test_nothing_per_minute_is_off(drawn) -> None:
    assert drawn("50 min", "0 mL/min") == drawn("50 min", "off")


def test_a_burner_draws_on_its_cylinder() -> None:
    """1 L/min for 50 min out of 97.7 L, by the burner that is on in the first step only."""
    text = TEXT.replace("argon", "methane").replace("RUN", "50 min").replace("OFF", "off")
    text = text.replace("  a: {reagent: methane", "  a: {reagent: air")
    air = "  air: {state: gas, composition: {air: 100 %}, held: {as: room air}}"
    text = text.replace("reagents:", f"reagents:\n{air}")
    text = text.replace("flows: {a: on}", "flows: {a: on}, heat: {burner: on}")
    text = text.replace("flows: {a: off}", "flows: {a: off}, heat: {burner: off}")
    text += "heat: {burner: {heats: hose, kind: burner, fuel: methane, fuel_rate: 1 L/min, "
    text += "hottest: 300 degC}}\n"
    review = shared_engine().review(loads(text), upsets=False)
    (measure,) = [m for m in review.measures if m.kind == "readiness.gas_drawn"]
    assert measure.at == "supply of methane"
    assert measure.value[0, 0] == pytest.approx(50 / (99e5 / 101325.0), rel=1e-3)
    unsaid = shared_engine().review(loads(text.replace("fuel: methane, ", "")), upsets=False)
    (measure,) = [m for m in unsaid.measures if m.kind == "readiness.gas_drawn"]
    assert np.isnan(measure.value).all()  # it may burn what the cylinder holds, or something else
