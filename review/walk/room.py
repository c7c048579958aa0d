"""The air stage: what leaves the train's ends goes into the room or the hood, in plain physics.

The room is carried twice, because how well a hood catches is not the engine's to say: once with a
working hood catching everything that is let into it, once with the hood catching nothing.

The room's air is well mixed, slowed by the mixing factor where one is stated; without one it is
the far field of a two-zone room, whose near field a check adds beside the source (Nicas, Ann. Work
Expo. Health 68 (2024) 78: the far field is a well-mixed room of the whole volume, and the near
field lies above it by the release over the air that passes between them). In a room that is
filling, that far field is never below that of the coupled pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.measure import FloatArray
from review.physics.gas import R
from review.walk.feeds import escaping_fuel
from review.walk.flowing import Flow
from review.walk.state import Moment

#: How long the stated settings last where no duration is given: a working day, s.
WORKING_DAY = 8 * 3600.0


@dataclass(frozen=True, slots=True)
class Air:
    """Air around the train after a step, (species, runs)."""

    caught: FloatArray
    """Mole fractions in the room, hood catching everything."""
    uncaught: FloatArray
    """The same, hood catching nothing."""
    exhaust: FloatArray
    """Mole fractions of what the hood draws."""
    into_hood: FloatArray
    """What is let into the hood, m3/s at room conditions."""
    into_room: FloatArray
    """What is let into the room, m3/s at room conditions."""
    row_of_oxygen: int

    def oxygen(self, room: FloatArray) -> FloatArray:
        """Mole fraction of oxygen in such air, (runs,)."""
        return np.asarray(room[self.row_of_oxygen])


class Room:
    """The ventilation's numbers in one cell."""

    def __init__(self, at: Moment) -> None:
        number = at.number
        self.air = at.resolved.air
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
        self.duration = np.where(np.isnan(at.duration), WORKING_DAY, at.duration)
        ventilation = at.resolved.scenario.ventilation
        hood = None if ventilation is None else ventilation.hood
        #: Whether what the hood draws leaves the room.
        self.led_out = hood is None or not hood.returns


def airing(at: Moment, flow: Flow) -> Air:
    """Room and hood after the step.

    Well-mixed balance over the step: C = C_in + (C0 - C_in - G/Q) exp(-Q t/V) + G/Q, where gas let
    in pushes as much room air out; C0 where nothing comes in at all. NaN where the ventilation's
    figures are not given and something is let out there.
    """
    room, graph = Room(at), at.resolved.graph
    emitted = np.maximum(flow.start.outlet, flow.end.outlet)
    outward = np.nan_to_num(flow.given.outward, nan=0.0)
    molar_volume = R * at.ambient_temperature / at.ambient_pressure
    let_out = {"hood": np.zeros_like(emitted[0]), "room": np.zeros_like(emitted[0])}
    for i, kind in enumerate(graph.kinds):
        volume_flow = emitted[i] * molar_volume
        if not kind.is_end:
            let_out["room"] += np.where(outward[i] > 0, volume_flow, 0.0)
        elif graph.destinations[i] in let_out:
            let_out[graph.destinations[i]] += volume_flow
    escaping = escaping_fuel(at.resolved, at.runs, at.cell, before=at.before)
    let_out["room"] += escaping * molar_volume
    into_hood, into_room = let_out["hood"], let_out["room"]
    catching = (room.working > 0) & ~(room.hood_flow <= 0) & room.led_out
    missed = into_room + np.where(catching, 0.0, into_hood)
    return Air(
        caught=_filled(room, missed, at.state.room_caught),
        uncaught=_filled(room, into_room + into_hood, at.state.room_uncaught),
        exhaust=_exhaust(room, np.where(catching, into_hood, 0.0)),
        into_hood=into_hood,
        into_room=into_room,
        row_of_oxygen=int(np.argmin(np.where(room.air > 0, room.air, np.inf))),
    )


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
