"""Everything that is judged, laid out for it: measures stacked by kind, trials by case."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import (
    ESTIMATED,
    MISSING,
    OK,
    OUTSIDE,
    FloatArray,
    Measure,
    StatusArray,
)
from review.interface.plugin import Kind
from review.interface.result import CASES, Case, Run, Trials


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """All measures of one kind; `value` and `status` have shape (measures, trials).

    Trials lie run by run. `value` is NaN exactly where `status` is missing. `malformed` are the
    measures that do not fit the trials.
    """

    measures: tuple[Measure, ...]
    value: FloatArray
    status: StatusArray
    malformed: tuple[Measure, ...]
    first: int = 0
    """How many measures of the kind stand in parts before this one."""


#: Numbers laid out and graded at a time, so that memory stays bounded whatever their number.
_BLOCK = 500_000


class Stacks:
    """The stacks of all kinds, and which columns belong to which case and run.

    Only the stack that was asked for last is kept: all of them together may be very large.
    """

    def __init__(
        self, measures: Iterable[Measure], kinds: Mapping[str, Kind], trials: Trials
    ) -> None:
        self.kinds, self.trials = kinds, trials
        self.cells = 1 + len(trials.steps)
        self.columns = _columns(trials)
        self.index = {run.id: n for n, run in enumerate(trials.runs)}
        self.by_kind: dict[str, list[Measure]] = {}
        for measure in measures:
            self.by_kind.setdefault(measure.kind, []).append(measure)
        self._last: dict[str, Stack] = {}

    def of(self, kind: str) -> Stack | None:
        """All measures of a kind; None where there is none."""
        if kind not in self._last and kind in self.by_kind:
            self._last = {kind: self.laid_out(self._in_order(kind))}
        return self._last.get(kind)

    def parts(self, kind: str) -> Iterator[Stack]:
        """The same in parts of few enough numbers, in order."""
        same = self._in_order(kind)
        rows = max(1, _BLOCK // max(1, self.cells * len(self.trials.runs)))
        if len(same) <= rows:
            stack = self.of(kind)
            yield from () if stack is None else (stack,)
            return
        first = 0
        for start in range(0, len(same), rows):
            part = self.laid_out(same[start : start + rows], first)
            yield part
            first += len(part.measures)

    def at(self, kind: str, place: str) -> Stack:
        """All measures of a kind at one place."""
        return self.laid_out([m for m in self._in_order(kind) if m.at == place])

    def _in_order(self, kind: str) -> list[Measure]:
        return sorted(self.by_kind.get(kind, ()), key=lambda m: (m.at, m.of))

    def run_columns(self, run: Run) -> NDArray[np.intp]:
        """The columns in which a run is judged."""
        cells = np.array(run.cells(self.cells), dtype=np.intp)
        return self.index[run.id] * self.cells + cells

    def laid_out(self, measures: Sequence[Measure], first: int = 0) -> Stack:
        """The stack of some measures of one kind."""
        shape = (self.cells, len(self.trials.runs))
        laid = (len(measures), shape[1], shape[0])
        value, status = np.empty(laid), np.empty(laid, dtype=np.uint8)
        fits: list[Measure] = []
        odd: list[Measure] = []
        for measure in measures:
            given, told = measure.value, measure.status
            if np.shape(given) == shape == np.shape(told):
                known = (told == OK) | (told == ESTIMATED) | (told == OUTSIDE)
                value[len(fits)] = np.transpose(given)
                status[len(fits)] = np.transpose(np.where(known, told, np.uint8(MISSING)))
                fits.append(measure)
            else:
                odd.append(measure)
        size = len(fits), shape[0] * shape[1]
        value, status = value[: size[0]].reshape(size), status[: size[0]].reshape(size)
        lost = np.isnan(value) | (status == MISSING)
        value[lost], status[lost] = np.nan, MISSING
        return Stack(tuple(fits), value, status, tuple(odd), first)


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
