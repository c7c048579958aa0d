"""Measures, facts and a ruleset become findings. Pure: needs no set-up, computes no physics.

The judge looks at the status before the value:

=============  ==================================================================
status         grade
=============  ==================================================================
ok             by the bands
estimated      one step more cautious than by the bands
outside range  unacceptable where the value already is, else undetermined
missing        undetermined; a NaN is missing whatever its status says
=============  ==================================================================

There is one finding per criterion, measure and case, at the worst trial: first by grade
(unacceptable, undetermined, tolerable, acceptable), then by the most hazardous value (no value
counts as the most hazardous), then the first in order (runs, and steps within a run).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import (
    ESTIMATED,
    MISSING,
    OK,
    OUTSIDE,
    STATUS_NAMES,
    FloatArray,
    Measure,
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
    Run,
    Trials,
)
from review.judge.conditions import Condition
from review.judge.ruleset import Criterion, Ruleset

_BY_SEVERITY: tuple[Grade, ...] = tuple(reversed(GRADES))
_ACCEPTABLE, _TOLERABLE, _UNDETERMINED, _UNACCEPTABLE = range(4)
#: The grade for each status and each grade by the bands alone, as in the table above.
_BY_STATUS = np.full((len(STATUS_NAMES), len(_BY_SEVERITY)), _UNDETERMINED, dtype=np.int8)
_BY_STATUS[OK] = range(len(_BY_SEVERITY))
_BY_STATUS[ESTIMATED] = _UNACCEPTABLE
_BY_STATUS[ESTIMATED, _ACCEPTABLE] = _TOLERABLE
_BY_STATUS[OUTSIDE, _UNACCEPTABLE] = _UNACCEPTABLE
#: Numbers graded at a time, so that memory stays bounded whatever the number of measures.
_BLOCK = 1_000_000
_NO_TRIALS: Mapping[Case, str] = {
    "step": "the procedure has no steps",
    "upset": "no upset was run",
    "sample": "no samples were run",
}

Codes = NDArray[np.int8]


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
    desk = _Desk(measures, facts, kinds, trials, failures or {})
    findings: list[Finding] = []
    not_applicable: list[NotApplicable] = []
    for criterion in ruleset.criteria:
        why_not = desk.why_not(criterion)
        if why_not is None:
            findings += desk.findings(criterion)
        else:
            not_applicable.append(NotApplicable(criterion.id, criterion.title, why_not))
    ordered = tuple(sorted(findings, key=_order))
    return Judgement(ordered, tuple(not_applicable), desk.outcomes())


@dataclass(frozen=True, slots=True, eq=False)
class _Stack:
    """All measures of one kind; `value` and `status` have shape (measures, trials).

    Trials lie run by run. `value` is NaN exactly where `status` is missing. `malformed` are the
    measures that do not fit the trials.
    """

    measures: tuple[Measure, ...]
    value: FloatArray
    status: NDArray[np.uint8]
    malformed: tuple[Measure, ...]


class _Desk:
    """What is judged, laid out once for all criteria."""

    def __init__(
        self,
        measures: Iterable[Measure],
        facts: Mapping[str, Any],
        kinds: Mapping[str, Kind],
        trials: Trials,
        failures: Mapping[str, str],
    ) -> None:
        self.facts, self.kinds, self.trials, self.failures = facts, kinds, trials, failures
        self.cells = 1 + len(trials.steps)
        self.columns = _columns(trials)
        self.credits = [run for run in trials.runs if run.counters]
        self._adequate: dict[str, tuple[bool, str]] = {}
        self.index = {run.id: n for n, run in enumerate(trials.runs)}
        self._gravest: dict[
            int, tuple[tuple[int, bool, float], Criterion, Measure, int, float]
        ] = {}
        by_kind: dict[str, list[Measure]] = {}
        for measure in measures:
            by_kind.setdefault(measure.kind, []).append(measure)
        self.stacks = {
            kind: self._stack(sorted(same, key=lambda m: (m.at, m.of)))
            for kind, same in by_kind.items()
        }

    def _stack(self, measures: list[Measure]) -> _Stack:
        shape = (self.cells, len(self.trials.runs))
        fits = [m for m in measures if np.shape(m.value) == shape == np.shape(m.status)]
        odd = [m for m in measures if not np.shape(m.value) == shape == np.shape(m.status)]
        size = (len(fits), shape[0] * shape[1])
        value = np.array([np.transpose(m.value) for m in fits], dtype=np.float64).reshape(size)
        status = np.array([np.transpose(m.status) for m in fits]).reshape(size)
        lost = np.isnan(value) | ~np.isin(status, (OK, ESTIMATED, OUTSIDE))
        return _Stack(
            tuple(fits),
            np.where(lost, np.nan, value),
            np.where(lost, MISSING, status).astype(np.uint8),
            tuple(odd),
        )

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

    def findings(self, criterion: Criterion) -> list[Finding]:
        if criterion.applies is not None and self._holds(criterion.applies, criterion) is None:
            return [self._undetermined(criterion, f"can't be told: {criterion.applies.text}")]
        if criterion.require is not None:
            return [self._presence(criterion, criterion.require)]
        if criterion.kind not in self.kinds:
            return [self._undetermined(criterion, f"{criterion.kind} is no known kind")]
        found: list[Finding] = []
        stack = self.stacks.get(criterion.kind)
        if criterion.kind in self.failures:
            found.append(self._undetermined(criterion, self.failures[criterion.kind]))
        elif stack is None:
            found.append(self._undetermined(criterion, f"no measure of kind {criterion.kind}"))
        if stack is None:
            return found
        for measure in stack.malformed:
            reason = f"its shape {np.shape(measure.value)} does not fit the trials"
            found.append(self._undetermined(criterion, reason, measure))
        cases = [case for case in criterion.cases if self.columns[case].size]
        if not cases:
            found.append(self._undetermined(criterion, "no trial was run"))
        for case in cases:
            rows = max(1, _BLOCK // self.columns[case].size)
            for start in range(0, len(stack.measures), rows):
                found += self._graded(criterion, case, stack, slice(start, start + rows))
        return found

    def _graded(
        self, criterion: Criterion, case: Case, stack: _Stack, rows: slice
    ) -> list[Finding]:
        kind, bands, columns = self.kinds[criterion.kind], criterion.bands[case], self.columns[case]
        value, status = stack.value[rows][:, columns], stack.status[rows][:, columns]
        hazard = worst_first(kind, value)
        by_bands = _by_bands(hazard, *bands.edges(kind))
        codes = _cautious(by_bands, status)
        if criterion.floor == "tolerable":
            codes = np.maximum(codes, np.int8(_TOLERABLE))
        hazard = np.where(np.isnan(hazard), np.inf, hazard)
        alone = codes
        if case == "upset" and self.credits:
            codes = self._credited(criterion, stack, rows, codes)
        if case == "upset":
            self._note_outcomes(criterion, stack, rows, codes, hazard)
        if case == "sample":
            picked = _worst_of_samples(codes, hazard, self.cells)
        else:
            picked = _worst(codes, hazard)
        found = []
        for row, measure in enumerate(stack.measures[rows]):
            at = int(picked[row])
            run, cell = divmod(int(columns[at]), self.cells)
            grade = _BY_SEVERITY[codes[row, at]]
            edge = bands.acceptable
            if edge is None or (
                by_bands[row, at] == _UNACCEPTABLE
                and status[row, at] != MISSING
                and bands.tolerable is not None
            ):
                edge = bands.tolerable
            reason = _reason(
                int(status[row, at]),
                _BY_SEVERITY[by_bands[row, at]],
                grade,
                int(measure.status[cell, run]),
                measure.note,
            )
            if codes[row, at] < alone[row, at]:
                reason = self.credit_of(self.trials.runs[run].id)
            found.append(
                self._finding(
                    criterion,
                    grade,
                    reason,
                    case,
                    at=measure.at,
                    of=measure.of,
                    status=STATUS_NAMES[status[row, at]],
                    trial=self.trials.runs[run].id,
                    step=self.trials.cell_name(cell),
                    value=float(value[row, at]),
                    limit=edge,
                )
            )
        return found

    def _codes(self, criterion: Criterion, stack: _Stack, rows: slice, columns: Any) -> Codes:
        kind = self.kinds[criterion.kind]
        value, status = stack.value[rows][:, columns], stack.status[rows][:, columns]
        by_bands = _by_bands(worst_first(kind, value), *criterion.bands["upset"].edges(kind))
        codes = _cautious(by_bands, status)
        if criterion.floor == "tolerable":
            codes = np.maximum(codes, np.int8(_TOLERABLE))
        return codes

    def _credited(self, criterion: Criterion, stack: _Stack, rows: slice, codes: Codes) -> Codes:
        """Grades of upsets once adequate active safeguards count; at best tolerable.

        The run with the safeguard is graded by the same bands; what it comes to at worst replaces
        the grades of the run without it where they are graver.
        """
        codes = codes.copy()
        runs = self.columns["upset"] // self.cells
        for run in self.credits:
            if not self.adequacy(run)[0]:
                continue
            own = self.index[run.id] * self.cells + np.array(run.cells(self.cells), dtype=np.intp)
            if not own.size:
                continue
            with_it = self._codes(criterion, stack, rows, own).max(axis=1)
            best = np.maximum(with_it, np.int8(_TOLERABLE))[:, None]
            here = runs == self.index.get(run.counters, -1)
            codes[:, here] = np.minimum(codes[:, here], best)
        return codes

    def adequacy(self, run: Run) -> tuple[bool, str]:
        """Whether the safeguard of a run is adequate for the upset it counters, and why not."""
        known = self._adequate.get(run.id)
        if known is None:
            known = self._adequate[run.id] = self._weighed(run)
        return known

    def _weighed(self, run: Run) -> tuple[bool, str]:
        if run.adequacy is None:
            return False, "nothing shows that it is adequate"
        kind, at = run.adequacy
        stack, other = self.stacks.get(kind), self.index.get(run.counters)
        if stack is None or other is None:
            return False, f"no measure of {kind}"
        match = [n for n, m in enumerate(stack.measures) if m.at == at]
        if not match:
            return False, f"no measure of {kind} at {at}"
        cells = np.array(self.trials.runs[other].cells(self.cells), dtype=np.intp)
        columns = other * self.cells + cells[:1]
        value, status = stack.value[match][:, columns], stack.status[match][:, columns]
        if (status != OK).any():
            said = stack.measures[match[0]].note
            return False, said or "how long it has, or how much it must take, is not known"
        least = float(value.min())
        if not least >= 1:
            short = f"by a factor of {1 / least:.3g}" if least > 0 else "altogether"
            return False, f"it is too slow or too small {short}"
        return True, ""

    def credit_of(self, run_id: str) -> str:
        """Which safeguards counter an upset, and why one of them earns no credit."""
        said = []
        for run in self.credits:
            if run.counters == run_id:
                adequate, why = self.adequacy(run)
                said.append(run.title if adequate else f"{run.title}: no credit, {why}")
        return "; ".join(said)

    def _note_outcomes(
        self, criterion: Criterion, stack: _Stack, rows: slice, codes: Codes, hazard: FloatArray
    ) -> None:
        """Keep for every upset the gravest grade so far and what it rests on.

        Of equal grades, what the failure makes worse than the same step of the plan comes before
        what stands there anyway, then what must block where it is not known, then the farthest.
        """
        if not codes.size:
            return
        kind, columns = self.kinds[criterion.kind], self.columns["upset"]
        edge = criterion.bands["upset"].edges(kind)[1]
        plan = next((n for n, run in enumerate(self.trials.runs) if run.case == "plan"), None)
        if plan is not None:
            same = stack.value[rows][:, plan * self.cells + columns % self.cells]
            stands = worst_first(kind, same)
            stands = np.where(np.isnan(stands), np.inf, stands)
            codes = (2 * codes + beyond_plan(hazard, stands)).astype(np.int8)
        else:
            codes = 2 * codes
        row = _worst(codes.T, hazard.T)
        place = np.arange(columns.size)
        code, danger = codes[row, place], hazard[row, place]
        runs = columns // self.cells
        first = np.flatnonzero(np.diff(runs, prepend=-1))
        group = np.cumsum(np.diff(runs, prepend=runs[0]) > 0)
        gravest = np.maximum.reduceat(code, first)
        among = np.where(code == gravest[group], danger, -np.inf)
        farthest = np.maximum.reduceat(among, first)
        best = np.full(first.size, -1, dtype=np.intp)
        hits = np.flatnonzero((code == gravest[group]) & (among == farthest[group]))[::-1]
        best[group[hits]] = hits  # the first of equals stands, as it is written last
        # A band without end has no far side.
        far = np.where(abs(edge) > 1e8, -1.0, (farthest - edge) / (abs(edge) or 1.0))
        for n, run in enumerate(runs[first]):
            rank = (int(gravest[n]), criterion.blocks, float(far[n]))
            known = self._gravest.get(int(run))
            if known is None or known[0] < rank:
                at = int(best[n])
                measure = stack.measures[rows][int(row[at])]
                value = float(stack.value[rows][int(row[at]), columns[at]])
                self._gravest[int(run)] = rank, criterion, measure, int(columns[at]), value

    def outcomes(self) -> tuple[Outcome, ...]:
        """One outcome for every upset, in the order of the runs."""
        return tuple(
            Outcome(
                run=run.id,
                title=run.title,
                grade=_BY_SEVERITY[rank[0] // 2],
                criterion=criterion.id,
                criterion_title=criterion.title,
                kind=criterion.kind,
                at=measure.at,
                of=measure.of,
                step=self.trials.cell_name(column % self.cells),
                value=value,
                unit=self.kinds[criterion.kind].unit,
                display=self.kinds[criterion.kind].display,
                credit=self.credit_of(run.id),
                seconds=self._clock(index, run, criterion.kind),
            )
            for index, (rank, criterion, measure, column, value) in sorted(self._gravest.items())
            for run in (self.trials.runs[index],)
        )

    def _clock(self, index: int, run: Run, harm: str) -> float:
        """Shortest time that clocks of the same hazard give in an upset, s; NaN if none does."""
        hazard = harm.split(".")[0]
        columns = index * self.cells + np.array(run.cells(self.cells), dtype=np.intp)
        times = [
            stack.value[:, columns].ravel()
            for kind, stack in self.stacks.items()
            if kind in self.kinds and self.kinds[kind].clock and kind.split(".")[0] == hazard
        ]
        known = np.concatenate(times) if times else np.zeros(0)
        known = known[np.isfinite(known)]
        return float(known.min()) if known.size else math.nan

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
        stack, kind = self.stacks.get(kind_id), self.kinds.get(kind_id)
        if stack is None or kind is None or stack.malformed or kind_id in self.failures:
            return None
        columns = np.concatenate([self.columns[case] for case in cases])
        if not columns.size or (stack.status[:, columns] > ESTIMATED).any():
            return None
        value = stack.value[:, columns]
        return float(value.max() if kind.worse == "higher" else value.min())


def beyond_plan(hazard: FloatArray, stands: FloatArray) -> NDArray[np.bool_]:
    """Where an upset is worse than the same step of the plan by more than rounding.

    Both are signed so that larger is more hazardous, with infinity for what is not known.
    """
    worse: NDArray[np.bool_] = hazard > stands
    return worse & ~np.isclose(hazard, stands, rtol=1e-6, atol=1e-12)


def _columns(trials: Trials) -> Mapping[Case, NDArray[np.intp]]:
    """Which trials belong to each case, in order, as indices run * cells + cell."""
    cells = 1 + len(trials.steps)
    found: dict[Case, list[int]] = {case: [] for case in CASES}
    for index, run in enumerate(trials.runs):
        own = range(index * cells, (index + 1) * cells)
        if run.case == "plan":
            found["plan"] += own[:1]
            found["step"] += own[1:]
        elif run.case == "upset":
            if not run.counters:
                found["upset"] += [own[cell] for cell in run.cells(cells)]
        else:
            found["sample"] += own
    return {case: np.array(indices, dtype=np.intp) for case, indices in found.items()}


def _by_bands(hazard: FloatArray, mild: float | None, last: float) -> Codes:
    """Grades of the values alone; a NaN compares as false and so never looks mild."""
    codes = np.full(hazard.shape, _UNACCEPTABLE, dtype=np.int8)
    codes[hazard <= last] = _TOLERABLE
    if mild is not None:
        codes[hazard <= mild] = _ACCEPTABLE
    return codes


def _cautious(by_bands: Codes, status: NDArray[np.uint8]) -> Codes:
    """Grades once the status is looked at."""
    codes: Codes = _BY_STATUS[status, by_bands]
    return codes


def _worst(codes: Codes, hazard: FloatArray) -> NDArray[np.intp]:
    """Per row the first column with the gravest grade and, within it, the largest hazard."""
    gravest = codes == codes.max(axis=1, keepdims=True)
    among = np.where(gravest, hazard, -np.inf)
    picked: NDArray[np.intp] = among.argmax(axis=1)
    # Where every candidate is -inf, argmax may have met a column that is none.
    stuck = np.isneginf(among.max(axis=1))
    picked[stuck] = gravest.argmax(axis=1)[stuck]
    return picked


def _worst_of_samples(codes: Codes, hazard: FloatArray, cells: int) -> NDArray[np.intp]:
    """Per row the 95 % order statistic over runs of each run's worst cell.

    Undetermined runs are ranked as the most hazardous. Where the statistic then falls on one of
    them although enough other runs are unacceptable whatever the undetermined ones are, it is
    unacceptable.
    """
    rows, runs = codes.shape[0], codes.shape[1] // cells
    cell = _worst(codes.reshape(-1, cells), hazard.reshape(-1, cells)).reshape(rows, runs)
    column = np.arange(runs) * cells + cell
    code = np.take_along_axis(codes, column, axis=1)
    danger = np.take_along_axis(hazard, column, axis=1)
    last = -(-95 * runs // 100) - 1
    row = np.arange(rows)
    unknown_last = np.where(code == _UNDETERMINED, _UNACCEPTABLE + 1, code)
    counted = np.lexsort((danger, unknown_last), axis=1)[:, last]
    certain = np.lexsort((danger, code), axis=1)[:, last]
    run = np.where(code[row, certain] > code[row, counted], certain, counted)
    picked: NDArray[np.intp] = column[row, run]
    return picked


def _reason(status: int, by_bands: Grade, grade: Grade, claimed: int, note: str) -> str:
    """Why a finding is undetermined or graded more cautiously than its value alone."""
    text = ""
    if status == MISSING:
        text = "no value"
        if claimed != MISSING:
            known = claimed in range(len(STATUS_NAMES))
            text += f", although its status says {STATUS_NAMES[claimed] if known else claimed}"
    elif status == OUTSIDE and grade == "undetermined":
        text = "outside the range of its method"
    elif status == ESTIMATED and by_bands != "unacceptable":
        text = "estimated, so graded one step more cautiously"
    elif grade != by_bands:
        text = f"{grade} is the best this criterion gives"
    return f"{text} ({note})" if text and note else text


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
