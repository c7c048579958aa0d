"""Room and hood air: what leaves the train's ends goes somewhere, in the engine's plain physics.

The room is carried twice, because how well a hood catches is not the engine's to say: once with a
working hood catching everything that is let into it, once with the hood catching nothing. Rows of
the arrays, S species each, all over runs:

room  (2 S + 2)  mole fractions, hood catching all; the same, hood catching nothing; then for each
                 of the two the share of the air that is not oxygen, so that the largest of a step
                 is also the least oxygen
hood  (3 S)      mole fractions of the exhaust; what is let into the hood, m3/s at room conditions;
                 what is let into the room, m3/s

The room's air is well mixed, slowed by the mixing factor where one is stated; without one it is
the far field of a two-zone room, whose near field a check adds beside the source (Nicas, Ann. Work
Expo. Health 68 (2024) 78: the far field is a well-mixed room of the whole volume, and the near
field lies above it by the release over the air that passes between them). In a room that is
filling, that far field is never below that of the coupled pair.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from review.interface.measure import FloatArray
from review.physics.gas import R

if TYPE_CHECKING:
    from review.walk.feeds import Reader
    from review.walk.resolve import Resolved
    from review.walk.train import Graph

#: How long the stated settings last where no duration is given: a working day, s.
WORKING_DAY = 8 * 3600.0


def start_room(air: FloatArray, size: int) -> FloatArray:
    """Fresh room air, rows of the room as above, (2 species + 2, runs)."""
    oxygen = _oxygen(air)
    rows = np.concatenate([air, air, [1 - air[oxygen], 1 - air[oxygen]]])
    return np.broadcast_to(rows[:, None], (rows.size, size)).copy()


class Room:
    """The ventilation's numbers in one cell."""

    def __init__(self, resolved: Resolved, number: Reader, duration: FloatArray) -> None:
        self.air = resolved.air
        self.working = number("ventilation.working")
        changes = number("ventilation.air_changes")
        factor = number("ventilation.mixing_factor")
        self.volume = number("ventilation.room_volume")
        share = self.working / np.where(np.isnan(factor), 1.0, factor)
        # Without ventilation no air comes in, whether or not anyone stated how much would.
        self.fresh = np.where(self.working > 0, share * changes * self.volume, 0.0)
        opening = number("ventilation.hood.opening_width") * number(
            "ventilation.hood.opening_height"
        )
        self.hood_flow = self.working * opening * number("ventilation.hood.face_velocity")
        self.duration = np.where(np.isnan(duration), WORKING_DAY, duration)
        #: (items, runs): 1 where all gas leaves at a joint that has opened, into the room.
        opened = [number(f"train.{name}.open_outward") for name in resolved.graph.ids]
        self.outward = np.nan_to_num(np.array(opened), nan=0.0)
        #: (species, runs): gas that comes into the room from outside the train, mol/s.
        self.escaping = np.zeros((resolved.air.size, duration.size))
        self.temperature = number("ambient.temperature")
        self.pressure = number("ambient.pressure")


def room_step(
    room: Room, outlet: FloatArray, graph: Graph, before: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The hood's and the room's rows after the step.

    Well-mixed balance over the step: C = C_in + (C0 - C_in - G/Q) exp(-Q t/V) + G/Q, where gas let
    in pushes as much room air out; C0 where nothing comes in at all. NaN where the ventilation's
    figures are not given and something is let out there.
    """
    size = room.air.size
    let_out = {"hood": np.zeros_like(before[:size]), "room": np.zeros_like(before[:size])}
    for i, kind in enumerate(graph.kinds):
        volume_flow = outlet[i] * R * room.temperature / room.pressure
        if not kind.is_end:
            let_out["room"] += np.where(room.outward[i] > 0, volume_flow, 0.0)
        elif graph.destinations[i] in let_out:
            let_out[graph.destinations[i]] += volume_flow
    let_out["room"] += room.escaping * R * room.temperature / room.pressure
    into_hood, into_room = let_out["hood"], let_out["room"]
    catching = (room.working > 0) & ~(room.hood_flow <= 0)
    missed = into_room + np.where(catching, 0.0, into_hood)
    caught = _filled(room, missed, before[:size])
    uncaught = _filled(room, into_room + into_hood, before[size : 2 * size])
    oxygen = _oxygen(room.air)
    after = np.concatenate([caught, uncaught, [1 - caught[oxygen], 1 - uncaught[oxygen]]])
    exhaust = _exhaust(room, np.where(catching, into_hood, 0.0))
    return np.concatenate([exhaust, into_hood, into_room]), after


def _oxygen(air: FloatArray) -> int:
    """The row of oxygen: the lesser of air's two."""
    return int(np.argmin(np.where(air > 0, air, np.inf)))


def _exhaust(room: Room, into_hood: FloatArray) -> FloatArray:
    """Mole fractions of what the hood draws, (species, runs); air where nothing is let in."""
    air = room.air[:, None]
    total = into_hood.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        diluted = (into_hood + air * room.hood_flow) / (room.hood_flow + total)
    return np.where((total > 0) | np.isnan(total), diluted, air)


def _filled(room: Room, into_room: FloatArray, before: FloatArray) -> FloatArray:
    """Mole fractions in the room at the end of the step, (species, runs)."""
    air = room.air[:, None]
    leak = into_room.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        fresh = room.fresh + leak
        steady = (into_room + air * room.fresh) / fresh
        kept = np.exp(-fresh * room.duration / room.volume)
        filled = steady + (before - steady) * kept
    filled = np.where(fresh == 0, before, filled)
    undisturbed = (leak <= 0) & (np.abs(before - air) < 1e-15).all(axis=0)
    # What never came is not there, however little is known of the room.
    absent = (into_room == 0) & (before == 0) & (air == 0)
    return np.where(undisturbed, before, np.where(absent, 0.0, filled))
