"""What has to be confirmed or answered, and what may not be signed whatever is said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from review.interface.result import Basis, Finding, Review
from review.judge.verdict import verdict
from review.register.people import same_person
from review.register.questions import Signing, questions, refusals
from review.scenario import loads
from tests.support import shared_engine

NOW = datetime(2031, 5, 6, 23, 30, tzinfo=UTC)
TODAY = date(2031, 5, 6)
REASON = "Looked up in the maker's data sheet."
SMALL = "title: a\ntrain:\n  - {id: bulb, kind: outlet, to: outdoors}\n"


def _finding(grade: str, criterion: str = "a.b", **changes: Any) -> Finding:
    plain = Finding(
        criterion=criterion,
        title="Title of it",
        kind="a.b",
        at="tube",
        of="",
        grade="acceptable",
        status="ok",
        case="plan",
        trial="plan",
        step="",
        value=1.0,
        unit="1",
        display="",
        limit=2.0,
        action="Do this.",
        basis=Basis("a standard", "", "read"),
        layer="built-in",
    )
    return replace(plain, grade=grade, **changes)


@pytest.fixture(scope="module")
def judged() -> Callable[..., Review]:
    """`judged(finding, ...)`: a review with these findings."""
    some = shared_engine().review(loads(SMALL, "a.yaml"))

    def with_findings(*findings: Finding) -> Review:
        return replace(some, findings=findings, verdict=verdict(findings))

    return with_findings


def _signing(**changes: Any) -> Signing:
    return replace(Signing("teacher", "second teacher", TODAY + timedelta(90), 3), **changes)


def _refused(review: Review, **changes: Any) -> tuple[str, ...]:
    return refusals(review, _signing(**changes), NOW)


# Questions


def test_a_question_is_one_criterion_at_one_place_in_all_cases(judged: Any) -> None:
    review = judged(
        _finding("undetermined", case="upset", blocks=True),
        _finding("tolerable", case="plan"),
        _finding("tolerable", of="hydrogen"),
        _finding("tolerable", at=""),
        _finding("tolerable", at="", of="hydrogen"),
        _finding("acceptable", "c.d"),
        _finding("undetermined", "e.f", blocks=False, reason="no value; condition: look at it"),
    )
    asked = questions(review)
    assert [(q.id, q.open) for q in asked] == [
        ("a.b@tube", True),
        ("a.b@tube:hydrogen", False),
        ("a.b", False),
        ("a.b:hydrogen", False),
        ("e.f@tube", False),
    ]
    assert [f.case for f in asked[0].findings] == ["upset", "plan"]
    assert asked[0].action == "Do this."
    assert asked[4].action == "look at it. Do this."


@pytest.mark.parametrize("blocks", [(True, False), (False, True)])
def test_one_finding_that_blocks_makes_a_question_open(
    judged: Any, blocks: tuple[bool, bool]
) -> None:
    cases = zip(("plan", "upset"), blocks, strict=True)
    review = judged(*(_finding("undetermined", case=case, blocks=b) for case, b in cases))
    (question,) = questions(review)
    assert question.open
    assert _refused(review, accepted={question.id: "seen"})


def test_no_two_questions_have_one_id(judged: Any) -> None:
    """Else one confirmation would settle both."""
    review = judged(_finding("tolerable", of="b:c"), _finding("tolerable", at="tube:b", of="c"))
    ids = [q.id for q in questions(review)]
    assert len(set(ids)) == 2
    assert len(_refused(review, accepted={ids[0]: "seen"})) == 1


# What nobody can sign


def test_what_must_not_proceed_cannot_be_signed(judged: Any) -> None:
    review = judged(_finding("unacceptable"), _finding("tolerable", "c.d"))
    said = _refused(review, accepted={"a.b@tube": "it is fine", "c.d@tube": "seen"})
    assert said == ("the verdict is 'must not proceed', and nobody can sign that: a.b@tube",)


def test_an_unacceptable_finding_is_enough_whatever_the_verdict_says(judged: Any) -> None:
    milder = replace(judged(_finding("unacceptable")), verdict="may proceed")
    assert "must not proceed" in _refused(milder)[0]
    assert (
        "must not proceed"
        in _refused(replace(judged(_finding("acceptable")), verdict="must not proceed"))[0]
    )


def test_nothing_judged_cannot_be_signed(judged: Any) -> None:
    assert _refused(judged()) == ("nothing was judged, so there is nothing to sign",)


def test_a_check_that_failed_cannot_be_answered_away(judged: Any) -> None:
    failed = _finding(
        "undetermined",
        "check.failed",
        at="",
        title="The check x could not do its work",
        layer="engine",
        reason="it raised\x1b[31m",
    )
    review = judged(failed, _finding("acceptable"))
    assert questions(review) == ()
    (said,) = _refused(review)
    assert said == (
        "The check x could not do its work: it raised[31m. This cannot be answered; mend or "
        "remove the plugin"
    )
    both = _refused(review, answered={"check.failed": ("teacher", REASON)})
    assert both == (said, '"check.failed" is no question of this review')


def test_an_answer_counts_only_with_role_and_reason(judged: Any) -> None:
    review = judged(_finding("undetermined"))
    for missing in ({}, {"answered": {}}):
        assert _refused(review, **missing) == (
            "a.b@tube could not be judged: answer it with a role and a reason",
        )
    assert _refused(review, accepted={"a.b@tube": REASON}) == (
        "a.b@tube could not be judged: answer it with a role and a reason, a confirmation is not "
        "enough",
    )
    assert _refused(review, answered={"a.b@tube": ("teacher", REASON)}) == ()
    for role, reason, said in (
        ("", REASON, 'the role of who answers "a.b@tube" is blank'),
        (" \t", REASON, "blank"),
        ("--", REASON, "no text"),
        ("teacher", "", 'the reason given for "a.b@tube" is blank'),
        ("teacher", "fine", "too short"),
        ("teacher", "it's fine", "too short"),
        ("teacher", "it . is", "too short"),
        ("teacher", "w " * 1001, "too long: 2002 characters, at most 2000"),
        ("teacher", "one\ntwo three", "unprintable character U+000A"),
        ("teacher", "one two \x1b[31mthree", "unprintable character U+001B"),
        ("teacher", "one two \u202ethree", "unprintable character U+202E"),
        ("teach\u200ber", REASON, "unprintable character U+200B"),
    ):
        (found,) = _refused(review, answered={"a.b@tube": (role, reason)})
        assert said in found, (role, reason)
    japanese = "排気は窓の外へ出す"
    assert _refused(review, answered={"a.b@tube": ("教師", japanese)}) == ()


def test_a_condition_is_confirmed_in_writing(judged: Any) -> None:
    review = judged(_finding("tolerable"), _finding("undetermined", "e.f", blocks=False))
    assert _refused(review, accepted={"a.b@tube": "seen"}) == (
        "e.f@tube is a condition: confirm it",
    )
    both = {"a.b@tube": "seen", "e.f@tube": "seen"}
    assert _refused(review, accepted=both) == ()
    (said,) = _refused(review, accepted=both | {"e.f@tube": " "})
    assert said == 'what is said to "e.f@tube" is blank'
    (said,) = _refused(review, accepted=both, answered={"a.b@tube": ("teacher", REASON)})
    assert said == "a.b@tube is not open: there is nothing to answer"


def test_what_is_no_question_is_refused_with_the_nearest(judged: Any) -> None:
    review = judged(_finding("tolerable", of="hydrogen"))
    settled = {"a.b@tube:hydrogen": "seen"}
    for stale, near in (
        ("a.b@tub:hydrogen", " (did you mean 'a.b@tube:hydrogen'?)"),
        ("a.b@tube", " (did you mean 'a.b@tube:hydrogen'?)"),
        ("a.b", " (did you mean 'a.b@tube:hydrogen'?)"),
        ("something else", ""),
    ):
        said = _refused(review, accepted={**settled, stale: "seen"})
        assert said == (f'"{stale}" is no question of this review{near}',)


@pytest.mark.parametrize("text", ["no", "No.", "N/A", "not yet", "to do!", "don't know"])
def test_a_no_confirms_nothing(judged: Any, text: str) -> None:
    review = judged(_finding("tolerable"))
    (said,) = _refused(review, accepted={"a.b@tube": text})
    assert said == f'"{text}" confirms nothing: say to "a.b@tube" what was done or seen'
    assert _refused(review, accepted={"a.b@tube": "no leak was seen"}) == ()


# People, days and runs


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("teacher", "teacher"),
        ("Lab  Technician ", "lab technician"),
        ("STRASSE", "straße"),
        ("ﬁrst", "FIRST"),  # a ligature, and full-width letters below
        ("ｔｅａｃｈｅｒ", "teacher"),
        ("lab technician <a@lab.example>", "lab technician"),
        ("teacher <a@lab.example>", "headmaster <A@lab.example>"),
        ("a@lab.example", "teacher <a@lab.example>"),
        ("e\u0301tudiant", "étudiant"),
        ("étudiant", "etudiant"),
        ("teacher", "t.e.a.c.h.e.r."),
        ("L. T.", "LT"),
        ("Lab Technician", "Technician, Lab"),
        ("teacher", "t\u0435acher"),  # a Cyrillic letter, and a Greek one below
        ("teacher", "tea\u03f2her"),
        ("teacher", "teach\u034fer"),  # a joiner that nobody sees, and a letter without a shape
        ("teacher", "teacher\u3164"),
        ("\u3164", "\u3164\u3164"),
        ("a@lab.example", "a@lab.example <b@lab.example>"),
        ("teacher <b@x.example> <a@x.example>", "headmaster <a@x.example>"),
        ("teacher (a@lab.example)", "A@LAB.example"),
        ("teacher <a>", "headmaster <a>"),
    ],
)
def test_one_person_is_no_two(judged: Any, one: str, other: str) -> None:
    assert same_person(one, other) and same_person(other, one)
    (said,) = _refused(judged(_finding("acceptable")), preparer=one, reviewer=other)
    assert said.startswith("preparer and reviewer are the same person")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("teacher", "second teacher"),
        ("teacher <a@lab.example>", "technician <b@lab.example>"),
        ("<a@lab.example>", "<b@lab.example>"),
    ],
)
def test_two_people_are_two(judged: Any, one: str, other: str) -> None:
    assert _refused(judged(_finding("acceptable")), preparer=one, reviewer=other) == ()


def test_a_name_is_needed(judged: Any) -> None:
    said = _refused(judged(_finding("acceptable")), preparer=" ", reviewer="a\nb")
    assert said == (
        "the preparer's name is blank",
        "the reviewer's name holds the unprintable character U+000A; write it on one line",
    )


def test_how_long_and_how_often(judged: Any) -> None:
    review = judged(_finding("acceptable"))
    for days in (0, 1, 366):
        assert _refused(review, valid_until=TODAY + timedelta(days)) == ()
    assert _refused(review, valid_until=TODAY - timedelta(1)) == (
        "it would hold until 2031-05-05, and today is 2031-05-06",
    )
    assert _refused(review, valid_until=TODAY + timedelta(367)) == (
        "it would hold until 2032-05-07: at most 366 days ahead, so until 2032-05-06",
    )
    for runs in (1, 10_000):
        assert _refused(review, runs=runs) == ()
    for runs in (0, -1, 10_001, True, 10**5000):
        assert _refused(review, runs=runs) == ("the number of runs has to lie between 1 and 10000",)


def test_every_reason_is_given_at_once(judged: Any) -> None:
    review = judged(_finding("undetermined"), _finding("tolerable", "c.d"))
    said = _refused(review, reviewer="teacher", valid_until=date(2030, 1, 1), runs=0)
    assert len(said) == 5
