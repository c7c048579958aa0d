"""Thermal mass flow controllers read with another gas than they were calibrated for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, number

#: Conversion factors over nitrogen, true flow / reading of a thermal controller calibrated for
#: nitrogen, 1. As makers of such controllers publish them, which differ by 3 to 5 % between makers
#: (from memory, no single source).
FACTORS = {
    "nitrogen": 1.00, "oxygen": 0.99, "hydrogen": 1.01, "deuterium": 1.00, "helium": 1.45,
    "neon": 1.46, "argon": 1.39, "krypton": 1.54, "xenon": 1.32, "carbon monoxide": 1.00,
    "carbon dioxide": 0.70, "methane": 0.72, "ethane": 0.50, "ethylene": 0.60, "acetylene": 0.58,
    "propane": 0.36, "propylene": 0.41, "butane": 0.26, "ammonia": 0.73, "nitrous oxide": 0.71,
    "nitric oxide": 0.99, "nitrogen dioxide": 0.74, "sulfur dioxide": 0.69, "chlorine": 0.86,
    "hydrogen chloride": 1.00, "hydrogen sulfide": 0.80, "sulfur hexafluoride": 0.26,
    "silane": 0.60, "phosphine": 0.69, "dimethyl ether": 0.39,
}  # fmt: skip


#: Molar heat capacity of nitrogen, J/(mol K), and what makers multiply the ratio of heat capacities
#: with for molecules of more than three atoms (from memory).
NITROGEN_HEAT, MANY_ATOMS = 29.12, 0.88


def thermal_conversion(
    names: Sequence[str], fractions: FloatArray, heat_capacities: ArrayLike = np.nan
) -> FloatArray:
    """Conversion factor of a mixture over nitrogen: ``1 / F = sum(x / F_i)``.

    names of the substances; fractions (substances, trials) by mole; heat_capacities (substances,)
    J/(mol K) of each as a gas, from which ``F_i = 0.88 * 29.12 / cp`` where makers give no factor:
    right within a tenth for methanol 0.58, ethanol 0.39 and benzene 0.29 (makers, from memory).
    Where neither is known 1, which is never too little of a molecule: its heat capacity is at
    least 7/2 R, and more atoms only lower the factor. Source: [1] as makers of thermal controllers
    give it (from memory); equipartition.

    >>> f"{float(thermal_conversion(['argon', 'hydrogen'], np.array([[0.95], [0.05]]))[0]):.3f}"
    '1.364'
    """
    known = np.array([FACTORS.get(name, np.nan) for name in names])
    each = np.where(np.isnan(known), MANY_ATOMS * NITROGEN_HEAT / number(heat_capacities), known)
    each = np.where(np.isnan(each), 1.0, each)
    # NaN is not absent.
    share = np.where(fractions == 0, 0.0, fractions / each[:, None])
    return np.asarray(1 / share.sum(axis=0))
