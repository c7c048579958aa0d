"""Liquids that stand, boil or are cold: how fast they become gas, and what condenses.

Rates are mol/s. Each formula errs towards more gas where it errs at all.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number
from review.physics.gas import R

#: Pound in kg, square foot in m2, millimetre of mercury in Pa.
POUND, SQUARE_FOOT, MMHG = 0.45359237, 0.09290304, 133.322387
#: From this share of the pressure on a liquid counts as boiling.
NEARLY_BOILING = 0.9
#: Steps of halving an interval: 1e-12 of where it began.
HALVINGS = 40

#: Sherwood number of developed laminar flow over a wall that takes up all that reaches it.
LEAST_SHERWOOD = 3.66
#: Density of water and of ice at 0 degC, kg/m3 (CRC Handbook, from memory).
WATER_AT_ZERO, ICE = 999.84, 916.7


def driving_pressure(vapour_pressure: ArrayLike, pressure: ArrayLike) -> FloatArray:
    """What drives evaporation into air, Pa: vapour pressure with the stream it makes itself.

    -P ln(1 - p/P), p no more than 0.9 P

    vapour_pressure p, pressure P Pa absolute; any shapes that broadcast.
    Valid: p below 0.9 P; above that the liquid boils, and the value at 0.9 P is returned.

    >>> f"{driving_pressure(10e3, 100e3):.0f}"
    '10536'

    Source: [1] Stefan flow, Bird, Stewart, Lightfoot, Transport Phenomena, 2nd ed., section 18.2.
    """
    p, whole = number(vapour_pressure), number(pressure)
    share = np.minimum(p / whole, NEARLY_BOILING)
    return keep_nan(-whole * np.log1p(-np.maximum(share, 0.0)), p, whole)


def pool_evaporation(
    air_speed: ArrayLike,
    molar_mass: ArrayLike,
    area: ArrayLike,
    vapour_pressure: ArrayLike,
    temperature: ArrayLike,
) -> FloatArray:
    """Evaporation from an open surface in moving air, mol/s.

    Q = 0.284 U^0.78 M^(2/3) A p / (82.05 T) lb/min, U m/s, M g/mol, A ft2, p mmHg, T K

    air_speed U m/s; molar_mass kg/mol; area m2; vapour_pressure Pa (`driving_pressure` where it is
    not small); temperature K; any shapes that broadcast.
    Valid: wind over a pool; a vessel's mouth gives off less than its area of pool.

    >>> f"{pool_evaporation(0.5, 78.11e-3, 0.01, 10e3, 293.15):.2e}"
    '9.82e-05'

    Source: [1] US EPA 550-B-99-009 (1999), appendix D, equation D-1 (from memory).
    """
    grams = number(molar_mass) * 1e3
    pounds = (
        0.284
        * number(air_speed) ** 0.78
        * grams ** (2 / 3)
        * (number(area) / SQUARE_FOOT)
        * (number(vapour_pressure) / MMHG)
        / (82.05 * number(temperature))
    )
    return number(pounds * POUND / 60.0 / number(molar_mass))[()]


def stefan_diffusion(
    diffusivity: ArrayLike,
    pressure: ArrayLike,
    area: ArrayLike,
    temperature: ArrayLike,
    depth: ArrayLike,
    driving: ArrayLike,
) -> FloatArray:
    """Vapour that diffuses up a still column of air over a liquid, mol/s.

    n = D A p / (R T L), D = D0 (T/293.15 K)^1.75 101325/P, p the `driving_pressure`

    diffusivity D0 m2/s in air at 293 K and 1 atm; pressure P Pa; area m2; temperature K; depth L m
    of the surface below the rim; driving Pa; any shapes that broadcast.
    Valid: nothing stirs the column: not warm, not bubbled, vapour heavier than air.

    >>> f"{stefan_diffusion(0.88e-5, 101325, 1e-3, 293.15, 0.1, 10536):.2e}"
    '3.80e-07'

    Source: [1] Bird, Stewart, Lightfoot, Transport Phenomena, 2nd ed., section 18.2; [2] Fuller,
    Schettler, Giddings, Ind. Eng. Chem. 58 (1966) 18, for T^1.75.
    """
    t = number(temperature)
    d = number(diffusivity) * (t / 293.15) ** 1.75 * 101325.0 / number(pressure)
    return d * number(area) * number(driving) / (R * t * number(depth))


def heat_of_vaporisation(
    boiling_point: ArrayLike,
    critical_temperature: ArrayLike,
    critical_pressure: ArrayLike,
    temperature: ArrayLike,
) -> FloatArray:
    """Heat of vaporisation by Riedel, carried to another temperature by Watson, J/mol.

    Hb = 1.093 R Tb (ln Pc - 1.013) / (0.930 - Tb/Tc), Pc bar
    H = Hb ((1 - T/Tc) / (1 - Tb/Tc))^0.38

    boiling_point Tb, critical_temperature Tc, temperature K; critical_pressure Pa; any shapes that
    broadcast. Valid: within 5 % for what does not associate; low for acids, which boil off
    faster than reckoned by as much; zero at the critical point.

    >>> f"{heat_of_vaporisation(353.23, 562.05, 48.98e5, 353.23):.0f}"
    '30643'

    Source: [1] Riedel (1954) and [2] Watson (1943), both in Poling, Prausnitz, O'Connell, The
    Properties of Gases and Liquids, 5th ed. (2001), chapter 7.
    """
    tb, tc, t = number(boiling_point), number(critical_temperature), number(temperature)
    at_boiling = 1.093 * R * tb * (np.log(number(critical_pressure) / 1e5) - 1.013)
    at_boiling = at_boiling / (0.930 - tb / tc)
    left = np.maximum(1 - t / tc, 0.0) / (1 - tb / tc)
    return keep_nan(at_boiling * left**0.38, t, tc)


def boil_off(heat: ArrayLike, heat_of_vaporisation: ArrayLike) -> FloatArray:
    """Vapour that heat makes of a boiling liquid, mol/s.

    n = q / H

    heat q W that reaches the liquid; heat_of_vaporisation H J/mol; any shapes that broadcast. No
    heat, no vapour. Valid: liquid at its boiling point, all heat makes vapour.

    >>> f"{boil_off(100.0, 40657.0):.5f}"
    '0.00246'

    Source: [1] energy balance.
    """
    q = number(heat)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.where(q <= 0, 0.0, q / number(heat_of_vaporisation))
    return keep_nan(rate, q)


def saturated_liquid_density(
    temperature: ArrayLike,
    molar_mass: ArrayLike,
    critical_temperature: ArrayLike,
    critical_pressure: ArrayLike,
) -> FloatArray:
    """Density of a liquid at its own vapour pressure by Rackett, kg/m3.

    V = R Tc / Pc Z^(1 + (1 - T/Tc)^(2/7)), Z = 0.28

    temperature, critical_temperature K; molar_mass kg/mol; critical_pressure Pa; any shapes that
    broadcast. Valid: simple fluids (nitrogen, oxygen, argon, methane) to 8 %, with Z of 0.28
    instead of their 0.29 on the dense side, which gives more gas.

    >>> f"{saturated_liquid_density(77.355, 28.0134e-3, 126.192, 33.958e5):.0f}"
    '855'

    Source: [1] Spencer, Danner, J. Chem. Eng. Data 17 (1972) 236, as in Poling, Prausnitz,
    O'Connell, 5th ed. (2001), chapter 4.
    """
    t, tc = number(temperature), number(critical_temperature)
    power = 1 + np.maximum(1 - t / tc, 0.0) ** (2 / 7)
    volume = R * tc / number(critical_pressure) * 0.28**power
    return keep_nan(number(molar_mass) / volume, t)


def expansion_ratio(
    density: ArrayLike, molar_mass: ArrayLike, temperature: ArrayLike, pressure: ArrayLike
) -> FloatArray:
    """Volume of gas that a volume of liquefied gas makes, m3/m3.

    rho R T / (M P)

    density rho of the liquid kg/m3; molar_mass M kg/mol; temperature T K and pressure P Pa of the
    gas; any shapes that broadcast.
    Valid: ideal gas; carbon dioxide and propane at room temperature make 1 to 2 % less.

    >>> f"{expansion_ratio(806.1, 28.0134e-3, 294.26, 101325):.0f}"
    '695'

    Source: [1] ideal gas law.
    """
    moles = number(density) / number(molar_mass)
    return np.asarray(moles * R * number(temperature) / number(pressure))


def ice_volume(volume: ArrayLike) -> FloatArray:
    """Volume of a water once it is ice, m3.

    V 999.84 / 916.7

    volume V of water at 0 degC m3; any shape.
    Valid: ice at 0 degC and 1 atm; a solution that freezes in part grows less.

    >>> f"{ice_volume(1.0):.4f}"
    '1.0907'

    Source: [1] CRC Handbook of Chemistry and Physics, density of water and of ice (from memory).
    """
    return np.asarray(number(volume) * WATER_AT_ZERO / ICE)


def wall_capture(diffusivity: ArrayLike, length: ArrayLike, volume_flow: ArrayLike) -> FloatArray:
    """Share of a vapour that reaches the wall of a bore that takes all of it up, 0 … 1.

    1 - exp(-3.66 pi D L / V')

    diffusivity D m2/s; length L m; volume_flow V' m3/s; any shapes that broadcast.
    Valid: laminar flow; developed from the start, which is the least there is: a bore whose
    inlet counts catches up to 15 % more. Errs to less, so more vapour leaves.

    >>> f"{wall_capture(1e-5, 0.1, 1e-6):.3f}"
    '1.000'
    >>> f"{wall_capture(1e-5, 0.1, 1e-5):.3f}"
    '0.683'

    Source: [1] Incropera & DeWitt, chapter 8, Nusselt number 3.66 at constant wall temperature.
    [2] Gormley, Kennedy, Proc. Roy. Irish Acad. 52A (1949) 163, the whole series (from memory).
    """
    reaches = LEAST_SHERWOOD * np.pi * number(diffusivity) * number(length)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(-np.expm1(-reaches / number(volume_flow)))


def flash_vapour(fractions: Stack, ratios: Stack) -> FloatArray:
    """Share of a mixture that is vapour where liquid and vapour part, mol/mol, 0 … 1.

    sum_i z_i (K_i - 1) / (1 + v (K_i - 1)) = 0

    fractions z (S, ...) mole fraction; ratios K (S, ...) = saturation pressure over pressure,
    infinite for what cannot condense. Result (...).
    Valid: ideal liquid, in which every component dissolves; solids as if they did.

    >>> f"{flash_vapour([0.5, 0.5], [2.0, 0.5]):.3f}"
    '0.500'
    >>> f"{flash_vapour([0.2, 0.8], [0.1, np.inf]):.4f}"
    '0.8889'

    Source: [1] Rachford, Rice, J. Pet. Technol. 4 (1952) 19.
    """
    z, k = np.broadcast_arrays(*matching(fractions, ratios))
    forever = np.isinf(k)
    never = np.where(forever, z, 0.0).sum(axis=0)
    k = np.where(forever, 1.0, k)
    rest = np.where(forever, 0.0, z)
    low, high = np.zeros(z.shape[1:]), np.ones(z.shape[1:])

    def unbalanced(v: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore", invalid="ignore"):
            escapes = np.where(never > 0, never / v, 0.0)
            terms = np.where(rest > 0, rest * (k - 1) / (1 + v * (k - 1)), 0.0)
        return number(escapes + terms.sum(axis=0))

    for _ in range(HALVINGS + 13):
        middle = (low + high) / 2
        more = unbalanced(middle) > 0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    dry = unbalanced(np.ones_like(low)) >= 0
    return keep_nan(
        np.where(dry, 1.0, np.where(high < 1e-12, 0.0, high)), z.sum(axis=0), k.sum(axis=0)
    )


def spill_area(volume: ArrayLike, least_depth: ArrayLike, most: ArrayLike = np.inf) -> FloatArray:
    """Surface of a spilled liquid, m2.

    A = min(V / h, A_most)

    volume V m3; least_depth h m to which it runs out; most m2, where a tray bounds it.
    Valid: a flat floor that takes nothing up.

    >>> float(spill_area(500e-6, 1e-3))
    0.5

    Source: [1] mass balance.
    """
    return np.minimum(number(volume) / number(least_depth), number(most))


def time_until_gone(amount: ArrayLike, rate: ArrayLike) -> FloatArray:
    """How long a source lasts, s; infinite where nothing leaves.

    t = n / n'

    amount n mol; rate n' mol/s; any shapes that broadcast.
    Valid: constant rate.

    >>> float(time_until_gone(1.0, 0.5)), float(time_until_gone(1.0, 0.0))
    (2.0, inf)

    Source: [1] mass balance.
    """
    n, rate = number(amount), number(rate)
    with np.errstate(divide="ignore", invalid="ignore"):
        lasts = np.where(n == 0, 0.0, n / rate)
    return keep_nan(np.where(rate > 0, lasts, np.inf), n, rate)
