"""How hot items are in one step: heat sources, what cools off, and what has its heat to react.

How far a step heats or cools is bracketed: `high` is never too cold (a source that was on stays hot
unless its cooling time is given), `low` never too hot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.measure import FloatArray
from review.physics import heat as heat_physics
from review.walk.feeds import setting
from review.walk.state import Moment


@dataclass(frozen=True, slots=True)
class Heating:
    """Temperatures in K by item; only what something heats is in the mappings."""

    heated: dict[int, FloatArray]
    """Temperature of the hot zone in the step."""
    low: FloatArray
    """(items, runs) at the end of the step, never too hot; NaN where nothing heats."""
    high: FloatArray
    """The same, never too cold."""
    started: dict[int, FloatArray]
    """1 where a declared reaction has its heat from the start of the step on."""
    active: dict[int, FloatArray]
    """1 where it has it by the end: while an item warms its feed leaves as it came."""
    cold: FloatArray
    """(items, runs) surface kept colder than the room, by a bath, as stated or by a cryogen that
    boils there; NaN where none is. Once all is off every bath is taken away."""
    bath: dict[int, FloatArray]
    """Temperature of the bath that an item's liquid stands in; where none does, NaN."""


def heating(at: Moment) -> Heating:
    """Hot zones of one step.

    A source that is switched off still heats what flows past; its item cools as exp(-t/tau) with
    the stated cooling time, and for the hazard without one: not at all where heat ignites, at once
    where cooling draws air in.
    """
    graph, size, room = at.resolved.graph, at.runs.size, at.ambient_temperature
    rows = (graph.size, size)
    low, high, cold = np.full((3, *rows), np.nan)
    out = Heating({}, low, high, {}, {}, cold, {})
    for name, heat in at.resolved.scenario.heat.items():
        _source(at, name, graph.ids.index(heat.heats), out)
    for i, item in enumerate(at.resolved.scenario.train):
        _cooled(at, i, out)
        if item.temperature is None:
            continue
        kept = _kept(at, i, "temperature")
        out.heated[i] = np.maximum(out.heated[i], kept) if i in out.heated else kept
        out.high[i] = np.fmax(out.high[i], kept)
        out.low[i] = np.fmax(out.low[i], kept)
        out.started.setdefault(i, np.ones(size))
        out.active.setdefault(i, np.ones(size))
    for n, i in poured_into(at).items():
        out.bath[n] = np.maximum(room, np.fmax(out.bath.get(i, room), out.heated.get(i, room)))
    for i, name in enumerate(graph.ids):
        if name in at.resolved.exhaustible:  # a solid that is used up stops reacting
            out.active.setdefault(i, np.ones(size))
            out.started[i] = np.zeros(size)
    return out


#: What little of a liquid spoils nothing in a hot vessel, m3 (a judgement, no source).
A_SPLASH = 1.001e-5


def poured_into(at: Moment) -> dict[int, int]:
    """Each item that stands for what is poured, with the vessel whose liquid it meets: it is as hot
    as that, ice earns nothing.

    No more than a splash is as cold as its bottle, and so is what the vessel's liquid was made of.
    """
    scenario, ids, out = at.resolved.scenario, at.resolved.graph.ids, {}
    for reagent, vessel in scenario.poured:
        if (reagent, vessel) in scenario.ingredients:
            continue
        name = scenario.bottle(reagent, vessel)
        wet = at.resolved.scenario.item(vessel).liquid is not None
        if wet and name in ids and not (at.number(f"train.{name}.liquid_volume") <= A_SPLASH).all():
            out[ids.index(name)] = ids.index(vessel)
    return out


