"""Air that comes in against a flow: by diffusion and, in wide openings, by gravity exchange."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number

#: Atomic diffusion volumes and those of simple molecules, 1 (Fuller, Ensley, Giddings, J. Phys.
#: Chem. 73 (1969) 3679, as printed in Poling, Prausnitz, O'Connell, 5th ed., table 11-1; from
#: memory). What is not listed counts as a carbon atom: too small, so diffusion is too fast.
ATOMS = {
    "C": 15.9, "H": 2.31, "O": 6.11, "N": 4.54, "F": 14.7, "Cl": 21.0, "Br": 21.9, "I": 29.8,
    "S": 22.9,
}  # fmt: skip
MOLECULES = {
    "H2": 6.12, "D2": 6.84, "He": 2.67, "N2": 18.5, "O2": 16.3, "Ne": 5.98, "Ar": 16.2,
    "Kr": 24.5, "Xe": 32.7, "CO": 18.0, "CO2": 26.9, "N2O": 35.9, "NH3": 20.7, "H2O": 13.1,
    "SF6": 71.3, "Cl2": 38.4, "Br2": 69.0, "SO2": 41.8,
}  # fmt: skip
AIR_VOLUME = 19.7
AIR_MASS = 28.965e-3

GRAVITY = 9.80665


def diffusion_volume(formula: str, elements: Mapping[str, float]) -> float:
    """Fuller's diffusion volume of a molecule from its formula and its count of elements, 1.

    >>> diffusion_volume("CH4", {"C": 1, "H": 4})
    25.14

    Without elements nobody knows its size: it is taken as the smallest, which diffuses fastest.

    >>> diffusion_volume("none", {}) == min(MOLECULES.values())
    True

    Source: [1] Fuller, Schettler, Giddings, Ind. Eng. Chem. 58 (1966) 18 (from memory).
    """
    listed = MOLECULES.get(formula)
    if listed is not None:
        return listed
    if not elements:
        return min(MOLECULES.values())
    return float(sum(ATOMS.get(element, ATOMS["C"]) * n for element, n in elements.items()))


def diffusivity_in_air(
    temperature: ArrayLike, pressure: ArrayLike, molar_mass: ArrayLike, volume: ArrayLike
) -> FloatArray:
    """Diffusivity of a gas in air, m2/s.

    ``D = 1.00e-7 T^1.75 sqrt(1/M + 1/M_air) / (P (v^(1/3) + v_air^(1/3))^2)`` with T in K, P in
    atm, M in g/mol. Within some 10 % at low pressure (its authors' own comparison).

    temperature K; pressure Pa absolute; molar_mass kg/mol; volume Fuller's diffusion volume.

    Source: [1] Fuller, Schettler, Giddings, Ind. Eng. Chem. 58 (1966) 18 (from memory).

    >>> f"{float(diffusivity_in_air(293.15, 101325.0, 16.043e-3, 25.14)) * 1e4:.2f} cm2/s"
    '0.20 cm2/s'
    """
    masses = 1 / (1e3 * number(molar_mass)) + 1 / (1e3 * AIR_MASS)
    width = np.cbrt(number(volume)) + np.cbrt(AIR_VOLUME)
    atmospheres = number(pressure) / 101325.0
    return np.asarray(
        1.00e-7 * number(temperature) ** 1.75 * np.sqrt(masses) / (atmospheres * width**2)
    )


def back_diffused(velocity: ArrayLike, length: ArrayLike, diffusivity: ArrayLike) -> FloatArray:
    """Share of air that stands a length upstream of an open end: ``exp(-u L / D)``.

    Steady one-dimensional convection against diffusion from pure air at the mouth.
    velocity m/s; length m; diffusivity m2/s, the largest of the mixture's: the hazardous side.

    Source: [1] closed form of u x = D dx/dz, any textbook of transport phenomena.

    >>> f"{float(back_diffused(1e-3, 0.1, 0.7e-4)):.2f}"
    '0.24'
    """
    return np.asarray(np.exp(-number(velocity) * number(length) / number(diffusivity)))


def gravity_exchange(bore: ArrayLike, density: ArrayLike, air_density: ArrayLike) -> FloatArray:
    """Volume flow below which air runs in beside the gas that runs out, m3/s.

    ``0.2 A sqrt(g d |rho - rho_air| / the greater of the two)``: a lock exchange in a horizontal
    or vertical bore. Below about 6 mm surface and viscous forces stop it (a judgement).

    bore m; density of the gas and air_density kg/m3.

    Source: [1] lock-exchange flow, Benjamin, J. Fluid Mech. 31 (1968) 209, for the front's speed of
    about 0.4 to 0.5 sqrt(g' d) in half the bore (from memory).

    >>> f"{float(gravity_exchange(0.025, 0.084, 1.204)) * 6e4:.1f} L/min"
    '2.8 L/min'
    """
    d, gas, air = number(bore), number(density), number(air_density)
    lift = GRAVITY * d * np.abs(gas - air) / np.maximum(gas, air)
    return np.asarray(0.2 * np.pi / 4 * d**2 * np.sqrt(lift))


def wind_pressure(speed: ArrayLike, density: ArrayLike) -> FloatArray:
    """Pressure of wind that stands against an opening, Pa: ``rho v^2 / 2``.

    speed m/s; density of the air kg/m3; any shapes that broadcast. No opening feels more.

    Source: [1] EN 1991-1-4, clause 4.5, expression 4.10.

    >>> f"{float(wind_pressure(20.0, 1.25)):.0f} Pa"
    '250 Pa'
    """
    return np.asarray(number(density) * number(speed) ** 2 / 2)


def blown_in(gust: ArrayLike, pressure: ArrayLike, volume: ArrayLike) -> FloatArray:
    """Volume of air that a gust pushes into a vessel full of gas, m3: ``V g / (P + g)``.

    gust Pa above the pressure Pa absolute that the gas had; volume of the gas m3. All of it as if
    no gas came to meet it.

    Source: [1] Boyle's law.

    >>> f"{float(blown_in(250.0, 1e5, 2e-3)) * 1e6:.0f} mL"
    '5 mL'
    """
    g = number(gust)
    return np.asarray(number(volume) * g / (number(pressure) + g))


def plume_flow(buoyancy: ArrayLike, height: ArrayLike) -> FloatArray:
    """Air and gas that a light gas carries up in a plume, m3/s at a height above its source.

    Q = C B^(1/3) z^(5/3), C = (6 a/5) (9 a/10)^(1/3) pi^(2/3), a = 0.1

    buoyancy B m4/s3, g (1 - rho/rho_air) times the volume flow; height z m; any shapes that
    broadcast. 0 where the gas is no lighter than air. Valid: turbulent, from a point, still air
    around it. The entrainment a of plumes is 0.1 to 0.14; the least air is taken.

    >>> f"{plume_flow(1.5e-4, 1.0):.4f}"
    '0.0061'

    Source: [1] Morton, Taylor & Turner, Proc. R. Soc. A 234 (1956) 1; [2] Linden, Lane-Serff &
    Smeed, J. Fluid Mech. 212 (1990) 309, a = 0.1 (from memory).
    """
    b, z = number(buoyancy), number(height)
    entrained = 0.1
    c = 6 * entrained / 5 * (9 * entrained / 10) ** (1 / 3) * np.pi ** (2 / 3)
    return keep_nan(c * np.cbrt(np.maximum(b, 0.0)) * z ** (5 / 3), b + z)
