"""Trains that are sucked: which items a pump draws on, and the pressures below the room's there.

A sink in place of sources. What flows is still said by the feeds, room air among them, so that the
balances stay as they are; the pump decides the pressure before it, how fast a liquid there can boil
away, and that joints leak inward.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics.flow import downstream_pressure
from review.walk.graph import Graph
from review.walk.properties import Properties


@dataclass(slots=True)
class Sucked:
    """Arrays (items, runs)."""

    on: FloatArray
    """1 where a pump that runs draws on the item."""
    lost: FloatArray
    """1 where a pump that should run does not."""
    fed: FloatArray
    """1 where room air flows in from before the item, which keeps it near the room's pressure."""
    lowest: FloatArray
    """Lowest pressure of that pump, Pa; of others the room's."""
    draws: FloatArray
    """Most that the pump draws, m3/s; infinite where nobody says."""

    def estimate(self, ambient: FloatArray) -> FloatArray:
        """Pressure of each item before any loss is known, Pa: never above what is reached."""
        return np.where((self.on > 0) & ~(self.fed > 0), self.lowest, ambient)


def pressures(
    graph: Graph,
    views: Sequence[ItemView],
    properties: Properties,
    drawn: Sucked,
    room: FloatArray,
    flow: FloatArray,
    hottest: FloatArray,
) -> FloatArray:
    """Pressure at the inlet of each item that is sucked, Pa absolute, elsewhere the room's.

    From the inlet of the room air onwards, less every loss, and no lower than the pump reaches;
    where no room air comes, all of it at the pump's lowest.
    """
    inlet = drawn.estimate(room)
    left = inlet.copy()
    for i in graph.order:
        for j in graph.upstream[i]:
            inlet[i] = np.where(drawn.on[i] > 0, np.minimum(inlet[i], left[j]), inlet[i])
        inlet[i] = np.maximum(inlet[i], drawn.lowest[i])
        gas = properties.gas(flow[i], hottest[i], inlet[i])
        moving = gas.total != 0
        loss = np.where(moving, graph.kinds[i].pressure_loss(views[i], gas), 0.0)
        head = np.where(moving, graph.kinds[i].static_head(views[i]), 0.0)
        left[i] = downstream_pressure(np.maximum(inlet[i] - head, drawn.lowest[i]), loss)
        left[i] = np.maximum(np.nan_to_num(left[i], nan=0.0), drawn.lowest[i])
    return inlet


def leaking(graph: Graph, drawn: Sucked, opened: FloatArray, fuel: FloatArray) -> FloatArray:
    """1 where air is in what is sucked, from a joint here or before here, (items, runs).

    `opened` 1 where a joint has opened inward, `fuel` 1 where a feed brings what burns: of that,
    what every joint lets in by little is never left out. Where suction is lost, air or what drives
    the pump comes back.
    """
    own = np.maximum(drawn.on * np.maximum(opened, fuel), drawn.lost)
    out = own.copy()
    for i in graph.order:
        for j in graph.upstream[i]:
            out[i] = np.maximum(out[i], out[j])
    return out


def most_drawn(drawn: Sucked, i: int, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    """Most vapour that the pump takes away from an item, mol/s; infinite where none draws."""
    most = gas_physics.amount(pressure, drawn.draws[i], temperature)
    return np.where(drawn.on[i] > 0, most, np.inf)
