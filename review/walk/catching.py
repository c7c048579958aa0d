"""What cold traps have caught: it stays there, and once its bath is gone it warms.

A trap's catch adds up from step to step. While it is cold it stands there at the surface's
temperature. Warm, what boils below the room's temperature is gas within minutes, and the rest
stands like any liquid: it evaporates through the opening behind it, gas that flows takes it along,
and shut in it adds its vapour pressure. Broken, all of it is on the floor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.physics.gas import R
from review.walk.boiling import density
from review.walk.condensing import APPROACH, saturation
from review.walk.flowing import Flow
from review.walk.state import Moment

#: A trap that is taken out of its bath is warm within this time, s (common practice, no source).
WARMS = 600.0
#: Share of a vapour at rest that slips past a cold surface over it (a judgement, no source).
SLIPS = 0.1


@dataclass(frozen=True, slots=True)
class Catch:
    """What one trap holds in one step, (species, runs) unless said."""

    amount: FloatArray
    """Moles by the end of the step, if nothing left."""
    boils: FloatArray
    """Share of it that is gas at its temperature and the room's pressure."""
    partial: FloatArray
    """Pressure of its vapour where it stands, Pa; of what boils, no more than all of it makes."""
    temperature: FloatArray
    """(runs,) K."""
    warm: FloatArray
    """1 where it is as warm as the room, (runs,)."""


def caught_by(at: Moment, flow: Flow, i: int) -> Catch | None:
    """The catch of an item; None where it has caught nothing."""
    before, view = at.state.caught[i], flow.views[i]
    taken = np.zeros_like(before)
    if view.cold is not None:
        rate = flow.start.condensed[i]
        taken = np.where(rate <= 0, 0.0, np.nan_to_num(rate * at.duration))
    amount = before + taken
    if (amount <= 0).all():
        return None
    surface = np.full(at.runs.size, np.nan) if view.cold is None else view.cold
    warm = np.isnan(surface)
    temperature = np.where(warm, at.ambient_temperature, surface)
    pressures = saturation(at.resolved.species, temperature)
    boils = np.where(pressures < physics.NEARLY_BOILING * at.ambient_pressure, 0.0, 1.0)
    liquid = amount * (1 - boils)
    total = liquid.sum(axis=0)
    share = liquid / np.where(total <= 0, 1.0, total)
    all_of_it = amount * R * temperature / flow.volume[i]
    most = np.where(amount <= 0, 0.0, np.fmin(pressures, all_of_it))
    partial = np.where(boils == 0, np.where(share <= 0, 0.0, share * pressures), most)
    return Catch(amount, boils, partial, temperature, warm.astype(float))


def let_out(
    at: Moment, flow: Flow, i: int, catch: Catch, ways: dict[str, FloatArray], speed: float
) -> list[tuple[str, FloatArray, FloatArray]]:
    """What of a catch goes where, mol/s, and for how long, s; `ways` are openings in m2."""
    found = []
    gas = catch.amount * catch.boils * catch.warm
    stays = catch.amount * (1 - catch.boils) * catch.warm
    carrier = flow.start.outlet[i].sum(axis=0)
    room = np.maximum(at.ambient_pressure - catch.partial.sum(axis=0), 1.0)
    own = catch.partial * (1 - catch.boils)
    area = sum(ways.values(), np.zeros(at.runs.size))
    for to, opening in ways.items():
        rate = _evaporates(at, catch, own, opening, speed)
        part = np.where(area <= 0, 0.0, opening / np.where(area <= 0, 1.0, area))
        rate = np.where(carrier <= 0, rate, carrier * own / room * part)
        rate = np.where(stays <= 0, 0.0, rate)
        found.append((to, rate, _until(stays, rate)))
        found.append((to, gas / WARMS * part, np.full(at.runs.size, WARMS)))
    return found


