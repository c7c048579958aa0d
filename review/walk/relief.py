"""The pressure that a relief lets an item reach: a thistle funnel, a liquid seal, a relief valve.

It opens at its stated pressure, and all that the supplies bring in that run then leaves through it,
a failed regulator's gas too: to where its item stands, or where its vent line leads.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review.interface.items import Gas
from review.interface.measure import FloatArray
from review.walk.flowing import Flow
from review.walk.graph import Graph
from review.walk.spilling import held_by
from review.walk.state import Moment


def relieved(at: Moment, flow: Flow) -> FloatArray:
    """Highest pressure of each item with the reliefs that it is connected with, Pa absolute.

    (items, runs), infinite or unknown where none protects it. An item is protected by its own
    relief, by one on each of the branches that come to it, or by one further on, as far as the way
    is open, and with what that way costs when all the gas takes it.
    """
    graph = at.resolved.graph
    if all(item.relief is None for item in at.resolved.scenario.train):
        return np.full((graph.size, at.runs.size), np.inf)
    gases = [brought(at, flow, i) for i in range(graph.size)]
    own = np.array([_opened(at, gas, i) for i, gas in enumerate(gases)])
    way = _Way.of(at, flow, gases)
    return np.fmin(_before(graph, flow, own, way), _behind(graph, flow, own, way))


def opened(at: Moment, pressure: FloatArray) -> NDArray[np.bool_]:
    """Where a relief lets gas out at these pressures of the items, (items, runs)."""
    out = np.zeros(pressure.shape, dtype=bool)
    for i, item in enumerate(at.resolved.scenario.train):
        if item.relief is not None:
            # To within rounding: a pressure that the relief itself sets counts.
            opens = at.number(f"train.{item.id}.relief.opens_at") * (1 - 1e-9)
            out[i] = ~(pressure[i] < opens)
    return out


def brought(at: Moment, flow: Flow, i: int) -> Gas:
    """All that every supply brings and every liquid boils off, as hot as in an item."""
    total = np.sum([*(feed for _, feed in flow.given.feeds), np.zeros_like(flow.start.inlet[i])], 0)
    # Vapour taken up and moles gained in reactions, as far as the gas flows in this run.
    moles = total.sum(axis=0)
    most = np.maximum(flow.middle.outlet, flow.end.outlet).sum(axis=1).max(axis=0)
    grown = np.divide(most, moles, out=np.ones_like(moles), where=moles != 0)
    total = total * np.fmax(grown, 1.0)
    hot = np.maximum(flow.hot[i], at.ambient_temperature)
    return at.resolved.properties.gas(total, hot, at.ambient_pressure)


def _opened(at: Moment, gas: Gas, i: int) -> FloatArray:
    """Pressure of an item whose own relief lets out all of this gas, Pa absolute, (runs,)."""
    if at.resolved.scenario.train[i].relief is None:
        return np.full(at.runs.size, np.inf)
    return held_by(at, gas, i)


@dataclass(frozen=True, slots=True)
class _Way:
    """What each item costs when all the gas passes it, (items, runs)."""

    losses: FloatArray
    """Its loss times the pressure behind it, Pa2: the same at any pressure."""
    heads: FloatArray
    """Liquid that the gas pushes aside, Pa."""
    one_way: NDArray[np.bool_]
    """Where nothing comes back through: a check valve, a dip tube under liquid."""

    @classmethod
    def of(cls, at: Moment, flow: Flow, gases: list[Gas]) -> _Way:
        """Of these gases at the room's pressure."""
        of = list(zip(at.resolved.graph.kinds, flow.views, gases, strict=True))
        losses = [np.where(g.total == 0, 0.0, kind.pressure_loss(v, g)) for kind, v, g in of]
        heads = np.array([kind.static_head(view) for kind, view, _ in of])
        held = np.array([kind.holds_back(view) for kind, view, _ in of])
        return cls(np.array(losses) * at.ambient_pressure, heads, (held > 0) | ~(heads <= 0))

    def through(self, i: int, behind: FloatArray) -> FloatArray:
        """Pressure before an item from the one behind it, Pa."""
        return np.asarray(np.sqrt(behind**2 + 2 * self.losses[i]) + self.heads[i])


def _behind(graph: Graph, flow: Flow, own: FloatArray, way: _Way) -> FloatArray:
    """Pressure of each item by its own relief or one further on, whichever is lower, Pa."""
    out, open_ = own.copy(), flow.given.open
    for k in reversed(graph.order):
        for m in graph.downstream[k]:
            open_way = flow.given.edges.get((k, m), np.ones_like(open_[k]))
            through = (open_[k] > 0) & (open_[m] > 0) & (open_way > 0)
            out[k] = np.fmin(out[k], np.where(through, way.through(k, out[m]), np.inf))
    return out


def _before(graph: Graph, flow: Flow, own: FloatArray, way: _Way) -> FloatArray:
    """Pressure of each item by its own relief or those before it, the highest of them, Pa.

    Gas that is fed in after a relief goes back to it, where it can, and that costs too.
    """
    out, back, open_ = own.copy(), own.copy(), flow.given.open
    fed = np.zeros_like(own, dtype=bool)
    for k, feed in flow.given.feeds:
        fed[k] |= feed.sum(axis=0) != 0
    for k in graph.order:
        if not graph.upstream[k]:
            continue
        kept, returned = [], []
        for j in graph.upstream[k]:
            open_way = flow.given.edges.get((j, k), np.ones_like(open_[k]))
            reached = (open_[j] > 0) & (open_way > 0)
            free = reached & ~way.one_way[j] & ~way.one_way[k]
            lost = np.sqrt(back[j] ** 2 + 2 * (way.losses[j] + way.losses[k]))
            kept.append(np.where(reached, out[j], np.inf))
            returned.append(np.where(free, lost, np.inf))
            fed[k] |= fed[j] & np.isinf(own[j])
        back[k] = np.fmin(own[k], np.max(returned, axis=0))
        out[k] = np.fmin(own[k], np.where(fed[k], back[k], np.max(kept, axis=0)))
    return out
