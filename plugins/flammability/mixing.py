"""The worst mixture along a mixing line, exactly.

Along a straight line between two gases the fuel and oxygen contents are linear, so the distance
to each boundary of the flammable envelope is monotone between a few known points. The worst point
of their minimum lies at an end, at a kink, or where two boundaries are equally far; all of these
are solved for in closed form and the largest is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review import FloatArray
from review.physics.mixtures import upper_boundary

OXYGEN_IN_AIR = 0.2095


@dataclass(frozen=True, slots=True)
class Line:
    """Mixing lines: each field holds values at both ends, shape (2, n), except `loc` (n,).

    `lower`, `upper` and `upper_oxygen` are sums of fuel content over the limit: 1 at the limit.
    NaN marks a boundary nobody knows. `loc` is infinite-proof: 0 where no oxygen is needed.
    """

    fuel: FloatArray
    oxygen: FloatArray
    lower: FloatArray
    upper: FloatArray
    upper_oxygen: FloatArray
    loc: FloatArray


def ratios(line: Line, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fuel over lower limit, oxygen over limiting oxygen, upper boundary over fuel.

    `at` is the place on the line, 0 … 1, any shape that broadcasts with (n,). Outside the envelope
    at least one is below 1. Without fuel the first is 0, without oxygen the second is 0; a
    boundary nobody knows gives NaN.
    """
    fuel, oxygen, lower, upper, pure = (
        ends[0] + at * (ends[1] - ends[0])
        for ends in (line.fuel, line.oxygen, line.lower, line.upper, line.upper_oxygen)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = np.where(fuel > 0, lower, 0.0)
        inert = np.where(oxygen > 0, oxygen / line.loc, 0.0)
        air_limit = fuel / upper
        pure_limit = np.where(np.isnan(pure), 1.0, fuel / pure)
        rich = np.where(fuel > 0, upper_boundary(oxygen, air_limit, pure_limit) / fuel, np.inf)
    return lean, np.where(line.loc == 0, np.inf, inert), np.where(line.loc == 0, np.inf, rich)


def worst(line: Line) -> tuple[FloatArray, FloatArray]:
    """Place of the worst mixture on each line and the ratio there, both (n,).

    The ratio is the smallest of `ratios` where it is largest: 1 and above is inside the envelope.
    It is NaN where an unknown boundary could have kept the mixture outside.

    The upper boundary is asked only where it can matter: nowhere on a line that stays below the
    lower limit, and not where oxygen stays below a tenth of the limiting oxygen, since there it
    could only lengthen a margin that is above 0.9 already.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        lean, inert = line.lower.max(axis=0), line.oxygen.max(axis=0) / line.loc
    busy = _busy(line)
    simple = busy & ((lean <= 1) | (inert < 0.1))
    at, ratio = np.zeros(busy.shape), np.zeros(busy.shape)
    for where, solve in ((simple, _below), (busy & ~simple, _anywhere)):
        if where.any():
            at[where], ratio[where] = solve(_part(line, where))
    return at, ratio


def _busy(line: Line) -> NDArray[np.bool_]:
    """Lines with fuel and what burns it; on all others every ratio is zero."""
    fuel, oxygen = line.fuel.max(axis=0), line.oxygen.max(axis=0)
    return np.asarray(~(fuel <= 0) & (~(oxygen <= 0) | (line.loc == 0)))


def _part(line: Line, where: NDArray[np.bool_]) -> Line:
    return Line(
        line.fuel[:, where], line.oxygen[:, where], line.lower[:, where],
        line.upper[:, where], line.upper_oxygen[:, where], line.loc[where],
    )  # fmt: skip


def _anywhere(line: Line) -> tuple[FloatArray, FloatArray]:
    return _largest(line, _candidates(line))


def _below(line: Line) -> tuple[FloatArray, FloatArray]:
    """The worst point where the upper boundary does not count."""
    return _allowance(line, 1.0, np.ones_like(line.loc))


def worst_allowance(
    line: Line, lean_share: float, inert_share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Place and size of the largest share of the allowed fuel or oxygen that is used, both (n,).

    min(fuel / (lean_share x lower limit), oxygen / (inert_share x limiting oxygen)); being rich
    earns nothing, because every rich gas meets air somewhere.
    """
    busy = _busy(line)
    at, share = np.zeros(busy.shape), np.zeros(busy.shape)
    if busy.any():
        at[busy], share[busy] = _allowance(_part(line, busy), lean_share, inert_share[busy])
    return at, share


def _allowance(
    line: Line, lean_share: float, inert_share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    lean = line.lower / lean_share
    with np.errstate(divide="ignore", invalid="ignore"):
        inert = np.where(line.loc == 0, np.inf, line.oxygen / (inert_share * line.loc))
        crossing = (inert[0] - lean[0]) / (lean[1] - lean[0] - inert[1] + inert[0])
    places = _clean(np.array([np.zeros_like(crossing), np.ones_like(crossing), crossing]))
    a = np.where(line.fuel[0] + places * (line.fuel[1] - line.fuel[0]) > 0, _on(lean, places), 0.0)
    oxygen = line.oxygen[0] + places * (line.oxygen[1] - line.oxygen[0])
    b = np.where(line.loc == 0, np.inf, np.where(oxygen > 0, _on(inert, places), 0.0))
    value = np.fmin(a, b)
    unknown = np.isnan(a) | np.isnan(b)
    return _pick(places, np.where(unknown & ~(value < 1), np.nan, value))


def _largest(line: Line, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    lean, inert, rich = ratios(line, places)
    value = np.fmin(np.fmin(lean, inert), rich)
    unknown = np.isnan(lean) | np.isnan(inert) | np.isnan(rich)
    return _pick(places, np.where(unknown & ~(value < 1), np.nan, value))


def _pick(places: FloatArray, value: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The largest known value; NaN if it is below 1 and another place is unknown."""
    ranked = np.where(np.isnan(value), -np.inf, value)
    best = np.argmax(ranked, axis=0)[None]
    at = np.take_along_axis(places, best, axis=0)[0]
    top = np.take_along_axis(ranked, best, axis=0)[0]
    lost = np.isnan(value).any(axis=0) & ~(top >= 1)
    return at, np.where(lost, np.nan, top)


def _on(ends: FloatArray, places: FloatArray) -> FloatArray:
    with np.errstate(invalid="ignore"):
        return np.asarray(ends[0] + places * (ends[1] - ends[0]))


def _clean(places: FloatArray) -> FloatArray:
    return np.where((places >= 0) & (places <= 1), places, 0.0)


def _candidates(line: Line) -> FloatArray:
    """Every place on the lines where the minimum of the three ratios can be largest."""
    a, o, f = line.lower, line.oxygen, line.fuel
    su, so = line.upper, line.upper_oxygen
    with np.errstate(divide="ignore", invalid="ignore"):
        b = o / line.loc
        da, db = a[1] - a[0], b[1] - b[0]
        zero = np.zeros_like(da)
        found = [zero, zero + 1.0, (b[0] - a[0]) / (da - db)]
        rich_end = f[1] >= f[0]
        air = np.where(rich_end, f[1] / su[1], f[0] / su[0])
        pure = np.where(rich_end, f[1] / so[1], f[0] / so[0])
        pure = np.where(np.isnan(pure), 1.0, np.maximum(pure, air))
        left, right = OXYGEN_IN_AIR * (1 - air), 1 - pure
        found += [(left - o[0]) / (o[1] - o[0]), (right - o[0]) / (o[1] - o[0])]
        # The boundary level at the limit in air, sloping, and level at the limit in oxygen.
        slope = np.where(right > left, (pure - air) / (right - left), 0.0)
        sloping = air + slope * (o - left)
        one = np.ones_like(a)
        for x, limit in ((su, one), (so, one), (f, sloping)):
            for ratio in (a, b):
                found += _roots(ratio, x, limit)
    return _clean(np.array(found))


def _roots(ratio: FloatArray, x: FloatArray, limit: FloatArray) -> list[FloatArray]:
    """Places where ratio(t) x(t) = limit(t), all three linear in t."""
    dr, dx, dl = ratio[1] - ratio[0], x[1] - x[0], limit[1] - limit[0]
    p, q, r = dr * dx, ratio[0] * dx + x[0] * dr - dl, ratio[0] * x[0] - limit[0]
    root = np.sqrt(q * q - 4 * p * r)
    # The form that loses no digits when p is small.
    half = -0.5 * (q + np.where(q < 0, -1.0, 1.0) * root)
    return [half / p, r / half]
