"""Strength of tubes and plates, plugged and heated volumes, stored energy, purge cycles."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, matching, number
from review.physics.gas import R


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
