"""What single failures come to: grouped, ranked, and only where they add something."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from review.interface.measure import OUTSIDE, Measure
from review.interface.result import Finding, Outcome, Review, Run, Trials
from review.render.failures import family, table

Show = Callable[..., str]
STEPS = ("purge", "heat", "cool")


def run(id: str, title: str, step: int) -> Run:
    return Run(id, f"{title} from step {STEPS[step - 1]} on", "upset", step)


#: The flow is called as a step is, which must not confuse the two.
RUNS = (
    Run("plan", "the plan", "plan"),
    run("flow lost:purge:purge", "purge does not come, unnoticed,", 1),
    run("flow lost:purge:cool", "purge does not come, unnoticed,", 3),
    run("flow lost:purge:purge:midway", "purge stops in mid-step, unnoticed,", 1),
    run("blocked:tube:heat", "tube is blocked", 2),
    run("blocked:hose:heat", "hose is blocked", 2),
    run("fan lost:heat", "the fan stops", 2),
    Run("skipped:heat", "step heat is left out", "upset", 2),
)


def reviewed(
    review: Review,
    make_finding: Callable[..., Finding],
    worst: dict[str, float],
    planned: float = 0.2,
    **outcome: Any,
) -> Review:
    """A review in which each run of `worst` reaches that share of oxygen, limit 0.6, in cool."""
    share = np.full((4, len(RUNS)), planned)
    for column, one in enumerate(RUNS):
        share[3, column] = worst.get(one.id, planned)
    measure = Measure(
        "ignition.oxygen_share", "tube", "", "", share, np.zeros(share.shape, np.uint8), "m"
    )
    upsets = [r for r in RUNS if r.case == "upset"]
    gravest = max(upsets, key=lambda r: worst.get(r.id, planned))
    common: dict[str, Any] = {"title": "The gas burns", "of": "", "limit": 0.6}
    findings = [
        make_finding(
            **common, case="upset", trial=gravest.id, step="cool",
            value=worst.get(gravest.id, planned), grade="tolerable",
        ),
        make_finding(
            **common, value=planned, grade="tolerable" if planned > 0.6 else "acceptable"
        ),
    ]  # fmt: skip
    outcomes = [
        Outcome(
            run=r.id, title=r.title, criterion="ignition.oxygen", criterion_title="The gas burns",
            grade="tolerable" if share[3, n] > 0.6 else "acceptable", kind="ignition.oxygen_share",
            at="tube", of="", step="cool", value=float(share[3, n]), unit="", display="",
            **outcome,
        )
        for n, r in enumerate(RUNS)
        if r.case == "upset"
    ]  # fmt: skip
    return dataclasses.replace(
        review, trials=Trials(STEPS, RUNS), measures=(measure,), findings=tuple(findings),
        outcomes=tuple(outcomes),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("number", "key", "phrase"),
    [
        (1, "flow lost:purge", "purge does not come"),
        (3, "flow lost:purge", "purge stops in mid-step"),
        (4, "blocked:tube", "tube is blocked"),
        (6, "fan lost", "the fan stops"),
        (7, "skipped:heat", "step heat is left out"),
    ],
)
def test_a_failure_is_known_apart_from_its_step(number: int, key: str, phrase: str) -> None:
    found = family(RUNS[number], Trials(STEPS, RUNS))
    assert (found.key, found.phrase) == (key, phrase)


def test_one_failure_over_its_steps_is_one_entry_at_its_worst(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    worst = {"flow lost:purge:purge": 1.0, "flow lost:purge:cool": 2.0, "fan lost:heat": 3.0}
    found = table(reviewed(review, make_finding, worst))
    assert [c.worst.value for c in found.consequences] == [3.0, 2.0]
    (failed,) = found.consequences[1].failures
    assert (failed.phrase, failed.begins, failed.count) == ("purge does not come", "cool", 2)
    assert found.adding == 3
    assert found.total == 7


def test_the_same_failure_of_several_things_is_one_entry(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    worst = {"blocked:tube:heat": 2.0, "blocked:hose:heat": 1.0}
    (one,) = table(reviewed(review, make_finding, worst)).consequences
    assert [f.phrase for f in one.failures] == ["tube or hose is blocked"]
    assert one.worst.value == 2.0


def test_what_holds_as_planned_is_not_laid_at_a_failure(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    worst = {"fan lost:heat": 1.05, "blocked:tube:heat": 2.0}
    found = table(reviewed(review, make_finding, worst, planned=1.0))
    assert [f.phrase for c in found.consequences for f in c.failures] == ["tube is blocked"]
    assert "the fan stops" in found.others


def test_a_grade_lowered_by_a_credited_safeguard_is_kept(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    done = reviewed(review, make_finding, {"fan lost:heat": 3.0}, credit="fan alarm")
    unacceptable = [
        dataclasses.replace(f, grade="unacceptable") if f.case == "upset" else f
        for f in done.findings
    ]
    (one,) = table(dataclasses.replace(done, findings=tuple(unacceptable))).consequences
    assert one.worst.grade == "tolerable"
    assert one.credit == "fan alarm"


def test_the_letter_says_how_soon_and_what_counters(
    review: Review, make_finding: Callable[..., Finding], shown: Show
) -> None:
    worst = {"fan lost:heat": 3.0}
    timed = reviewed(review, make_finding, worst, seconds=40.0, credit="alarm: no credit, too slow")
    text = " ".join(shown(timed).split())
    assert (
        "7 single failures were played, each alone and unnoticed. The gas burns (tolerable); at "
        "most 0.6 is wanted: - if the fan stops from step heat on: 3 at tube, in step cool; after "
        "40 s; alarm: no credit, too slow 6 failures add nothing" in text
    )
    text = " ".join(shown(reviewed(review, make_finding, worst)).split())
    assert "How soon they harm was not worked out. No safeguard counters them." in text


def test_many_failures_stay_readable(
    review: Review, make_finding: Callable[..., Finding], shown: Show
) -> None:
    runs = (RUNS[0], *(run(f"f{n}:part:heat", f"thing number {n} fails", 2) for n in range(150)))
    share = np.full((4, 151), 0.2)
    share[3, 1:] = np.linspace(1.0, 9.0, 150)
    done = reviewed(review, make_finding, {})
    measure = dataclasses.replace(
        done.measures[0], value=share, status=np.zeros(share.shape, np.uint8)
    )
    outcomes = [
        dataclasses.replace(
            done.outcomes[0], run=r.id, title=r.title, grade="tolerable", value=share[3, n]
        )
        for n, r in enumerate(runs)
        if n
    ]
    many = dataclasses.replace(
        done, trials=Trials(STEPS, runs), measures=(measure,), outcomes=tuple(outcomes),
        findings=(dataclasses.replace(done.findings[0], trial=runs[-1].id, value=9.0),),
    )  # fmt: skip
    text = shown(many)
    lines = text[text.index("If one thing") : text.index("What was reviewed")].splitlines()
    assert len(lines) <= 25
    assert "thing number 149 fails" in text
    assert "or any of 138 others" in text


def test_a_value_outside_its_range_is_not_shown_as_a_plain_number(
    review: Review, make_finding: Callable[..., Finding], shown: Show
) -> None:
    done = reviewed(review, make_finding, {"fan lost:heat": 3.0})
    status = np.zeros(done.measures[0].value.shape, np.uint8)
    status[3, 6] = OUTSIDE
    beyond = dataclasses.replace(
        done,
        measures=(dataclasses.replace(done.measures[0], status=status),),
        findings=tuple(
            dataclasses.replace(f, grade="undetermined") if f.case == "upset" else f
            for f in done.findings
        ),
        outcomes=tuple(
            dataclasses.replace(o, grade="undetermined") if o.run == "fan lost:heat" else o
            for o in done.outcomes
        ),
    )
    text = " ".join(shown(beyond).split())
    assert "The gas burns (undetermined)" in text
    assert "if the fan stops from step heat on: 3 (outside range) at tube" in text


def test_the_judges_choice_stands_where_it_adds_something(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    done = reviewed(review, make_finding, {"fan lost:heat": 3.0})
    other = make_finding(
        criterion="heat.wall", title="Hot wall", kind="surfaces.margin", case="upset", of="",
        trial="fan lost:heat", step="cool", value=5.0, limit=20.0, grade="tolerable",
    )  # fmt: skip
    chosen = tuple(
        dataclasses.replace(
            o, criterion=other.criterion, criterion_title=other.title, kind=other.kind, value=5.0
        )
        if o.run == "fan lost:heat"
        else o
        for o in done.outcomes
    )
    both = dataclasses.replace(done, findings=(*done.findings, other), outcomes=chosen)
    (one,) = table(both).consequences
    assert one.worst.title == "Hot wall"
