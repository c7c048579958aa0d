"""Whether acid and carbonate in one vessel make so much gas that it froths up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Place, Setup

from ..shared.stores import bottled
from .dissolving import ACIDS, amount_of

#: The class of solids that give carbon dioxide with acids, and volume of a mole of it, m3.
CARBONATE, MOLE = "hydrogencarbonate", 0.0241
#: So many times the whole vessel of gas, within minutes, makes its liquid froth up (a judgement).
TIMES = 3.0
#: A solution of either is no heavier, kg/m3 (96 % sulfuric acid 1840, from memory).
HEAVY = 1840.0


def froths(setup: Setup, place: Place) -> NDArray[np.bool_]:
    """Where all the carbonate in a vessel, lying or dissolved, meets the acid that stands in it or
    is poured there."""
    own = _acid(setup, place.liquid) * 1000.0 * _held(place)
    whole = _held(place) + place.volume.value
    found = np.zeros(setup.trials, dtype=bool)
    for name in place.solids if np.any(own) else ():
        one = setup.reference.substance(name)
        if CARBONATE in (one.classes or ()):
            moles = np.fmin(amount_of(setup, name) / one.molar_mass, own)
            found |= ~(moles * MOLE <= TIMES * whole)
    acid, carbonate = own, _carbonate(setup, place.liquid) * HEAVY * _held(place)
    poured = False
    for bottle in _bottles(setup, place):
        reagent = setup.scenario.reagents[bottle]
        shares = setup.reference.by_mass(reagent.composition, reagent.basis)
        mass = bottled(setup, bottle, reagent.density or HEAVY)
        poured = True
        # What is none of either counts for nothing, however much nobody says there is.
        sour, alkaline = _acid(setup, shares), _carbonate(setup, shares)
        acid = acid + (sour * mass if sour else 0.0)
        carbonate = carbonate + (alkaline * mass if alkaline else 0.0)
    if poured:
        moles = np.minimum(acid, carbonate)
        found |= ~(moles * MOLE <= TIMES * whole)
    return found


def poured_in(setup: Setup, place: Place) -> FloatArray:
    """Volume of what is poured into a vessel, m3; as light as water where it is weighed."""
    return np.asarray(
        sum((bottled(setup, name, 1000.0) / 1000.0 for name in _bottles(setup, place)),
            np.zeros(setup.trials))
    )  # fmt: skip


def _bottles(setup: Setup, place: Place) -> Iterator[str]:
    """What is poured into a vessel of the file that it was not made from."""
    for name, vessel in setup.scenario.let_in:
        if vessel == place.id and (name, vessel) not in setup.scenario.ingredients:
            yield name


def _held(place: Place) -> FloatArray:
    volume = place.number("liquid_volume").value
    return volume if place.liquid else np.nan_to_num(volume)


def _acid(setup: Setup, liquid: Mapping[str, FloatArray] | Mapping[str, float]) -> float:
    """Equivalents of acid in a kilogram."""
    return sum(
        ACIDS[name] * float(np.max(share)) / setup.reference.substance(name).molar_mass
        for name, share in liquid.items()
        if name in ACIDS
    )


def _carbonate(setup: Setup, liquid: Mapping[str, FloatArray] | Mapping[str, float]) -> float:
    """Moles of carbonate in a kilogram."""
    found = ((setup.reference.substance(name), float(np.max(x))) for name, x in liquid.items())
    return sum(x / one.molar_mass for one, x in found if CARBONATE in (one.classes or ()))
