"""What a train still passes on where a relief takes most of what a failed regulator lets through.

At the pressure that the relief holds while all of it leaves there no more can flow on than that
pressure drives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from review.interface.items import Gas, ItemView
from review.interface.measure import FloatArray
from review.physics.flow import line_loss, upstream_pressure
from review.walk.graph import Graph
from review.walk.state import Moment
from review.walk.train import Flowing

#: Sharp entrance and exit of its tube, velocity heads (Crane Technical Paper 410, from memory).
ENTRANCE_AND_EXIT = 1.5


def held_by(at: Moment, gas: Gas, i: int) -> FloatArray:
    """Pressure of an item whose own relief lets out all of this gas, Pa absolute, (runs,)."""
    path = f"train.{at.resolved.graph.ids[i]}.relief."
    bore, length = at.number(f"{path}bore"), at.number(f"{path}length")
    moving = gas.total != 0
    velocity = np.where(moving, gas.volume_flow, 0.0) / (np.pi / 4 * bore**2)
    density = np.where(moving, gas.density, 1.0)
    loss = line_loss(velocity, density, gas.viscosity, bore, length, 0.0, ENTRANCE_AND_EXIT)
    loss = np.where(moving, loss, 0.0)
    before = upstream_pressure(at.ambient_pressure, loss, velocity, density)
    return np.asarray(before + at.number(f"{path}opens_at") - at.ambient_pressure)


def passed_on(
    at: Moment,
    views: Sequence[ItemView],
    on: Mapping[str, FloatArray],
    feeds: Mapping[str, FloatArray],
    targets: Mapping[str, int],
    start: Flowing,
) -> tuple[dict[str, FloatArray], dict[int, FloatArray]]:
    """Of each flow behind a failed regulator, as far as it goes `on`, the share that does past a
    relief, (runs,), and the items with such reliefs, 1 in the runs in which they spill.

    Never too little goes on: what a pressure drives grows at most as the root of the difference of
    the squares (turbulent flow; laminar flow falls faster), liquid heads left out. Only the first
    relief on an unbranched cold way counts.
    """
    graph = at.resolved.graph
    shares: dict[str, FloatArray] = {}
    spills: dict[int, FloatArray] = {}
    for name, feed in on.items():
        failed = at.number(f"flows.{name}.regulator_failed") > 0
        i = _first_relief(graph, views, targets[name]) if failed.any() else None
        if i is None:
            continue
        reach = [n for n in feeds if targets[n] in graph.all_upstream(i)]
        brought = sum((feeds[n] for n in reach), np.zeros_like(feed))
        gas = at.resolved.properties.gas(brought, at.ambient_temperature, at.ambient_pressure)
        held, room, full = held_by(at, gas, i), at.ambient_pressure, start.pressure[i]
        own = feed.sum(axis=0)
        total = sum((on[n].sum(axis=0) for n in reach), np.zeros_like(own))
        most = np.sqrt((held**2 - room**2) / (full**2 - room**2)) * total
        share = np.clip((most - (total - own)) / own, 0.0, 1.0)
        spilt = failed & (held < full) & (start.leaves[i] > 0) & (own > 0) & (share < 1)
        shares[name] = np.where(spilt, share, 1.0)
        spills[i] = np.maximum(spills.get(i, np.zeros(at.runs.size)), spilt)
    return shares, spills


def _first_relief(graph: Graph, views: Sequence[ItemView], i: int) -> int | None:
    """The first item on from one that has a relief of its own, as far as the way neither branches
    nor joins and holds no liquid and nothing heats it."""
    while True:
        view = views[i]
        if view.heated is not None or view.reactions:
            return None
        if view.model.relief is not None:
            return i
        further = graph.downstream[i]
        if view.model.liquid is not None or len(further) != 1:
            return None
        if len(graph.upstream[further[0]]) != 1:
            return None
        i = further[0]
