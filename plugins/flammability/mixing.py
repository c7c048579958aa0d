"""The worst mixture along a mixing line, exactly.

Along a straight line between two gases the fuel and oxygen contents are linear, so the distance
to each boundary of the flammable envelope is monotone between a few known points. The worst point
of their minimum lies at an end, at a kink, or where two boundaries are equally far; all of these
are solved for and the largest is taken. Every place tried lies on the line, so one too many does
no harm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review import FloatArray
from review.physics.mixtures import upper_boundary

OXYGEN_IN_AIR = 0.2095

#: Mole fraction below which fuel or oxygen counts as none. No limit is below 0.1 %, so a ratio
#: that is left out is below 0.001; purges leave such traces without end.
NOTHING = 1e-6

#: A place this far along the line beside a jump of the boundary, or beside an end without fuel or
#: oxygen, is tried too: rounding must not decide on which side the jump itself falls.
BESIDE = 1e-12

#: Lines solved together.
BLOCK = 1024


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
    boundary or a content nobody knows gives NaN.
    """
    fuel, oxygen, lower, upper, pure = (
        ends[0] + at * (ends[1] - ends[0])
        for ends in (line.fuel, line.oxygen, line.lower, line.upper, line.upper_oxygen)
    )
    lean = np.where(fuel <= 0, 0.0, lower)
    inert = np.where(oxygen <= 0, 0.0, oxygen / line.loc)
    air_limit = fuel / upper
    pure_limit = np.where(np.isnan(pure), 1.0, fuel / pure)
    rich = np.where(fuel <= 0, np.inf, upper_boundary(oxygen, air_limit, pure_limit) / fuel)
    return lean, np.where(line.loc == 0, np.inf, inert), np.where(line.loc == 0, np.inf, rich)


#: Places on lines and a ratio there, both (n,).
Found = tuple[FloatArray, FloatArray]


def worst(line: Line, lean: Found | None = None) -> Found:
    """Place of the worst mixture on each line and the ratio there, both (n,).

    The ratio is the smallest of `ratios` where it is largest: 1 and above is inside the envelope.
    It is NaN where an unknown boundary could have kept the mixture outside. `lean` is what
    `worst_lean` finds, where that is known already.

    The upper boundary is asked only where it can matter: nowhere on a line that stays below the
    lower limit, and not where oxygen stays below a tenth of the limiting oxygen, since there it
    could only lengthen a margin that is above 0.9 already.
    """
    fuel, inert = line.lower.max(axis=0), line.oxygen.max(axis=0) / line.loc
    at, ratio = (x.copy() for x in lean or worst_lean(line))
    for some in _blocks(_busy(line) & ~((fuel <= 1) | (inert < 0.1))):
        part = _part(line, some)
        at[some], ratio[some] = _largest(part, _candidates(part))
    return at, ratio


def worst_lean(line: Line) -> Found:
    """The worst point where the upper boundary does not count."""
    return worst_allowance(line, 1.0, np.ones_like(line.loc))


def _blocks(where: NDArray[np.bool_]) -> Iterator[NDArray[np.intp]]:
    """The lines chosen, so many at a time that what is computed of them stays in the cache."""
    chosen = np.flatnonzero(where)
    for first in range(0, chosen.size, BLOCK):
        yield chosen[first : first + BLOCK]


def _busy(line: Line) -> NDArray[np.bool_]:
    """Lines with fuel and what burns it; on all others every ratio counts as zero."""
    fuel, oxygen = line.fuel.max(axis=0), line.oxygen.max(axis=0)
    return np.asarray(~(fuel <= NOTHING) & (~(oxygen <= NOTHING) | (line.loc == 0)))


def _part(line: Line, where: NDArray[np.intp], *, upper: bool = True) -> Line:
    """Some of the lines, perhaps without their upper limits."""
    above = where if upper else where[:0]
    return Line(
        line.fuel[:, where], line.oxygen[:, where], line.lower[:, where],
        line.upper[:, above], line.upper_oxygen[:, above], line.loc[where],
    )  # fmt: skip


