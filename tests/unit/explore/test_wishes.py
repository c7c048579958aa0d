"""What the user wants is told and met or missed by hand-worked numbers, and is no verdict."""

from __future__ import annotations

import pytest

from review import Engine, InputError, loads
from review.engine.wishes import judged, unmet, usual
from tests.support import shared_engine

TWO = """
title: Two gases through a hot tube
reagents:
  a: {state: gas, composition: {nitrogen: 100 %}}
  b: {state: gas, composition: {argon: 100 %}}
flows:
  one: {reagent: a, into: tube, rate: 100 mL/min, reference: standard, at_most: 400 mL/min}
  two: {reagent: b, into: tube, rate: 300 mL/min, reference: standard, at_most: 400 mL/min}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
    length: 300 mm, heated_length: 300 mm, gas_volume: 100 mL}
  - {id: outlet, kind: outlet, to: room}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 300 degC, hottest: 320 degC}}
procedure:
  - {step: flush, duration: 50 min, flows: {two: on}}
  - {step: run, duration: 40 min, flows: {one: on}, heat: {furnace: on}}
  - {step: hotter, duration: 5 min, flows: {one: 150 mL/min}, heat: {furnace: 310 degC}}
"""


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.mark.parametrize(
    ("intent", "met", "has"),
    [
        ("{ratio: {of: one, to: two, least: 0.33, most: 0.34}}", True, "0.333"),
        ("{ratio: {of: one, to: two, most: 0.33}}", False, "0.333"),
        ("{ratio: {of: one, to: two, least: 0.5}, step: hotter}", True, "0.5"),
        ("{ratio: {of: one, to: two, most: 9}, step: flush}", False, "not known"),
        ("{temperature: {least: 300 degC}}", True, "300 degC"),
        ("{temperature: {most: 305 degC}, step: hotter}", False, "310 degC"),
        # 400 mL/min as of 293.15 K are 782 mL/min at 573.15 K, and 100 mL last 7.67 s.
        ("{contact_time: {least: 7.6 s, most: 7.7 s, at: tube}}", True, " s"),
        ("{contact_time: {least: 8 s, at: tube}}", False, " s"),
    ],
)
def test_a_wish_is_met_or_missed(engine: Engine, intent: str, met: bool, has: str) -> None:
    scenario = loads(f"{TWO}intent: {intent}\n")
    review = engine.review(scenario, upsets=False)
    ((said, good),) = judged(scenario, review)
    assert good is met, said
    assert has in said
    assert bool(unmet(scenario, review)) is not met
    assert review.verdict == engine.review(loads(TWO), upsets=False).verdict
    (section,) = [s for s in review.sections if s.title.startswith("Wanted")]
    assert section.letter is not met


def test_the_longest_step_with_flow_and_heat_is_meant() -> None:
    assert usual(loads(TWO)) == "run"


@pytest.mark.parametrize(
    ("intent", "said"),
    [
        ("{ratio: {of: one, to: tow, most: 1}}", "did you mean 'two'"),
        ("{ratio: {of: one, to: one, most: 1}}", "another flow"),
        ("{temperature: {least: 300 degC, most: 200 degC}}", "least is more than most"),
        ("{temperature: {of: furnace}}", "needs least, most or both"),
        ("{contact_time: {least: 1 s, at: tub}}", "did you mean 'tube'"),
        ("{step: fly, ratio: {of: one, to: two, most: 1}}", "no step"),
    ],
)
def test_a_wrong_wish_is_wrong_input(intent: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        loads(f"{TWO}intent: {intent}\n")
