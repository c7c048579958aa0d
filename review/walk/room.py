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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from review.interface.measure import FloatArray
from review.physics.gas import R
from review.walk.boiling import until_gone
from review.walk.feeds import escaping_fuel
from review.walk.flowing import Flow
from review.walk.liquids import Liquids, Source
from review.walk.relief import brought, opened
from review.walk.state import WORKING_DAY, Moment, fractions


@dataclass(frozen=True, slots=True)
class Air:
    """Air around the train after a step, (species, runs)."""

    caught: FloatArray
    """Mole fractions in the room at the end, hood catching everything."""
    uncaught: FloatArray
    """The same, hood catching nothing."""
    most_caught: FloatArray
    """The highest of the step."""
    most_uncaught: FloatArray
    least_caught: FloatArray
    """(runs,) the least oxygen of the step."""
    least_uncaught: FloatArray
    exhaust: FloatArray
    """Mole fractions of what the hood draws."""
    into_hood: FloatArray
    """What is let into the hood, m3/s at room conditions."""
    into_room: FloatArray
    """What is let into the room where people stand, m3/s at room conditions."""
    spilled_hood: FloatArray
    """What is spilled in the hood, m3/s; what is spilled in the room nobody stays beside."""
    amount_hood: FloatArray
    """What is let into the hood in the whole step beside spills, m3 at room conditions."""
    amount_room: FloatArray
    """The same, into the room."""


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


def airing(at: Moment, flow: Flow, liquid: Liquids, pressure: FloatArray) -> Air:
    """Room and hood after the step, with what reliefs let out at these pressures of the items.

    Well-mixed balance over the step: C = C_in + (C0 - C_in - G/Q) exp(-Q t/V) + G/Q, where gas let
    in pushes as much room air out; C0 where nothing comes in at all. NaN where the ventilation's
    figures are not given and something is let out there. A source that ends in mid-step counts
    until then.
    """
    room = Room(at)
    sources = [*_through_ends(at, room, flow, pressure), *liquid.sources]
    catching = (room.working > 0) & ~(room.hood_flow <= 0) & room.led_out
    molar_volume = R * at.ambient_temperature / at.ambient_pressure
    near = [s for s in sources if s.near]
    beside = _let_out(near, None)
    into_hood, into_room = beside["hood"] * molar_volume, beside["room"] * molar_volume
    amounts = _let_out([_amount(s, room.duration) for s in near], None)
    spilled = _let_out([s for s in sources if not s.near], None)
    caught, uncaught = at.state.room_caught, at.state.room_uncaught
    highs, oxygen = [caught, uncaught], int(np.argmin(np.where(room.air > 0, room.air, np.inf)))
    lows = [caught[oxygen], uncaught[oxygen]]
    for span, emitted in _spans(sources, room.duration):
        hooded, roomed = emitted["hood"] * molar_volume, emitted["room"] * molar_volume
        missed = roomed + np.where(catching, 0.0, hooded)
        caught = _filled(room, missed, caught, span)
        uncaught = _filled(room, roomed + hooded, uncaught, span)
        highs = [np.maximum(highs[0], caught), np.maximum(highs[1], uncaught)]
        lows = [np.minimum(lows[0], caught[oxygen]), np.minimum(lows[1], uncaught[oxygen])]
    return Air(
        caught=caught,
        uncaught=uncaught,
        most_caught=highs[0],
        most_uncaught=highs[1],
        least_caught=lows[0],
        least_uncaught=lows[1],
        exhaust=_exhaust(room, np.where(catching, into_hood, 0.0)),
        into_hood=into_hood,
        into_room=into_room,
        spilled_hood=spilled.get("hood", np.zeros_like(into_hood)) * molar_volume,
        amount_hood=amounts["hood"] * molar_volume,
        amount_room=amounts["room"] * molar_volume,
    )


def _amount(source: Source, duration: FloatArray) -> Source:
    """All that a source lets out in a step, mol, in place of its rate."""
    lasts = np.minimum(source.lasts, duration)
    return replace(source, flow=np.where(source.flow == 0, 0.0, source.flow * lasts))


