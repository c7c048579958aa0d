"""The flow stage: what goes where in one step, at its start and at its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.boiling import Boiling, boiling, boiling_point, held_moles, with_left
from review.walk.charge import WHILE_IT_FROTHS, at_once, left
from review.walk.feeds import feed_flows
from review.walk.heating import Heating, cryogen, poured_into
from review.walk.pumps import sucked
from review.walk.resolve import AIR
from review.walk.spilling import passed_on
from review.walk.state import Moment
from review.walk.train import Conditions, Flowing, can_leave, solve
from review.walk.valves import positions
from review.walk.views import item_views

#: How often what goes on past a relief is worked out again, each time nearer to it from above.
SPILLS = 4


@dataclass(frozen=True, slots=True)
class Flow:
    """The train in flow. Arrays (items, runs), with species in between where said."""

    views: list[ItemView]
    boiling: Boiling
    feeds: dict[str, FloatArray]
    """Molar flow of each species in each declared flow, (species, runs), mol/s."""
    charge: FloatArray
    """(flows, runs) what the step finds of each flow's charge, mol; infinite without one."""
    drawn: FloatArray
    """(flows, runs) what each flow has brought by the end of the step, mol."""
    targets: dict[str, int]
    """Item each flow enters."""
    built: FloatArray
    """1 where an item's own way is open but for a blockage."""
    given: Conditions
    spills: dict[int, FloatArray]
    """1 where the relief of an item takes what a failed regulator brings and the train does not."""
    start: Flowing
    middle: Flowing
    """Warm, and before any liquid has ended; the end where none ends in this step."""
    end: Flowing
    """Once a reactor is warm and where an absorbent is spent by the end of the step."""
    used: FloatArray
    """(items, species, runs) taken up by absorbents by the end of the step, mol."""
    volume: FloatArray
    """Gas volume, m3."""
    moving: FloatArray
    """1 where gas flows; a flow nobody knows counts, so what it brings is unknown, not absent."""
    hot_now: FloatArray
    """Hottest of wall and gas while it flows, K."""
    hot: FloatArray
    """The same, and what is left of the heat of steps before, K."""


def flowing(at: Moment, heat: Heating, known: dict[int, ItemView]) -> Flow:
    """Feeds, balances and temperatures of the step."""
    resolved, graph = at.resolved, at.resolved.graph
    views = item_views(resolved, at.runs, at.cell, heat, before=at.before, known=known)
    feeds, charge, drawn = _fed(at)
    views = [with_left(view, left) for view, left in zip(views, at.state.left, strict=True)]
    targets = {name: graph.ids.index(f.into) for name, f in resolved.scenario.flows.items()}
    built, edges = positions(at, [view.model.open for view in views])
    given = Conditions(
        edges=edges,
        feeds=[(targets[name], flow) for name, flow in feeds.items()],
        open=_open(views, built),
        outward=np.array([v.numbers["open_outward"] for v in views]),
        shares=_shares(graph.ids, views),
        heated=heat.heated,
        ambient_temperature=at.ambient_temperature,
        ambient_pressure=at.ambient_pressure,
        worked=resolved.worked,
    )
    given.sucked = sucked(at, views, given.open, feeds)
    leaves = can_leave(graph, given.open, given.outward, edges)
    boils = boiling(at, heat, views, leaves, given.sucked)
    views = _at_boiling(at, views, boils, heat)
    given.feeds += boils.feeds.items()
    solved = _solved(at, heat, views, given, boils)
    spills: dict[int, FloatArray] = {}
    on = feeds
    for _ in range(SPILLS if given.sucked is None else 0):
        shares, spilt = passed_on(at, views, on, feeds, targets, solved[0])
        if not any(each.any() for each in spilt.values()):
            break
        spills = spills or spilt
        on = {name: feed * shares.get(name, 1.0) for name, feed in on.items()}
        passed = [*((targets[name], feed) for name, feed in on.items()), *boils.feeds.items()]
        solved = _solved(at, heat, views, replace(given, feeds=passed), boils)
    start, middle, end, used = solved
    moving = ((start.inlet.sum(axis=1) != 0) | (start.outlet.sum(axis=1) != 0)).astype(float)
    hot_now = np.maximum(start.wall_hot, np.where(moving > 0, start.gas_in, 0.0))
    hot = hot_now.copy()
    for i in heat.heated:
        hot[i] = np.maximum(at.state.high[i], hot_now[i])
    return Flow(
        views=views,
        boiling=boils,
        feeds=feeds,
        charge=charge,
        drawn=drawn,
        targets=targets,
        built=built,
        given=given,
        spills=spills,
        start=start,
        middle=middle,
        end=end,
        used=used,
        volume=np.array([k.volume(v) for k, v in zip(graph.kinds, views, strict=True)]),
        moving=moving,
        hot_now=hot_now,
        hot=np.maximum(hot_now, hot),
    )