def worst_allowance(line: Line, lean_share: float, inert_share: FloatArray) -> Found:
    """Place and size of the largest share of the allowed fuel or oxygen that is used, both (n,).

    min(fuel / (lean_share x lower limit), oxygen / (inert_share x limiting oxygen)); being rich
    earns nothing, because every rich gas meets air somewhere.
    """
    busy = _busy(line)
    at, share = np.zeros(busy.shape), np.zeros(busy.shape)
    for some in _blocks(busy):
        part = _part(line, some, upper=False)
        at[some], share[some] = _allowance(part, lean_share, inert_share[some])
    return at, share


def _allowance(line: Line, lean_share: float, inert_share: FloatArray) -> Found:
    lean = line.lower / lean_share
    inert = np.where(line.loc == 0, np.inf, line.oxygen / (inert_share * line.loc))
    crossing = (inert[0] - lean[0]) / (lean[1] - lean[0] - inert[1] + inert[0])
    places = _clean(np.array([*_ends(crossing), crossing]))
    fuel = line.fuel[0] + places * (line.fuel[1] - line.fuel[0])
    a = np.where(fuel <= 0, 0.0, _on(lean, places))
    oxygen = line.oxygen[0] + places * (line.oxygen[1] - line.oxygen[0])
    b = np.where(line.loc == 0, np.inf, np.where(oxygen <= 0, 0.0, _on(inert, places)))
    value = np.fmin(a, b)
    unknown = np.isnan(a) | np.isnan(b)
    return _pick(places, np.where(unknown & ~(value < 1), np.nan, value))


def _largest(line: Line, places: FloatArray) -> Found:
    lean, inert, rich = ratios(line, places)
    value = np.fmin(np.fmin(lean, inert), rich)
    unknown = np.isnan(lean) | np.isnan(inert) | np.isnan(rich)
    return _pick(places, np.where(unknown & ~(value < 1), np.nan, value))


def _pick(places: FloatArray, value: FloatArray) -> Found:
    """The largest known value; an unknown place and NaN if all that is known is below 1."""
    unknown = np.isnan(value)
    ranked = np.where(unknown, -np.inf, value)
    lost = unknown.any(axis=0) & ~(ranked.max(axis=0) >= 1)
    best = np.where(lost, unknown.argmax(axis=0), ranked.argmax(axis=0))[None]
    at = np.take_along_axis(places, best, axis=0)[0]
    return at, np.take_along_axis(value, best, axis=0)[0]


def _on(ends: FloatArray, places: FloatArray) -> FloatArray:
    return np.asarray(ends[0] + places * (ends[1] - ends[0]))


def _clean(places: FloatArray) -> FloatArray:
    return np.where((places >= 0) & (places <= 1), places, 0.0)


def _ends(like: FloatArray) -> list[FloatArray]:
    """Both ends of the line and the places just beside them."""
    zero = np.zeros_like(like)
    return [zero, zero + 1.0, zero + BESIDE, zero + (1.0 - BESIDE)]


def _candidates(line: Line) -> FloatArray:
    """Every place on the lines where the minimum of the three ratios can be largest."""
    a, o, f = line.lower, line.oxygen, line.fuel
    su = line.upper
    so = np.where(np.isnan(line.upper_oxygen), f, line.upper_oxygen)
    b = o / line.loc
    found = [*_ends(a[0]), (b[0] - a[0]) / (a[1] - a[0] - b[1] + b[0])]
    for x in (su, so):
        for ratio in (a, b):
            found += _roots(ratio, x, np.ones_like(a))
    found += _where_fuels_keep_their_shares(a, b, o, f, su, so)
    shares_change = _differs(su, f) | _differs(so, f)
    if shares_change.any():
        part = [x[:, shares_change] for x in (a, b, o, f, su, so)]
        extra = np.array(_where_fuels_change(*part))
        spread = np.zeros((extra.shape[0], a.shape[1]))
        spread[:, shares_change] = extra
        found += list(spread)
    return _clean(np.array(found))


def _differs(x: FloatArray, f: FloatArray) -> NDArray[np.bool_]:
    """Whether one end's limit is another than the other's: x / f is not constant."""
    return np.asarray(np.abs(x[0] * f[1] - x[1] * f[0]) > 1e-12 * np.abs(x[0] * f[1]))


def _beside(jump: FloatArray) -> list[FloatArray]:
    return [jump, jump - BESIDE, jump + BESIDE]


