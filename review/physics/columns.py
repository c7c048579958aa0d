"""Columns of arrays that are the same, so that what is computed of them is computed once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from review.physics._arrays import FloatArray

#: Of so many columns and more, this many are looked at first: where no two of them are the same,
#: hardly any of all are.
MANY, LOOKS = 4096, 256


def differing(bits: Sequence[NDArray[np.uint64]] | NDArray[np.uint64]) -> bool:
    """Whether so many columns are given, as rows (columns,), that differ that few can be alike.

    Looks at some of them: 256 drawn from fewer than ten thousand kinds, all equally frequent, hold
    two of one kind in 96 of 100 cases. False of fewer than `MANY` columns.

    bits, rows of (columns,), marks or the bits of floats.

    >>> import numpy as np
    >>> many = np.arange(10_000, dtype=np.uint64)
    >>> differing([many]), differing([many // np.uint64(100)])
    (True, False)

    Source: [1] the birthday problem, any textbook of probability.
    """
    count = bits[0].shape[-1]
    if count < MANY:
        return False
    # Evenly spread, and not in step with runs that come again in every cell.
    some = np.linspace(0, count - 1, LOOKS).astype(np.intp)
    return bool(np.unique(marks(np.array([row[some] for row in bits]))).size == LOOKS)


def alike(rows: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first of each kind of column of (rows, columns), and of which kind each column is.

    Columns of one kind are the same to the last bit. The kinds stand in the order of their firsts.
    Where hardly any of very many are the same, each counts as a kind of its own.

    >>> import numpy as np
    >>> first, kind = alike(np.array([[1.0, 2.0, 1.0], [3.0, 3.0, 3.0]]))
    >>> bool((np.array([1.0, 2.0])[kind] == [1.0, 2.0, 1.0]).all())
    True

    Source: [1] definition.
    """
    bits = np.ascontiguousarray(rows).view(np.uint64)
    every = np.arange(bits.shape[1])
    if differing(bits):
        return every, every
    _, first, kind = np.unique(marks(bits), return_index=True, return_inverse=True)
    if not np.array_equal(bits[:, first[kind]], bits):  # two of a mark that are not the same
        return every, every
    order = np.argsort(first)
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    return first[order], place[kind]


def marks(bits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """A mark for what stands along the first axis: equal for equal bits, else hardly ever.

    bits (rows, ...); result (...). Two columns that differ share a mark once in 2^64 (a judgement).

    >>> import numpy as np
    >>> a, b, c = marks(np.array([[1, 1, 2], [3, 3, 3]], dtype=np.uint64))
    >>> bool(a == b != c)
    True

    Source: [1] the constants are those of splitmix64 (from memory).
    """
    found = np.zeros(bits.shape[1:], dtype=np.uint64)
    for row in bits:
        mixed = row * np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(32)
        found += mixed
        found *= np.uint64(0xBF58476D1CE4E5B9)
        found ^= found >> np.uint64(29)
    return found
