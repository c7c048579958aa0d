"""One run of a walked set-up by itself, and checks that take no more than one at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from review.interface.measure import MISSING, FloatArray, Measure, StatusArray
from review.interface.plugin import Overlay
from review.walk.setup import Setup

#: So many distinct runs of one review does a scalar check compute; the rest is missing.
MOST_RUNS = 500
NOT_COMPUTED = f"a check that takes one run at a time computes the first {MOST_RUNS} distinct ones"


class OneRun(Setup):
    """A view of one run of a set-up; nothing is walked again."""

    def __init__(self, whole: Setup, run: int) -> None:
        self._whole, self._run = whole, run
        self.resolved, self.runs = whole.resolved, whole.runs.subset([run])
        self._limits = whole._limits
        self._stacked: dict[str, FloatArray] = {}

    @cached_property
    def shape(self) -> tuple[int, int]:
        """(cells, 1)."""
        return self._whole.shape[0], 1

    def stacked(self, field: str) -> FloatArray:
        """A field of `review.walk.state.Cell` over the cells: (..., cells)."""
        return self._whole.stacked(field)[..., self._run :: self._whole.runs.size]

    def measures(self, kind: str) -> Sequence[Measure]:
        """Measures of a kind that the computation said it needs, of this run."""
        here = slice(self._run, self._run + 1)
        return [
            replace(
                m, value=m.value[:, here], status=m.status[:, here], working=None, compared=None
            )
            for m in self._whole.measures(kind)
        ]


class Budget:
    """What one scalar check may still compute in one review, and what it computed already."""

    def __init__(self) -> None:
        self._known: dict[Any, list[Measure]] = {}

    def run_by_run(
        self, setup: Setup, compute: Callable[[Setup], list[Measure]]
    ) -> list[list[Measure] | None]:
        """What `compute` gives for each run by itself; None for runs beyond the budget.

        Runs whose changes are the same are computed once.
        """
        out: list[list[Measure] | None] = []
        for run, overlay in enumerate(setup.runs.overlays):
            inputs = _inputs(overlay)
            if inputs not in self._known and len(self._known) < MOST_RUNS:
                self._known[inputs] = compute(OneRun(setup, run))
            out.append(self._known.get(inputs))
        return out


def side_by_side(parts: Sequence[list[Measure] | None], cells: int) -> Iterator[Measure]:
    """Measures of single runs as measures over all of them; what a run lacks is missing."""
    shape = cells, len(parts)
    first: dict[tuple[str, str, str], Measure] = {}
    values: dict[tuple[str, str, str], tuple[FloatArray, StatusArray]] = {}
    for run, part in enumerate(parts):
        for m in part or ():
            key = m.kind, m.at, m.of
            if key not in first:
                first[key] = m
                values[key] = np.full(shape, np.nan), np.full(shape, MISSING, dtype=np.uint8)
            values[key][0][:, run], values[key][1][:, run] = m.value[:, 0], m.status[:, 0]
    for key, measure in first.items():
        note = measure.note
        if any(part is None for part in parts):
            note = f"{NOT_COMPUTED}; {note}" if note else NOT_COMPUTED
        yield replace(
            measure,
            value=values[key][0],
            status=values[key][1],
            note=note,
            working=measure.working if len(parts) == 1 else None,
            compared=measure.compared if len(parts) == 1 else None,
        )


def _inputs(overlay: Overlay) -> Any:
    under = frozenset(overlay.under.items())
    return frozenset(overlay.changes.items()), overlay.from_step, overlay.late, under
