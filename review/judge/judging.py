"""Measures, facts and a ruleset become findings. Pure: needs no set-up, computes no physics.

There is one finding per criterion, measure and case, at the worst trial: first by grade
(unacceptable, undetermined, tolerable, acceptable; see `grading`), then by the most hazardous value
(no value counts as the most hazardous), then the first in order (runs, and steps within a run).
What is known to be bad is told even where the finding is undetermined for another trial.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from review.interface.measure import (
    ESTIMATED,
    LACKS,
    MISSING,
    OUTSIDE,
    STATUS_NAMES,
    Measure,
    lacking_in,
)
from review.interface.plugin import Kind, worst_first
from review.interface.result import (
    CASES,
    GRADES,
    STATED_PLAN,
    Case,
    Finding,
    Grade,
    NotApplicable,
    Outcome,
    Trials,
)
from review.judge.conditions import Condition
from review.judge.credit import Credit
from review.judge.grading import (
    BY_SEVERITY,
    TOLERABLE,
    UNACCEPTABLE,
    UNDETERMINED,
    Codes,
    bounded,
    by_bands,
    graded,
    hazards,
    reason,
    worst,
    worst_of_samples,
)
from review.judge.outcomes import Outcomes
from review.judge.ruleset import MUST_BLOCK, Bands, Criterion, Ruleset
from review.judge.stacks import Stack, Stacks

_NO_TRIALS: Mapping[Case, str] = {
    "step": "the procedure has no steps",
    "upset": "no upset was run",
    "sample": "no samples were run",
}


@dataclass(frozen=True, slots=True)
class Judgement:
    """All findings, most serious first, and what does not apply."""

    findings: tuple[Finding, ...]
    not_applicable: tuple[NotApplicable, ...]
    outcomes: tuple[Outcome, ...] = ()


def judge(
    measures: Iterable[Measure],
    facts: Mapping[str, Any],
    ruleset: Ruleset,
    kinds: Mapping[str, Kind],
    trials: Trials,
    failures: Mapping[str, str] | None = None,
) -> Judgement:
    """Judge every measure by every criterion of its kind.

    `failures` maps a kind whose check failed to the reason; its criteria get an undetermined
    finding even if some of its measures exist. Findings come in a fixed order: grade, criterion,
    place, subject, case; the order of the input does not matter.
    """
    desk = Desk(measures, kinds, trials, facts, ruleset, failures or {})
    findings: list[Finding] = []
    not_applicable: list[NotApplicable] = []
    for criterion in ruleset.criteria:
        why_not = desk.why_not(criterion)
        if why_not is None:
            findings += desk.findings(criterion)
        else:
            not_applicable.append(NotApplicable(criterion.id, criterion.title, why_not))
    findings += desk.silenced(ruleset)
    ordered = tuple(sorted(findings, key=_order))
    return Judgement(ordered, tuple(not_applicable), desk.outcomes.all())


class Desk:
    """What is judged, laid out once for all criteria.

    Where runs are `sampled`, all of them plans, the 95 % order statistic counts, not the worst.
    """

    sampled = False

    def __init__(
        self,
        measures: Iterable[Measure],
        kinds: Mapping[str, Kind],
        trials: Trials,
        facts: Mapping[str, Any],
        ruleset: Ruleset,
        failures: Mapping[str, str],
    ) -> None:
        self.stacks = stacks = Stacks(measures, kinds, trials)
        self.facts, self.failures = facts, failures
        self.kinds, self.trials, self.columns = kinds, trials, stacks.columns
        self.credit = Credit(stacks, ruleset)
        self.outcomes = Outcomes(stacks, self.credit)

    def why_not(self, criterion: Criterion) -> str | None:
        """Why a criterion does not apply; None where it does or that can't be told."""
        if criterion.disabled:
            return f"disabled by {criterion.layer}: {criterion.disabled_reason}"
        if criterion.applies is not None and self._holds(criterion.applies, criterion) is False:
            return criterion.applies_reason or f"does not hold: {criterion.applies.text}"
        if "plan" not in criterion.cases and not any(
            self.columns[case].size for case in criterion.cases
        ):
            return "; ".join(_NO_TRIALS[case] for case in criterion.cases)
        return None

    def silenced(self, ruleset: Ruleset) -> Iterable[Finding]:
        """Hazards that must block and of which every criterion is disabled, though one applies."""
        for hazard in MUST_BLOCK:
            same = [c for c in ruleset.criteria if c.id.startswith(hazard)]
            if not same or not all(c.disabled for c in same):
                continue
            for criterion in same:
                applies = criterion.applies
                if applies is None or self._holds(applies, criterion) is not False:
                    why = "every criterion of this hazard is disabled"
                    yield self._undetermined(criterion, why)
                    break

    def findings(self, criterion: Criterion) -> list[Finding]:
        if criterion.applies is not None and self._holds(criterion.applies, criterion) is None:
            return [self._undetermined(criterion, f"can't be told: {criterion.applies.text}")]
        if criterion.require is not None:
            return [self._presence(criterion, criterion.require)]
        if criterion.kind not in self.kinds:
            return [self._undetermined(criterion, f"{criterion.kind} is no known kind")]
        found: list[Finding] = []
        if criterion.kind in self.failures:
            found.append(self._undetermined(criterion, self.failures[criterion.kind]))
        elif criterion.kind not in self.stacks.by_kind:
            found.append(self._undetermined(criterion, f"no measure of kind {criterion.kind}"))
        if criterion.kind not in self.stacks.by_kind:
            return found
        cases = [case for case in criterion.cases if self.columns[case].size]
        if not cases:
            found.append(self._undetermined(criterion, "no trial was run"))
        for part in self.stacks.parts(criterion.kind):
            for measure in part.malformed:
                reason = f"its shape {np.shape(measure.value)} does not fit the trials"
                found.append(self._undetermined(criterion, reason, measure))
            for case in cases:
                found += self._graded(criterion, case, part)
        self.outcomes.settle(criterion)
        return found

    def _graded(self, criterion: Criterion, case: Case, stack: Stack) -> list[Finding]:
        kind, bands, columns = self.kinds[criterion.kind], criterion.bands[case], self.columns[case]
        value, status = stack.value[:, columns], stack.status[:, columns]
        alone = graded(kind, bands, criterion.floor, value, status)
        codes, hazard = alone, hazards(kind, value)
        if case == "upset":
            codes = self.credit.applied(criterion, stack, alone)
            self.outcomes.note(criterion, stack, codes, value, hazard)
        if case == "sample":
            pick = worst_of_samples(codes, hazard, self.stacks.cells)
        elif self.sampled:
            pick = worst_of_samples(codes, hazard, columns.size // len(self.trials.runs))
        else:
            pick = worst(codes, hazard)
        picked = np.arange(pick.size), pick
        lost = (codes[picked] == UNDETERMINED).any()
        runs = columns // self.stacks.cells
        known = _known(codes, alone, hazard, runs) if lost else np.full(pick.size, -1)
        plainly = by_bands(worst_first(kind, value[picked]), *bands.edges(kind))
        found = []
        for row, measure in enumerate(stack.measures):
            at = int(pick[row])
            run, cell = divmod(int(columns[at]), self.stacks.cells)
            one, state = float(value[row, at]), int(status[row, at])
            grade = BY_SEVERITY[codes[row, at]]
            plain = BY_SEVERITY[plainly[row]]
            why = reason(state, plain, grade, int(measure.status[cell, run]), measure.note)
            if codes[row, at] < alone[row, at]:
                why = self.credit.said(self.trials.runs[run].id)
            bad = int(known[row])
            told = codes[row, at] == UNDETERMINED and bad >= 0
            found.append(
                self._finding(
                    criterion,
                    grade,
                    why,
                    case,
                    at=measure.at,
                    of=measure.of,
                    status=STATUS_NAMES[state],
                    trial=self.trials.runs[run].id,
                    step=self.trials.cell_name(cell),
                    value=one,
                    limit=_edge(bands, plain, state),
                    bound=_bound(kind, one, state),
                    known=float(value[row, bad]) if told else math.nan,
                    lacking=_lacking(measure.note, state) if grade == "undetermined" else (),
                )
            )
        return found

    def _presence(self, criterion: Criterion, require: Condition) -> Finding:
        holds = self._holds(require, criterion)
        if holds is None:
            return self._undetermined(criterion, f"can't be told: {require.text}")
        return self._finding(
            criterion,
            "acceptable" if holds else criterion.otherwise,
            "" if holds else f"does not hold: {require.text}",
            "plan",
            status="ok",
            trial=next((run.id for run in self.trials.runs if run.case == "plan"), ""),
            step=STATED_PLAN,
            value=float(holds),
        )

    def _undetermined(
        self, criterion: Criterion, reason: str, measure: Measure | None = None
    ) -> Finding:
        return self._finding(
            criterion,
            "undetermined",
            reason,
            "plan" if criterion.require is not None else criterion.cases[0],
            at=measure.at if measure else "",
            of=measure.of if measure else "",
        )

    def _finding(
        self,
        criterion: Criterion,
        grade: Grade,
        reason: str,
        case: Case,
        *,
        at: str = "",
        of: str = "",
        status: str = "missing",
        trial: str = "",
        step: str = "",
        value: float = math.nan,
        limit: float | None = None,
        bound: float = math.nan,
        known: float = math.nan,
        lacking: tuple[str, ...] = (),
    ) -> Finding:
        kind = self.kinds.get(criterion.kind)
        blocks = criterion.blocks or grade != "undetermined"
        return Finding(
            criterion=criterion.id,
            title=criterion.title,
            kind=criterion.kind,
            at=at,
            of=of,
            grade=grade,
            status=status,
            case=case,
            trial=trial,
            step=step,
            value=value,
            unit=kind.unit if kind else "",
            display=kind.display if kind else "",
            limit=limit,
            action=criterion.action,
            basis=criterion.basis,
            layer=criterion.layer,
            reason=reason if blocks else f"{reason}; condition: {criterion.condition}",
            blocks=blocks,
            bound=bound,
            known=known,
            lacking=lacking,
        )

    def _holds(self, condition: Condition, criterion: Criterion) -> bool | None:
        worst = {}
        for kind in condition.kinds:
            value = self._worst_value(kind, criterion.cases)
            if value is not None:
                worst[kind] = value
        return condition.evaluate(self.facts, worst)

    def _worst_value(self, kind_id: str, cases: Sequence[Case]) -> float | None:
        """The most hazardous value over the cases' trials and all places.

        None where any of these values is missing or outside its method's range: the true worst
        could then be another.
        """
        kind = self.kinds.get(kind_id)
        if kind is None or kind_id in self.failures or kind_id not in self.stacks.by_kind:
            return None
        columns = np.concatenate([self.columns[case] for case in cases])
        if not columns.size:
            return None
        worst = []
        for part in self.stacks.parts(kind_id):
            if part.malformed or (part.status[:, columns] > ESTIMATED).any():
                return None
            value = part.value[:, columns]
            worst.append(float(value.max() if kind.worse == "higher" else value.min()))
        return max(worst) if kind.worse == "higher" else min(worst)


def _lacking(note: str, status: int) -> tuple[str, ...]:
    """The facts that a note names as missing; what has a value, outside the range of its method,
    lacks none, whatever else is noted of it."""
    return () if status == OUTSIDE and not note.startswith(LACKS) else lacking_in(note)


def _known(codes: Codes, alone: Codes, hazard: Any, runs: Any) -> Any:
    """Per row the column of the worst that is known not to be acceptable; -1 where there is none.

    What is not known elsewhere must not hide it. A run says nothing where its worst, bad `alone`,
    is in doubt with a safeguard; what has no finite value is no number to tell.
    """
    doubted = (codes == UNDETERMINED) & (alone > codes)
    for run in np.unique(runs[doubted.any(axis=0)]):
        own = runs == run
        doubted[:, own] = doubted[:, own].any(axis=1, keepdims=True)
    bad = ((codes == TOLERABLE) | (codes == UNACCEPTABLE)) & (hazard > -np.inf) & ~doubted
    picked = worst(np.where(bad, codes, np.int8(-1)), hazard)
    told = bad.any(axis=1) & (hazard[np.arange(picked.size), picked] < np.inf)
    return np.where(told, picked, -1)


def _edge(bands: Bands, plain: Grade, status: int) -> float | None:
    """The edge that was passed, or that stands nearest."""
    passed = plain == "unacceptable" and status != MISSING and bands.tolerable is not None
    return bands.tolerable if bands.acceptable is None or passed else bands.acceptable


def _bound(kind: Kind, value: float, status: int) -> float:
    """What an estimate is graded at; NaN for what is none, or where it is the value itself."""
    if status != ESTIMATED:
        return math.nan
    bound = float(bounded(kind, np.array([value]), np.array([status], dtype=np.uint8))[0])
    return math.nan if bound == value else bound


def _order(finding: Finding) -> tuple[Any, ...]:
    return (
        GRADES.index(finding.grade),
        finding.criterion,
        finding.at,
        finding.of,
        CASES.index(finding.case),
        finding.trial,
        finding.step,
        repr(finding.value),
        finding.reason,
    )
