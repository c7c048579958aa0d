"""Strength of tubes and plates, plugged and heated volumes, stored energy, purge cycles."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number
from review.physics.gas import R


def thin_wall_rating(stress: ArrayLike, wall: ArrayLike, outer_diameter: ArrayLike) -> FloatArray:
    """Overpressure inside a thin tube at which the mean hoop stress is the allowable one, Pa.

    p = 2 s t / (D - t); for s = 7 N/mm2 that is WT 140 / (OD - WT) in bar

    stress s Pa (allowable); wall t, outer_diameter D m; any shapes that broadcast.
    Valid: t/D below 0.1; for thicker walls `thick_wall_rating` is lower. Open or domed ends,
    smooth unscratched tube, no thermal stress.

    >>> f"{thin_wall_rating(7e6, 1.5e-3, 20e-3) / 1e5:.2f}"
    '11.35'

    Source: [1] EN 1595 as quoted in makers' tubing data: p = WT 140 / (OD - WT).
    """
    t, d = number(wall), number(outer_diameter)
    return 2 * number(stress) * t / (d - t)


def thick_wall_rating(
    stress: ArrayLike, inner_diameter: ArrayLike, outer_diameter: ArrayLike
) -> FloatArray:
    """Overpressure inside a tube at which the hoop stress at the bore is the allowable one, Pa.

    p = s (Do^2 - Di^2) / (Do^2 + Di^2)

    stress s Pa (allowable); inner_diameter Di, outer_diameter Do m; any shapes that broadcast.
    Valid: any wall, elastic and brittle materials, remote from the ends.

    >>> f"{thick_wall_rating(7e6, 17e-3, 20e-3) / 1e5:.2f}"
    '11.28'

    Source: [1] Lame; Roark's Formulas for Stress and Strain, thick-walled cylinder.
    """
    inner, outer = number(inner_diameter) ** 2, number(outer_diameter) ** 2
    return number(stress) * (outer - inner) / (outer + inner)


def hoop_stress(overpressure: ArrayLike, wall: ArrayLike, outer_diameter: ArrayLike) -> FloatArray:
    """Mean hoop stress in a thin tube, Pa.

    s = p (D - t) / (2 t)

    overpressure p Pa (inside less outside); wall t, outer_diameter D m; any shapes that broadcast.
    Valid: t/D below 0.1; the bore of a thicker wall sees more.

    >>> f"{hoop_stress(11.3514e5, 1.5e-3, 20e-3) / 1e6:.3f}"
    '7.000'

    Source: [1] equilibrium of a half tube.
    """
    t = number(wall)
    return number(overpressure) * (number(outer_diameter) - t) / (2 * t)


def flat_plate_rating(
    stress: ArrayLike, radius: ArrayLike, thickness: ArrayLike, poisson_ratio: ArrayLike
) -> FloatArray:
    """Overpressure at which a round flat plate, supported at its edge, bends to a stress, Pa.

    p = s (t/a)^2 8 / [3 (3 + nu)], largest stress at the middle

    stress s Pa (allowable); radius a, thickness t m; poisson_ratio nu; any shapes that broadcast.
    Valid: a/t above about 4, deflection below half the thickness. An edge that turns freely is the
    hazardous side: one held so that it cannot turn bears 3 (3 + nu)/6, about 1.6 times, as much.

    >>> f"{flat_plate_rating(7e6, 0.03, 0.003, 0.2) / 1e5:.3f}"
    '0.583'

    Source: [1] Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, article 16, circular
    plate with supported edge under uniform load.
    """
    slenderness = number(thickness) / number(radius)
    bending = 3 * (3 + number(poisson_ratio)) / 8
    return number(number(stress) * slenderness**2 / bending)


def plugged_rise(molar_rate: ArrayLike, volumes: Stack, temperatures: Stack) -> FloatArray:
    """Rate at which pressure rises in connected volumes that gas enters and cannot leave, Pa/s.

    dP/dt = n' R / sum_i (V_i / T_i)

    molar_rate n' mol/s (moles gained in reactions included); volumes (n, ...) m3 upstream of the
    plug only; temperatures (n, ...) K of each. Result broadcasts over the trailing axes.
    Valid: ideal gas, one pressure, temperatures constant. A hot volume counts for less.

    >>> f"{plugged_rise(1e-4, [1e-3, 1e-3], [300.0, 900.0]):.1f}"
    '187.1'

    Source: [1] ideal gas law summed over the volumes.
    """
    v, t = matching(volumes, temperatures)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number(number(molar_rate) * R / (v / t).sum(axis=0))


def time_to_pressure(start: ArrayLike, end: ArrayLike, rise: ArrayLike) -> FloatArray:
    """Time until a steadily rising pressure reaches a value, s.

    t = (p_end - p_start) / (dP/dt); 0 if already there, infinite if it does not rise

    start, end Pa on the same basis; rise Pa/s; any shapes that broadcast. Valid: constant rise.

    >>> f"{time_to_pressure(101325.0, 201325.0, 250.0):.0f}"
    '400'

    Source: [1] definition.
    """
    gap, rate = np.maximum(number(end) - number(start), 0.0), number(rise)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = np.where(gap == 0, 0.0, np.where(rate > 0, gap / rate, np.inf))
    return keep_nan(time, gap, rate)


def blocked_in_pressure(
    pressure: ArrayLike, start_temperature: ArrayLike, end_temperature: ArrayLike
) -> FloatArray:
    """Pressure of a gas closed in and warmed, Pa absolute.

    p2 = p1 T2 / T1

    pressure Pa absolute; temperatures K; any shapes that broadcast.
    Valid: ideal gas, constant volume, nothing boils or evolves.

    >>> f"{blocked_in_pressure(101325.0, 293.15, 773.15) / 1e5:.3f}"
    '2.672'

    Source: [1] ideal gas law.
    """
    return number(pressure) * number(end_temperature) / number(start_temperature)


def stored_energy_isothermal(
    pressure: ArrayLike, volume: ArrayLike, ambient_pressure: ArrayLike
) -> FloatArray:
    """Energy that compressed gas can give in isothermal expansion, J; the largest estimate.

    E = p V ln(p / pa), not below zero

    pressure p, ambient_pressure pa Pa absolute; volume V m3; any shapes that broadcast.
    Valid: ideal gas. An upper bound: the air pushed away, pa V (p/pa - 1), is not subtracted.

    >>> f"{stored_energy_isothermal(2e5, 1e-3, 1e5):.1f}"
    '138.6'

    Source: [1] Crowl & Louvar, Chemical Process Safety, 2nd ed. (2001), chapter 6.
    """
    p = number(pressure)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.maximum(p * number(volume) * np.log(p / number(ambient_pressure)), 0.0)


def stored_energy_brode(
    pressure: ArrayLike,
    volume: ArrayLike,
    ambient_pressure: ArrayLike,
    isentropic_exponent: ArrayLike,
) -> FloatArray:
    """Energy of compressed gas by Brode, J.

    E = (p - pa) V / (k - 1), not below zero

    pressure p, ambient_pressure pa Pa absolute; volume V m3; isentropic_exponent k above 1 (a
    low one is the hazardous side); any shapes that broadcast.
    Valid: energy that raises the gas to p at constant volume; used for the blast near by.

    >>> f"{stored_energy_brode(2e5, 1e-3, 1e5, 1.4):.0f}"
    '250'

    Source: [1] Brode (1959), as in Crowl & Louvar, Chemical Process Safety, 2nd ed., chapter 6.
    """
    over = number(pressure) - number(ambient_pressure)
    return np.maximum(over * number(volume) / (number(isentropic_exponent) - 1), 0.0)


def tube_buckling_pressure(
    youngs_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
    wall: ArrayLike,
    diameter: ArrayLike,
    knock_down: ArrayLike,
) -> FloatArray:
    """Pressure outside (or vacuum inside) at which a long thin tube buckles, Pa.

    p = k 2 E / (1 - nu^2) (t / D)^3

    youngs_modulus E Pa; poisson_ratio nu; wall t, diameter D m (the outer one is the cautious
    choice); knock_down k, at most 1, for out-of-roundness and scatter; any shapes that broadcast.
    Valid: long tube, t/D below about 0.05, elastic; glass may fail by stress before it buckles.

    >>> f"{tube_buckling_pressure(64e9, 0.2, 1e-3, 50e-3, 0.3) / 1e5:.2f}"
    '3.20'

    Source: [1] Bresse; Timoshenko & Gere, Theory of Elastic Stability, section 7.5.
    """
    slenderness = number(wall) / number(diameter)
    perfect = 2 * number(youngs_modulus) / (1 - number(poisson_ratio) ** 2) * slenderness**3
    return number(number(knock_down) * perfect)


def pressure_purge_cycles(
    start_fraction: ArrayLike,
    end_fraction: ArrayLike,
    low_pressure: ArrayLike,
    high_pressure: ArrayLike,
) -> FloatArray:
    """Whole cycles of pressurising with clean gas and venting that reach a fraction.

    j = ln(y0 / y) / ln(PH / PL), rounded up

    fractions y0, y mole fraction of what is purged; low_pressure PL, high_pressure PH Pa absolute;
    any shapes that broadcast. 0 if already there; infinite where PH does not exceed PL.
    Valid: ideal gas, full mixing in each cycle, purge gas free of what is purged.

    >>> f"{pressure_purge_cycles(0.21, 1e-6, 14.7, 94.7):.0f}"
    '7'

    Source: [1] Crowl & Louvar, Chemical Process Safety, 2nd ed. (2001), chapter 7.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.log(number(start_fraction) / number(end_fraction))
        each = np.log(number(high_pressure) / number(low_pressure))
        cycles = np.where(each > 0, np.ceil(needed / each), np.inf)
    return keep_nan(np.where(needed <= 0, 0.0, cycles), needed, each)
