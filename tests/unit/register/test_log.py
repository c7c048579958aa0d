"""Readings of a run against the plan."""

from __future__ import annotations

import pytest

from review import Review, Scenario, loads
from review.register.log import against_plan, read_log
from review.register.record import RecordError
from tests.support import shared_engine

#: Invented. 300 mL/min of argon for 10 min, 20 min with the furnace at 400 degC, 30 min to cool.
TEXT = """\
title: A tube that is heated
reagents: {argon: {state: gas, composition: {argon: 100 %}}}
flows: {argon: {reagent: argon, into: tube, rate: 300 mL/min, reference: standard, accuracy: 5 %}}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
     length: 600 mm, reactions: none, ends: open}
  - {id: outlet, kind: outlet, to: outdoors}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 400 degC, hottest: 420 degC}}
procedure:
  - {step: purge, duration: 10 min, flows: {argon: on}}
  - {step: run, duration: 20 min, heat: {furnace: on}}
  - {step: cool, duration: 30 min, heat: {furnace: off}}
"""


@pytest.fixture(scope="module")
def planned() -> tuple[Scenario, Review]:
    scenario = loads(TEXT)
    return scenario, shared_engine().review(scenario, upsets=False)


def told(planned: tuple[Scenario, Review], text: str) -> tuple[bool, str]:
    found = against_plan(read_log(text.encode(), "run.csv"), *planned)
    return found.left, "\n".join(found.told)


def test_what_stays_within_the_plan_is_said_to(planned: tuple[Scenario, Review]) -> None:
    """5 % of 300 mL/min is 15; a furnace on its way up is below its setting and left nothing."""
    text = (
        "time [min],argon [mL/min],furnace [degC]\n1,300,20\n12,314,250\n20,286,399\n40,300,200\n"
    )
    assert told(planned, text) == (False, "argon: as planned\nfurnace: as planned")


def test_where_and_when_it_left_the_plan(planned: tuple[Scenario, Review]) -> None:
    """Row by row: 250 is below 285 from 12 to 13 min, back at 14; 411 is more than 10 K above."""
    text = (
        "time,argon [mL/min],furnace [degC]\n"
        "0:01:00,300,20\n0:12:00,260,390\n0:13:00,250,411\n0:14:00,300,405\n"
    )
    left, said = told(planned, text)
    assert left
    assert 'argon read 250 mL/min from 0:12:00 to 0:13:00, in step "run" (5 % allowed)' in said
    assert 'furnace read 411 degC from 0:13:00 to 0:13:00, in step "run"' in said


def test_a_step_that_is_named_counts_and_not_the_clock(planned: tuple[Scenario, Review]) -> None:
    left, said = told(planned, "step,argon [mL/min]\npurge,300\ncool,0\n")
    assert left and 'argon read 0 mL/min, in step "cool"' in said


def test_a_flow_after_the_last_step_has_left_the_plan(planned: tuple[Scenario, Review]) -> None:
    left, said = told(planned, "time [h],argon [mL/min]\n1.5,300\n")
    assert left and "after the last step (off)" in said


def test_a_column_that_the_plan_does_not_know_is_named(planned: tuple[Scenario, Review]) -> None:
    left, said = told(planned, "time [min],oven [degC]\n1,900\n")
    assert not left
    assert "knows no such reading: oven" in said and "no column was compared" in said


def test_a_measure_is_compared_on_its_harmful_side(planned: tuple[Scenario, Review]) -> None:
    text = "time [min],train.pressure@tube [bar gauge]\n5,0.0\n6,0.9\n"
    left, said = told(planned, text)
    assert left and "read 0.9 bar gauge" in said and "read 0 bar" not in said


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("argon [mL/min]\n300\n", "no column is called 'time' or 'step'"),
        ("time [min]\n", "holds no readings"),
        ("time [min],argon [mL/min]\n1,much\n", "run.csv:2: 'much' is no reading of argon"),
        ("time,argon [mL/min]\n1,300\n", "is no time; write it as"),
        ("time [min],argon [apples]\n1,300\n", "column argon"),
        ("step,argon [mL/min]\nfry,300\n", "the plan has no step 'fry'"),
        ("time [min],argon [mL/min],argon [mL/min]\n1,300,300\n", "two columns are called 'argon'"),
    ],
)
def test_what_is_no_log_is_refused(planned: tuple[Scenario, Review], text: str, why: str) -> None:
    with pytest.raises(RecordError) as refused:
        told(planned, text)
    assert why in str(refused.value)


def test_semicolons_and_decimal_commas_are_read(planned: tuple[Scenario, Review]) -> None:
    left, said = told(planned, "time [min];argon [mL/min]\n1,5;299,5\n2;200\n")
    assert left and "from 0:02:00" in said
