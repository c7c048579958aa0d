"""Room and hood air: what leaves the train's ends goes somewhere, in the engine's plain physics.

The hood dilutes what is let into it by its air flow; the room is well mixed with a stated mixing
factor, filled from its ends for as long as the step lasts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from review.measure import FloatArray
from review.physics.gas import R

if TYPE_CHECKING:
    from review.resolve import Resolved, _reader
    from review.train import Graph


def start_room(air: FloatArray, size: int) -> FloatArray:
    """Fresh room air, (species, runs) mole fractions."""
    return np.broadcast_to(air[:, None], (air.size, size)).copy()


class Room:
    """The ventilation's numbers in one cell."""

    def __init__(self, resolved: Resolved, number: _reader, duration: FloatArray) -> None:
        self.air = resolved.air
        working = number("ventilation.working")
        changes = number("ventilation.air_changes")
        factor = number("ventilation.mixing_factor")
        self.volume = number("ventilation.room_volume")
        self.fresh = working * changes * self.volume / np.where(np.isnan(factor), 1.0, factor)
        opening = number("ventilation.hood.opening_width") * number(
            "ventilation.hood.opening_height"
        )
        self.hood_flow = working * opening * number("ventilation.hood.face_velocity")
        self.duration = duration
        self.temperature = number("ambient.temperature")
        self.pressure = number("ambient.pressure")


def room_step(
    room: Room, outlet: FloatArray, graph: Graph, before: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mole fractions in the hood's exhaust and in the room after the step.

    Well-mixed balance over the step: C = C_in + (C0 - C_in - G/Q) exp(-Q t/V) + G/Q, where gas let
    in pushes as much room air out; C0 where nothing comes in at all. Returns (hood, room), each
    (species, runs); NaN where the ventilation's figures are not given and something is let out
    there.
    """
    into_hood = np.zeros_like(before)
    into_room = np.zeros_like(before)
    working = room.hood_flow > 0
    for i, kind in enumerate(graph.kinds):
        if not kind.is_end:
            continue
        volume_flow = outlet[i] * R * room.temperature / room.pressure
        to = graph.destinations[i]
        if to == "hood":
            into_hood += np.where(working | np.isnan(room.hood_flow), volume_flow, 0.0)
            into_room += np.where(working | np.isnan(room.hood_flow), 0.0, volume_flow)
        elif to == "room":
            into_room += volume_flow
    air = room.air[:, None]
    total = into_hood.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        diluted = (into_hood + air * room.hood_flow) / (room.hood_flow + total)
    hood = np.where((total > 0) | np.isnan(total), diluted, air)
    leak = into_room.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        fresh = room.fresh + leak
        steady = (into_room + air * room.fresh) / fresh
        kept = np.exp(-fresh * room.duration / room.volume)
        filled = steady + (before - steady) * kept
    filled = np.where(fresh == 0, before, filled)
    undisturbed = (leak <= 0) & (np.abs(before - air) < 1e-15).all(axis=0)
    return hood, np.where(undisturbed, before, filled)
