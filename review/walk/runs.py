"""Runs as overlays: the plan, upsets and samples, and what each number is in each of them.

A run is the whole procedure played once under one overlay. Cell 0 is the stated steady plan and
cells 1… are the steps; an overlay with ``from_step=k`` holds from cell k on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray
from review.interface.plugin import Overlay

PLAN = Overlay(id="plan", title="the plan", case="plan")


class Runs:
    """Columns of changed numbers over runs.

    Only numbers that some overlay changes take memory; every other is one float broadcast.
    Raises `KeyError` naming a path that no overlay may change because the scenario lacks it.
    """

    def __init__(self, base: Mapping[str, float], overlays: Sequence[Overlay]) -> None:
        self.base = base
        self.overlays = tuple(overlays)
        self.size = len(self.overlays)
        columns: dict[str, tuple[list[int], list[float], list[int]]] = {}
        for run, overlay in enumerate(self.overlays):
            start = 0 if overlay.from_step is None else overlay.from_step
            # Of two values of one run the later counts, so what holds from the beginning is first.
            for changes, first in ((overlay.under, -1), (overlay.changes, start)):
                for path, value in changes.items():
                    if path not in base:
                        raise KeyError(path)
                    where, values, starts = columns.setdefault(path, ([], [], []))
                    where.append(run)
                    values.append(value)
                    starts.append(first)
        self._columns: dict[str, tuple[NDArray[np.intp], FloatArray, NDArray[np.intp]]] = {
            path: (np.asarray(w, np.intp), np.asarray(v, np.float64), np.asarray(s, np.intp))
            for path, (w, v, s) in columns.items()
        }
        self._constant: dict[str, FloatArray] = {}
        self._changed: dict[tuple[str, int, bool], FloatArray] = {}
        self._under = np.array([bool(o.under) for o in self.overlays], dtype=bool)
        self._planned = np.array([o.case == "plan" for o in self.overlays], dtype=bool)
        self.late = np.array([o.late for o in self.overlays], dtype=bool)
        self.start = np.array(
            [0 if o.from_step is None else o.from_step for o in self.overlays], dtype=np.intp
        )

    def changes(self, prefix: str) -> bool:
        """Whether any overlay changes a number whose path begins so."""
        return any(path.startswith(prefix) for path in self._columns)

    def number(self, path: str, cell: int, *, before: bool = False) -> FloatArray | None:
        """The number in every run at one cell, shape (runs,); None where the file has none.

        `before` leaves out overlays that start in this very cell after it has settled (late ones).
        """
        value = self.base.get(path)
        if value is None:
            return None
        column = self._columns.get(path)
        if column is None:
            constant = self._constant.get(path)
            if constant is None:
                constant = np.full(self.size, value)
                constant.flags.writeable = False
                self._constant[path] = constant
            return constant
        found = self._changed.get((path, cell, before))
        if found is None:
            where, values, starts = column
            active = starts <= cell
            if before:
                active = active & ~(self.late[where] & (starts == cell))
            found = np.full(self.size, value)
            found[where[active]] = values[active]
            found.flags.writeable = False
            self._changed[path, cell, before] = found
        return found

    def over_cells(self, path: str, cells: int) -> FloatArray | None:
        """The number in all cells, all runs of the first first; None where the file has none."""
        value = self.base.get(path)
        if value is None or path not in self._columns:
            return None if value is None else np.broadcast_to(value, (cells * self.size,))
        return np.concatenate([self.number(path, cell) for cell in range(cells)])

    def late_at(self, cell: int) -> NDArray[np.intp]:
        """Runs whose overlay begins in this cell only after the cell has settled."""
        return np.flatnonzero(self.late & (self.start == cell))

    def begun(self, cell: int, *, before: bool) -> NDArray[np.bool_]:
        """Whether anything of each run holds at one cell; `before` leaves out what begins in this
        very cell only after it has settled."""
        begun = self.start <= cell
        if before:
            begun &= ~(self.late & (self.start == cell))
        return np.asarray(begun | self._under)

    def walked_at(
        self, cell: int, *, before: bool
    ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Runs that stand for all at one cell, and which of these stands for each run.

        Each run in which something has begun stands for itself, and one for all others of the same
        case; `before` leaves out what begins in this very cell only after it has settled.
        """
        begun = self.begun(cell, before=before)
        walked, of = begun.copy(), np.empty(self.size, dtype=np.intp)
        for others in (~begun & self._planned, ~begun & ~self._planned):
            walked[np.flatnonzero(others)[:1]] = True
        place = np.cumsum(walked) - 1
        of[begun] = place[begun]
        for others in (~begun & self._planned, ~begun & ~self._planned):
            of[others] = place[np.flatnonzero(others)[:1]]
        return np.flatnonzero(walked), of

    def subset(self, where: Sequence[int] | NDArray[np.intp]) -> Runs:
        """The same runs, fewer of them."""
        return Runs(self.base, [self.overlays[int(i)] for i in where])

    def chunks(self, size: int) -> Iterable[Runs]:
        """These runs in as few pieces of at most `size` as there can be, all much the same: what is
        worked out once a piece is not worked out for a few runs that were left over."""
        pieces = -(-self.size // size)
        if pieces <= 1:
            yield self
            return
        ends = [self.size * n // pieces for n in range(pieces + 1)]
        for first, last in pairwise(ends):
            yield Runs(self.base, self.overlays[first:last])
