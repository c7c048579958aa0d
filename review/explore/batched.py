"""Many settings of one file as the runs of one batch, without failures, judged run by run.

Quick where nothing but numbers differs from setting to setting. `Batched.of` checks that on the
corners of the range, and reviews of the changed files at some points say whether the batch speaks
the truth; where it does not, it is not used. What no file may hold, such as a set temperature above
the hottest that is stated, bounds the range of each number, and is wrong input beyond.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from review.explore.points import NO_FILE, Blocker, Point, Points, Turned, blockers, refused
from review.explore.two import Map, over
from review.interface.plugin import Overlay
from review.interface.result import Review, Verdict
from review.judge.grading import BY_SEVERITY, TOLERABLE, UNACCEPTABLE, UNDETERMINED
from review.judge.verdict import verdict
from review.scenario import InputError, Scenario, numbers

#: Runs walked together: what 2 GiB hold of a set-up of a dozen items.
BATCH = 1000
#: Coarse points along each number of a map, how often a square is quartered: 200 steps in all; and
#: places on the boundary that are reviewed as changed files.
COARSE, QUARTERED, CONFIRMED = 26, 3, 8
#: Numbers that a file and an overlay give agree to this, as written with nine digits.
AGREES = 1e-6
#: In the order of the grades that they go by.
VERDICTS: tuple[Verdict, ...] = (
    "may proceed", "may proceed with conditions", "cannot be judged", "must not proceed",
)  # fmt: skip
Paths = Mapping[str, tuple[float, float]]
Mask = NDArray[np.bool_]


class Batched(Points):
    """Points of which `several` go through the engine as runs of one batch."""

    together = BATCH
    _engine: Any
    _scenario: Scenario
    _moved: Sequence[Paths]
    _base: Review
    _held: Sequence[tuple[float, float]]
    """From where to where a file may hold each number, the others as planned."""
    _refusals: dict[tuple[int, bool], Blocker]
    """What refuses a file below (False) or above (True) that, by number."""

    @classmethod
    def of(cls, points: Points, engine: Any, name: str) -> Self | None:
        """The same points for a batch; None where more than numbers would differ."""
        text = points.text(*(t.value for t in points.turned))
        scenario = engine.loads(text, name)
        if scenario.intent is not None:
            return None
        made = cls.__new__(cls)
        made.__dict__.update(points.__dict__)
        made._engine, made._scenario, made._refusals = engine, scenario, {}
        made._held = [made._holds(n, name) for n in range(len(points.turned))]
        if any(high <= low for low, high in made._held):
            return None
        try:
            made._moved = [made._moves(n, name) for n in range(len(points.turned))]
            if any(not made._agree(corner, name) for corner in made.corners()):
                return None
        except InputError:
            return None
        made._base = engine.review(scenario, upsets=False)
        ends = made._corners([(t.low, t.high) for t in points.turned])
        spots = [*made.corners(), *ends, tuple(t.value for t in points.turned)]
        quick = made.several(spots)
        true = [points.at(*spot) for spot in spots]
        same = all(a.verdict == b.verdict for a, b in zip(quick, true, strict=True))
        return made if same else None

    def corners(self) -> list[tuple[float, ...]]:
        """The corners of the range that a file may hold."""
        return self._corners(self._held)

    def several(self, settings: Sequence[tuple[float, ...]]) -> list[Point]:
        """Verdicts of many settings; what blocks is named, its value is not."""
        found = {s: Point(s, NO_FILE, (no,), np.nan) for s in settings if (no := self._refused(s))}
        left = [setting for setting in settings if setting not in found]
        for first in range(0, len(left), BATCH):
            some = left[first : first + BATCH]
            found |= zip(some, self._batch(some), strict=True)
        return [found[setting] for setting in settings]

    @staticmethod
    def _corners(ranges: Sequence[tuple[float, float]]) -> list[tuple[float, ...]]:
        found: list[tuple[float, ...]] = [()]
        for ends in ranges:
            found = [(*spot, end) for spot in found for end in ends]
        return found

    def _refused(self, setting: Sequence[float]) -> Blocker | None:
        """What refuses a file with this setting, if anything does."""
        for n, (value, (low, high)) in enumerate(zip(setting, self._held, strict=True)):
            if not low <= value <= high and (why := self._refusals.get((n, value > high))):
                return why
        return None

    def _holds(self, axis: int, name: str) -> tuple[float, float]:
        """From where to where a file may hold a number, the others as planned, within the range."""
        planned = [turned.value for turned in self.turned]

        def wrong(value: float) -> Blocker | None:
            try:
                self._read(self.text(*planned[:axis], value, *planned[axis + 1 :]), name)
            except InputError as error:
                return refused(error)
            return None

        found = []
        for upper, end in enumerate(_ends(self.turned[axis])):
            why, good, bad = wrong(end), planned[axis], end
            if why is not None:
                self._refusals[axis, bool(upper)] = why
                # As a file is written: a number that it may just hold is found as it stands there.
                while float(f"{good:.9g}") != float(f"{bad:.9g}"):
                    middle = float(f"{(good + bad) / 2:.9g}")
                    if middle in (good, bad):
                        break
                    good, bad = (middle, bad) if wrong(middle) is None else (good, middle)
            found.append(end if why is None else good)
        low, high = found
        return max(low, self.turned[axis].low), min(high, self.turned[axis].high)

    def _batch(self, settings: Sequence[tuple[float, ...]]) -> list[Point]:
        runs = [
            Overlay(f"setting:{n}", f"setting {n}", "plan", under=self._overlay(setting))
            for n, setting in enumerate(settings)
        ]
        graded = self._engine.graded(self._scenario, runs)
        judged = {criterion.id for (criterion, _, _), _ in graded}
        rest = [f for f in self._base.findings if f.criterion not in judged]
        levels = np.full(len(runs), VERDICTS.index(verdict(rest)) if rest else 0)
        blocked: list[tuple[Blocker, Mask]] = [
            (b, np.ones(len(runs), dtype=np.bool_))
            for b in blockers(self._base) if b.criterion not in judged
        ]  # fmt: skip
        for (criterion, at, of), codes in graded:
            if not criterion.blocks:
                codes = np.where(codes == UNDETERMINED, np.int8(TOLERABLE), codes)
            levels = np.maximum(levels, codes)
            for code in (UNDETERMINED, UNACCEPTABLE):
                if (mask := codes == code).any():
                    grade = BY_SEVERITY[code]
                    one = Blocker(criterion.id, criterion.title, at, of, "plan", "", "", grade,
                                  "as planned")  # fmt: skip
                    blocked.append((one, mask))
        return [
            Point(setting, VERDICTS[levels[n]], tuple(b for b, mask in blocked if mask[n]), np.nan)
            for n, setting in enumerate(settings)
        ]

    def _moves(self, axis: int, name: str) -> Paths:
        """Which numbers a setting changes, and to what at both ends of its range, SI."""
        low, high = (self._numbers(axis, end, name) for end in self._held[axis])
        return {path: (low[path], high[path]) for path in low if low[path] != high.get(path)}

    def _numbers(self, axis: int, value: float, name: str) -> Mapping[str, float]:
        values = [t.value for t in self.turned]
        values[axis] = value
        return numbers(self._read(self.text(*values), name))

    def _overlay(self, setting: Sequence[float]) -> dict[str, float]:
        """The numbers of a setting: each goes evenly with the value, or with a flow's share."""
        found: dict[str, float] = {}
        of = zip(self.turned, self._held, setting, self._moved, strict=True)
        for turned, held, value, moved in of:
            low, high, here = (_even(turned, v) for v in (*held, value))
            way = (here - low) / (high - low)
            found |= {path: a + way * (b - a) for path, (a, b) in moved.items()}
        return found

    def _agree(self, setting: Sequence[float], name: str) -> bool:
        """Whether a file with these values differs from the present one as the overlay does; in
        the middle of each number, too."""
        middle = [(low + 2 * v) / 3 for (low, _), v in zip(self._held, setting, strict=True)]
        known = numbers(self._scenario)
        for spot in (setting, middle):
            typed = numbers(self._read(self.text(*spot), name))
            turned = {**known, **self._overlay(spot)}
            if typed.keys() != turned.keys() or any(
                abs(typed[path] - turned[path]) > AGREES * abs(typed[path]) for path in typed
            ):
                return False
        return True