def _fed(at: Moment) -> tuple[dict[str, FloatArray], FloatArray, FloatArray]:
    """Every flow, what its charge was and what it has drawn by the end of the step.

    What a generator's charge has given it cannot give again. Flows that share one in a step each
    count as if alone, which is never too little.
    """
    feeds = feed_flows(at.resolved, at.runs, at.cell, before=at.before)
    charge = left(at.resolved, at.number, at.state.drawn)
    drawn = at.state.drawn.copy()
    poured = _poured(at)
    for n, (name, feed) in enumerate(feeds.items()):
        total = feed.sum(axis=0)
        slower = (poured[n] <= total) | (total <= 0)
        feed = feed * np.where(slower, 1.0, poured[n] / np.where(slower, 1.0, total))
        feeds[name] = np.where(charge[n] == 0, 0.0, feed)
        total = feeds[name].sum(axis=0)
        given = np.where(total == 0, 0.0, total * at.duration)
        # A flow that nobody knows has used nothing up.
        drawn[n] += np.minimum(np.nan_to_num(given, nan=0.0), charge[n])
    return feeds, charge, drawn


def _poured(at: Moment) -> FloatArray:
    """What a generator gives whose whole charge meets or is heated at once, mol/s; else 0."""
    names = at.resolved.scenario.flows
    which = [at.number(f"flows.{name}.poured") for name in names]
    if not any(each.any() for each in which):
        return np.zeros((len(names), at.runs.size))
    once = at_once(at.resolved, at.number, overheated=True) / WHILE_IT_FROTHS
    return np.where(np.array(which) > 0, once, 0.0)


def _at_boiling(
    at: Moment, views: list[ItemView], boils: Boiling, heat: Heating
) -> list[ItemView]:
    """No liquid is hotter than it boils, nor the wall it wets for as long as any is left."""
    out = list(views)
    for n in poured_into(at):
        point = boiling_point(at.resolved.worked, views[n], at.ambient_pressure)
        most = np.maximum(point, at.ambient_temperature)
        bath = {"bath_temperature": np.minimum(heat.bath[n], most)}
        out[n] = replace(views[n], numbers={**views[n].numbers, **bath})
    for i, point in boils.points.items():
        if cryogen(at, i):
            cold = np.where(point < at.ambient_temperature, point, np.nan)
            heat.cold[i] = np.fmin(heat.cold[i], cold)
        out[i] = replace(views[i], boils_at=point)
        if i in heat.heated:
            cap = np.where(np.isfinite(point), boils.wall[i], np.inf)
            heat.heated[i] = np.minimum(heat.heated[i], cap)
            heat.high[i] = np.minimum(heat.high[i], cap)
            heat.low[i] = np.minimum(heat.low[i], np.minimum(cap, point))
    return out


def _solved(
    at: Moment, heat: Heating, views: list[ItemView], given: Conditions, boiled: Boiling
) -> tuple[Flowing, Flowing, Flowing, FloatArray]:
    """The train at the start of the step, while it is warm and wet, and at its end.

    Last, what absorbents hold by then. A liquid may end when a reactor has long been warm.
    """
    resolved, graph = at.resolved, at.resolved.graph
    spent = _spent(views, at.state.used)
    passes = 2 if any(v.vapours for v in views) else 1
    start = solve(graph, views, resolved.properties, given, spent, passes)
    later = {i: replace(views[i], active=a) for i, a in heat.active.items() if views[i].reactions}
    end_views = [later.get(i, view) for i, view in enumerate(views)]
    wet_views, wet = list(end_views), replace(given, feeds=list(given.feeds))
    there = _all_there_is(at, views, given, boiled)
    dry = _dry(at, start, end_views, given, boiled.back)
    warms = any(not np.array_equal(heat.started[i], heat.active[i]) for i in later)
    middle = solve(graph, wet_views, resolved.properties, wet, spent, passes) if warms else start
    end = solve(graph, end_views, resolved.properties, given, spent, passes) if dry else middle
    most = np.max([_bound(views, each) for each in (start, middle, end)], axis=0)
    # What comes all at once is gone within a minute, whatever the step.
    comes = np.where((_poured(at) > 0).any(axis=0), WHILE_IT_FROTHS, np.inf)
    comes_in = np.where(most == 0, 0.0, most * np.minimum(at.duration, comes))
    used = at.state.used + np.minimum(comes_in, there)  # NaN stays
    spent_end = _spent(views, used)
    if not np.array_equal(spent_end, spent):
        end = solve(graph, end_views, resolved.properties, given, spent_end, passes)
        middle = end
        if dry:
            middle = solve(graph, wet_views, resolved.properties, wet, spent_end, passes)
    return start, middle, end, used


