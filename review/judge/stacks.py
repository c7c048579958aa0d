"""Everything that is judged, laid out once: measures stacked by kind, trials by case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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


class Stacks:
    """The stacks of all kinds, and which columns belong to which case and run."""

    def __init__(
        self, measures: Iterable[Measure], kinds: Mapping[str, Kind], trials: Trials
    ) -> None:
        self.kinds, self.trials = kinds, trials
        self.cells = 1 + len(trials.steps)
        self.columns = _columns(trials)
        self.index = {run.id: n for n, run in enumerate(trials.runs)}
        by_kind: dict[str, list[Measure]] = {}
        for measure in measures:
            by_kind.setdefault(measure.kind, []).append(measure)
        self.of = {
            kind: self._stack(sorted(same, key=lambda m: (m.at, m.of)))
            for kind, same in by_kind.items()
        }

    def run_columns(self, run: Run) -> NDArray[np.intp]:
        """The columns in which a run is judged."""
        cells = np.array(run.cells(self.cells), dtype=np.intp)
        return self.index[run.id] * self.cells + cells

    def _stack(self, measures: list[Measure]) -> Stack:
        shape = (self.cells, len(self.trials.runs))
        fits = [m for m in measures if np.shape(m.value) == shape == np.shape(m.status)]
        odd = [m for m in measures if not np.shape(m.value) == shape == np.shape(m.status)]
        size = (len(fits), shape[0] * shape[1])
        value = np.array([np.transpose(m.value) for m in fits], dtype=np.float64).reshape(size)
        status = np.array([np.transpose(m.status) for m in fits]).reshape(size)
        known = (status == OK) | (status == ESTIMATED) | (status == OUTSIDE)
        lost = np.isnan(value) | ~known
        return Stack(
            tuple(fits),
            np.where(lost, np.nan, value),
            np.where(lost, MISSING, status).astype(np.uint8),
            tuple(odd),
        )


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
