"""Measures over many runs of which most are alike: what a review keeps of them."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import Compared, FloatArray, Measure, StatusArray
from review.physics.columns import alike, marks

#: Of so many runs and more, this many are looked at first: where no two of them are alike, hardly
#: any of all are, and half of them alike is what makes it worth while.
MANY, LOOKS = 1024, 256


def folded(measure: Measure) -> Folded:
    """The same measure without its working, each run that is like another kept once."""
    if isinstance(measure, Folded):
        return measure
    given = {field.name: getattr(measure, field.name) for field in fields(measure)}
    return Folded(**given | {"working": None})


class Folded(Measure):
    """A measure that keeps runs which are alike to the last bit once.

    Most failures change nothing at most places, so this is a small part of all its runs. Its arrays
    are laid out anew each time they are read.
    """

    __slots__ = ("_compared", "_status", "_value")
    _value: _Kept
    _status: _Kept
    _compared: Compared | None
    """Its arrays are `_Kept`."""

    @property
    def value(self) -> FloatArray:
        """Values of shape (cells, runs)."""
        return self._value.laid_out()

    @value.setter
    def value(self, array: FloatArray) -> None:
        object.__setattr__(self, "_value", _Kept.of(array))

    @property
    def status(self) -> StatusArray:
        """Statuses of shape (cells, runs)."""
        return self._status.laid_out()

    @status.setter
    def status(self, array: StatusArray) -> None:
        object.__setattr__(self, "_status", _Kept.of(array, self._value))

    @property
    def compared(self) -> Compared | None:
        """The two figures behind the value, where it is a share or a difference."""
        return None if self._compared is None else self._compared.mapped(_Kept.laid_out)

    @compared.setter
    def compared(self, given: Compared | None) -> None:
        kept = None if given is None else given.mapped(lambda each: _Kept.of(each, self._value))
        object.__setattr__(self, "_compared", kept)


@dataclass(frozen=True, slots=True)
class _Kept:
    """An array over runs: its columns that differ, and which of them each run has."""

    columns: NDArray[Any]
    of_run: NDArray[np.uint32] | None
    """None: each run has its own."""
    runs: int

    @staticmethod
    def of(array: NDArray[Any], like: _Kept | None = None) -> _Kept:
        """An array, its runs told apart as those of another where it does not differ among them."""
        runs = array.shape[-1]
        bits = np.ascontiguousarray(array).view(f"u{array.itemsize}")
        # Statuses are few, and never all differ.
        if runs >= MANY and bits.itemsize == 8 and _all_differ(bits):
            return _Kept(array, None, runs)
        if np.array_equal(bits, np.broadcast_to(bits[..., :1], bits.shape)):
            return _Kept(array[..., :1].copy(), np.zeros(runs, dtype=np.uint32), runs)
        if like is not None and like.of_run is not None and like.columns.shape[-1] > 1:
            some = np.empty(like.columns.shape[-1], dtype=np.intp)  # one run of each kind
            some[like.of_run] = np.arange(runs)
            if np.array_equal(bits[..., some][..., like.of_run], bits):
                return _Kept(array[..., some], like.of_run, runs)
        first, kind = alike(bits if bits.itemsize == 8 else bits.astype(np.uint64))
        if 2 * first.size > runs:
            return _Kept(array, None, runs)
        return _Kept(array[..., first], kind.astype(np.uint32), runs)

    def laid_out(self) -> NDArray[Any]:
        if self.of_run is None:
            return self.columns
        if self.columns.shape[-1] == 1:
            return np.broadcast_to(self.columns, (*self.columns.shape[:-1], self.runs))
        array = self.columns[..., self.of_run]
        array.flags.writeable = False
        return array


def _all_differ(bits: NDArray[Any]) -> bool:
    """Whether no two of some runs, drawn once for all, are alike.

    Of 1024 in 512 equal pairs, 256 drawn hold no pair once in 10^14.
    """
    runs = bits.shape[-1]
    some = bits.reshape(-1, runs)[:, _drawn(runs)]
    if np.array_equal(some[:, 0], some[:, 1]):
        return False
    if np.unique(some[-1]).size == LOOKS:  # they differ in the last cell alone
        return True
    return bool(np.unique(marks(np.asarray(some, dtype=np.uint64))).size == LOOKS)


@cache
def _drawn(runs: int) -> NDArray[np.intp]:
    return np.array(Random(0).sample(range(runs), LOOKS), dtype=np.intp)
