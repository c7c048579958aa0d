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
from review.physics.columns import alike, differing
from review.walk.walked import Walked


class Setup(Walked):
    """A scenario walked over the runs of one chunk, as all checks see it."""

    def distinct(
        self, place: interface.Place, at: Iterable[str], before: Iterable[str] = ()
    ) -> tuple[interface.Setup, interface.Place]:
        """See the protocol: the trials that differ at a place, in these fields."""
        if is_recording():
            return self, place
        told = [(field, place.index) for field in at]
        told += [(field, i) for field in before for i in place.before]
        some = Distinct(self, told)
        return some, some.places[place.index]

    def told_apart(
        self, apart: Iterable[tuple[str, int]]
    ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The first trial of each kind and of which kind each is, by fields and items.

        What is the same in every trial at many items is looked at once, and so is the same question
        of two checks.
        """
        if differing([self.marks(field)[item] for field, item in apart]):
            every = np.arange(self.trials)
            return every, every
        rows = {self._digest(field, item): (field, item) for field, item in sorted(apart)}
        asked = frozenset(rows)
        if asked not in self._kinds:
            marks = [self.marks(field)[item] for field, item in rows.values()]
            told = np.array([*marks, self.marks("converged")])
            self._kinds[asked] = alike(told.view(np.float64))
        return self._kinds[asked]

    def _digest(self, field: str, item: int) -> bytes:
        found = self._digests.get((field, item))
        if found is None:
            row = np.ascontiguousarray(self.marks(field)[item])
            found = self._digests[field, item] = blake2b(row.data, digest_size=16).digest()
        return found

    @cached_property
    def _digests(self) -> dict[tuple[str, int], bytes]:
        return {}

    @cached_property
    def _kinds(self) -> dict[frozenset[bytes], tuple[NDArray[np.intp], NDArray[np.intp]]]:
        return {}


class Distinct(Walked):
    """Trials of a set-up that differ in what is asked of it, as (1, trials).

    Only what the trials were told apart by can be read here, and what is the same for all of a
    kind; anything else raises `LookupError`, for it would be one trial's and not the others'.
    """

    def __init__(self, whole: Setup, apart: Iterable[tuple[str, int]]) -> None:
        """`apart` are the fields, and items they are of, by which trials are told apart."""
        self.whole = whole
        self.resolved, self.runs, self._limits = whole.resolved, whole.runs, whole._limits
        self.apart = frozenset(apart)
        self._first, self._kind = whole.told_apart(self.apart)
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
        return some.of_these(self._values[at])
