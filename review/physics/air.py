"""Properties of air at about 1 atm, and how strongly it rises along a warm surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, number
from review.physics.flow import STANDARD_GRAVITY
from review.physics.gas import R

#: Molar mass of dry air, kg/mol (U.S. Standard Atmosphere, 1976).
AIR_MOLAR_MASS = 28.9644e-3

#: Prandtl number used for air: the lowest of 300 to 1000 K (Incropera, Table A.4, from memory:
#: 0.683 at 550 K); a low value gives a low coefficient and so a hot surface.
AIR_PRANDTL = 0.683


def air_viscosity(temperature: ArrayLike) -> FloatArray:
    """Viscosity of air, Pa s.

    eta = 1.458e-6 T^1.5 / (T + 110.4)

    temperature K. Valid: 100 to 1900 K within about 3 %, pressure near 1 bar.

    >>> f"{air_viscosity(288.15):.4e}"
    '1.7894e-05'

    Source: [1] U.S. Standard Atmosphere, 1976, equation 51.
    """
    t = number(temperature)
    return number(1.458e-6 * t**1.5 / (t + 110.4))


def air_conductivity(temperature: ArrayLike) -> FloatArray:
    """Thermal conductivity of air, W/(m K).

    lambda = 2.64638e-3 T^1.5 / (T + 245.4 10^(-12/T))

    temperature K. Valid: 100 to 1000 K, pressure near 1 bar.

    >>> f"{air_conductivity(288.15):.4e}"
    '2.5326e-02'

    Source: [1] U.S. Standard Atmosphere, 1976, equation 53.
    """
    t = number(temperature)
    return number(2.64638e-3 * t**1.5 / (t + 245.4 * 10 ** (-12 / t)))


def air_rayleigh(
    surface_temperature: ArrayLike, ambient_temperature: ArrayLike, size: ArrayLike
) -> FloatArray:
    """Rayleigh number of a surface in still air at 1 atm, dimensionless.

    Ra = g |Ts - Ta| L^3 Pr / (Tf nu^2), all at the film temperature Tf = (Ts + Ta)/2

    surface_temperature Ts, ambient_temperature Ta K; size L m (diameter of a horizontal cylinder,
    height of a wall); any shapes that broadcast. Pr = 0.683.

    >>> f"{air_rayleigh(373.15, 293.15, 0.02):.3g}"
    '3.62e+04'

    Source: [1] definition; [2] U.S. Standard Atmosphere, 1976, for the viscosity.
    """
    ts, ta = number(surface_temperature), number(ambient_temperature)
    film = (ts + ta) / 2
    kinematic = air_viscosity(film) * R * film / (101325.0 * AIR_MOLAR_MASS)
    rise = np.abs(ts - ta)
    return STANDARD_GRAVITY * rise * number(size) ** 3 * AIR_PRANDTL / (film * kinematic**2)
