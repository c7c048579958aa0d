"""Where acid condenses from moist gas: hotter than the water alone would."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number

#: One millimetre of mercury, Pa.
MMHG = 133.322
#: Constants of 1000 / T_dew = a + b ln p_w + c ln p_a + d ln p_w ln p_a, K and mmHg: Verhoff and
#: Banchero, Chem. Eng. Progr. 70 (1974) 71, and Kiang, Chem. Eng. 88 (1981) 127, as read in a
#: collection of these equations. Its 3.8614 for nitric acid would lie below the dew point of the
#: water alone; Kiang's 3.6614 (from memory) does not.
CONSTANTS = {
    "sulfuric acid": (2.276, -0.0294, -0.0858, 0.0062),
    "hydrogen chloride": (3.7368, -0.1591, -0.0326, 0.00269),
    "hydrogen bromide": (3.5639, -0.1350, -0.0396, 0.00235),
    "nitric acid": (3.6614, -0.1446, -0.0827, 0.00756),
}  # fmt: skip


def acid_dew_point(acid: str, water_pressure: ArrayLike, acid_pressure: ArrayLike) -> FloatArray:
    """Temperature below which an acid condenses with water from gas that holds both, K.

    1000 / T = a + b ln p_w + c ln p_a + d ln p_w ln p_a

    acid: a name of `CONSTANTS`; water_pressure p_w, acid_pressure p_a Pa, in mmHg in the equation;
    any shapes that broadcast. 0 without acid or water. Valid: as fitted to flue gas, 1 to 30 % of
    water and up to 1 % of acid; within some 10 K there.

    >>> f"{acid_dew_point('sulfuric acid', 93.44 * MMHG, 0.0024917 * MMHG) - 273.15:.0f}"
    '129'
    >>> float(acid_dew_point("hydrogen chloride", 0.0, 10.0))
    0.0

    Source: [1] Verhoff and Banchero (1974); [2] Kiang (1981).
    """
    a, b, c, d = CONSTANTS[acid]
    water, gas = number(water_pressure) / MMHG, number(acid_pressure) / MMHG
    with np.errstate(divide="ignore", invalid="ignore"):
        w, x = np.log(water), np.log(gas)
        found = 1e3 / (a + b * w + c * x + d * w * x)
    none = (water <= 0) | (gas <= 0)
    return keep_nan(np.where(none, 0.0, found), water_pressure, acid_pressure)
