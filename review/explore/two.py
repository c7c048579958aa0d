"""Two numbers: the map of verdicts, refined only where it changes, and the largest rectangle."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from review.explore.between import between
from review.explore.points import Point, Points

Spot = tuple[int, int]
#: Coarse points along each number, and how often a square whose corners differ is quartered.
COARSE, QUARTERED = 9, 1
#: Boundaries on the lines of the grid are found to this share of the range.
FINE = 1e-3


@dataclass(frozen=True, slots=True)
class Map:
    """Verdicts on a grid: `rows[j][i]` at `across[i]` and `up[j]`; None where not looked at.

    `rectangle` is (low across, high across, low up, high up) around the plan, allowed at every
    point of the grid inside it, or None where the plan itself is not allowed.
    """

    across: tuple[float, ...]
    up: tuple[float, ...]
    rows: tuple[tuple[Point | None, ...], ...]
    plan: Point
    rectangle: tuple[float, float, float, float] | None
    whole: bool
    edges: tuple[tuple[Point, Point], ...] = ()
    """Neighbours of unlike verdict on the lines of the grid, `FINE` of a range apart at most."""
    reviewed: int = 0
    """How many settings were reviewed as changed files."""
    batch: int = 0
    """How many were looked at as runs of one batch."""
    coarse: int = COARSE
    """Points along each number at first: what is narrower than their distance may be missed."""

    def thinned(self, every: int, rows: int) -> Map:
        """Every so-manieth column, and row, to be shown."""
        several = tuple(row[::every] for row in self.rows[::rows])
        return replace(self, across=self.across[::every], up=self.up[::rows], rows=several)


def over(
    points: Points,
    coarse: int = COARSE,
    quartered: int = QUARTERED,
    seen: Callable[[int, int], None] = lambda done, all: None,
    *,
    edges: bool = True,
) -> Map:
    """The map over two numbers. Between corners of one verdict nothing more is reviewed.

    Squares whose four corners agree take their verdict; others are quartered, `quartered` times.
    With `edges` the boundary is then enclosed on the lines of the grid.
    """
    first, second = points.turned
    fine = (coarse - 1) * 2**quartered
    across = _even(first.low, first.high, fine)
    up = _even(second.low, second.high, fine)
    known: dict[Spot, Point] = {}
    filled: dict[Spot, Point] = {}
    whole = True

    def look(spots: set[Spot]) -> None:
        new = sorted(spots - known.keys(), key=lambda spot: spot[::-1])
        for some in (new[n : n + points.together] for n in range(0, len(new), points.together)):
            found = points.several([(across[i], up[j]) for i, j in some])
            known.update(zip(some, found, strict=True))
            seen(len(known), max(coarse * coarse, len(known)))

    plan = points.at(first.value, second.value)
    size = 2**quartered
    crossed: list[tuple[Point, Point]] = []
    try:
        squares = [(i, j) for j in range(0, fine, size) for i in range(0, fine, size)]
        while squares:
            look({(i + a, j + b) for i, j in squares for a in (0, size) for b in (0, size)})
            squares = _split(squares, size, known, filled)
            size //= 2
        for axis, one, other in _crossed(known) if edges and points.together == 1 else ():
            width = FINE * (first.high - first.low if axis == 0 else second.high - second.low)
            crossed.append(_enclosed(points, one, other, axis, width, seen, fine))
        if edges and points.together > 1:
            crossed = _enclosed_together(points, _crossed(known))
    except KeyboardInterrupt:
        whole = False
    cells = filled | known
    rows = tuple(tuple(cells.get((i, j)) for i in range(fine + 1)) for j in range(fine + 1))
    rectangle = _rectangle(rows, across, up, plan)
    batch = len(known) if points.together > 1 else 0
    return Map(across, up, rows, plan, rectangle, whole, tuple(crossed), len(points.seen), batch,
               coarse)  # fmt: skip


def _split(
    squares: Sequence[Spot], size: int, known: Mapping[Spot, Point], filled: dict[Spot, Point]
) -> list[Spot]:
    """The quarters of the squares whose corners differ; the others take their corners' verdict."""
    quarters = []
    for i, j in squares if size > 1 else ():
        corners = [known[i + a, j + b] for a in (0, size) for b in (0, size)]
        if len({corner.verdict for corner in corners}) > 1:
            quarters += [(i + a, j + b) for a in (0, size // 2) for b in (0, size // 2)]
            continue
        for a in range(size + 1):
            for b in range(size + 1):
                filled.setdefault((i + a, j + b), corners[0])
    return quarters


def _crossed(known: Mapping[Spot, Point]) -> list[tuple[int, Point, Point]]:
    """Neighbours of unlike verdict: along the first number, and along the second where the boundary
    crosses no line of the first nearby."""
    rows = [(i, j) for i, j in known if (i + 1, j) in known
            and known[i, j].verdict != known[i + 1, j].verdict]  # fmt: skip
    near = {(i + a, j + b) for i, j in rows for a in (0, 1) for b in (-1, 0)}
    columns = [(i, j) for i, j in known if (i, j + 1) in known and (i, j) not in near
               and known[i, j].verdict != known[i, j + 1].verdict]  # fmt: skip
    return [(0, known[i, j], known[i + 1, j]) for i, j in sorted(rows)] + [
        (1, known[i, j], known[i, j + 1]) for i, j in sorted(columns)
    ]


def _enclosed(
    points: Points, one: Point, other: Point, axis: int, width: float,
    seen: Callable[[int, int], None], fine: int,
) -> tuple[Point, Point]:  # fmt: skip
    left, right = one, other
    for middle in between(points, one, other, axis, width):
        seen(len(points.seen), max(len(points.seen) + fine, COARSE * COARSE))
        left, right = (middle, right) if middle.verdict == left.verdict else (left, middle)
    return left, right


def _enclosed_together(
    points: Points, crossed: Sequence[tuple[int, Point, Point]]
) -> list[tuple[Point, Point]]:
    """Boundaries enclosed to `FINE`, each pair cut into even parts that are looked at together."""
    cuts: list[list[tuple[float, ...]]] = []
    for axis, one, other in crossed:
        turned = points.turned[axis]
        gap = other.values[axis] - one.values[axis]
        parts = math.ceil(gap / (FINE * (turned.high - turned.low)) - 1e-9)
        ends = [list(one.values) for _ in range(parts - 1)]
        for n, values in enumerate(ends, 1):
            values[axis] += gap * n / parts
        cuts.append([tuple(values) for values in ends])
    flat = [values for some in cuts for values in some]
    looked = dict(zip(flat, points.several(flat), strict=True))
    found = []
    for (_, one, other), some in zip(crossed, cuts, strict=True):
        way = [one, *(looked[values] for values in some), other]
        found += [next(pair for pair in pairwise(way) if pair[0].verdict != pair[1].verdict)]
    return found


def _even(low: float, high: float, parts: int) -> tuple[float, ...]:
    return tuple(low + (high - low) * n / parts for n in range(parts + 1))


def _rectangle(
    rows: tuple[tuple[Point | None, ...], ...],
    across: tuple[float, ...],
    up: tuple[float, ...],
    plan: Point,
) -> tuple[float, float, float, float] | None:
    """The rectangle of the grid with the largest area that holds the plan and is allowed."""
    if not plan.allowed:
        return None
    x, y = plan.values[:2]
    if not (across[0] <= x <= across[-1] and up[0] <= y <= up[-1]):
        return None
    i0 = max(i for i, value in enumerate(across) if value <= x)
    i1 = min(i for i, value in enumerate(across) if value >= x)
    j0 = max(j for j, value in enumerate(up) if value <= y)
    j1 = min(j for j, value in enumerate(up) if value >= y)
    best: tuple[float, tuple[float, float, float, float]] | None = None
    for low in range(j0, -1, -1):
        for high in range(j1, len(up)):
            columns = [
                all((point := rows[j][i]) is not None and point.allowed
                    for j in range(low, high + 1))
                for i in range(len(across))
            ]  # fmt: skip
            if not all(columns[i0 : i1 + 1]):
                continue
            left, right = i0, i1
            while left > 0 and columns[left - 1]:
                left -= 1
            while right + 1 < len(columns) and columns[right + 1]:
                right += 1
            area = (right - left) * (high - low)
            if best is None or area > best[0]:
                best = (area, (across[left], across[right], up[low], up[high]))
    return None if best is None else best[1]
