"""What a liquid gives off at once by the heat that it holds or is poured into."""

from __future__ import annotations

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.physics.gas import R
from review.reference.finding import Substance, heat_capacity_gas
from review.scenario.units import ATMOSPHERE
from review.walk.boiling import boiling_point, heat_of_vaporisation
from review.walk.heating import poured_into
from review.walk.state import Moment
from review.walk.worked import Worked

#: Most that the heat capacity of a liquid lies above that of its gas, J/(mol K).
MOST_ABOVE_GAS = 8 * R
#: Heat capacity of liquid water to 100 degC, J/(mol K): 75.3 to 76.0 (steam tables, from memory);
#: and by volume, at most, J/(m3 K): no common liquid has more.
WATER, WATER_HEAT = 76.0, 4.2e6


def boiled_up(at: Moment, views: list[ItemView], i: int) -> FloatArray:
    """What boils off at once where it is poured into what is hotter than it boils.

    By the heat of the liquid there, as if of water; all of it where nobody says how much there
    is. Moles, (species, runs).
    """
    view, left = views[i], at.state.left[i]
    gas: FloatArray = np.zeros(left.shape)
    into = poured_into(at).get(i)
    if into is None:
        return gas
    host = views[into]
    point = boiling_point(at.resolved.worked, view, at.ambient_pressure)
    hotter = np.maximum(host.liquid_temperature, at.ambient_temperature) - point
    if (hotter <= 0).all():
        return gas
    partial = view.partial_pressures(point)
    shares = partial / np.where(partial.sum(axis=0) > 0, partial.sum(axis=0), 1.0)
    volume = host.get("liquid_volume")
    heat = np.where(volume > 0, volume * WATER_HEAT * hotter, np.inf)
    amount = heat / heat_of_vaporisation(view, shares, point)
    for v, share in zip(view.vapours, shares, strict=True):
        gas[v.species] = np.where(hotter <= 0, 0.0, np.fmin(share * amount, left[v.species]))
    return gas


def flashed(
    worked: Worked, view: ItemView, left: FloatArray, ambient: FloatArray
) -> FloatArray:
    """What of a spilled liquid is gas at once, mol, (species, runs).

    All of what boils colder than the room; else what the heat makes that the liquid holds above
    the room's temperature, sum(n Cp) (T - Ta) / h, in the proportion of the vapour over it and no
    more than there is. Cp of a liquid is at most that of its gas and 8 R (methanol 37,
    toluene 54, hexane 55 J/(mol K) above the gas, from memory); where that is not known, all of it.
    """
    boiling = boiling_point(worked, view, np.full(view.size, ATMOSPHERE))
    hot = np.minimum(view.liquid_temperature, boiling)
    above = np.maximum(hot - ambient, 0.0)
    heat, needed = np.zeros(view.size), np.zeros(view.size)
    colder = ~(boiling > ambient)
    partial = view.partial_pressures(hot)
    shares = partial / np.where(partial.sum(axis=0) > 0, partial.sum(axis=0), 1.0)
    for v, share in zip(view.vapours, shares, strict=True):
        substance = v.substance
        boils = substance.number("boiling_point")
        molar = physics.heat_of_vaporisation(
            boils, substance.number("critical_temperature"),
            substance.number("critical_pressure"), np.minimum(hot, boils),
        )  # fmt: skip
        needed = needed + np.where(share <= 0, 0.0, share * molar)
        heat = heat + left[v.species] * _heat_capacity(substance, hot)
    amount = np.where(above <= 0, 0.0, heat * above / np.where(needed > 0, needed, np.nan))
    out = np.zeros_like(left)
    for v, share in zip(view.vapours, shares, strict=True):
        own = np.where(share <= 0, 0.0, np.minimum(share * amount, left[v.species]))
        out[v.species] = np.where(colder | np.isnan(own), left[v.species], own)
    return out


def _heat_capacity(substance: Substance, temperature: FloatArray) -> FloatArray:
    """Molar, of the liquid, at most, J/(mol K); NaN where the gas's is not known."""
    if substance.name == "water":
        return np.full(temperature.shape, WATER)
    curve = substance.curve("heat_capacity_gas")
    held = np.clip(temperature, curve.low, curve.high) if curve.state == "known" else temperature
    value, inside = heat_capacity_gas(substance, held)
    return np.asarray(np.where(inside, value + MOST_ABOVE_GAS, np.nan))
