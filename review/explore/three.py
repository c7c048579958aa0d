"""Three numbers: a table of slices, each a coarse map of two at one value of the third."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from review.explore.points import Point, Points
from review.explore.two import Map, over

#: Values of the third number, and the coarse grid of each slice.
SLICES, COARSE, QUARTERED = 5, 5, 1


@dataclass(frozen=True, slots=True)
class Slices:
    """Maps of the first two numbers by the value of the third; `whole` as of a map."""

    slices: tuple[tuple[float, Map], ...]
    plan: Point
    whole: bool


class _At(Points):
    """Points of three numbers at one value of the third."""

    def __init__(self, points: Points, third: float) -> None:
        self._all, self._third = points, third
        self.turned, self.seen = points.turned[:2], points.seen

    def at(self, *values: float) -> Point:
        """The review at these values and that of the slice."""
        return self._all.at(*values[:2], self._third)


def slices(
    points: Points, seen: Callable[[int, int], None] = lambda done, all: None, many: int = SLICES
) -> Slices:
    """A map of the first two numbers at `many` even values of the third and at the plan's own."""
    third = points.turned[2]
    even = {third.low + (third.high - third.low) * n / (many - 1) for n in range(many)}
    values = sorted(even | ({third.value} if third.low <= third.value <= third.high else set()))
    plan = points.at(*(t.value for t in points.turned))
    expected = len(values) * COARSE * COARSE
    found: list[tuple[float, Map]] = []
    for value in values:
        part = over(_At(points, value), COARSE, QUARTERED,
                    lambda done, all: seen(len(points.seen), expected), edges=False)  # fmt: skip
        found.append((value, part))
        if not part.whole:
            return Slices(tuple(found), plan, False)
    return Slices(tuple(found), plan, True)
