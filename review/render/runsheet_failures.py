"""The failures that an operator has to know by heart: what is seen, what is done at once."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from review.interface.result import Finding, Outcome, Review, Run
from review.render import words
from review.render.failures import Family, added, family
from review.render.grouping import excess, urgency

#: What stands where a plugin's failure says nothing of itself.
NOT_DESCRIBED = "not described: agree beforehand"
AS_PLANNED = "nothing worse than as planned"
#: So many things are named that fail alike.
_NAMED = 4
_DAY = 86400.0


@dataclass(frozen=True, slots=True)
class FailureLine:
    """One failure, whatever the step it begins in, at its gravest; all in words.

    `soon` is how long it takes to harm, "" where no check works that out.
    """

    what: str
    leads_to: str
    soon: str
    sign: str
    response: str


@dataclass(frozen=True, slots=True)
class _Case:
    """One failure in one step, and what it comes to."""

    run: Run
    its: Family
    grade: str
    title: str
    seconds: float
    rank: tuple[float, ...]


def failure_lines(review: Review) -> tuple[FailureLine, ...]:
    """Every failure that is worse than acceptable, most serious and soonest first.

    The same failure in several steps is one line, and so are failures of several things that look
    alike and ask for the same. A failure that makes nothing worse than planned comes after those
    that do.
    """
    grouped: dict[tuple[str, ...], list[_Case]] = {}
    for case in _cases(review):
        run, its = case.run, case.its
        # Nobody knows whether failures that say nothing of themselves are alike.
        told = (run.sign, run.response) if run.sign or run.response else ("", its.key)
        grouped.setdefault((its.kind if its.thing else "", *told), []).append(case)
    groups = sorted(grouped.values(), key=lambda cases: min(c.rank for c in cases))
    return tuple(_line(cases, review) for cases in groups)


def _cases(review: Review) -> Iterable[_Case]:
    runs = {run.id: run for run in review.trials.runs}
    new = added(review)
    blocking = {f.criterion for f in review.findings if f.grade == "undetermined" and f.blocks}
    for outcome in review.outcomes:
        run = runs.get(outcome.run)
        if outcome.grade != "acceptable" and run is not None:
            found = new.get(run.id)
            yield _Case(
                run=run,
                its=family(run, review.trials),
                grade=found.grade if found else outcome.grade,
                title=(found.title or found.criterion) if found else "",
                seconds=outcome.seconds,
                rank=_rank(outcome, found, blocking, review),
            )


def _rank(
    outcome: Outcome, found: Finding | None, blocking: set[str], review: Review
) -> tuple[float, ...]:
    """Smaller is more serious: grade, whether it adds to the plan, kind of harm, time, value."""
    grade = found.grade if found else outcome.grade
    criterion = found.criterion if found else outcome.criterion
    blocks = grade == "unacceptable" or (grade == "undetermined" and criterion in blocking)
    grave = 0 if blocks else 1 if grade == "tolerable" else 2
    soon = math.inf if math.isnan(outcome.seconds) else outcome.seconds
    past = -excess(found, review.kinds) if found else 0.0
    return grave, found is None, urgency(criterion), soon, past


def _line(cases: list[_Case], review: Review) -> FailureLine:
    worst = min(cases, key=lambda case: case.rank)
    timed = [case.seconds for case in cases if not math.isnan(case.seconds)]
    run = worst.run
    return FailureLine(
        what=words.upper_first(
            words.clean(f"{_phrase(cases, worst, review)}{_begins(cases, worst, review)}")
        ),
        # What is so as planned already is no consequence of a failure.
        leads_to=words.clean(f"{worst.title} ({worst.grade})") if worst.title else AS_PLANNED,
        soon=_soon(min(timed, default=math.nan)),
        sign=_said(run.sign),
        response=_said(run.response),
    )


def _phrase(cases: list[_Case], worst: _Case, review: Review) -> str:
    """What fails; the worst thing first where several fail alike."""
    ordered = [worst, *cases]
    if worst.its.thing:
        things = list(dict.fromkeys(case.its.thing for case in ordered))
        return worst.its.phrase.replace(worst.its.thing, _some(things), 1)
    # Of steps that are left out alike, only the names differ.
    alike: dict[str, list[str]] = {}
    for case in ordered:
        step = review.trials.cell_name(case.run.from_step or 0)
        named = case.its.dated and case.its.phrase.count(f"step {step}") == 1
        phrase = case.its.phrase.replace(f"step {step}", "step \0") if named else case.its.phrase
        steps = alike.setdefault(phrase, [])
        if step not in steps:
            steps.append(step)
    phrases = [phrase.replace("\0", _some(steps)) for phrase, steps in alike.items()]
    return _some(phrases, at_most=2)


def _begins(cases: list[_Case], worst: _Case, review: Review) -> str:
    if worst.its.dated or not worst.run.from_step:
        return ""
    step = words.in_step(review.trials.cell_name(worst.run.from_step))
    several = len({case.run.from_step for case in cases}) > 1
    return f", worst if it begins {step}" if several else f", beginning {step}"


def _said(text: str) -> str:
    return words.upper_first(words.clean(text)) or words.upper_first(NOT_DESCRIBED)


def _soon(seconds: float) -> str:
    if math.isnan(seconds):
        return ""
    return "after more than a day" if _DAY < seconds < math.inf else words.soon(seconds)


def _some(names: list[str], at_most: int = _NAMED) -> str:
    more = len(names) - at_most
    if more > 1:
        names = [*names[:at_most], f"any of {more} others"]
    return words.listed(names, "or")