def _source(at: Moment, name: str, i: int, out: Heating) -> None:
    """One heat source, written into the row of the item it heats."""
    number, ambient = at.number, at.ambient_temperature
    start = np.maximum(at.state.high[i], ambient)
    tau = number(f"heat.{name}.cooling_time")
    fade = np.where(at.duration == 0, 1.0, np.exp(-at.duration / tau))
    cool_high = np.where(np.isnan(fade), start, ambient + (start - ambient) * fade)
    own = np.exp(-at.duration / np.fmin(tau, _own_time(at, name, i, start)))
    faster = np.where(at.duration == 0, 1.0, np.fmin(fade, own))
    cool_low = np.where(np.isnan(fade), ambient, ambient + (at.state.low[i] - ambient) * faster)
    stated = f"heat.{name}.set_temperature"
    if stated not in at.resolved.base:
        stated = f"heat.{name}.hottest"
    target = setting(at.resolved, "heat", name, stated, at.cell, number)
    lit = np.where(target == 0, 0.0, number(f"heat.{name}.delivered")) > 0
    most = number(f"heat.{name}.at_hottest")
    target = np.where(most > 0, number(f"heat.{name}.hottest"), target)
    cools = lit & (target < ambient)
    out.cold[i] = np.fmin(out.cold[i], np.where(cools, target, np.nan))
    if cools.any():
        out.bath[i] = np.where(cools, target, np.nan)
    zone = np.where(cools, 0.0, np.where(lit, np.maximum(target, start), start))
    end_high = np.where(lit & ~cools, np.maximum(target, cool_high), cool_high)
    end_high = np.where(cools, target, end_high)
    end_low = np.where(lit, target, cool_low)
    first = i not in out.heated
    out.heated[i] = zone if first else np.maximum(out.heated[i], zone)
    out.high[i] = end_high if first else np.maximum(out.high[i], end_high)
    out.low[i] = end_low if first else np.maximum(out.low[i], end_low)
    on = lit.astype(float)
    warm = on * (~(start < target - 1.0) | (at.cell == 0))
    out.started[i] = np.maximum(out.started.get(i, np.zeros(at.runs.size)), warm)
    out.active[i] = np.maximum(out.active.get(i, np.zeros(at.runs.size)), on)


#: Flames that leave nothing hot around what they heat.
OPEN_FLAMES = ("burner", "gas torch", "spirit lamp", "camping stove", "candle")


def _own_time(at: Moment, name: str, i: int, hot: FloatArray) -> FloatArray:
    """How fast the wall over an open flame cools by itself at least, s; infinite elsewhere."""
    heat = at.resolved.scenario.heat[name]
    wall = at.number(f"train.{heat.heats}.wall")
    if heat.kind not in OPEN_FLAMES:
        return np.full(hot.shape, np.inf)
    own = heat_physics.wall_cooling_time(wall, hot, at.ambient_temperature)
    return np.where(np.isnan(own), np.inf, own)


def cryogen(at: Moment, i: int) -> bool:
    """Whether all of an item's liquid boils below the room's temperature: it is cold by itself."""
    species = at.resolved.species
    held = at.resolved.liquids.get(at.resolved.graph.ids[i], {})
    boil = [s.number("boiling_point") for s in species if s.name in held]
    return len(boil) == len(held) > 0 and bool((max(boil) < at.ambient_temperature).all())


def _kept(at: Moment, i: int, field: str) -> FloatArray:
    """What an item, or the bath that it stands in, is kept at: as stated until all is off; what
    its own cryogen keeps cold, until the last of that is gone."""
    stated = at.number(f"train.{at.resolved.graph.ids[i]}.{field}")
    gone = np.full(stated.shape, _all_off(at))
    if field == "temperature" and cryogen(at, i):
        gone |= at.state.left[i].sum(axis=0) <= 0
    return np.where(gone, np.maximum(stated, at.ambient_temperature), stated)


def _all_off(at: Moment) -> bool:
    """Whether this is what follows the last step, when baths are taken away."""
    return at.cell > 0 and at.cell == len(at.resolved.steps)


def _cooled(at: Moment, i: int, out: Heating) -> None:
    """What is said to keep an item colder than the room, written into its row."""
    item, ambient = at.resolved.scenario.train[i], at.ambient_temperature
    for field in ("bath_temperature", "temperature"):
        if getattr(item, field) is None:
            continue
        stated = _kept(at, i, field)
        if field == "bath_temperature":
            out.bath[i] = np.fmin(stated, out.bath.get(i, stated))
        out.cold[i] = np.fmin(out.cold[i], np.where(stated < ambient, stated, np.nan))
    if item.liquid is None:
        # Gas in it is as cold; over a liquid in a bath it need not be.
        for ends in (out.high, out.low):
            ends[i] = np.where(np.isnan(ends[i]), out.cold[i], ends[i])