def _ends(turned: Turned) -> tuple[float, float]:
    return turned.low, turned.high


def _even(turned: Turned, value: float) -> float:
    """What the numbers of a file go evenly with."""
    return value / (1.0 + value) if turned.path.startswith("ratio of ") else value


def over_batch(
    points: Points, engine: Any, name: str,
    seen: Callable[[int, int], None] = lambda done, all: None,
) -> Map | None:  # fmt: skip
    """The map over two numbers, 200 steps each way, without failures; None where a batch does not
    say what reviews of changed files say.

    These are made at the corners, at the plan, and on both sides of the boundary at the place
    nearest to the plan and at `CONFIRMED` others.
    """
    batch = Batched.of(points, engine, name)
    if batch is None:
        return None
    found = over(batch, COARSE, QUARTERED, seen)
    scales = [t.high - t.low for t in points.turned]
    away = [math.dist([v / s for v, s in zip(one.values, scales, strict=True)],
                      [t.value / s for t, s in zip(points.turned, scales, strict=True)])
            for one, _ in found.edges]  # fmt: skip
    order = sorted(range(len(away)), key=lambda n: away[n])
    some = order[:1] + order[1 :: max(1, len(order) // CONFIRMED)]
    edges = list(found.edges)
    for n in some:
        one, other = (points.at(*point.values) for point in edges[n])
        if (one.verdict, other.verdict) != tuple(point.verdict for point in edges[n]):
            return None
        edges[n] = one, other
    return replace(found, edges=tuple(edges), reviewed=len(points.seen))
