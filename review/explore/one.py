"""One number: where it is allowed, what ends that at each end, and what no value of it cures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from review.explore.between import between
from review.explore.points import NO_FILE, Blocker, Point, Points

#: Boundaries are found to this share of the range that is looked at.
FINE = 1e-3


@dataclass(frozen=True, slots=True)
class End:
    """One end of an interval: the last value inside and what stands against going on.

    `against` is empty at an end of the range that was looked at.
    """

    value: float
    against: tuple[Blocker, ...]


@dataclass(frozen=True, slots=True)
class Interval:
    """Values of one kind from end to end: allowed, or not."""

    allowed: bool
    verdict: str
    low: End
    high: End


@dataclass(frozen=True, slots=True)
class Along:
    """What is known along one number; `whole` is false where the search was broken off."""

    intervals: tuple[Interval, ...]
    plan: Point
    uncured: tuple[Blocker, ...]
    """What stands against the run at every value that was looked at."""
    points: tuple[Point, ...]
    whole: bool

    @property
    def wanted(self) -> tuple[tuple[float, float], ...]:
        """From where to where the run is allowed and what the user wants is had."""
        found: list[list[float]] = [[]]
        for point in self.points:
            if point.allowed and not point.unmet:
                found[-1].append(point.values[0])
            elif found[-1]:
                found.append([])
        return tuple((several[0], several[-1]) for several in found if several)


def along(
    points: Points, coarse: int = 17, seen: Callable[[int, int], None] = lambda done, all: None
) -> Along:
    """Reviews one number over its range, and every boundary to `FINE` of the range.

    `seen(done, expected)` is told of each review. KeyboardInterrupt ends the search with what is
    known so far.
    """
    (turned,) = points.turned
    low, high = turned.low, turned.high
    step = (high - low) / (coarse - 1)
    wanted = sorted({low + i * step for i in range(coarse)} | _inside(turned.value, low, high))
    rounds = 5

    def told() -> None:
        seen(len(points.seen), max(len(wanted) + 2 * rounds, len(points.seen) + 3))

    known: list[Point] = []
    whole = True
    plan = points.at(turned.value)
    try:
        for value in wanted:
            known.append(points.at(value))
            told()
        for left, right in list(zip(known, known[1:], strict=False)):
            if left.verdict != right.verdict:
                known += between(points, left, right, 0, FINE * (high - low), told)
            if bool(left.unmet) != bool(right.unmet):
                known += _wished(points, left, right, FINE * (high - low), told)
    except KeyboardInterrupt:
        whole = False
    known = sorted({p.values: p for p in known}.values(), key=lambda point: point.values)
    return Along(_intervals(known), plan, uncured(known), tuple(known), whole)


def _inside(value: float, low: float, high: float) -> set[float]:
    return {value} if low <= value <= high else set()


def _wished(
    points: Points, left: Point, right: Point, fine: float, told: Callable[[], None]
) -> list[Point]:
    """Both sides of where a wish is met or missed."""
    found = []
    while right.values[0] - left.values[0] > fine:
        middle = points.at((left.values[0] + right.values[0]) / 2)
        found.append(middle)
        told()
        left, right = (middle, right) if bool(middle.unmet) == bool(left.unmet) else (left, middle)
    return found


def _intervals(known: Sequence[Point]) -> tuple[Interval, ...]:
    groups: list[list[Point]] = []
    for point in known:
        if groups and groups[-1][-1].verdict == point.verdict:
            groups[-1].append(point)
        else:
            groups.append([point])
    out = []
    for n, group in enumerate(groups):
        before = groups[n - 1][-1] if n else None
        after = groups[n + 1][0] if n + 1 < len(groups) else None
        out.append(
            Interval(
                group[0].allowed,
                group[0].verdict,
                End(group[0].values[0], _new(before, group[0])),
                End(group[-1].values[0], _new(after, group[-1])),
            )
        )
    return tuple(out)


def _new(beyond: Point | None, inside: Point) -> tuple[Blocker, ...]:
    """What blocks just beyond an end and not inside it."""
    if beyond is None:
        return ()
    here = {blocker.same for blocker in inside.blockers}
    return tuple(b for b in beyond.blockers if b.same not in here)


def uncured(known: Sequence[Point]) -> tuple[Blocker, ...]:
    """Blockers of the first point that every point has; none where any point is allowed. What no
    file may hold is no point."""
    known = [point for point in known if point.verdict != NO_FILE]
    if not known or any(point.allowed for point in known):
        return ()
    everywhere = set.intersection(*({b.same for b in point.blockers} for point in known))
    found: dict[tuple[str, str, str], Blocker] = {}
    for blocker in known[0].blockers:
        if blocker.same in everywhere:
            found.setdefault(blocker.same, blocker)
    return tuple(found.values())
