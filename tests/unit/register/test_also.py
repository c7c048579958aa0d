"""What a signer is asked besides the findings."""

from __future__ import annotations

import pytest

from review import Review, Scenario, loads
from review.register.also import also_asked
from review.register.questions import Signing, questions, refusals
from tests.support import shared_engine

#: Invented. A cylinder of 1 L at 3 bar absolute behind 1 bar holds 2 L at the room's pressure;
#: a run of 10 min at 60 mL/min draws 0.6 L of it, so three runs draw 1.8 L and four 2.4 L.
TEXT = """\
title: Argon through a tube
reagents:
  argon: {state: gas, composition: {argon: 100 %}, held: {as: cylinder, volume: 1 L,
    pressure: 3 bar absolute, regulator: 1 bar absolute}}
flows: {argon: {reagent: argon, into: tube, rate: 60 mL/min, reference: standard}}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
     length: 600 mm, reactions: none, ends: open}
  - {id: outlet, kind: outlet, to: outdoors}
procedure: [{step: run, duration: 10 min, flows: {argon: on}}]
"""


@pytest.fixture(scope="module")
def reviewed() -> tuple[Review, Scenario]:
    scenario = loads(TEXT)
    return shared_engine().review(scenario, upsets=False), scenario


def test_a_statement_that_nothing_reacts_is_confirmed(reviewed: tuple[Review, Scenario]) -> None:
    review, scenario = reviewed
    [asked] = also_asked(review, scenario)
    assert asked.id == "statement.reactions"
    assert "nothing reacts in tube" in asked.action
    other = loads(TEXT.replace("reactions: none, ", ""))
    assert also_asked(review, other) == ()


def test_it_cannot_be_left_out(reviewed: tuple[Review, Scenario]) -> None:
    from datetime import UTC, datetime, timedelta

    review, scenario = reviewed
    now = datetime(2031, 5, 6, tzinfo=UTC)
    also = also_asked(review, scenario)
    said = {q.id: "looked at" for q in questions(review) if not q.open}
    answered = {q.id: ("teacher", "it is known from before") for q in questions(review) if q.open}
    signing = Signing("a b", "c d", now.date() + timedelta(days=1), 1, said, answered)
    without = refusals(review, signing, now, also)
    if review.verdict != "must not proceed":
        assert without == ("statement.reactions is a condition: confirm it",)


@pytest.mark.parametrize(("runs", "asked"), [(1, False), (3, False), (4, True)])
def test_runs_that_draw_more_than_there_is_are_asked_about(
    reviewed: tuple[Review, Scenario], runs: int, asked: bool
) -> None:
    ids = {q.id: q for q in also_asked(*reviewed, runs=runs)}
    assert ("runs.gas_drawn@supply of argon" in ids) is asked
    if asked:
        assert "lasts for 3 runs" in ids["runs.gas_drawn@supply of argon"].action


def test_solids_are_asked_about_where_there_is_more_than_one_run(
    reviewed: tuple[Review, Scenario],
) -> None:
    review, _ = reviewed
    filled = loads(TEXT.replace("reagents:\n", "reagents:\n  sand: {state: solid, composition: "
                                "{silica: 100 %}, amount: 5 g, held: {as: bottle}}\n"))  # fmt: skip
    ids = [[q.id for q in also_asked(review, filled, runs=runs)] for runs in (1, 2)]
    assert ["runs.solids" in each for each in ids] == [False, True]
    assert "runs.solids" not in [q.id for q in also_asked(*reviewed, runs=2)]


def test_runs_that_pass_the_limit_of_eight_hours_are_asked_about() -> None:
    """Half an hour of carbon monoxide in a small room: so many runs as make a whole dose."""
    text = TEXT.replace("argon: 100 %", "carbon monoxide: 0.1 %, nitrogen: 99.9 %")
    text = text.replace("to: outdoors", "to: room") + (
        "ventilation: {room_volume: 30 m3, air_changes: 1 / hour}\n"
    )
    scenario = loads(text)
    review = shared_engine().review(scenario, upsets=False)
    [share] = {
        float(m.value[:, 0].max()) for m in review.measures
        if m.kind == "exposure.eight_hour_ratio" and m.value.size
    }  # fmt: skip
    assert 0 < share < 1
    most = int(1 / share)
    for runs, asked in ((most, False), (most + 1, True)):
        ids = {q.id: q for q in also_asked(review, scenario, runs=runs)}
        assert ("runs.day" in ids) is asked
