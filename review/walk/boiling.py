"""What a held liquid is at the start of a step: how much is left, how hot, and whether it boils.

Read before the flow is solved, because what boils flows through the train like a feed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.reference.finding import Substance
from review.walk.concentrating import climbs_to
from review.walk.feeds import Reader
from review.walk.heating import Heating
from review.walk.reflux import runs_back
from review.walk.resolve import Resolved
from review.walk.state import WORKING_DAY, Moment
from review.walk.suction import Sucked, most_drawn
from review.walk.worked import Worked

#: A litre of liquid nitrogen in a bare beaker of steel is gone in about an hour, the first half
#: much sooner; what has no stated heat leak loses all it holds in so long, s (a judgement).
BARE = 900.0


@dataclass(frozen=True, slots=True)
class Boiling:
    """What boils in one step and finds a way out, by item."""

    feeds: Mapping[int, FloatArray]
    """Vapour that comes off, (species, runs), mol/s."""
    points: Mapping[int, FloatArray]
    """Boiling point where the liquid boils, (runs,), K; infinite where it does not."""
    wall: Mapping[int, FloatArray]
    """Hottest the wall gets while liquid is on it, (runs,), K: its boiling point, or what it climbs
    to as a mixture loses its light part; infinite where it boils dry."""
    back: Mapping[int, FloatArray]
    """What of the vapour runs back from a condenser over it, (species, runs), mol/s."""


def held_moles(resolved: Resolved, number: Reader) -> FloatArray:
    """What each item holds as liquid at the start, (items, species, runs), mol."""
    ids = resolved.graph.ids
    volumes = [number(f"train.{name}.liquid_volume") for name in ids]
    held = (resolved.liquids.get(name, {}) for name in ids)
    return np.array([moles_in(resolved, *each) for each in zip(held, volumes, strict=True)])


def moles_in(
    resolved: Resolved, liquid: Mapping[str, float], volume: FloatArray
) -> FloatArray:
    """What so much of a liquid of these mole fractions holds, (species, runs), mol.

    As dense as its densest component, so never too little; NaN where the volume is not known.
    """
    out = np.zeros((len(resolved.species), volume.size))
    substances = [resolved.reference.substance(component) for component in liquid]
    if not substances:
        return out
    mass = sum(s.molar_mass * x for s, x in zip(substances, liquid.values(), strict=True))
    densities = [density(s) for s in substances]
    heaviest = max((d for d in densities if not np.isnan(d)), default=float("nan"))
    for component, share in liquid.items():
        if component in resolved.index:
            out[resolved.index[component]] = volume * heaviest / mass * share
    return out


def density(substance: Substance) -> float:
    """Density of a liquid, kg/m3: at 20 degC, or of a liquefied gas at its boiling point."""
    stated = substance.number("liquid_density")
    if not np.isnan(stated):
        return stated
    return float(
        physics.saturated_liquid_density(
            substance.number("boiling_point"),
            substance.molar_mass,
            substance.number("critical_temperature"),
            substance.number("critical_pressure"),
        )
    )


def until_gone(amount: FloatArray, rate: FloatArray) -> FloatArray:
    """How long a source lasts, s; what nobody knows goes on."""
    lasts = physics.time_until_gone(amount, rate)
    return np.where(np.isnan(lasts), np.inf, lasts)


def with_left(view: ItemView, left: FloatArray) -> ItemView:
    """The item as it is now: a component that is used up gives off nothing."""
    if not view.vapours:
        return view
    here = np.array([~(left[v.species] <= 0) for v in view.vapours])
    return view if here.all() else replace(view, here=here.astype(float))


def boiling(
    at: Moment,
    heat: Heating,
    views: list[ItemView],
    leaves: FloatArray,
    drawn: Sucked | None = None,
) -> Boiling:
    """Where liquids boil: what comes off, where it finds a way out.

    The heat that reaches the liquid over its heat of vaporisation; where nobody states the heat,
    all of it within the step, from a cold vessel of unstated heat leak as fast as from a bare one,
    and no faster than a pump that sucks on it draws. Once its heat is
    off it only evaporates.
    """
    out = Boiling({}, {}, {}, {})
    assert isinstance(out.feeds, dict) and isinstance(out.points, dict)
    assert isinstance(out.wall, dict) and isinstance(out.back, dict)
    duration = np.where(np.isnan(at.duration), WORKING_DAY, at.duration)
    started = held_moles(at.resolved, at.number)
    cooled = any(view.has("coolant_temperature") for view in views)
    for i, view in enumerate(views):
        if not view.vapours:
            continue
        on_it = at.ambient_pressure
        if drawn is not None:
            on_it = drawn.estimate(at.ambient_pressure)[i]
        partial = within_rows(at.resolved.worked, view, on_it)
        total = partial.sum(axis=0)
        boils = (total >= physics.NEARLY_BOILING * on_it) & (total > 0)
        boils &= leaves[i] > 0
        if not boils.any():
            continue
        ids = [v.species for v in view.vapours]
        shares = partial / np.where(total > 0, total, 1.0)
        held = at.state.left[i][ids].sum(axis=0)
        point = boiling_point(at.resolved.worked, view, on_it)
        heated = _heated(at, heat, i, point)
        power, most = _heat(at, heated, i, point), _through_glass(at, heat, i, point)
        # Of unknown power a bath brings what the glass lets through, unless a condenser is there.
        less = np.minimum if cooled else np.fmin
        power = np.where(np.isnan(most), power, less(power, most))
        rate = physics.boil_off(power, heat_of_vaporisation(view, shares, point))
        within = np.where(heated, duration, np.minimum(duration, BARE))
        rate = np.where(np.isnan(rate), held / np.where(duration > 0, within, 1.0), rate)
        if drawn is not None:
            rate = np.minimum(rate, most_drawn(drawn, i, total, view.liquid_temperature))
        out.points[i] = np.where(boils, point, np.inf)
        boils &= ~(rate == 0) & (duration > 0)
        flow = np.zeros_like(at.state.left[i])
        flow[ids] = np.where(boils, shares * rate, 0.0)
        out.feeds[i] = flow
        out.back[i] = runs_back(at, views, i, flow)
        lasts = until_gone(held, np.where(boils, rate, 0.0) - out.back[i].sum(axis=0))
        total = flow.sum(axis=0)
        loses = 1 - out.back[i].sum(axis=0) / np.where(total > 0, total, 1.0)
        climbs = climbs_to(at, i, point, power, loses, started[i])
        climbs = np.where(heated, climbs, point)
        out.wall[i] = np.where(lasts < duration * (1 - 1e-9), np.inf, climbs)
    return out


def _heated(at: Moment, heat: Heating, i: int, point: FloatArray) -> NDArray[np.bool_]:
    """Whether a source hotter than room or boiling point is on; a cold bath is none."""
    if i not in heat.active:
        return np.zeros(point.shape, dtype=bool)
    name, hotter = at.resolved.graph.ids[i], np.zeros(point.shape, dtype=bool)
    for source, given in at.resolved.scenario.heat.items():
        if given.heats == name:
            least = np.fmin(at.ambient_temperature, point)
            hotter |= ~(at.number(f"heat.{source}.set_temperature") <= least)
    return hotter & ~(heat.active[i] <= 0)


def _heat(at: Moment, heated: NDArray[np.bool_], i: int, point: FloatArray) -> FloatArray:
    """Heat that reaches the liquid, W; NaN where nobody says how much."""
    name = at.resolved.graph.ids[i]
    leak = at.number(f"train.{name}.heat_leak")
    from_room = np.where(np.isnan(leak) & ~(at.ambient_temperature > point), 0.0, leak)
    powers = [
        at.number(f"heat.{source}.power") * at.number(f"heat.{source}.delivered")
        for source, given in at.resolved.scenario.heat.items()
        if given.heats == name
    ]
    known = np.sum(powers, axis=0) if powers else np.full(point.shape, np.nan)
    return np.asarray(np.where(heated, known + np.nan_to_num(leak), from_room))


#: Heat that a liquid takes up through a vessel's wall at most, W/(m2 K): 0.8 mm of glass (1.14
#: W/(m K): 1425), a boiling liquid (6000) and a bath that is stirred (1200), or steam or what a
#: circulator drives (8000), in series: 585 and 1010 (films from memory).
THROUGH_GLASS, OF_STEAM = 600.0, 1010.0
STEAM = ("steam bath", "thermostat bath")
#: Wetted wall over the surface of a ball of the liquid in a vessel that is no wide dish.
SPREAD = 1.5


def _through_glass(at: Moment, heat: Heating, i: int, point: FloatArray) -> FloatArray:
    """Most heat that baths alone bring into a boiling liquid, W; NaN where no bound is known."""
    item = at.resolved.scenario.train[i]
    sources = [h for h in at.resolved.scenario.heat.values() if h.heats == item.id]
    if not sources or any(h.energy != "bath" for h in sources) or item.heat_leak is not None:
        return np.full(point.shape, np.nan)
    if item.material is None or at.resolved.reference.material(item.material).kind != "glass":
        return np.full(point.shape, np.nan)
    held, wide = (at.number(f"train.{item.id}.{n}") for n in ("liquid_volume", "inner_diameter"))
    layer = np.pi / 4 * wide**2 + 4 * held / wide
    wetted = np.fmax(SPREAD * np.cbrt(36 * np.pi * held**2), layer)
    through = OF_STEAM if any(h.kind in STEAM for h in sources) else THROUGH_GLASS
    return np.asarray(through * wetted * np.maximum(heat.high[i] - point, 0.0))


def heat_of_vaporisation(view: ItemView, shares: FloatArray, point: FloatArray) -> FloatArray:
    """Of the vapour over a liquid that boils at this point, J/mol."""
    at = np.minimum(view.liquid_temperature, point)
    each = [
        physics.heat_of_vaporisation(
            v.substance.number("boiling_point"),
            v.substance.number("critical_temperature"),
            v.substance.number("critical_pressure"),
            np.minimum(at, v.substance.number("boiling_point")),
        )
        for v in view.vapours
    ]
    return np.asarray((np.array(each) * shares).sum(axis=0))


def within_rows(worked: Worked, view: ItemView, pressure: FloatArray) -> FloatArray:
    """Partial pressures; of a solution that is hotter than its rows reach, as it boils."""
    partial = view.partial_pressures()
    if not np.isnan(partial).any():
        return partial
    point = boiling_point(worked, view, pressure)
    past = np.isnan(partial).any(axis=0) & ~(view.liquid_temperature <= point) & np.isfinite(point)
    return np.where(past, view.partial_pressures(point), partial)


#: A pressure that is reached but for the halving.
REACHED = 0.999


def boiling_point(worked: Worked, view: ItemView, pressure: FloatArray) -> FloatArray:
    """Temperature at which the vapour over a held liquid reaches the pressure, K; else infinite."""
    here = () if view.here is None else view.here

    def of(rows: FloatArray) -> FloatArray:
        left = None if view.here is None else rows[1:]
        return np.array([_boiling_point(replace(view, size=rows.shape[1], here=left), rows[0])])

    held = tuple((v.substance.name, v.share, v.solution) for v in view.vapours)
    found = worked.of(("boiling point", held), np.array([pressure, *here]), of)
    return np.asarray(found[0])


def _boiling_point(view: ItemView, pressure: FloatArray) -> FloatArray:
    """By halving between the coldest and the hottest its curves reach."""
    low = np.full(view.size, min((v.lowest for v in view.vapours), default=np.nan))
    high = np.full(view.size, max((v.highest for v in view.vapours), default=np.nan))
    if not view.vapours or np.isnan(low).any():
        return np.full(view.size, np.inf)
    top = view.partial_pressures(high).sum(axis=0)
    for _ in range(physics.HALVINGS):
        middle = (low + high) / 2
        over = ~(view.partial_pressures(middle).sum(axis=0) < pressure)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    # Of a solution whose rows end below `high`: whether the pressure is reached within them.
    known = view.partial_pressures(low).sum(axis=0) >= REACHED * pressure
    return np.asarray(np.where((top >= pressure) | (np.isnan(top) & known), high, np.inf))
