"""Pressure losses, residence times and openings of a gas train."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number

#: Standard acceleration of free fall, m/s2 (SI Brochure, 9th edition).
STANDARD_GRAVITY = 9.80665


def reynolds(
    density: ArrayLike, velocity: ArrayLike, diameter: ArrayLike, viscosity: ArrayLike
) -> FloatArray:
    """Reynolds number of a tube, dimensionless.

    Re = rho |v| d / eta

    density kg/m3, velocity m/s, diameter m (inner), viscosity Pa s; any shapes that broadcast.

    >>> f"{reynolds(1.2, 0.1, 0.02, 1.8e-5):.1f}"
    '133.3'

    Source: [1] definition.
    """
    return number(density) * np.abs(number(velocity)) * number(diameter) / number(viscosity)


def _friction_times_reynolds(re: FloatArray, roughness: FloatArray) -> FloatArray:
    """f Re by Churchill, written so that no flow gives 64 and nothing overflows."""
    with np.errstate(divide="ignore", over="ignore"):
        a = (2.457 * np.log(1 / ((7 / re) ** 0.9 + 0.27 * roughness))) ** 16
        b = (37530 / re) ** 16
        return keep_nan(64 * (1 + (re / 8) ** 12 / (a + b) ** 1.5) ** (1 / 12), re, roughness)


def line_loss(
    velocity: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    diameter: ArrayLike,
    length: ArrayLike,
    roughness: ArrayLike = 0.0,
    minor_losses: ArrayLike = 0.0,
) -> FloatArray:
    """Pressure loss of a round line, Pa.

    dp = (f L / D + K) rho v^2 / 2, f by Churchill

    velocity m/s (its size counts), density kg/m3, viscosity Pa s, diameter m (inner), length m,
    roughness m, minor_losses K (sharp entrance 0.5, exit 1.0, sum of all); any shapes that
    broadcast. Zero flow loses nothing.
    Valid: density nearly constant, dp below about 10 % of the absolute pressure; beyond that hand
    the loss at the downstream density to `upstream_pressure`.

    >>> f"{line_loss(1.0, 1.2, 1.8e-5, 0.004, 1.0):.1f}"
    '36.0'

    Source: [1] Darcy-Weisbach; [2] Churchill, Chem. Eng. 84 (1977) 91.
    """
    v, rho, d = np.abs(number(velocity)), number(density), number(diameter)
    factor = _friction_times_reynolds(reynolds(rho, v, d, viscosity), number(roughness) / d)
    friction = factor * number(viscosity) * v * number(length) / (2 * d**2)
    return number(friction + number(minor_losses) * rho * v**2 / 2)


def ergun(
    superficial_velocity: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    voidage: ArrayLike,
    particle_diameter: ArrayLike,
    length: ArrayLike,
) -> FloatArray:
    """Pressure loss of a packed bed by Ergun, Pa.

    dp/L = 150 eta (1-e)^2 v / (e^3 d^2) + 1.75 (1-e) rho v^2 / (e^3 d)

    superficial_velocity v m/s (flow over the empty cross-section), density rho kg/m3, viscosity
    eta Pa s, voidage e, particle_diameter d m, length L m; any shapes that broadcast.
    Valid: voidage 0.35 to 0.55, Re/(1-e) to about 2500; wool and very open packings (e near 0.9)
    lie outside; tube less than 10 particles wide passes more at the wall.

    >>> f"{ergun(0.001, 1000.0, 1e-3, 0.4, 0.8e-3, 1.0):.2f}"
    '1338.87'

    Source: [1] Ergun, Chem. Eng. Prog. 48 (1952) 89, as in fluids.packed_bed.Ergun.
    """
    v, e, d = np.abs(number(superficial_velocity)), number(voidage), number(particle_diameter)
    viscous = 150 * number(viscosity) * (1 - e) ** 2 * v / (e**3 * d**2)
    inertial = 1.75 * (1 - e) * number(density) * v**2 / (e**3 * d)
    return number((viscous + inertial) * number(length))


def dip_head(liquid_density: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Pressure that opens a dip tube or lifts liquid, Pa.

    p = rho g h

    liquid_density kg/m3; depth m of the tube's end below the surface (or the lift); any shapes
    that broadcast. Valid: static; bubbling adds the bubble's surface tension (under 0.1 kPa for
    bores above 3 mm) and raises the level.

    >>> f"{dip_head(998.2, 0.1):.1f}"
    '978.9'

    Source: [1] hydrostatics.
    """
    return number(liquid_density) * STANDARD_GRAVITY * number(depth)


def upstream_pressure(
    downstream_pressure: ArrayLike,
    loss: ArrayLike,
    velocity: ArrayLike = 0.0,
    density: ArrayLike = 0.0,
) -> FloatArray:
    """Pressure before a line or bed from that behind it, isothermal ideal gas, Pa absolute.

    p1^2 = pe^2 + 2 p2 dp + k max(2 ln(p1/pe) - c, 0), pe = max(p2, sqrt(k)), k = rho v^2 p2

    downstream_pressure p2 Pa absolute; loss dp Pa, velocity v m/s and density rho kg/m3 evaluated
    at p2; any shapes that broadcast. Derivation: mass flux and temperature are constant along the
    line, so viscosity and Re are, and -dp/dx goes as 1/rho, as 1/p: p dp/dx is constant. The gas's
    acceleration costs k 2 ln(p1/pe); dp is to hold one exit head (K = 1), which covers the first k
    of it, c = 1. No isothermal gas leaves a bore faster than sqrt(p/rho): where it would, the
    pressure in its mouth is pe, above p2, and c = 0.
    Valid: isothermal at the temperature used for dp (take the hottest); without velocity and
    density up to p1/p2 = 1.6; not for a static head (`dip_head`), which adds without compression.

    >>> f"{upstream_pressure(1e5, 5e4):.0f}"
    '141421'

    Source: [1] integration above; [2] Crane Technical Paper 410, isothermal formula (from memory).
    """
    p2, dp = number(downstream_pressure), number(loss)
    driven = number(density) * number(velocity) ** 2 * p2
    mouth = keep_nan(np.sqrt(np.maximum(p2**2, driven)), p2 + driven)
    flat = mouth**2 + 2 * p2 * dp
    before = np.sqrt(flat)
    covered = np.where(driven <= p2**2, 1.0, 0.0)
    if not ((before > 1.6 * mouth) | (covered == 0)).any():
        return np.asarray(before)
    for _ in range(30):  # each step is at most 0.4 of the one before
        with np.errstate(invalid="ignore", divide="ignore"):
            speeds = driven * np.maximum(2 * np.log(before / mouth) - covered, 0.0)
        before = np.sqrt(flat + np.where(driven == 0, 0.0, speeds))
    return np.asarray(before)


def downstream_pressure(upstream_pressure: ArrayLike, loss: ArrayLike) -> FloatArray:
    """Pressure behind a line or bed from that before it, isothermal ideal gas, Pa absolute.

    p2 = sqrt(p1^2 - 2 p1 dp), 0 where the flow cannot pass

    upstream_pressure p1 Pa absolute; loss dp Pa, evaluated at the density and velocity at p1; any
    shapes that broadcast. Derivation and validity: see `upstream_pressure`.

    >>> f"{downstream_pressure(1e5, 4e4):.0f}"
    '44721'

    Source: [1] integration as in `upstream_pressure`, the other way.
    """
    p1 = number(upstream_pressure)
    left = p1**2 - 2 * p1 * number(loss)
    return keep_nan(np.sqrt(np.maximum(left, 0.0)), left)