def _through_ends(at: Moment, room: Room, flow: Flow, pressure: FloatArray) -> list[Source]:
    """What leaves the train, and the gas of a burner that is out, as sources of the whole step.

    A relief that is open lets out all that comes to it; where it holds shut in gas, all there is.

    A species that comes from a liquid alone ends when the liquid does.
    """
    graph = at.resolved.graph
    warm = np.maximum(flow.middle.outlet, flow.end.outlet)
    emitted = np.maximum(flow.start.outlet, warm)
    outward = np.nan_to_num(flow.given.outward, nan=0.0)
    escaping = escaping_fuel(at.resolved, at.runs, at.cell, before=at.before)
    ends = {"hood": np.zeros_like(emitted[0]), "room": escaping}
    relieving = opened(at, pressure)
    for i, (kind, item) in enumerate(zip(graph.kinds, at.resolved.scenario.train, strict=True)):
        to = graph.destinations[i] if kind.is_end else item.in_ or "room"
        blows = item.relief.to or to if item.relief is not None else to
        if relieving[i].any() and blows in ends:
            spilt = flow.spills.get(i, np.zeros(at.runs.size)) > 0
            passes = (flow.start.leaves[i] > 0) & ~spilt
            all_ = np.where(passes, emitted[i], brought(at, flow, i).flow)
            ends[blows] = ends[blows] + np.where(relieving[i], all_, 0.0)
        if to in ends:
            leaving = emitted[i] if kind.is_end else np.where(outward[i] > 0, emitted[i], 0.0)
            ends[to] = ends[to] + leaving
    found = []
    if not (at.state.left <= 0).all() or np.isfinite(flow.charge).any():
        available = _available(at, flow)
        total = ends["hood"] + ends["room"]
        for s in np.flatnonzero(np.isfinite(available).any(axis=1)):
            lasts = until_gone(available[s], total[s])
            if (lasts < room.duration).any():
                for to, leaving in ends.items():
                    own = np.zeros_like(leaving)
                    own[s] = leaving[s]
                    found.append(Source(to, own, lasts))
                    ends[to] = leaving - own
    return [*found, *(Source(to, leaving, room.duration) for to, leaving in ends.items())]


def _available(at: Moment, flow: Flow) -> FloatArray:
    """What of each species can leave in the step, mol; infinite where nothing bounds it.

    (species, runs). What liquids hold and generators' charges give; nothing bounds what another
    flow or a reaction brings.
    """
    held = np.where(np.isnan(at.state.left), np.inf, at.state.left).sum(axis=0)
    held = held + at.state.caught.sum(axis=0)
    brought = np.zeros(held.shape, dtype=bool)
    for feed, charge in zip(flow.feeds.values(), flow.charge, strict=True):
        bounded = np.isfinite(charge)
        brought |= ~(feed == 0) & ~bounded
        share = fractions(feed)
        held = held + np.where(feed == 0, 0.0, share * np.where(bounded, charge, 0.0))
    for view in flow.views:
        for reaction in view.reactions:
            brought |= (reaction.coefficients > 0)[:, None]
    return np.where(brought | (held == 0), np.inf, held)


def _let_out(sources: Sequence[Source], until: FloatArray | None) -> dict[str, FloatArray]:
    """What all of them that last so long let into hood and room, mol/s."""
    out: dict[str, FloatArray] = {}
    for source in sources:
        lasting = source.flow
        if until is not None:
            lasting = np.where(source.lasts < until, 0.0, source.flow)
        out[source.to] = out[source.to] + lasting if source.to in out else lasting
    return out


def _spans(
    sources: Sequence[Source], duration: FloatArray
) -> Iterator[tuple[FloatArray, dict[str, FloatArray]]]:
    """The parts of the step between the ends of sources: how long, and what is let out then."""
    ends = [np.minimum(s.lasts, duration) for s in sources if (s.lasts < duration).any()]
    start = np.zeros_like(duration)
    for end in np.sort([*ends, duration], axis=0):
        yield end - start, _let_out(sources, end)
        start = end


def _exhaust(room: Room, into_hood: FloatArray) -> FloatArray:
    """Mole fractions of what the hood draws, (species, runs); air where nothing is let in."""
    air = room.air[:, None]
    total = into_hood.sum(axis=0)
    diluted = (into_hood + air * room.hood_flow) / (room.hood_flow + total)
    return np.where((total > 0) | np.isnan(total), diluted, air)


def _filled(room: Room, into_room: FloatArray, before: FloatArray, span: FloatArray) -> FloatArray:
    """Mole fractions in the room after a time, (species, runs)."""
    air = room.air[:, None]
    leak = into_room.sum(axis=0)
    fresh = room.fresh + leak
    steady = (into_room + air * room.fresh) / fresh
    kept = np.exp(-fresh * span / room.volume)
    filled = steady + (before - steady) * kept
    filled = np.where((fresh == 0) | (span == 0), before, filled)
    undisturbed = (leak <= 0) & (np.abs(before - air) < 1e-15).all(axis=0)
    # What never came is not there, however little is known of the room.
    absent = (into_room == 0) & (before == 0) & (air == 0)
    return np.where(undisturbed, before, np.where(absent, 0.0, filled))
