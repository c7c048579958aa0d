"""The pumps of a train in one cell: which run, and what they draw on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.feeds import drawn_by, pumping
from review.walk.graph import Graph
from review.walk.state import Moment
from review.walk.suction import Sucked

#: A full vacuum, Pa: low enough that everything volatile boils, and no division by nothing.
FULL_VACUUM = 1.0


def sucked(
    at: Moment, views: Sequence[ItemView], open_: FloatArray, feeds: Mapping[str, FloatArray]
) -> Sucked | None:
    """What each pump of the train draws on in this cell; None of a train without one."""
    if all(item.suction is None for item in at.resolved.scenario.train):
        return None
    graph, size = at.resolved.graph, at.runs.size
    rows = (graph.size, size)
    out = Sucked(
        on=np.zeros(rows),
        lost=np.zeros(rows),
        fed=np.zeros(rows),
        lowest=np.broadcast_to(at.ambient_pressure, rows).copy(),
        draws=np.full(rows, np.inf),
    )
    for p, item in enumerate(at.resolved.scenario.train):
        if item.suction is None:
            continue
        running = pumping(at.resolved, item.id, at.cell, at.number)
        due = pumping(at.resolved, item.id, at.cell, at.number, broken=False)
        reach = _reach(graph, p, open_)
        on, lost = reach * (running > 0), reach * ((due > 0) & ~(running > 0))
        lowest = np.maximum(views[p].get("suction.lowest_pressure"), FULL_VACUUM)
        lowest = np.minimum(lowest, at.ambient_pressure)
        draws = views[p].get("suction.can_draw")
        out.lowest = np.where(on > 0, np.minimum(out.lowest, lowest), out.lowest)
        out.draws = np.where(on > 0, np.where(np.isnan(draws), np.inf, draws), out.draws)
        out.on, out.lost = np.maximum(out.on, on), np.maximum(out.lost, lost)
    if (out.on > 0).any():
        out.fed = _fed(at, open_, feeds)
    return out


def _reach(graph: Graph, pump: int, open_: FloatArray) -> FloatArray:
    """1 where an item has an open way to the pump, (items, runs); what is blocked feels it too."""
    reach = np.zeros_like(open_)
    before = set(graph.before[pump])
    for i in reversed(graph.order):
        if i not in before or i == pump:
            continue
        for k in graph.downstream[i]:
            through = open_[k] > 0 if k == pump else reach[k] * (open_[k] > 0)
            if k in before:
                reach[i] = np.maximum(reach[i], through)
    return reach


def _fed(at: Moment, open_: FloatArray, feeds: Mapping[str, FloatArray]) -> FloatArray:
    """1 where room air comes through, (items, runs)."""
    graph = at.resolved.graph
    comes = np.zeros_like(open_)
    for name, feed in feeds.items():
        if drawn_by(at.resolved, name):
            target = graph.ids.index(at.resolved.scenario.flows[name].into)
            comes[target] = np.maximum(comes[target], ~(feed.sum(axis=0) <= 0))
    for i in graph.order:
        for j in graph.upstream[i]:
            comes[i] = np.maximum(comes[i], comes[j])
        comes[i] = comes[i] * (open_[i] > 0)
    return comes
