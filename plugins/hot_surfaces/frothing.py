"""Whether acid and carbonate in one vessel make so much gas that it froths up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from review import Place, Setup

from .dissolving import ACIDS, amount_of

#: The class of solids that give carbon dioxide with acids, and volume of a mole of it, m3.
CARBONATE, MOLE = "hydrogencarbonate", 0.0241
#: So many times the whole vessel of gas, within minutes, makes its liquid froth up (a judgement).
TIMES = 3.0


def froths(setup: Setup, place: Place) -> NDArray[np.bool_]:
    """Where all the carbonate that lies in a vessel meets the acid that stands in it."""
    acid = sum(
        ACIDS[name] * float(np.max(share)) / setup.reference.substance(name).molar_mass
        for name, share in place.liquid.items()
        if name in ACIDS
    )
    volume = place.number("liquid_volume").value
    found = np.zeros(setup.trials, dtype=bool)
    for name in place.solids if acid else ():
        one = setup.reference.substance(name)
        if CARBONATE in (one.classes or ()):
            moles = np.fmin(amount_of(setup, name) / one.molar_mass, acid * 1000.0 * volume)
            found |= ~(moles * MOLE <= TIMES * (volume + place.volume.value))
    return found
