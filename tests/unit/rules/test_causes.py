"""Findings hang on what the user can act on, each on one cause, whatever their order."""

from __future__ import annotations

import dataclasses
import random

from review.interface.plugin import Kind
from review.interface.result import Basis, Finding, Letter
from review.judge.causes import causes

SHARE = Kind("demo.share", "Share", "higher", "1", "%", "m", "s", "v")
KINDS = {SHARE.id: SHARE}
LETTERS = {
    "demo.envelope": Letter(cause="burns", urgent=True),
    "demo.surface": Letter(cause="burns", urgent=True, leads=True),
    "demo.air": Letter(cause="breathed", by_subject=True),
    "demo.together": Letter(cause="breathed", by_subject=True),
    "demo.gloves": Letter(cause="at hand", at_hand="gloves"),
    "demo.exit": Letter(cause="at hand", at_hand="a free way out"),
}


def finding(
    criterion: str, grade: str = "unacceptable", value: float = 2.0, **more: object
) -> Finding:
    fields = {
        "title": criterion, "kind": SHARE.id, "at": "tube", "of": "", "status": "ok",
        "case": "plan", "trial": "plan", "step": "stated settings", "unit": "1", "display": "%",
        "limit": 1.0, "action": "Do.", "basis": Basis("d", "", ""), "layer": "built-in",
    }  # fmt: skip
    return Finding(criterion=criterion, grade=grade, value=value, **(fields | more))


def lacking(criterion: str, *facts: str, **more: object) -> Finding:
    nan = float("nan")
    return finding(criterion, "undetermined", nan, status="missing", lacking=facts, **more)


FINDINGS = (
    finding("demo.envelope", at="tube"),
    finding("demo.envelope", at="hose", value=3.0),
    finding("demo.envelope", "tolerable", at="trap", case="upset"),
    finding("demo.surface", case="upset", value=9.0),
    finding("demo.air", of="foam", value=40.0),
    finding("demo.air", of="tar", value=4.0),
    finding("demo.together", of="", value=50.0),
    lacking("demo.time", "bore of tube", "volume of flask"),
    lacking("demo.time", "volume of flask", at="flask"),
    lacking("demo.other", "volume of flask"),
    lacking("demo.other", "rate of a flow", at="hose"),
    finding("demo.gloves", "tolerable", kind="", limit=None),
    finding("demo.exit", "tolerable", kind="", limit=None),
    finding("demo.fine", "acceptable"),
)


def hanging(findings: tuple[Finding, ...]) -> dict[str, set[tuple[str, str, str]]]:
    return {
        cause.id: {(findings[n].criterion, findings[n].at, findings[n].of) for n in cause.findings}
        for cause in causes(findings, LETTERS, KINDS)
    }


def test_each_finding_hangs_on_one_cause_whatever_the_order() -> None:
    expected = {
        "burns": {(c, at, "") for c, at in (
            ("demo.envelope", "tube"), ("demo.envelope", "hose"), ("demo.envelope", "trap"),
            ("demo.surface", "tube"))},
        "breathed: foam": {("demo.air", "tube", "foam"), ("demo.together", "tube", "")},
        "breathed: tar": {("demo.air", "tube", "tar")},
        "not known: volume of flask": {
            ("demo.time", "tube", ""), ("demo.time", "flask", ""), ("demo.other", "tube", "")},
        "not known: rate of a flow": {("demo.other", "hose", "")},
        "at hand": {("demo.gloves", "tube", ""), ("demo.exit", "tube", "")},
    }  # fmt: skip
    drawn = random.Random(7)
    for _ in range(20):
        shuffled = tuple(drawn.sample(FINDINGS, len(FINDINGS)))
        assert hanging(shuffled) == expected


def test_what_is_planned_is_told_before_what_takes_a_failure() -> None:
    found = causes(FINDINGS, LETTERS, KINDS)
    first = FINDINGS[found[0].leading]
    assert (found[0].id, first.criterion, first.at) == ("burns", "demo.envelope", "hose")
    assert [c.grade for c in found] == [*["unacceptable"] * 3, *["undetermined"] * 2, "condition"]
    planned = dataclasses.replace(FINDINGS[3], case="plan")
    again = (planned, *FINDINGS)
    assert again[causes(again, LETTERS, KINDS)[0].leading] is planned  # the one that leads


def test_things_at_hand_are_one_condition() -> None:
    [hand] = [c for c in causes(FINDINGS, LETTERS, KINDS) if c.id == "at hand"]
    assert hand.letter.at_hand == "gloves, a free way out"


def test_what_is_not_known_joins_a_refusal_of_the_same_cause() -> None:
    unknown = lacking("demo.envelope", "bore of tube", at="tube")
    assert "not known: bore of tube" not in hanging((unknown, FINDINGS[0]))
    assert "not known: bore of tube" in hanging((unknown, FINDINGS[4]))
