"""What ``benchgate range`` says in words: intervals, the map, slices."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from review.explore.rounding import rounded

if TYPE_CHECKING:
    from review.explore.one import Along, End, Interval
    from review.explore.points import Blocker, Point, Turned
    from review.explore.three import Slices
    from review.explore.two import Map
    from review.render.page import Page

#: What a review calls the settings as stated, before any step.
STATED_PLAN = "stated settings"
#: So many things that nothing cures are told; the others are counted.
MOST = 5
#: How a verdict looks on the map; readable without colour.
SIGNS = {
    "may proceed": ".",
    "may proceed with conditions": "o",
    "cannot be judged": "?",
    "must not proceed": "#",
    "wrong input": "x",
}


def along_text(page: Page, turned: Turned, result: Along) -> None:
    plan = result.plan
    page.text(f"{turned.path}: now {turned.show(turned.value)}, {plan.verdict}.")
    page.text(f"Looked at {turned.show(turned.low)} to {turned.show(turned.high)}.")
    page.blank()
    several = result.intervals
    for n, interval in enumerate(several):
        before = several[n - 1] if n else None
        after = several[n + 1] if n + 1 < len(several) else None
        low, high = interval.low.value, interval.high.value
        ends = (
            turned.safely(low, before.high.value) if before else turned.show(low),
            turned.safely(high, after.low.value) if after else turned.show(high),
        )
        page.text(interval.verdict, label=f"{ends[0]} to {ends[1]}:")
        if interval.allowed:
            _end(page, "below", interval.low)
            _end(page, "above", interval.high)
    for reach in _reaches(result):
        low, high = (reach[0].low.value, reach[-1].high.value)
        if low <= turned.value <= high:
            page.text(f"From the plan it is allowed {_room(turned, low, high)}.")
    if not plan.allowed:
        page.text(_nearest(turned, result))
    if any(point.unmet for point in result.points):
        ranges = [f"{turned.show(low)} to {turned.show(high)}" for low, high in result.wanted]
        overlap = " and ".join(ranges) or "nowhere in this range"
        page.text(f"Allowed, and as you want it: {overlap}.")
    told = result.uncured[:MOST]
    for when in dict.fromkeys(blocker.when for blocker in told):
        page.text(f"No value of this cures, {when}:" if when else "No value of this cures:")
        for blocker in told:
            if blocker.when == when:
                page.text(f"{said(replace(blocker, when=''))}.", indent=4)
    if len(result.uncured) > MOST:
        page.text(f"and {len(result.uncured) - MOST} more.")


def _room(turned: Turned, low: float, high: float) -> str:
    """How far the plan is from each end of what is allowed around it."""
    gaps = (turned.value - low, high - turned.value)
    down, up = (rounded(gap, math.inf, least=3) for gap in gaps)
    ways = [
        f"{way} as far as was looked at" if open_ else f"{turned.show(gap)} {way}"
        for gap, way, open_ in ((down, "down", low <= turned.low), (up, "up", high >= turned.high))
    ]
    return " and ".join(ways)


def _nearest(turned: Turned, result: Along) -> str:
    """The allowed value nearest to a plan that is not allowed."""
    ends = [end.value for i in result.intervals if i.allowed for end in (i.low, i.high)]
    if not ends:
        return "No value that was looked at is allowed."
    best = min(ends, key=lambda value: abs(value - turned.value))
    return f"The nearest value that is allowed: {turned.safely(best, turned.value)}."


def _reaches(result: Along) -> list[list[Interval]]:
    """Allowed intervals that touch, together."""
    found: list[list[Interval]] = [[]]
    for interval in result.intervals:
        if interval.allowed:
            found[-1].append(interval)
        else:
            found.append([])
    return [reach for reach in found if reach]


def _end(page: Page, side: str, end: End) -> None:
    told = list(dict.fromkeys(said(blocker) for blocker in end.against))
    for text in told[:3]:
        page.text(f"{text}.", indent=4, label=f"{side}:")
    if len(told) > 3:
        page.text(f"and {len(told) - 3} more.", indent=4, label=f"{side}:")


def said(blocker: Blocker) -> str:
    if blocker.criterion == "input":
        return f"the file would contradict itself ({blocker.title}): change that too to look on"
    where = f" at {blocker.at}" if blocker.at else ""
    of = f" ({blocker.of})" if blocker.of else ""
    when = f", {blocker.when}" if blocker.when else ""
    step = f', step "{blocker.step}"' if blocker.step not in ("", STATED_PLAN) else ""
    return f"{blocker.title}{of}{where}{when}{step}"


def shown(result: Map, upright: int = 1) -> Map:
    """A map of at most some fifty columns, and rows `upright` times as far apart."""
    every = max(1, len(result.across) // 50)
    return result.thinned(every, every * upright if every > 1 else 1)


def map_text(chosen: list[Turned], result: Map) -> Iterable[str]:
    first, second = chosen
    whole, result = result, shown(result, 2)
    wide = 2 if len(result.across) < 30 else 1
    yield f"Across: {first.path}, {first.show(first.low)} to {first.show(first.high)}."
    yield f"Up: {second.path}, {second.show(second.low)} to {second.show(second.high)}."
    yield ""
    x, y = first.value, second.value
    wishes = any(point.unmet for point in points_of(result))
    for j in reversed(range(len(result.up))):
        signs = []
        for i in range(len(result.across)):
            point = result.rows[j][i]
            wanted = point is not None and point.allowed and wishes and not point.unmet
            signs.append(" " if point is None else "*" if wanted else SIGNS[point.verdict])
        if abs(result.up[j] - y) <= (result.up[1] - result.up[0]) / 2:
            nearest = min(range(len(result.across)), key=lambda i: abs(result.across[i] - x))
            signs[nearest] = "P"
        label = second.show(result.up[j]) if j % 4 == 0 else ""
        yield f"{label:>16} {''.join(sign * wide for sign in signs)}"
    yield f"{'':>16} {first.show(first.low)} … {first.show(first.high)}"
    yield ""
    told = [f"{sign} {verdict}" for verdict, sign in SIGNS.items()]
    yield "  ".join(["P plan", *told[:2]])
    yield "  ".join(told[2:])
    if wishes:
        yield "* allowed, and as you want it"
    yield from map_words(chosen, whole)


def slices_text(chosen: list[Turned], result: Slices) -> Iterable[str]:
    """For each value of the third number how much of the first two is allowed, and around what."""
    first, second, third = chosen
    yield f"Across: {first.path}, {first.show(first.low)} to {first.show(first.high)}."
    yield f"Up: {second.path}, {second.show(second.low)} to {second.show(second.high)}."
    yield f"Slices: {third.path}."
    yield f"The plan, {', '.join(t.show(t.value) for t in chosen)}: {result.plan.verdict}."
    yield ""
    for value, part in result.slices:
        spots = [point for row in part.rows for point in row if point is not None]
        allowed = sum(point.allowed for point in spots)
        yield f"{third.show(value)}: {allowed} of {len(spots)} settings allowed"
        if part.rectangle is not None:
            yield f"    together from {_within(first, second, part.rectangle)}"


def _within(first: Turned, second: Turned, rectangle: tuple[float, float, float, float]) -> str:
    """A rectangle of two numbers in words."""
    left, right, low, high = rectangle
    return (
        f"{first.show(left)} to {first.show(right)} and {second.show(low)} to {second.show(high)}"
    )


def map_words(chosen: list[Turned], result: Map) -> Iterable[str]:
    from review.explore.one import uncured

    first, second = chosen
    yield (
        f"The plan: {first.show(first.value)}, {second.show(second.value)}: {result.plan.verdict}."
    )
    everywhere = uncured([point for point in points_of(result) if point is not None])
    for blocker in everywhere[:4]:
        yield f"No setting of these two cures: {said(blocker)}."
    if len(everywhere) > 4:
        yield f"and {len(everywhere) - 4} more."
    if result.edges:
        inside, outside = min(result.edges, key=lambda edge: _away(chosen, edge[0]))
        where = ", ".join(t.show(v) for t, v in zip(chosen, inside.values, strict=True))
        yield f"The nearest boundary is at {where}: {inside.verdict}, then {outside.verdict}."
        worse = outside if inside.allowed else inside
        for blocker in worse.blockers[:2]:
            yield f"    There: {said(blocker)}."
    if result.rectangle is not None:
        left, right, low, high = result.rectangle
        within = _within(first, second, result.rectangle)
        cells = [
            (point, (x, y)) for y, row in zip(result.up, result.rows, strict=True)
            for x, point in zip(result.across, row, strict=True)
            if left <= x <= right and low <= y <= high
        ]  # fmt: skip
        looked = sum(point is not None and point.values == spot for point, spot in cells)
        how = "looked at" if result.batch else "reviewed"
        yield f"Allowed together: {within};"
        yield f"    {looked} of its {len(cells)} points were {how}, the others lie between these."


def _away(chosen: list[Turned], point: Point) -> float:
    """How far a point is from the plan, each number by its range."""
    parts = zip(chosen, point.values, strict=True)
    return sum(((v - t.value) / (t.high - t.low)) ** 2 for t, v in parts)


def points_of(result: Any) -> list[Point]:
    from review.explore.one import Along
    from review.explore.three import Slices

    if isinstance(result, Along):
        return list(result.points)
    maps = [part for _, part in result.slices] if isinstance(result, Slices) else [result]
    # Where nothing was reviewed stands the point whose verdict it takes.
    found = [point for part in maps for row in part.rows for point in row if point is not None]
    found += [point for part in maps for edge in part.edges for point in edge]
    return list({point.values: point for point in found}.values())
