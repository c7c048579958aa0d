"""The liquids stage: what each item's liquid does in one step, between flow and pressure.

A liquid is a source of gas whether or not anything is fed, and a cold surface takes gas out. A
source is a rate and how long it lasts, per run, so that what runs out in mid-step needs no finer
time axis. What boils flows through the train (see `review.walk.boiling`); what evaporates beside no
flow leaves through the narrowest opening on its way out, and what is spilled from a pool on the
floor. The stages after this one and the checks read nothing else of liquids.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.walk.boiling import boiling_point, moles_in, until_gone, within_rows
from review.walk.catching import Catch, caught_by, let_out, past_cold, spilt
from review.walk.condensing import condensing_at, saturation
from review.walk.flashing import boiled_up, flashed
from review.walk.flowing import Flow
from review.walk.heating import poured_into
from review.walk.state import Moment
from review.walk.views import vapours

#: Air over an open surface, m/s: indoors, where nobody states less, and the least that is believed.
AIR_SPEED, LEAST_AIR_SPEED = 0.5, 0.25
#: Depth to which a spill runs out, m: 0.5 m2 from 500 mL (a judgement, no source).
SPILL_DEPTH = 1e-3
#: What of a spill its own heat makes gas, or all of what boils colder than the room, is gas within
#: this time, s (a judgement).
AT_ONCE = 60.0
#: A spilled film that loses 10 W/(m2 K) is as warm as the room after some times rho c d / h, 300 s
#: for 1 mm of a dense liquid; what it gives off while hot is no more than in this time.
COOLS = 300.0
#: Share of a liquid that must be volatile for its own heat to be all that counts.
MOSTLY = 0.5
#: A spill is seen and smelt: people have left after this time, s (a judgement, no source).
LEFT_THE_ROOM = 600.0
#: Whoever drops a bottle knows it: so long it takes them to get out, s (a judgement, no source).
DROPPED_AND_GONE = 120.0
#: After the last step vessels are closed or emptied within this time, s (a judgement, no source).
CLEARED_AWAY = 3600.0
#: A vapour lighter than this, kg/mol, does not stay in a deep vessel: air.
AIR_MOLAR_MASS = 28.965e-3


@dataclass(frozen=True, slots=True)
class Source:
    """Gas let into the hood or the room beside the flow of the train.

    `flow` (species, runs) mol/s while it lasts; `lasts` (runs,) s; `near` whether people stand
    beside it: nobody stays beside a spill.
    """

    to: str
    flow: FloatArray
    lasts: FloatArray
    near: bool = True


@dataclass(slots=True)
class Liquids:
    """The balance of heat and mass of each item's liquid in one step.

    Arrays (items, runs), and (items, species, runs) where said; zeros where an item holds none.
    """

    vapour: FloatArray
    """(items, species, runs) vapour it gives off by itself, mol/s: evaporation, boiling and what
    is spilled, not what a carrier gas takes along (that is in the flow)."""
    lasts: FloatArray
    """How long it goes on, s: until the liquid is gone; infinite where nothing is given off."""
    temperature: FloatArray
    """Temperature of the liquid, K; NaN without one."""
    condensed: FloatArray
    """(items, species, runs) what a cold surface has taken out of the gas by the end, mol."""
    over: FloatArray
    """(items, species, runs) mole fractions over the liquid at rest; the old gas without one."""
    vapour_pressure: FloatArray
    """Sum of the vapour pressures over it, Pa; 0 without liquid, NaN where it is not known."""
    left: FloatArray
    """(items, species, runs) what is left of it at the end of the step, mol."""
    caught: FloatArray
    """(items, species, runs) what cold traps hold at the end of the step, mol."""
    sources: list[Source] = field(default_factory=list)
    """What goes into hood and room beside the flow."""


def liquids(at: Moment, flow: Flow) -> Liquids:
    """What the liquids of the train do in this step."""
    rows = flow.start.outlet.shape
    items, _, size = rows
    out = Liquids(
        vapour=np.zeros(rows),
        lasts=np.full((items, size), np.inf),
        temperature=np.full((items, size), np.nan),
        condensed=np.zeros(rows),
        over=_over(at, flow.views, flow.start.pressure),
        vapour_pressure=np.zeros((items, size)),
        left=at.state.left.copy(),
        caught=at.state.caught.copy(),
    )
    for i, view in enumerate(flow.views):
        if view.vapours:
            out.temperature[i] = view.liquid_temperature
            out.vapour_pressure[i] = _vapour_pressure(view)
            _given_off(at, flow, i, out)
        if view.has("coolant_temperature") and not (flow.start.condensed[i] <= 0).all():
            _from_condensate(at, flow, i, out)
        elif (catch := caught_by(at, flow, i)) is not None:
            _of_catch(at, flow, i, catch, out)
    for reagent, item in at.resolved.scenario.out_of_bottles.items():
        out.sources += _dropped(at, flow.views[at.resolved.graph.ids.index(item)], reagent)
    return out


def _of_catch(at: Moment, flow: Flow, i: int, catch: Catch, out: Liquids) -> None:
    """What stands in a trap: its vapour there, what of it leaves, and what is left."""
    to_floor = at.resolved.scenario.train[i].in_ or "room"
    leaving = np.zeros_like(catch.amount)
    for to, rate, lasts in let_out(at, flow, i, catch, _ways_out(flow, at, i), AIR_SPEED):
        if not (rate <= 0).all():
            leaving += rate * np.minimum(lasts, np.nan_to_num(at.duration))
            if to != "outdoors":
                if at.cell == len(at.resolved.steps):
                    lasts = np.minimum(lasts, CLEARED_AWAY)
                out.sources.append(Source(to, rate, lasts))
    for rate, lasts in spilt(at, flow, i, catch, AIR_SPEED, SPILL_DEPTH, AT_ONCE):
        lasts = np.minimum(lasts, LEFT_THE_ROOM)
        out.sources.append(Source(to_floor, rate, lasts, near=False))
    out.condensed[i] = catch.amount
    out.caught[i] = np.maximum(catch.amount - leaving, 0.0)
    out.vapour_pressure[i] += catch.partial.sum(axis=0)
    share = catch.partial / flow.start.pressure[i]
    full = share.sum(axis=0)
    dry = out.over[i] * np.maximum(1 - full, 0.0)
    out.over[i] = np.where(full < 1, dry + share, share / np.maximum(full, 1.0))


def _from_condensate(at: Moment, flow: Flow, i: int, out: Liquids) -> None:
    """Vapour of what a condenser has condensed, through the opening behind it."""
    caught = flow.start.condensed[i]
    out.condensed[i] = np.where(caught <= 0, 0.0, caught * at.duration)
    temperature = condensing_at(flow.views[i])
    species = at.resolved.species
    pressures = saturation(species, temperature)
    total = caught.sum(axis=0)
    for to, area in _ways_out(flow, at, i).items():
        rate = np.zeros_like(caught)
        for k in np.flatnonzero(~(caught <= 0).all(axis=1)):
            share = caught[k] / np.where(total > 0, total, 1.0)
            own = np.where(caught[k] <= 0, 0.0, share * pressures[k])
            driving = physics.driving_pressure(own, at.ambient_pressure)
            rate[k] = physics.pool_evaporation(
                AIR_SPEED, species[k].molar_mass, area, driving, temperature
            )
        rate = np.where(flow.start.outlet[i].sum(axis=0) > 0, 0.0, rate)
        if to != "outdoors" and (rate > 0).any():
            out.sources.append(Source(to, rate, _lasts(out.condensed[i], rate)))


def _vapour_pressure(view: ItemView) -> FloatArray:
    """Over what an item holds where it is shut in, Pa; NaN above the critical temperature."""
    highest = np.array([v.highest for v in view.vapours])[:, None]
    known = ~(view.liquid_temperature > highest)
    return np.asarray(np.where(known, view.partial_pressures(), np.nan).sum(axis=0))


def _given_off(at: Moment, flow: Flow, i: int, out: Liquids) -> None:
    """What stands, is carried away, boils or is spilled from one item, and what is left of it."""
    view, left = flow.views[i], at.state.left[i]
    ids = [v.species for v in view.vapours]
    start = flow.start
    fed = flow.boiling.feeds.get(i, np.zeros_like(left))
    carrier = start.inlet[i].sum(axis=0) - fed.sum(axis=0)
    taken = np.zeros_like(left)
    taken[ids] = start.outlet[i][ids] - start.inlet[i][ids] + fed[ids]
    carried = np.where(carrier != 0, np.maximum(taken, 0.0), 0.0)
    out.vapour[i] += np.where(carrier != 0, 0.0, fed)
    ways = _ways_out(flow, at, i)
    burst, once = boiled_up(at, flow.views, i) / AT_ONCE, np.full(at.runs.size, AT_ONCE)
    out.vapour[i] += burst
    if not (burst == 0).all():
        out.sources += [Source(to, burst, once) for to in ways if to != "outdoors"]
    spilled = _spill(at, view, i)
    out.sources += spilled
    for source in spilled:
        out.vapour[i] += source.flow
    at_rest = (carrier == 0) & (fed.sum(axis=0) == 0)
    for to, area in ways.items():
        rate = np.where(at_rest, _evaporation(at, view, area, left), 0.0)
        if not (rate > 0).any() and not np.isnan(rate).any():
            continue
        out.vapour[i] += rate
        if to != "outdoors":
            rate = past_cold(at, flow, i, to, rate)
            lasts = _lasts(left, rate)
            if at.cell == len(at.resolved.steps):
                lasts = np.minimum(lasts, CLEARED_AWAY)
            out.sources.append(Source(to, rate, lasts))
    rate = out.vapour[i] + carried
    out.lasts[i] = np.where((rate > 0).any(axis=0), _lasts(left, rate), np.inf)
    # What condensers take out may run back: it stays where it came from, which is never too little.
    back = np.minimum(start.condensed.sum(axis=0), np.where(np.isnan(fed), 0.0, fed))
    used = np.where(rate > 0, (rate - back) * at.duration, 0.0)
    out.left[i] = np.maximum(left - np.nan_to_num(used), 0.0)


def _lasts(left: FloatArray, flow: FloatArray) -> FloatArray:
    """Until the last of its components is gone, s."""
    each = until_gone(left, flow)
    return np.asarray(np.where(flow <= 0, 0.0, each).max(axis=0), dtype=np.float64)


def _evaporation(at: Moment, view: ItemView, area: FloatArray, left: FloatArray) -> FloatArray:
    """Rate of each component through an opening, (species, runs), mol/s."""
    flow = np.zeros_like(left)
    pressure = at.ambient_pressure
    boils = boiling_point(at.resolved.worked, view, pressure)
    temperature = np.minimum(view.liquid_temperature, boils)
    stated = at.number("ventilation.air_speed")
    speed = np.where(np.isnan(stated), AIR_SPEED, np.maximum(stated, LEAST_AIR_SPEED))
    depth = view.get("below_rim")
    still = view.heated is None and not view.has("bath_temperature")
    for v, partial in zip(
        view.vapours, within_rows(at.resolved.worked, view, pressure), strict=True
    ):
        driving = physics.driving_pressure(partial, pressure)
        mass = v.substance.molar_mass
        rate = physics.pool_evaporation(speed, mass, area, driving, temperature)
        if still and mass > AIR_MOLAR_MASS:
            slow = physics.stefan_diffusion(
                v.substance.number("diffusion_in_air"),
                pressure, area, temperature, depth, driving,
            )  # fmt: skip
            rate = np.asarray(np.fmin(rate, np.where(np.isnan(slow), np.inf, slow)))
        flow[v.species] = np.where((left[v.species] == 0) | (area == 0), 0.0, rate)
    return flow


def _ways_out(flow: Flow, at: Moment, i: int) -> dict[str, FloatArray]:
    """Area of the narrowest opening on each way out, by where it leads, m2.

    Not through another liquid: a dip tube's seal keeps vapour back. Where nobody gives a width, as
    wide as a ball of the vessel's volume.
    """
    graph, size = at.resolved.graph, at.runs.size
    found: dict[str, FloatArray] = {}
    waiting: list[tuple[int, FloatArray]] = [(i, np.full(size, np.inf))]
    while waiting:
        k, narrow = waiting.pop()
        view = flow.views[k]
        if k != i and (graph.kinds[k].seal_head(view) > 0).any():
            continue
        for name in ("mouth", "inner_diameter"):
            narrow = np.fmin(narrow, view.get(name))
        narrow = np.where(flow.given.open[k] > 0, narrow, 0.0)
        lifted = view.has("ends_here") and not graph.kinds[k].is_end
        if graph.kinds[k].is_end or lifted:
            bore = np.where(np.isinf(narrow), _widest(flow.views[i]), narrow)
            to = graph.destinations[k]
            area = np.pi / 4 * bore**2
            if lifted:
                to = at.resolved.scenario.train[k].in_ or "room"
                area = np.where(view.get("ends_here") > 0, area, 0.0)
            found[to] = found.get(to, np.zeros(size)) + area
        waiting += [(j, narrow) for j in graph.downstream[k]]
    return found


def _widest(view: ItemView) -> FloatArray:
    """Opening of a vessel that nobody measured, m: a ball's of the vessel's volume."""
    volume = np.nan_to_num(view.get("gas_volume")) + np.nan_to_num(view.get("liquid_volume"))
    volume = np.fmax(volume, view.get("capacity"))
    return np.asarray(np.where(volume > 0, np.cbrt(6 * volume / np.pi), np.nan))


def _spill(at: Moment, view: ItemView, i: int) -> list[Source]:
    """All the liquid of an item on the floor, where that is played or the item breaks."""
    name = at.resolved.graph.ids[i]
    opened = [at.number(f"train.{name}.open_{way}") for way in ("outward", "inward")]
    spilled = np.maximum(at.number(f"train.{name}.spilled"), np.minimum(*opened)) > 0
    if not spilled.any():
        return []
    to, left = at.resolved.scenario.train[i].in_ or "room", at.state.left[i]
    volume = at.number(f"train.{name}.liquid_volume")
    gas = np.where(spilled, flashed(at.resolved.worked, view, left, at.ambient_temperature), 0.0)
    # Far below its boiling point it gives off no more than a pool as hot does before it cools.
    hot = _pool(at, view, left, volume, view.liquid_temperature)
    gas = np.fmin(gas, np.where(spilled, hot * COOLS, 0.0))
    volatile = {v.substance.name for v in view.vapours}
    whole = at.resolved.liquids[name]
    # Hot oil or brine drives out what little is dissolved in it.
    if sum(share for each, share in whole.items() if each in volatile) < MOSTLY:
        gas = np.where(spilled, left, 0.0)
    cooled = np.minimum(view.liquid_temperature, at.ambient_temperature)
    pool = _pool(at, view, left, volume, cooled)
    pool = np.where(spilled, pool, 0.0)
    lasts = np.minimum(_lasts(left - gas, pool), LEFT_THE_ROOM)
    burst = Source(to, gas / AT_ONCE, np.full(at.runs.size, AT_ONCE), near=False)
    return [burst, Source(to, pool, lasts, near=False)]


def _dropped(at: Moment, view: ItemView, reagent: str) -> list[Source]:
    """A dropped bottle, as warm as the room, where the items stand that are filled from it or that
    it is fed to; in the room where any of them stands there."""
    volume = at.number(f"reagents.{reagent}.dropped")
    if (volume == 0).all():
        return []
    bottled, warm = at.resolved.bottled[reagent], at.ambient_temperature
    fresh = replace(view, here=None, vapours=vapours(at.resolved, bottled))
    held = moles_in(at.resolved, bottled, volume)
    pool = _pool(at, fresh, held, volume, warm)
    colder = boiling_point(at.resolved.worked, fresh, at.ambient_pressure) < warm
    pool = np.where(colder, held / AT_ONCE, pool)
    lasts = np.minimum(_lasts(held, pool), DROPPED_AND_GONE)
    stands = [item.in_ or "room" for item in at.resolved.scenario.filled_from(reagent)]
    to = "room" if "room" in stands else stands[0]
    return [Source(to, pool, lasts, near=False)]


def _pool(
    at: Moment, view: ItemView, left: FloatArray, volume: FloatArray, warm: FloatArray
) -> FloatArray:
    """What evaporates from a spill that is as warm as is said, mol/s, (species, runs)."""
    area = physics.spill_area(volume, SPILL_DEPTH)
    boils = boiling_point(at.resolved.worked, view, at.ambient_pressure)
    temperature = np.minimum(warm, boils)
    flow = np.zeros_like(left)
    for v, own in zip(view.vapours, view.partial_pressures(temperature), strict=True):
        driving = physics.driving_pressure(own, at.ambient_pressure)
        rate = physics.pool_evaporation(
            AIR_SPEED, v.substance.molar_mass, area, driving, temperature
        )
        flow[v.species] = np.where(left[v.species] == 0, 0.0, rate)
    return flow


def _over(at: Moment, views: list[ItemView], pressure: FloatArray) -> FloatArray:
    """What stands over a liquid at rest: the old gas saturated with its vapour.

    Nothing but vapour where it boils, or would if it could; NaN where its vapour pressure is not
    known. Over what is poured stands the vapour of the vessel's own liquid as well.
    """
    out, hosts = at.state.filling.copy(), poured_into(at)
    for i, view in enumerate(views):
        if not view.vapours:
            continue
        share, ids = np.zeros_like(out[i]), list[int]()
        for each in (views[hosts[i]], view) if i in hosts else (view,):
            own = [v.species for v in each.vapours]
            if own:
                partial = within_rows(at.resolved.worked, each, pressure[i]) / pressure[i]
                share[own] = np.maximum(share[own], partial)
                ids += own
        full = share.sum(axis=0)
        dry = at.state.filling[i].copy()
        dry[ids] = 0.0
        dry_total = dry.sum(axis=0)
        over = full >= 1 - 1e-9
        rest = np.where(over, 0.0, 1 - full)
        out[i] = dry * rest / np.where(dry_total > 0, dry_total, 1.0)
        out[i][ids] = np.where(over, share / np.where(full > 0, full, 1.0), share)[ids]
    return out
