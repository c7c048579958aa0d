"""Whether acid and carbonate in one vessel make so much gas that it froths up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from review import FloatArray, Place, Setup

from ..shared.stores import bottled
from .dissolving import ACIDS, amount_of

#: The class of what gives carbon dioxide with acids, and volume of a mole of it, m3.
CARBONATE, MOLE = "hydrogencarbonate", 0.0241
#: So many times the whole vessel of gas, within minutes, makes its liquid froth up, and then it may
#: fill half of the vessel; of so many times more, at once, a fifth (judgements).
TIMES, MANY = 3.0, 10.0
HALF, FIFTH = 0.5, 0.2
#: Classes of what is sour enough, and moles of carbon dioxide that a mole sets free where that is
#: not one.
SOUR = {
    "organic acid", "non-oxidising mineral acid", "oxidising mineral acid", "hydrogen halide",
    "acid salt",
}  # fmt: skip
SETS_FREE: Mapping[str, int] = {
    **ACIDS, "oxalic acid": 2, "tartaric acid": 2, "citric acid": 3, "acetic anhydride": 2,
    "sulfur trioxide": 2, "phosphorus pentoxide": 6, "alum": 3, "ferric chloride": 3,
    "aluminium sulfate": 6,
}  # fmt: skip
#: A solution of either weighs no more than water and this for each kilogram that is no water, and
#: none more than the last, kg/m3 (57 % hydriodic acid 1700, 96 % sulfuric acid 1840, from memory).
HEAVIER, HEAVY = 1300.0, 1840.0
#: Nothing but water is surely heavier, kg/m3 (pentane 626, from memory).
LIGHT = 620.0


def froths(setup: Setup, place: Place) -> FloatArray:
    """Share of a vessel that may be liquid as all the carbonate of it meets all the acid: what it
    holds, what is poured there, what lies there and what may; infinite where it does not froth. A
    generator is made for it.
    """
    bottles = list(_bottles(setup, place))
    whole = _held(place) + place.volume.value
    acid, carbonate = np.zeros(setup.trials), np.zeros(setup.trials)
    if not place.liquid and not bottles:
        return np.full(setup.trials, np.inf)
    parts: list[tuple[Mapping[str, float], FloatArray]] = []
    if place.liquid:
        own = {name: float(np.max(share)) for name, share in place.liquid.items()}
        parts.append((own, _heavy(own) * _held(place)))
    for bottle in bottles:
        reagent = setup.scenario.reagents[bottle]
        has = setup.reference.by_mass(reagent.composition, reagent.basis)
        parts.append((has, bottled(setup, bottle, reagent.density or _heavy(has))))
    for name in place.solids:
        if np.any(_per_kilogram(setup, {name: 1.0})):
            parts.append(({name: 1.0}, amount_of(setup, name, hydrates=True)))
    for shares, mass in parts:
        # What is none of either counts for nothing, however much nobody says there is.
        sour, alkaline = _per_kilogram(setup, shares)
        acid = acid + (sour * mass if sour else 0.0)
        carbonate = carbonate + (alkaline * mass if alkaline else 0.0)
    moles = np.where((acid == 0) | (carbonate == 0), 0.0, np.minimum(acid, carbonate))
    many = ~(moles * MOLE <= MANY * whole) & (not place.made)
    calm = (moles == 0) | (moles * MOLE <= TIMES * whole)
    return np.where(calm, np.inf, np.where(many, FIFTH, HALF))


def poured_in(setup: Setup, place: Place) -> FloatArray:
    """Volume of what is poured into a vessel, m3; what is weighed is as light as it may be."""
    found = np.zeros(setup.trials)
    for name in _bottles(setup, place):
        reagent = setup.scenario.reagents[name]
        water = setup.reference.by_mass(reagent.composition, reagent.basis).get("water", 0.0)
        weighs = reagent.density or 1000.0 * water + LIGHT * (1.0 - water)
        found = found + bottled(setup, name, weighs) / weighs
    return found


def _bottles(setup: Setup, place: Place) -> Iterator[str]:
    """What is poured into a vessel of the file that it was not made from."""
    for name, vessel in setup.scenario.let_in:
        if vessel == place.id and (name, vessel) not in setup.scenario.ingredients:
            yield name


def _held(place: Place) -> FloatArray:
    volume = place.number("liquid_volume").value
    return volume if place.liquid else np.nan_to_num(volume)


def _heavy(shares: Mapping[str, float]) -> float:
    """The most that a solution weighs, kg/m3."""
    return min(1000.0 + HEAVIER * (1.0 - shares.get("water", 0.0)), HEAVY)


def _per_kilogram(setup: Setup, shares: Mapping[str, float]) -> tuple[float, float]:
    """Carbon dioxide that the acid in a kilogram sets free at the most, and that the carbonate in
    it gives, mol."""
    acid = carbonate = 0.0
    for name, share in shares.items():
        one = setup.reference.substance(name)
        if SOUR & set(one.classes or ()):
            acid += SETS_FREE.get(name, 1) * share / one.molar_mass
        if CARBONATE in (one.classes or ()):
            carbonate += share / one.molar_mass
    return acid, carbonate
