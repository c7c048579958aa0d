"""Wind on an open end: how far it pushes air in, and which liquids it can lift.

A gust stands on the end with the pressure of its speed. It squeezes all gas that is joined to the
end and air takes the room, for a moment even against a flow. A check valve stops it, and a liquid
that it cannot lift.
"""

from __future__ import annotations

import numpy as np

from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics import openings
from review.walk.flowing import Flow
from review.walk.state import Moment

#: Gust after gust mixes the front: air is found so many times as far in as one pushes it (a
#: judgement, no source).
FRONT = 2.0


def gusts(at: Moment, flow: Flow) -> FloatArray:
    """Pressure with which wind stands on the gas behind each item, Pa, (items, runs)."""
    graph, room = at.resolved.graph, at.ambient_pressure
    density = openings.AIR_MASS * room / (gas_physics.R * at.ambient_temperature)
    out = np.zeros_like(flow.moving)
    onto = np.zeros_like(flow.moving)
    if not any(at.runs.changes(f"train.{name}.wind") for name in graph.ids):
        return out
    for i in reversed(graph.order):
        if graph.kinds[i].is_end:
            speed = at.number(f"train.{graph.ids[i]}.wind")
            out[i] = np.where(np.isnan(speed), 0.0, openings.wind_pressure(speed, density))
        for k in graph.downstream[i]:
            way = flow.given.edges.get((i, k), 1.0)
            out[i] = np.maximum(out[i], onto[k] * (way > 0))
        kind, view = graph.kinds[i], flow.views[i]
        held = (kind.seal_head(view) >= out[i]) | (kind.holds_back(view) > 0)
        onto[i] = np.where(held & (not kind.is_end), 0.0, out[i]) * (flow.given.open[i] > 0)
    return out


def blown(at: Moment, flow: Flow, gust: FloatArray) -> tuple[FloatArray, FloatArray]:
    """1 where a gust brings air: to the heated zone of each item, and all through it.

    What is not known lets it in: a volume before the end counts as none, one behind it as endless.
    """
    graph, room = at.resolved.graph, at.ambient_pressure
    inside, through = np.zeros_like(gust), np.zeros_like(gust)
    if not gust.any():
        return inside, through
    left = np.zeros_like(gust)
    for i in reversed(graph.order):
        view = flow.views[i]
        before = flow.volume[list(graph.all_upstream(i))].sum(axis=0)
        pushed = FRONT * openings.blown_in(gust[i], room, before)
        if not graph.kinds[i].is_end:
            ahead = [np.where(gust[k] > 0, left[k], 0.0) for k in graph.downstream[i]]
            pushed = np.max(ahead, axis=0, initial=0.0)
        bare = graph.kinds[i].cooling_length(view, flow.given.heated.get(i) is not None)
        cold = 0.0 if bare is None or not view.has("length") else bare / view.get("length")
        own = np.nan_to_num(flow.volume[i], nan=0.0)
        there = (gust[i] > 0) & ~(pushed <= 0)
        heated = flow.given.heated.get(i) is not None
        inside[i] = there & ~(pushed <= (own * cold if heated else 0.0))
        left[i] = np.where(there, pushed - own, 0.0)
        through[i] = there & ~(left[i] <= 0)
    return inside, through
