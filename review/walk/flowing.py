"""The flow stage: what goes where in one step, at its start and at its end."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.feeds import feed_flows
from review.walk.heating import Heating
from review.walk.state import Moment
from review.walk.train import Conditions, Flowing, solve
from review.walk.views import item_views


@dataclass(frozen=True, slots=True)
class Flow:
    """The train in flow. Arrays (items, runs), with species in between where said."""

    views: list[ItemView]
    feeds: dict[str, FloatArray]
    """Molar flow of each species in each declared flow, (species, runs), mol/s."""
    targets: dict[str, int]
    """Item each flow enters."""
    given: Conditions
    start: Flowing
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
    views = item_views(
        resolved, at.runs, at.cell, heat.started, heat.heated, before=at.before, known=known
    )
    feeds = feed_flows(resolved, at.runs, at.cell, before=at.before)
    targets = {name: graph.ids.index(f.into) for name, f in resolved.scenario.flows.items()}
    given = Conditions(
        feeds=[(targets[name], flow) for name, flow in feeds.items()],
        open=_open(views),
        outward=np.array([v.numbers["open_outward"] for v in views]),
        shares=_shares(graph.ids, views),
        heated=heat.heated,
        ambient_temperature=at.ambient_temperature,
        ambient_pressure=at.ambient_pressure,
    )
    start, end, used = _solved(at, heat, views, given)
    moving = ((start.inlet.sum(axis=1) != 0) | (start.outlet.sum(axis=1) != 0)).astype(float)
    hot_now = np.maximum(start.wall_hot, np.where(moving > 0, start.gas_in, 0.0))
    hot = hot_now.copy()
    for i in heat.heated:
        hot[i] = np.maximum(at.state.high[i], hot_now[i])
    return Flow(
        views=views,
        feeds=feeds,
        targets=targets,
        given=given,
        start=start,
        end=end,
        used=used,
        volume=np.array([k.volume(v) for k, v in zip(graph.kinds, views, strict=True)]),
        moving=moving,
        hot_now=hot_now,
        hot=np.maximum(hot_now, hot),
    )


def _solved(
    at: Moment, heat: Heating, views: list[ItemView], given: Conditions
) -> tuple[Flowing, Flowing, FloatArray]:
    """The train at the start of the step and at its end, and what absorbents hold by then."""
    resolved, graph = at.resolved, at.resolved.graph
    spent = _spent(views, at.state.used)
    passes = 2 if any(v.vapours for v in views) else 1
    start = solve(graph, views, resolved.properties, given, spent, passes)
    later = {i: replace(views[i], active=a) for i, a in heat.active.items() if views[i].reactions}
    end_views = [later.get(i, view) for i, view in enumerate(views)]
    end = start
    if any(not np.array_equal(heat.started[i], heat.active[i]) for i in later):
        end = solve(graph, end_views, resolved.properties, given, spent, passes)
    most = np.maximum(start.absorbed, end.absorbed)
    used = at.state.used + np.where(most == 0, 0.0, most * at.duration)
    spent_end = _spent(views, used)
    if not np.array_equal(spent_end, spent):
        end = solve(graph, end_views, resolved.properties, given, spent_end, passes)
    return start, end, used


def _open(views: list[ItemView]) -> FloatArray:
    out = []
    for view in views:
        blocked = view.numbers["blocked"]
        out.append((1.0 if view.model.open else 0.0) * (1 - np.minimum(blocked, 1.0)))
    return np.array(out)


def _shares(ids: tuple[str, ...], views: list[ItemView]) -> dict[tuple[int, int], FloatArray]:
    return {
        (ids.index(source), k): view.numbers[f"share.{source}"]
        for k, view in enumerate(views)
        for source in view.model.share
    }


def _spent(views: list[ItemView], used: FloatArray) -> FloatArray:
    """1 where an absorbent is used up; unknown capacity counts as used up from the start."""
    out = np.zeros_like(used)
    for i, view in enumerate(views):
        for a in view.absorptions:
            with np.errstate(invalid="ignore"):
                out[i, a.species] = np.where(used[i, a.species] < a.capacity, 0.0, 1.0)
    return out
