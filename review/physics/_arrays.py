"""How the physics functions take arrays: float64, broadcast, NaN kept."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Stack = Sequence[ArrayLike] | FloatArray


def number(value: ArrayLike) -> FloatArray:
    """`value` as float64; a scalar stays without dimensions."""
    return np.asarray(value, dtype=np.float64)


def stack(values: Stack) -> FloatArray:
    """One array whose first axis runs over species, volumes …

    A sequence may mix scalars and arrays of shapes that broadcast together.
    """
    if isinstance(values, np.ndarray):
        return number(values)
    rows = [number(row) for row in values]
    if not rows:
        return np.empty((0,))
    return np.stack(np.broadcast_arrays(*rows))


def matching(*stacks: Stack) -> tuple[FloatArray, ...]:
    """Several stacks with trailing axes of length one added, so that their first axes line up."""
    arrays = [stack(values) for values in stacks]
    depth = max(array.ndim for array in arrays)
    return tuple(a.reshape(a.shape + (1,) * (depth - a.ndim)) for a in arrays)


def keep_nan(result: ArrayLike, *arguments: ArrayLike) -> FloatArray:
    """`result`, but NaN wherever an argument is: a comparison with NaN must not pick a branch."""
    lost = np.isnan(number(result))
    for argument in arguments:
        lost = lost | np.isnan(number(argument))
    return number(np.where(lost, np.nan, result))[()]
