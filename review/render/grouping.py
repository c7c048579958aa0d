"""Brings findings into the order in which a reader needs them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from review.interface.measure import OUTSIDE, Measure
from review.interface.plugin import Kind, worst_first
from review.interface.result import CASES, Finding, Review
from review.judge.grading import bounded
from review.render.words import in_display

#: Hazards that come after those that kill quickly; whatever is not named here comes first.
_LATER = ("heat", "stability", "corrosion", "readiness")


@dataclass(frozen=True, slots=True)
class Spot:
    """One criterion at one place: its worst finding, and the others there, worst first."""

    worst: Finding
    others: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One criterion: every place where it has the same grade, the worst place first."""

    spots: tuple[Spot, ...]

    @property
    def worst(self) -> Finding:
        return self.spots[0].worst

    @property
    def findings(self) -> tuple[Finding, ...]:
        return tuple(f for s in self.spots for f in (s.worst, *s.others))


def excess(finding: Finding, kinds: Mapping[str, Kind]) -> float:
    """How far a value lies past its limit, relative to the limit; more is worse.

    Not known (no number, no limit that can be compared) counts as the worst.
    """
    kind = kinds.get(finding.kind)
    if kind is None or finding.limit is None or math.isnan(finding.value):
        return math.inf
    if kind.labels:
        return finding.value - finding.limit
    value, _ = in_display(finding.value, finding.unit, finding.display)
    limit, _ = in_display(finding.limit, finding.unit, finding.display)
    if math.isinf(value) or math.isinf(limit):
        past = 0.0 if value == limit else math.inf if value > limit else -math.inf
    else:
        past = (value - limit) / (max(abs(value), abs(limit)) or 1.0)
    return past if kind.worse == "higher" else -past


def entries(findings: Iterable[Finding], kinds: Mapping[str, Kind]) -> tuple[Entry, ...]:
    """Findings as entries of one criterion and grade each, most serious first.

    What kills quickly comes first; what fails in the plan or its steps comes before what takes a
    failure to happen; within that, the further past the limit the earlier. Ties keep the order of
    the review.
    """
    by_criterion: dict[tuple[str, str], dict[tuple[str, str], list[Finding]]] = {}
    for finding in findings:
        places = by_criterion.setdefault((finding.criterion, finding.grade), {})
        places.setdefault((finding.at, finding.of), []).append(finding)

    def severity(finding: Finding) -> tuple[int, bool, float, int]:
        undisturbed = finding.case in ("plan", "step")
        past = -excess(finding, kinds)
        return urgency(finding.criterion), not undisturbed, past, CASES.index(finding.case)

    found = []
    for places in by_criterion.values():
        spots = []
        for here in places.values():
            ordered = sorted(here, key=lambda f: (-_hazard(f, kinds), CASES.index(f.case)))
            spots.append(Spot(ordered[0], tuple(ordered[1:])))
        spots.sort(key=lambda s: -_hazard(s.worst, kinds))
        found.append(Entry(tuple(spots)))
    return tuple(sorted(found, key=lambda e: min(severity(f) for f in e.findings)))


def urgency(criterion: str) -> int:
    """How soon a hazard harms, by the first word of its criterion; 0 kills quickly.

    >>> urgency("ignition.hot_surface"), urgency("corrosion.wetted")
    (0, 3)
    """
    family = criterion.split(".")[0]
    return 1 + _LATER.index(family) if family in _LATER else 0


def _hazard(finding: Finding, kinds: Mapping[str, Kind]) -> float:
    """The value itself, larger when worse: what ranks places of one criterion; unknown is worst."""
    kind = kinds.get(finding.kind)
    if kind is None or math.isnan(finding.value):
        return math.inf
    return float(worst_first(kind, finding.value))


def other_runs(spot: Spot, review: Review) -> dict[str, str]:
    """Every other run in which the same place fails, with its worst step.

    A finding stands for all upsets together, so the other upsets are read from its measure: those
    beyond the same limit, or those unknown where the finding is undetermined.
    """
    runs: dict[str, str] = {}
    for finding in spot.others:
        runs.setdefault(finding.trial, finding.step)
    for finding in (spot.worst, *spot.others):
        if finding.case == "upset":
            runs = failing_upsets(finding, review) | runs
    runs.pop(spot.worst.trial, None)
    order = {run.id: position for position, run in enumerate(review.trials.runs)}
    return {run: runs[run] for run in sorted(runs, key=lambda r: order.get(r, len(order)))}


def failing_upsets(finding: Finding, review: Review) -> dict[str, str]:
    """Every upset that has the grade of this finding at its place, with its worst step."""
    trials, measure = review.trials, measure_of(finding, review)
    if measure is None:
        return {}
    kind = review.kinds[finding.kind]
    hazard = worst_first(kind, bounded(kind, measure.value, measure.status))
    if finding.grade == "undetermined":
        fails = (measure.status >= OUTSIDE) | np.isnan(hazard)
    elif finding.limit is not None:
        fails = hazard > worst_first(kind, finding.limit)
    else:
        return {}
    ranked = np.where(fails, np.where(np.isnan(hazard), np.inf, hazard), -np.inf)
    found: dict[str, str] = {}
    for column, run in enumerate(trials.runs):
        cells = run.cells(len(trials.steps) + 1)
        # A run with a safeguard is no failure of its own.
        if run.case == "upset" and not run.counters and fails[cells, column].any():
            found[run.id] = trials.cell_name(cells[int(ranked[cells, column].argmax())])
    return found


def measure_of(finding: Finding, review: Review) -> Measure | None:
    """The measure that a finding judges; None where there is not exactly one of a fitting shape."""
    shape = (len(review.trials.steps) + 1, len(review.trials.runs))
    same = (finding.kind, finding.at, finding.of)
    found = [m for m in review.measures if (m.kind, m.at, m.of) == same]
    fits = finding.kind in review.kinds and len(found) == 1 and found[0].value.shape == shape
    return found[0] if fits else None


@dataclass(frozen=True, slots=True)
class Margin:
    """The acceptable finding of one hazard that lies nearest to its limit, if any has one."""

    hazard: str
    nearest: Finding | None
    accepted: int


def margins(review: Review) -> tuple[Margin, ...]:
    """For each hazard the nearest margin among what is acceptable."""
    by_hazard: dict[str, list[Finding]] = {}
    for finding in review.findings:
        if finding.grade == "acceptable" and finding.kind:
            owner = review.owners.get(finding.kind, finding.kind.split(".")[0])
            by_hazard.setdefault(owner, []).append(finding)
    found = []
    for hazard, accepted in by_hazard.items():
        limited = [f for f in accepted if f.limit is not None and not math.isnan(f.value)]
        nearest = max(limited, key=lambda f: excess(f, review.kinds), default=None)
        found.append(Margin(hazard_title(hazard, review), nearest, len(accepted)))
    return tuple(found)


def hazard_title(hazard: str, review: Review) -> str:
    """The title of the check of this id."""
    for check in review.checks:
        if check.id == hazard:
            return check.title
    return hazard.replace("_", " ").capitalize()
