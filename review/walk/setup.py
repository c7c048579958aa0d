"""The trials of a set-up that differ at an item: what is the same in many is computed once.

Most failures change nothing at most items, and before a failure begins every run is the plan. A
computation of one item that looks at each trial by itself asks for the trials that differ there,
and spreads what it finds over all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from hashlib import blake2b
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.interface import setup as interface
from review.interface.measure import (
    FloatArray,
    Measure,
    Quantity,
    StatusArray,
    is_recording,
)
from review.interface.plugin import Kind
from review.physics.columns import alike, differing, marks
from review.walk.walked import Walked


class Setup(Walked):
    """A scenario walked over the runs of one chunk, as all checks see it."""

    def distinct(
        self, place: interface.Place, at: Iterable[str], before: Iterable[str] = ()
    ) -> tuple[interface.Setup, interface.Place]:
        """See the protocol: the trials that differ at a place, in these fields."""
        if is_recording():
            return self, place
        some = Distinct(self, place.index, tuple(at), tuple(before))
        return some, some.places[place.index]

    def told_apart(
        self, item: int, at: tuple[str, ...], before: tuple[str, ...]
    ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The first trial of each kind and of which kind each is, by fields at an item and at all
        those before it.

        The same question of two checks, or at two items with the same answer, is looked at once.
        """
        rows = [self.marks(field)[item] for field in sorted(at)]
        rows += [self._before(before)[item]] * bool(before)
        if differing(rows):
            every = np.arange(self.trials)
            return every, every
        told = np.array([*rows, self.marks("converged")])
        asked = blake2b(told.data, digest_size=16).digest()
        if asked not in self._kinds:
            self._kinds[asked] = alike(told.view(np.float64))
        return self._kinds[asked]

    def let_go(self) -> None:
        """Free all that it holds; it cannot be read any more.

        What it holds refers back to it, so that nothing else would free it soon.
        """
        vars(self).clear()

    def _before(self, fields: tuple[str, ...]) -> NDArray[np.uint64]:
        """A mark for what each item and all before it are in these fields, (items, trials)."""
        found = self._all_before.get(fields)
        if found is None:
            graph = self.resolved.graph
            found = self._all_before[fields] = np.empty((graph.size, self.trials), dtype=np.uint64)
            for i in graph.order:
                own = [self.marks(field)[i] for field in fields]
                found[i] = marks(np.array([*own, *(found[j] for j in graph.upstream[i])]))
        return found

    @cached_property
    def _all_before(self) -> dict[tuple[str, ...], NDArray[np.uint64]]:
        return {}

    @cached_property
    def _kinds(self) -> dict[bytes, tuple[NDArray[np.intp], NDArray[np.intp]]]:
        return {}


class Distinct(Walked):
    """Trials of a set-up that differ in what is asked of it, as (1, trials).

    Only what the trials were told apart by can be read here, and what is the same for all of a
    kind; anything else raises `LookupError`, for it would be one trial's and not the others'.
    """

    def __init__(
        self, whole: Setup, item: int, at: tuple[str, ...], before: tuple[str, ...]
    ) -> None:
        """Trials are told apart by the fields `at` an item and those `before` it, itself too."""
        self.whole = whole
        self.resolved, self.runs, self._limits = whole.resolved, whole.runs, whole._limits
        self.apart = {(field, item) for field in at}
        self.apart |= {(field, i) for field in before for i in self.resolved.graph.before[item]}
        self._first, self._kind = whole.told_apart(item, at, before)
        self._stacked: dict[str, FloatArray] = {}

    @cached_property
    def shape(self) -> tuple[int, int]:
        """(1, trials that differ)."""
        return 1, self._first.size

    @property
    def failed(self) -> NDArray[np.bool_]:
        """True in trials where a failure has begun."""
        return np.asarray(self._same(self.whole.failed, "whether a failure has begun"))

    @property
    def lacking(self) -> str:
        """What the engine had to do without: why one of its numbers may be missing."""
        return self.whole.lacking

    def stacked(self, field: str) -> Any:
        """A field of `review.walk.state.Cell`: (..., trials); its items one by one."""
        return _Items(self, field, self.whole.stacked(field))

    def marks(self, field: str) -> Any:
        """A mark for what each item is in a field in each trial, (trials,) item by item."""
        return _Items(self, field, self.whole.marks(field), told=True)

    def of_these(self, value: NDArray[Any]) -> NDArray[Any]:
        """An array (..., all trials) in these; itself where no two are the same."""
        return value if self.every else value[..., self._first]

    @cached_property
    def every(self) -> bool:
        """Whether no two trials are the same: these are all, in their order."""
        return bool(self._first.size == self.whole.trials)

    @cached_property
    def engine_status(self) -> StatusArray:
        """That of the whole set-up."""
        return self.of_these(self.whole.engine_status)

    def number(self, path: str) -> Quantity:
        """A number of the scenario by its path."""
        found = self.whole.number(path)
        return replace(found, value=self._same(found.value, path), status=found.status[self._first])

    def measures(self, kind: str) -> Sequence[Measure]:
        """None: measures are of all trials."""
        raise LookupError(f"{kind}: measures are of all trials")

    def measure(
        self, kind: Kind, quantity: Quantity, at: str, of: str = "", note: str = ""
    ) -> Measure:
        """A quantity as a measure of the whole set-up."""
        return self.whole.measure(kind, self.spread(quantity), at, of, note)

    def spread(self, quantity: Quantity) -> Quantity:
        """A quantity of these trials over all trials."""
        compared = quantity.compared
        return replace(
            quantity,
            value=self.over_all(quantity.value),
            status=self.over_all(quantity.status),
            compared=None if compared is None else compared.mapped(self.over_all),
            origin=None,
        )

    def over_all(self, value: Any) -> Any:
        """An array (..., trials) over all trials."""
        if self.every and value.shape[-1] == self.trials:
            return value
        return np.broadcast_to(value, (*value.shape[:-1], self.trials))[..., self._kind]

    def _same(self, value: NDArray[Any], what: str) -> Any:
        found = self.of_these(value)
        floats = value.dtype.kind == "f"
        if not self.every and not np.array_equal(found[self._kind], value, equal_nan=floats):
            raise LookupError(f"{what} differs between trials that are taken as one here")
        return found


class _Items:
    """A field of the cells, or the marks of one (`told`), read item by item."""

    def __init__(
        self, some: Distinct, field: str, values: NDArray[Any], *, told: bool = False
    ) -> None:
        self._some, self._field, self._values, self._told = some, field, values, told

    def __getitem__(self, at: int | tuple[Any, ...]) -> NDArray[Any]:
        some = self._some
        index = at[0] if isinstance(at, tuple) else at
        if not self._told and (self._field, index) not in some.apart and not some.every:
            told = some.whole.marks(self._field)[index]
            if not np.array_equal(told[some._first][some._kind], told):
                where = some.resolved.graph.ids[index]
                raise LookupError(f"{self._field} of {where}: trials were not told apart by it")
            some.apart.add((self._field, index))  # looked at once
        return some.of_these(self._values[at])