def spilt(
    at: Moment, flow: Flow, i: int, catch: Catch, speed: float, depth: float, at_once: float
) -> list[tuple[FloatArray, FloatArray]]:
    """What of a broken trap's catch is gas at once and what evaporates from the floor, mol/s."""
    view = flow.views[i]
    broken = np.minimum(view.numbers["open_outward"], view.numbers["open_inward"]) > 0
    if not broken.any():
        return []
    species = at.resolved.species
    pressures = saturation(species, at.ambient_temperature)
    boils = ~(pressures < physics.NEARLY_BOILING * at.ambient_pressure)
    gas = np.where(broken & boils, catch.amount, 0.0)
    rest = np.where(broken & ~boils, catch.amount, 0.0)
    volumes = np.array([s.molar_mass / np.fmax(density(s), 500.0) for s in species])
    total = rest.sum(axis=0)
    own = rest / np.where(total <= 0, 1.0, total) * np.where(rest <= 0, 0.0, pressures)
    pool = np.nan_to_num(own)
    rate = _evaporates(at, catch, pool, physics.spill_area(volumes @ rest, depth), speed)
    return [
        (gas / at_once, np.full(at.runs.size, at_once)),
        (np.where(rest <= 0, 0.0, rate), _until(rest, rate)),
    ]


def _evaporates(
    at: Moment, catch: Catch, own: FloatArray, area: FloatArray, speed: float
) -> FloatArray:
    """Rate of each component through an opening, (species, runs), mol/s."""
    driving = physics.driving_pressure(own, at.ambient_pressure)
    masses = [s.molar_mass for s in at.resolved.species]
    rates = [
        physics.pool_evaporation(speed, mass, area, each, catch.temperature)
        for mass, each in zip(masses, driving, strict=True)
    ]
    return np.where(own <= 0, 0.0, rates)


def _until(amount: FloatArray, rate: FloatArray) -> FloatArray:
    """Until the last of it is gone, s."""
    each = np.where(rate <= 0, 0.0, amount / np.where(rate <= 0, 1.0, rate))
    return np.asarray(each.max(axis=0))


def past_cold(at: Moment, flow: Flow, i: int, to: str, rate: FloatArray) -> FloatArray:
    """What of a vapour at rest passes the cold surfaces on its way, (species, runs), mol/s.

    A tenth slips past; of the rest what the gas holds when it is a little warmer than the surface.
    """
    graph, view = at.resolved.graph, flow.views[i]
    warmest = np.full(at.runs.size, -np.inf)
    waiting = [(i, np.full(at.runs.size, np.inf))]
    while waiting:
        k, coldest = waiting.pop()
        if k != i:
            coldest = np.fmin(coldest, _surface(flow.views[k]))
        if graph.kinds[k].is_end and graph.destinations[k] == to:
            warmest = np.maximum(warmest, coldest)
        waiting += [(j, coldest) for j in graph.downstream[k]]
        if flow.views[k].has("ends_here"):  # lifted out, a line leads nowhere else
            warmest = np.full(at.runs.size, np.inf)
    cold = np.where(np.isfinite(warmest), warmest + APPROACH, at.ambient_temperature + 1e3)
    out = rate.copy()
    for v, own in zip(view.vapours, view.partial_pressures(), strict=True):
        holds = np.where(own > 0, v.pressure(cold) / np.where(own > 0, own, 1.0), 1.0)
        share = np.where(np.isnan(holds), 1.0, np.minimum(SLIPS + holds, 1.0))
        out[v.species] = rate[v.species] * share
    return out


def _surface(view: ItemView) -> FloatArray:
    """Temperature of an item's cold surface, K; infinite where it has none."""
    found = np.full(view.size, np.inf) if view.cold is None else view.cold
    if view.has("coolant_temperature"):
        running = view.get("cooling") > 0
        found = np.fmin(found, np.where(running, view.get("coolant_temperature"), np.inf))
    return np.where(np.isnan(found), np.inf, found)
