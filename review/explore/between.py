"""Where a verdict changes between two reviewed points, by the values that cross their edges.

Between two points that differ in one number the criterion that changes its grade is taken to be
straight, and the next review is made where it would cross its edge. Each point is a review of its
own, so a wrong guess costs a review and never a wrong boundary; every third is in the middle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from review.explore.points import Point, Points


def between(
    points: Points, left: Point, right: Point, axis: int, fine: float,
    seen: Callable[[], None] = lambda: None,
) -> Iterator[Point]:  # fmt: skip
    """The points reviewed until two of unlike verdict are no further apart than `fine`.

    `left` and `right` differ in the number `axis` alone and in their verdicts; the last two of
    unlike verdict enclose the boundary.
    """
    turns = 0
    while (gap := right.values[axis] - left.values[axis]) > fine:
        share = 0.5 if turns % 3 == 2 else _crossing(left, right)
        # A little past the guess on the longer side, so that the next two points enclose it.
        nudge = 0.4 * fine / gap
        share += nudge if share < 0.5 else -nudge
        share = min(max(share, 0.8 * fine / gap), 1.0 - 0.8 * fine / gap) if gap > 2 * fine else 0.5
        values = list(left.values)
        values[axis] += share * gap
        middle = points.at(*values)
        seen()
        turns += 1
        if middle.verdict == left.verdict:
            left = middle
        else:
            right = middle
        yield middle


def _crossing(left: Point, right: Point) -> float:
    """The share of the way at which the first criterion changes its grade; a half: not known."""
    found = []
    for key in left.graded.keys() & right.graded.keys():
        (one, a, edge), (other, b, edge_there) = left.graded[key], right.graded[key]
        if one != other:
            for limit in (edge, edge_there):
                share = (limit - a) / (b - a) if b != a else math.nan
                if 0.0 < share < 1.0:
                    found.append(share)
                    break
    if not found:
        return 0.5
    return min(found) if left.allowed else max(found)