def _all_there_is(
    at: Moment, views: list[ItemView], given: Conditions, boiled: Boiling
) -> FloatArray:
    """Most of each species that a step can bring anywhere, mol, (species, runs).

    Of what no flow, pump, air or reaction brings, all that liquids held when fresh; else infinite.
    """
    fed = [flow for i, flow in given.feeds if flow is not boiled.feeds.get(i)]
    fed += [abs(each.coefficients)[:, None] for view in views for each in view.reactions]
    free = np.array([s.name in (*AIR, "water", "carbon dioxide") for s in at.resolved.species])
    free |= given.sucked is not None
    for flow in fed:
        free |= ~(flow == 0).all(axis=1)
    held = held_moles(at.resolved, at.number).sum(axis=0)
    return np.where(free[:, None] | np.isnan(held), np.inf, held)


#: What is left when all else has boiled away does not boil by itself where it was no more than this
#: share of the vapour: it lies far below its own boiling point, and evaporates.
TRACE = 1e-5


def _dry(
    at: Moment,
    start: Flowing,
    views: list[ItemView],
    given: Conditions,
    back: Mapping[int, FloatArray],
) -> bool:
    """Whether a liquid ends before the step does; `views` and the feeds are then without it."""
    found = False
    for i, view in enumerate(views):
        if not view.vapours:
            continue
        fed = sum((flow for k, flow in given.feeds if k == i), np.zeros_like(start.inlet[i]))
        rate = np.zeros_like(fed)
        ids = [v.species for v in view.vapours]
        rate[ids] = (start.outlet[i] - start.inlet[i])[ids]
        boils = np.isfinite(view.boils_at) if view.boils_at is not None else False
        rate = np.where(boils, fed - back.get(i, 0.0), rate)
        left = at.state.left[i]
        ends = np.where(rate > 0, rate * at.duration, 0.0) > left * (1 + 1e-9)
        if ends.any():
            found = True
            views[i] = with_left(view, np.where(ends, 0.0, left))
            others = np.where(ends, 0.0, fed).sum(axis=0)
            gone = (ends | (others <= TRACE * fed.sum(axis=0))) & boils
            given.feeds[:] = [
                (k, np.where(gone, 0.0, flow) if k == i else flow) for k, flow in given.feeds
            ]
    return found


def _open(views: list[ItemView], built: FloatArray) -> FloatArray:
    blocked = np.array([np.minimum(view.numbers["blocked"], 1.0) for view in views])
    return np.asarray(built * (1 - blocked))


def _shares(ids: tuple[str, ...], views: list[ItemView]) -> dict[tuple[int, int], FloatArray]:
    return {
        (ids.index(source), k): view.numbers[f"share.{source}"]
        for k, view in enumerate(views)
        for source in view.model.share
    }


def _bound(views: list[ItemView], flowing: Flowing) -> FloatArray:
    """What absorbents bind, mol/s (items, species, runs): of a gas that nobody counts on, all."""
    out = flowing.absorbed.copy()
    for i, view in enumerate(views):
        meant = {a.species for a in view.absorptions}
        for k in {k for a in view.absorptions for k, _ in a.rivals} - meant:
            out[i, k] = flowing.inlet[i, k]
    return out


def _spent(views: list[ItemView], used: FloatArray) -> FloatArray:
    """1 where an absorbent is used up; unknown capacity counts as used up from the start."""
    out = np.zeros_like(used)
    for i, view in enumerate(views):
        for a in view.absorptions:
            out[i, a.species] = np.where(a.used(used[i]) < a.capacity, 0.0, 1.0)
    return out
