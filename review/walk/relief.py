"""The pressure that a relief lets an item reach: a thistle funnel, a liquid seal, a relief valve.

It opens at its stated pressure, and all that the supplies bring then leaves through it, into the
place where its item stands; what that does to people is the same as of a joint that opens there.
"""

from __future__ import annotations

import numpy as np

from review.interface.measure import FloatArray
from review.physics.flow import line_loss, upstream_pressure
from review.walk.flowing import Flow
from review.walk.graph import Graph
from review.walk.state import Moment

#: Sharp entrance and exit of its tube, velocity heads (Crane Technical Paper 410, from memory).
ENTRANCE_AND_EXIT = 1.5


def relieved(at: Moment, flow: Flow) -> FloatArray:
    """Highest pressure of each item with the reliefs that it is connected with, Pa absolute.

    (items, runs), infinite where none protects it. An item is protected by its own relief, by one
    on each of the branches that come to it, or by one further on, as far as the way is open.
    """
    graph, open_ = at.resolved.graph, flow.given.open
    own = np.array([_opened(at, flow, i) for i in range(graph.size)])
    if np.isinf(own).all():
        return own
    before, behind = own.copy(), own.copy()
    for k in graph.order:
        if graph.upstream[k]:
            each = [np.where(open_[j] > 0, before[j], np.inf) for j in graph.upstream[k]]
            before[k] = np.minimum(before[k], np.max(each, axis=0))
    for k in reversed(graph.order):
        for m in graph.downstream[k]:
            through = (open_[k] > 0) & (open_[m] > 0)
            behind[k] = np.minimum(behind[k], np.where(through, behind[m], np.inf))
    return np.asarray(np.minimum(before, behind))


def opens(graph: Graph, at: Moment, pressure: FloatArray) -> FloatArray:
    """1 where a relief is open already as the gas flows, (items, runs)."""
    out = np.zeros_like(pressure)
    for i, name in enumerate(graph.ids):
        if at.resolved.scenario.train[i].relief is not None:
            out[i] = ~(pressure[i] < at.number(f"train.{name}.relief.opens_at"))
    return out


def _opened(at: Moment, flow: Flow, i: int) -> FloatArray:
    """Pressure of an item whose own relief lets out all that every supply brings."""
    if at.resolved.scenario.train[i].relief is None:
        return np.full(at.runs.size, np.inf)
    path = f"train.{at.resolved.graph.ids[i]}.relief."
    bore, length = at.number(f"{path}bore"), at.number(f"{path}length")
    total = np.sum([*flow.feeds.values(), np.zeros_like(flow.start.inlet[i])], axis=0)
    hot = np.maximum(flow.hot[i], at.ambient_temperature)
    gas = at.resolved.properties.gas(total, hot, at.ambient_pressure)
    moving = gas.total != 0
    velocity = np.where(moving, gas.volume_flow, 0.0) / (np.pi / 4 * bore**2)
    density = np.where(moving, gas.density, 1.0)
    loss = line_loss(velocity, density, gas.viscosity, bore, length, 0.0, ENTRANCE_AND_EXIT)
    loss = np.where(moving, loss, 0.0)
    gauge = at.number(f"{path}opens_at") - at.ambient_pressure
    return np.asarray(upstream_pressure(at.ambient_pressure, loss) + gauge)
