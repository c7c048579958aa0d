"""What each single failure comes to, so that a reader sees which ones need thought beforehand.

Only what a failure adds is shown: what already holds as planned is said by the findings.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import OUTSIDE, STATUS_NAMES, FloatArray
from review.interface.plugin import worst_first
from review.interface.result import GRADES, Basis, Finding, Grade, Outcome, Review, Run, Trials
from review.judge.grading import bounded
from review.render.grouping import excess, measure_of, urgency
from review.render.words import listed, reading

_SEVERITY = {grade: len(GRADES) - n for n, grade in enumerate(GRADES)}
#: A value that a failure makes worse by less than this share is as planned.
_MARKEDLY = 0.1

#: Said once for all failures.
_UNNOTICED = ", unnoticed"

Key = tuple[str, str, str]
Mask = NDArray[np.bool_]
#: What was worked out once for a review, which every part of a page asks for.
_ADDED: WeakKeyDictionary[Review, Mapping[str, Finding]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True)
class Failed:
    """The same failure of one or more things: the step it is worst from, and how many there are.

    `begins` is "" where the phrase itself names the step.
    """

    phrase: str
    begins: str
    count: int


@dataclass(frozen=True, slots=True)
class Consequence:
    """Failures that come to the same, the gravest of their findings, and what counters them."""

    failures: tuple[Failed, ...]
    worst: Finding
    credit: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Table:
    """Every failure: those that add something, gravest first, and what the others are called."""

    consequences: tuple[Consequence, ...]
    adding: int
    others: tuple[str, ...]
    total: int


@dataclass(frozen=True, slots=True)
class Family:
    """The same failure of the same thing, whatever the step in which it begins.

    `thing` is "" where the phrase does not name it; `dated` says that the phrase names the step.
    """

    key: str
    kind: str
    thing: str
    phrase: str
    dated: bool = False


def family(run: Run, trials: Trials) -> Family:
    """Which failure of which thing an upset is, apart from the step in which it begins.

    Ids are read as "kind:thing:step"; where they are not, the title tells failures apart. One
    that is about its step (left out, swapped) stands alone.
    """
    step = trials.cell_name(run.from_step) if run.from_step else ""
    ending = f" from step {step} on"
    if not step or not run.title.endswith(ending):
        dated = bool(step) and f"step {step}" in run.title
        return Family(run.id if dated else run.title, run.id, "", run.title, dated)
    phrase = run.title.removesuffix(ending).rstrip(",").removesuffix(_UNNOTICED)
    cut = run.id.rfind(f":{step}")
    key = run.id[:cut] if cut > 0 else phrase
    kind, _, thing = key.partition(":")
    return Family(key, kind, thing if thing in phrase else "", phrase)


def table(review: Review) -> Table:
    """What the failures of a review come to."""
    runs = {run.id: run for run in review.trials.runs}
    families = {o.run: family(runs[o.run], review.trials) for o in review.outcomes}
    new = added(review)
    by_family: dict[str, list[Outcome]] = {}
    for outcome in review.outcomes:
        if outcome.run in new:
            by_family.setdefault(families[outcome.run].key, []).append(outcome)
    # The same failure of several things, where it comes to the same hazard.
    alike: dict[tuple[str, ...], list[Outcome]] = {}
    for outcomes in by_family.values():
        worst = _gravest([new[o.run] for o in outcomes], review)
        its = families[worst.trial]
        pattern = its.phrase.replace(its.thing, "\0", 1) if its.thing else its.key
        credit = next(o.credit for o in outcomes if o.run == worst.trial)
        key = its.kind, pattern, worst.criterion, worst.grade, credit
        alike.setdefault(key, []).extend(outcomes)
    found: dict[tuple[object, ...], Consequence] = {}
    for outcomes in alike.values():
        worst = _gravest([new[o.run] for o in outcomes], review)
        its, run = families[worst.trial], runs[worst.trial]
        things = dict.fromkeys(families[o.run].thing for o in outcomes)
        failed = Failed(
            its.phrase.replace(its.thing, listed(things, "or"), 1) if its.thing else its.phrase,
            "" if its.dated or not run.from_step else review.trials.cell_name(run.from_step),
            len(outcomes),
        )
        credit = next(o.credit for o in outcomes if o.run == worst.trial)
        seconds = min((o.seconds for o in outcomes if o.seconds == o.seconds), default=math.nan)
        shown = reading(worst, review.kinds)
        same = worst.criterion, worst.grade, worst.at, worst.of, shown, credit
        known = found.get(same)
        if known is None:
            found[same] = Consequence((failed,), worst, credit, seconds)
        else:
            soonest = known.seconds if not seconds < known.seconds else seconds
            found[same] = replace(known, failures=(*known.failures, failed), seconds=soonest)
    others = [families[o.run] for o in review.outcomes if o.run not in new]
    # A failure that adds something from another step on has been named already.
    unnamed = [its.phrase for its in others if its.key not in by_family]
    names = unnamed or [its.phrase for its in others]
    return Table(
        _in_order(found.values(), review), len(new), tuple(dict.fromkeys(names)),
        len(review.outcomes),
    )  # fmt: skip


def _in_order(found: Iterable[Consequence], review: Review) -> tuple[Consequence, ...]:
    """Gravest first; those of one criterion stay together, the largest value first."""
    each = list(found)
    furthest: dict[tuple[str, Grade], float] = {}
    for one in each:
        key = one.worst.criterion, one.worst.grade
        furthest[key] = max(furthest.get(key, -math.inf), excess(one.worst, review.kinds))

    def rank(one: Consequence) -> tuple[object, ...]:
        worst = one.worst
        return (
            -_SEVERITY[worst.grade],
            urgency(worst.criterion),
            -furthest[worst.criterion, worst.grade],
            worst.criterion,
            -_hazard(worst, review),
        )

    return tuple(sorted(each, key=rank))


def _gravest(findings: Iterable[Finding], review: Review) -> Finding:
    """The gravest of several; places of one criterion are compared by their value."""
    worst: dict[str, Finding] = {}
    for finding in findings:
        known = worst.get(finding.criterion)
        if known is None or _place_rank(finding, review) > _place_rank(known, review):
            worst[finding.criterion] = finding

    def rank(finding: Finding) -> tuple[float, ...]:
        past = excess(finding, review.kinds)
        return _SEVERITY[finding.grade], -urgency(finding.criterion), past

    return max(worst.values(), key=rank)


def _place_rank(finding: Finding, review: Review) -> tuple[int, float]:
    return _SEVERITY[finding.grade], _hazard(finding, review)


def added(review: Review) -> Mapping[str, Finding]:
    """For each upset the gravest finding that is not already there as planned."""
    if review not in _ADDED:
        _ADDED[review] = _added(review)
    return _ADDED[review]


def _added(review: Review) -> Mapping[str, Finding]:
    planned = _planned(review)
    mild = _mild_edges(review)
    found: dict[str, list[Finding]] = {}
    gravest = {o.run: o for o in review.outcomes}

    def adds(finding: Finding) -> bool:
        key = finding.criterion, finding.at, finding.of
        return key not in planned or _worse(finding, planned[key], review)

    mask = _judged(review)
    judged: dict[Key, Finding] = {}
    statuses: dict[tuple[str, Key], str] = {}
    for finding in review.findings:
        if finding.case == "upset":
            place = finding.criterion, finding.at, finding.of
            judged[place] = finding
            if finding.grade != "acceptable":
                for run, one in _each(finding, mild.get(finding.criterion), review, mask):
                    statuses[run, place] = one.status
                    # A credited safeguard makes an upset milder than its own numbers.
                    if run in gravest and _SEVERITY[one.grade] > _SEVERITY[gravest[run].grade]:
                        one = replace(one, grade=gravest[run].grade)
                    if run in gravest and one.grade != "acceptable" and adds(one):
                        found.setdefault(run, []).append(one)
    chosen = {run: _gravest(several, review) for run, several in found.items()}
    for outcome in review.outcomes:
        # What the judge holds for the gravest goes before, so that every output says the same.
        own = _finding(outcome, judged, mild)
        known = statuses.get((outcome.run, (own.criterion, own.at, own.of)), own.status)
        own = replace(own, status=known)
        if outcome.grade != "acceptable" and adds(own):
            chosen[outcome.run] = own
    return chosen


def _planned(review: Review) -> Mapping[Key, Finding]:
    """The gravest finding of the plan and its steps for each criterion and place."""
    found: dict[Key, Finding] = {}
    for finding in review.findings:
        if finding.case in ("plan", "step"):
            key = finding.criterion, finding.at, finding.of
            known = found.get(key)
            if known is None or _place_rank(finding, review) > _place_rank(known, review):
                found[key] = finding
    return found


def _worse(finding: Finding, planned: Finding, review: Review) -> bool:
    """Whether a failure makes more of a place than is planned there."""
    if _SEVERITY[finding.grade] != _SEVERITY[planned.grade]:
        return _SEVERITY[finding.grade] > _SEVERITY[planned.grade]
    if finding.limit is not None and excess(finding, review.kinds) <= 0:
        return False  # both within the limit, and graded down for another reason
    now, before = _hazard(finding, review), _hazard(planned, review)
    if math.isinf(now) or math.isinf(before):
        return now > before
    return now - before > _MARKEDLY * max(abs(now), abs(before))


def _hazard(finding: Finding, review: Review) -> float:
    kind = review.kinds.get(finding.kind)
    if kind is None or math.isnan(finding.value):
        return math.inf
    return float(worst_first(kind, finding.value))


def _mild_edges(review: Review) -> Mapping[str, float]:
    """Up to where each criterion is acceptable in an upset, as far as its findings tell."""
    return {
        f.criterion: f.limit
        for f in review.findings
        if f.case == "upset" and f.grade in ("acceptable", "tolerable") and f.limit is not None
    }


def _judged(review: Review) -> Mask:
    """True where an upset of its own is judged, (cells, runs)."""
    trials = review.trials
    found = np.zeros((len(trials.steps) + 1, len(trials.runs)), dtype=bool)
    for column, run in enumerate(trials.runs):
        if run.case == "upset" and not run.counters:
            found[list(run.cells(found.shape[0])), column] = True
    return found


def _each(
    finding: Finding, mild: float | None, review: Review, judged: Mask
) -> Iterable[tuple[str, Finding]]:
    """One finding, which stands for all upsets, as the finding of each upset that is not mild."""
    measure = measure_of(finding, review)
    if measure is None:
        return
    kind, trials = review.kinds[finding.kind], review.trials
    hazard = worst_first(kind, bounded(kind, measure.value, measure.status))
    unknown = (measure.status >= OUTSIDE) | np.isnan(hazard)
    levels: list[tuple[Grade, float | None, Mask]] = []
    if finding.grade == "unacceptable" and finding.limit is not None:
        past = ~unknown & (hazard > worst_first(kind, finding.limit))
        levels.append(("unacceptable", finding.limit, past))
    levels.append(("undetermined", finding.limit, unknown))
    edge = finding.limit if finding.grade == "tolerable" else mild
    if edge is not None:
        levels.append(("tolerable", edge, hazard > worst_first(kind, edge)))
    concerned = np.logical_or.reduce([fails for _, _, fails in levels]) & judged
    for column in np.flatnonzero(concerned.any(axis=0)):
        run = trials.runs[column]
        cells = run.cells(len(trials.steps) + 1)
        for grade, limit, fails in levels:
            if fails[cells, column].any():
                cell = cells[_worst_cell(hazard[cells, column], fails[cells, column])]
                yield (
                    run.id,
                    replace(
                        finding,
                        grade=grade,
                        trial=run.id,
                        step=trials.cell_name(cell),
                        value=float(measure.value[cell, column]),
                        status=STATUS_NAMES[int(measure.status[cell, column])],
                        limit=limit,
                    ),
                )
                break


def _worst_cell(hazard: FloatArray, fails: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> int:
    return int(np.where(fails, np.where(np.isnan(hazard), np.inf, hazard), -np.inf).argmax())


def _finding(outcome: Outcome, judged: Mapping[Key, Finding], mild: Mapping[str, float]) -> Finding:
    """An outcome as a finding; its limit from the finding of the same criterion and place."""
    same = judged.get((outcome.criterion, outcome.at, outcome.of))
    limit = None
    if same is not None:
        limit = same.limit
        if outcome.grade == "tolerable":
            limit = mild.get(outcome.criterion, same.limit)
    return Finding(
        criterion=outcome.criterion,
        title=outcome.criterion_title,
        kind=outcome.kind,
        at=outcome.at,
        of=outcome.of,
        grade=outcome.grade,
        status="missing" if math.isnan(outcome.value) else "ok",
        case="upset",
        trial=outcome.run,
        step=outcome.step,
        value=outcome.value,
        unit=outcome.unit,
        display=outcome.display,
        limit=limit,
        action="",
        basis=Basis("", "", ""),
        layer="",
    )
