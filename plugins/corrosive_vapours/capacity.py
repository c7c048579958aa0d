"""The most that a held absorbent can bind."""

from __future__ import annotations

import numpy as np

from review import FloatArray, Place, Setup, Substance

from ..shared.binding import bound as bound_by
from .beds import bed, bed_holds

#: Moles that a kilogram of water holds near 20 degC under 1 bar of the gas, rounded up (handbook
#: solubilities, from memory): hydrogen chloride 42 %, bromide 66 %, ammonia 35 %, sulfur dioxide
#: 10 %.
IN_WATER = {
    "hydrogen chloride": 20.0, "hydrogen bromide": 24.0, "ammonia": 31.0, "sulfur dioxide": 1.8,
}  # fmt: skip

#: A solution without a stated density is no denser than water, kg/m3: its capacity is the lower.
WATER = 1000.0

#: A stated capacity may exceed the computed one by so much: rounding.
ROUNDED = 1.05
#: Above this the statement is wrong, and not off by how well a volume is measured.
WRONG = 1.3


def most_bound(setup: Setup, place: Place, substance: Substance) -> FloatArray | None:
    """Moles of a gas that the held liquid can bind at most, over trials; None: not known.

    n = V rho sum_i (w_i / M_i) nu_i, and what water holds by itself where nothing binds it

    NaN where the volume is not known. Without water beside it a solid absorbent has no strength.
    A dry bed holds its load.
    """
    dry = bed(setup, place)
    if dry is not None:
        return bed_holds(setup, place, dry, substance)
    water = place.liquid.get("water", 0.0)
    if water <= 0:
        return None
    dense = setup.number(f"reagents.{place.model.liquid}.density").value
    dense = np.where(np.isnan(dense), WATER, dense)
    mass = place.number("liquid_volume").value * dense
    moles = {n: x / setup.reference.substance(n).molar_mass for n, x in place.liquid.items()}
    bound = bound_by(moles, substance.name)
    if bound <= 0:
        if substance.name not in IN_WATER:
            return None
        bound = IN_WATER[substance.name] * water
    return np.asarray(mass * bound)


def without_strength(setup: Setup, place: Place) -> bool:
    """Whether the absorbent is a solid by its name alone: nobody says in how much water."""
    held = [setup.reference.substance(name) for name in place.liquid]
    return bool(held) and all(each.phase_at_20C == "solid" for each in held)
