"""How hot a watery solution boils at room pressure: far above Raoult's law where it is strong.

What is dissolved holds the water back, and as the water leaves it holds it ever more. The wall is
as hot as that; vapour is still counted from the boiling point by Raoult, so never too little.
"""

from __future__ import annotations

import numpy as np

from review.interface.measure import FloatArray
from review.reference.finding import Substance

#: Boiling points at 1 atm, degC, by mass fraction of the solute. Phosphoric acid up to 85 %: its
#: maker's table (Innophos, table 4, read: scribd.com/document/666741121), above from memory. Lye of
#: 50 %: 145 degC (dow.com/causticsoda, physical properties, read). All else from memory of Perry's
#: Chemical Engineers' Handbook, rounded up.
BOILS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "sulfuric acid": ((0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.983, 1),
        (100, 105, 115, 125, 142, 166, 204, 256, 298, 338, 338)),
    "phosphoric acid": ((0, 0.1, 0.2, 0.3, 0.5, 0.75, 0.85, 0.95, 1),
        (100, 100.2, 100.8, 101.8, 108, 135, 158, 220, 300)),
    "sodium hydroxide": ((0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9),
        (100, 103, 109, 118, 130, 145, 168, 200, 245, 320)),
    "potassium hydroxide": ((0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8),
        (100, 103, 107, 115, 126, 146, 185, 230, 290)),
    "calcium chloride": ((0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.75),
        (100, 102, 105, 111, 121, 133, 150, 180)),
    "potassium carbonate": ((0, 0.2, 0.4, 0.5, 0.6, 0.67), (100, 103, 110, 118, 128, 136)),
}  # fmt: skip
#: Any other salt: three ions that each hold back as they do in thin solution (0.512 K kg/mol), up
#: to where it is saturated. Of common salts sodium acetate boils hottest then, at 124.4 degC
#: (Legrand's table of saturated solutions, from memory).
ION, SATURATED = 3 * 0.512, 25.0
#: What dissolves so well that it boils far hotter: as hot as what heats it.
DISSOLVE_WELL = frozenset({
    "zinc chloride", "magnesium chloride", "lithium chloride", "ferric chloride", "sucrose",
    "glucose", "ammonium nitrate", "urea", "citric acid",
})  # fmt: skip
#: What has less of the mass than this counts for nothing.
TRACE = 0.001


def solution_boils(held: list[tuple[Substance, float]], water_gone: FloatArray) -> FloatArray:
    """Boiling point of what is dissolved in water once a share of the water has left, K.

    held: each component with its mass fraction as it was filled in; water_gone (runs,) from 0 to 1.
    -inf where no water is, or nothing dissolved that does not leave with it. What several hold back
    adds up; beyond its table, and for what dissolves well, infinite.

    >>> import numpy as np
    >>> from review.reference.finding import Reference
    >>> lye = [(Reference().substance(n), 0.5) for n in ("water", "sodium hydroxide")]
    >>> [float(round(t - 273.15)) for t in solution_boils(lye, np.array([0.0, 0.5]))]
    [145.0, 189.0]

    Source: [1] the tables above; half of the water gone leaves two thirds of lye.
    """
    water = sum(share for one, share in held if one.name == "water") * (1.0 - water_gone)
    rise, found = np.zeros_like(water_gone), False
    for one, share in held:
        if share < TRACE or not (one.name in BOILS or one.phase_at_20C == "solid"):
            continue
        found = True
        strength = np.nan_to_num(share / (share + water), nan=1.0)
        molal = np.where(water <= 0, np.inf, share / one.molar_mass / water)
        if one.name in BOILS:
            strengths, points = BOILS[one.name]
            each = np.interp(strength, strengths, points) - 100.0
            each = np.where(~(strength <= strengths[-1] + 1e-9), np.inf, each)
        else:
            each = ION * molal
            if one.name not in DISSOLVE_WELL:
                each = np.minimum(each, SATURATED)
            else:
                each = np.where(~(each <= SATURATED), np.inf, each)
        rise = rise + each
    if not found or not any(one.name == "water" and not share <= 0 for one, share in held):
        return np.full_like(water_gone, -np.inf)
    return np.asarray(373.15 + rise)