def _where_fuels_keep_their_shares(
    a: FloatArray, b: FloatArray, o: FloatArray, f: FloatArray, su: FloatArray, so: FloatArray
) -> list[FloatArray]:
    """Kinks and crossings of the sloping boundary if one limit holds along the whole line."""
    rich_end = f[1] >= f[0]
    air = np.where(rich_end, f[1] / su[1], f[0] / su[0])
    pure = np.maximum(np.where(rich_end, f[1] / so[1], f[0] / so[0]), air)
    left, right = OXYGEN_IN_AIR * (1 - air), 1 - pure
    found = [(left - o[0]) / (o[1] - o[0]), *_beside((right - o[0]) / (o[1] - o[0]))]
    slope = np.where(right > left, (pure - air) / (right - left), 0.0)
    for ratio in (a, b):
        found += _roots(ratio, f, air + slope * (o - left))
    return found


def _where_fuels_change(
    a: FloatArray, b: FloatArray, o: FloatArray, f: FloatArray, su: FloatArray, so: FloatArray
) -> list[FloatArray]:
    """Kinks, crossings and summits of the sloping boundary if the limits change on the way.

    With the limits F/su in air and F/so in oxygen the boundary over the fuel is Q / D,
    Q = so (1 - o) - 0.7905 F - su (0.2095 - o) and D = (so - F) su - 0.2095 (su - F) so,
    both of second degree along the line; where it equals a ratio a cubic vanishes.
    """
    air = OXYGEN_IN_AIR
    found = [(su[0] - so[0]) / (su[0] - so[0] - su[1] + so[1])]
    for jump in (*_roots(o - air, su, -air * f), *_roots(1 - o, so, f)):
        found += _beside(jump)
    q = _product(so, 1 - o) - _product(su, air - o)
    q[:2] -= (1 - air) * np.array([f[0], f[1] - f[0]])
    d = _product(so - f, su) - air * _product(su - f, so)
    found += _quadratic(q[2] * d[1] - q[1] * d[2], 2 * (q[2] * d[0] - q[0] * d[2]),
                        q[1] * d[0] - q[0] * d[1])  # fmt: skip
    for ratio in (a, b):
        step = ratio[1] - ratio[0]
        cubic = np.zeros((4, a.shape[1]))
        cubic[:3] += ratio[0] * d - q
        cubic[1:] += step * d
        found += _cubic(cubic)
    return found


def _product(x: FloatArray, y: FloatArray) -> FloatArray:
    """Coefficients of x(t) y(t), lowest power first, of two values linear in t."""
    dx, dy = x[1] - x[0], y[1] - y[0]
    return np.array([x[0] * y[0], x[0] * dy + dx * y[0], dx * dy])


def _roots(ratio: FloatArray, x: FloatArray, limit: FloatArray) -> list[FloatArray]:
    """Places where ratio(t) x(t) = limit(t), all three linear in t."""
    r, q, p = _product(ratio, x)
    return _quadratic(p, q - (limit[1] - limit[0]), r - limit[0])


def _quadratic(p: FloatArray, q: FloatArray, r: FloatArray) -> list[FloatArray]:
    """Both roots of p t2 + q t + r, in the form that loses no digits when p is small."""
    root = np.sqrt(q * q - 4 * p * r)
    half = -0.5 * (q + np.where(q < 0, -1.0, 1.0) * root)
    return [half / p, r / half]


def _cubic(c: FloatArray) -> list[FloatArray]:
    """Every root in 0 … 1 of c0 + c1 t + c2 t2 + c3 t3, by halving between its turning points."""
    turns = np.sort(_clean(np.array(_quadratic(3 * c[3], 2 * c[2], c[1]))), axis=0)
    low = np.array([np.zeros_like(c[0]), *turns])
    high = np.array([*turns, np.ones_like(c[0])])
    rising = _polynomial(c, low) < _polynomial(c, high)
    for _ in range(53):
        middle = (low + high) / 2
        up = (_polynomial(c, middle) < 0) == rising
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    return [*low, *high]


def _polynomial(c: FloatArray, t: FloatArray) -> FloatArray:
    return np.asarray(((c[3] * t + c[2]) * t + c[1]) * t + c[0])
