"""What each upset comes to: its gravest grade, and what that rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray, Measure
from review.interface.result import Outcome, Run
from review.judge.credit import Credit
from review.judge.grading import BY_SEVERITY, Codes, beyond_plan, hazards
from review.judge.ruleset import Criterion
from review.judge.stacks import Stack, Stacks

#: Band edges from here on only stand for "any number".
ENDLESS = 1e8


@dataclass(frozen=True, slots=True)
class _Gravest:
    grade: int
    criterion: Criterion
    measure: Measure
    column: int
    value: float


@dataclass(frozen=True, slots=True)
class _Noted:
    """Of each upset the gravest of one criterion's measures so far."""

    first: NDArray[np.intp]
    """The first column of each upset."""
    found: FloatArray
    """(6, upsets): its grade, whether it is beyond the plan, its hazard; where: column and row; its
    value."""
    measures: tuple[Measure, ...]


class Outcomes:
    """Collects, criterion by criterion, the gravest of each upset."""

    def __init__(self, stacks: Stacks, credit: Credit) -> None:
        self._stacks, self._credit = stacks, credit
        self._gravest: dict[int, _Gravest] = {}
        self._clocks: dict[str, FloatArray] = {}
        self._noted: _Noted | None = None
        runs = stacks.trials.runs
        self._runs = _by_run(stacks.columns["upset"] // stacks.cells)
        #: Of equal grades, what the failure makes worse than the same step of the plan comes before
        #: what stands there anyway, then what must block where it is not known, then the farthest.
        self._ranks = np.full((4, len(runs)), -np.inf)
        self._plan = next((n for n, run in enumerate(runs) if run.case == "plan"), None)

    def note(
        self,
        criterion: Criterion,
        stack: Stack,
        codes: Codes,
        value: FloatArray,
        hazard: FloatArray,
    ) -> None:
        """Keep for every upset the gravest grade of a part of a stack, and of the parts before it.

        All three are of the upsets' columns. Parts are noted in order, and `settle` ends those of
        one criterion. Of equals the first column stands, and in it the first row, whatever the
        parts.
        """
        if not codes.size:
            return
        stacks = self._stacks
        kind, columns = stacks.kinds[criterion.kind], stacks.columns["upset"]
        beyond = np.zeros(codes.shape, dtype=np.bool_)
        if self._plan is not None:
            same = stack.value[:, self._plan * stacks.cells + columns % stacks.cells]
            beyond = beyond_plan(hazard, hazards(kind, same))
        first, row, column = _gravest_by_run(*self._runs, (codes, beyond, hazard))
        found = np.array([
            codes[row, column], beyond[row, column], hazard[row, column],
            column, row + stack.first, value[row, column],
        ])  # fmt: skip
        known = self._noted
        if known is not None:
            same = (found[:3] == known.found[:3]).all(axis=0) & (found[3] < known.found[3])
            graver = _graver(found[:3], known.found[:3]) | same
            found = np.where(graver, found, known.found)
        measures = () if known is None else known.measures
        self._noted = _Noted(first, found, (*measures, *stack.measures))

    def settle(self, criterion: Criterion) -> None:
        """Hold what was noted of one criterion against the gravest of all before it."""
        noted, self._noted = self._noted, None
        if noted is None:
            return
        columns = self._stacks.columns["upset"]
        edge = criterion.bands["upset"].edges(self._stacks.kinds[criterion.kind])[1]
        grade, beyond, hazard, column, row, value = noted.found
        # A band without end has no far side.
        endless = abs(edge) > ENDLESS
        far = np.full(hazard.shape, -1.0) if endless else _relative(hazard, edge)
        ranks = np.array([grade, beyond, np.full(hazard.shape, criterion.blocks), far])
        runs = columns[noted.first] // self._stacks.cells
        for n in np.flatnonzero(_graver(ranks, self._ranks[:, runs])):
            run = int(runs[n])
            self._ranks[:, run] = ranks[:, n]
            self._gravest[run] = _Gravest(
                int(grade[n]), criterion, noted.measures[int(row[n])], int(columns[int(column[n])]),
                float(value[n]),
            )  # fmt: skip

    def all(self) -> tuple[Outcome, ...]:
        """One outcome for every upset, in the order of the runs."""
        return tuple(
            self._outcome(index, self._stacks.trials.runs[index], gravest)
            for index, gravest in sorted(self._gravest.items())
        )

    def _outcome(self, index: int, run: Run, gravest: _Gravest) -> Outcome:
        criterion, measure = gravest.criterion, gravest.measure
        kind = self._stacks.kinds[criterion.kind]
        return Outcome(
            run=run.id,
            title=run.title,
            grade=BY_SEVERITY[gravest.grade],
            criterion=criterion.id,
            criterion_title=criterion.title,
            kind=criterion.kind,
            at=measure.at,
            of=measure.of,
            step=self._stacks.trials.cell_name(gravest.column % self._stacks.cells),
            value=gravest.value,
            unit=kind.unit,
            display=kind.display,
            credit=self._credit.said(run.id),
            seconds=self._clock(run, criterion.kind),
        )

    def _clock(self, run: Run, harm: str) -> float:
        """Shortest time that clocks of the same hazard give in an upset, s; NaN if none does."""
        least = self._least(harm.split(".")[0])[self._stacks.run_columns(run)].min(initial=np.inf)
        return float(least) if np.isfinite(least) else math.nan

    def _least(self, hazard: str) -> FloatArray:
        """Shortest time that any clock of a hazard gives in each trial, s; infinite for none."""
        stacks, found = self._stacks, self._clocks.get(hazard)
        if found is None:
            found = np.full(len(stacks.trials.runs) * stacks.cells, np.inf)
            for kind in stacks.by_kind:
                if kind.split(".")[0] != hazard or not (
                    kind in stacks.kinds and stacks.kinds[kind].clock
                ):
                    continue
                for part in stacks.parts(kind):
                    known = np.where(np.isfinite(part.value), part.value, np.inf)
                    found = np.minimum(found, known.min(axis=0, initial=np.inf))
            self._clocks[hazard] = found
        return found


def _relative(hazard: FloatArray, edge: float) -> FloatArray:
    with np.errstate(all="ignore"):
        return np.asarray((hazard - edge) / (abs(edge) if abs(edge) > 1e-300 else 1.0))


def _graver(ranks: FloatArray, known: FloatArray) -> NDArray[np.bool_]:
    """Where the first row that differs is larger, (columns,); what is not known is never larger."""
    graver = np.zeros(ranks.shape[1:], dtype=np.bool_)
    same = ~graver
    for new, old in zip(ranks, known, strict=True):
        graver |= same & (new > old)
        same &= new == old
    return graver


def _by_run(runs: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first column of each run, and the number of each column's run among them."""
    return np.flatnonzero(np.diff(runs, prepend=-1)), np.cumsum(np.diff(runs, prepend=runs[:1]) > 0)


def _gravest_by_run(
    first: NDArray[np.intp], group: NDArray[np.intp], keys: tuple[NDArray[np.generic], ...]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Where each run has the largest of several keys of shape (rows, columns), the first first.

    Gives the first column of each run, and the row and column of its gravest; of equals, the first
    column and in it the first row.
    """
    alive = np.ones(keys[0].shape, dtype=np.bool_)
    for key in keys:
        ranked: FloatArray = np.where(alive, key.astype(np.float64), -np.inf)
        most = np.maximum.reduceat(ranked.max(axis=0), first)
        alive &= ranked == most[group]
    hit = np.flatnonzero(alive.any(axis=0))[::-1]
    column = np.zeros(first.size, dtype=np.intp)
    column[group[hit]] = hit  # the first of equals stands, as it is written last
    return first, alive[:, column].argmax(axis=0).astype(np.intp), column
