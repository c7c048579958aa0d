"""Pressure losses, residence times and openings of a gas train."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number
from review.physics.gas import R

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


def actual_flow(molar_flow: ArrayLike, temperature: ArrayLike, pressure: ArrayLike) -> FloatArray:
    """Volume flow at the gas's own temperature and pressure, m3/s.

    Q = n' R T / P

    molar_flow mol/s, temperature K, pressure Pa absolute; any shapes that broadcast. Ideal gas.

    >>> f"{actual_flow(1e-3, 873.15, 101325.0):.4e}"
    '7.1648e-05'

    Source: [1] ideal gas law.
    """
    return number(molar_flow) * R * number(temperature) / number(pressure)


def residence_time(volume: ArrayLike, voidage: ArrayLike, volume_flow: ArrayLike) -> FloatArray:
    """Mean time the gas stays in a volume, s; infinite without flow.

    t = V e / Q

    volume V m3 (empty), voidage e share not filled by solids, volume_flow Q m3/s at the volume's
    temperature and pressure; any shapes that broadcast.
    Valid: mean value; the first gas through a laminar tube takes half of it.

    >>> f"{residence_time(1e-4, 0.4, 2e-5):.1f}"
    '2.0'

    Source: [1] definition.
    """
    with np.errstate(divide="ignore"):
        return number(volume) * number(voidage) / np.abs(number(volume_flow))


def _friction_times_reynolds(re: FloatArray, roughness: FloatArray) -> FloatArray:
    """f Re by Churchill, written so that no flow gives 64 and nothing overflows."""
    with np.errstate(divide="ignore", over="ignore"):
        a = (2.457 * np.log(1 / ((7 / re) ** 0.9 + 0.27 * roughness))) ** 16
        b = (37530 / re) ** 16
        return keep_nan(64 * (1 + (re / 8) ** 12 / (a + b) ** 1.5) ** (1 / 12), re, roughness)


def churchill_friction_factor(
    reynolds_number: ArrayLike, relative_roughness: ArrayLike = 0.0
) -> FloatArray:
    """Darcy friction factor of a round tube in every regime by Churchill, dimensionless.

    f = 8 [(8/Re)^12 + (A + B)^-1.5]^(1/12)
    A = {2.457 ln(1 / [(7/Re)^0.9 + 0.27 e/D])}^16, B = (37530/Re)^16

    reynolds_number; relative_roughness e/D; any shapes that broadcast. Infinite at Re = 0, where
    `line_loss` still gives the right loss of zero.
    Valid: all Re, e/D below 0.05; in the transition (2100 to 4000) only a likely course.

    >>> f"{churchill_friction_factor(1000.0):.4f} {churchill_friction_factor(1e5, 1e-4):.5f}"
    '0.0640 0.01846'

    Source: [1] Churchill, Chem. Eng. 84 (1977) 91, as in fluids.friction.Churchill_1977.
    """
    re = number(reynolds_number)
    with np.errstate(divide="ignore"):
        return _friction_times_reynolds(re, number(relative_roughness)) / re


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


def upstream_pressure(downstream_pressure: ArrayLike, loss: ArrayLike) -> FloatArray:
    """Pressure before a line or bed from that behind it, isothermal ideal gas, Pa absolute.

    p1 = sqrt(p2^2 + 2 p2 dp)

    downstream_pressure p2 Pa absolute; loss dp Pa, evaluated at the density and velocity at p2;
    any shapes that broadcast. Derivation: mass flux and temperature are constant along the line,
    so viscosity and Re are, and -dp/dx goes as 1/rho, as 1/p: p dp/dx is constant.
    Valid: isothermal at the temperature used for dp (take the hottest). The gas's acceleration,
    2 p2 rho v^2 ln(p1/p2), is covered as long as dp holds one exit head (K = 1) and
    p1/p2 < 1.6; not for a static head (`dip_head`), which adds without compression.

    >>> f"{upstream_pressure(1e5, 5e4):.0f}"
    '141421'

    Source: [1] integration above; Crane Technical Paper 410 isothermal formula without its
    logarithm (from memory).
    """
    p2 = number(downstream_pressure)
    return np.sqrt(p2**2 + 2 * p2 * number(loss))


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


def orifice_mass_flow(
    upstream: ArrayLike,
    downstream: ArrayLike,
    temperature: ArrayLike,
    molar_mass: ArrayLike,
    isentropic_exponent: ArrayLike,
    area: ArrayLike,
    discharge_coefficient: ArrayLike,
) -> FloatArray:
    """Gas flow through an opening, choked where due, kg/s; zero where there is no overpressure.

    m' = C A p1 sqrt{2 M/(R T) k/(k-1) [r^(2/k) - r^((k+1)/k)]}
    r = max(p2/p1, rc), rc = (2/(k+1))^(k/(k-1))

    upstream p1, downstream p2 Pa absolute; temperature K upstream; molar_mass kg/mol;
    isentropic_exponent k > 1; area m2; discharge_coefficient C (1 bounds a leak from above,
    0.6 a sharp relief opening from below); any shapes that broadcast. Ideal gas.

    >>> f"{orifice_mass_flow(3e5, 1e5, 293.15, 28.965e-3, 1.4, 1e-6, 1.0):.3e}"
    '7.081e-04'

    Source: [1] Crowl & Louvar, Chemical Process Safety, 2nd ed. (2001), chapter 4.
    """
    p1, k = number(upstream), number(isentropic_exponent)
    critical = (2 / (k + 1)) ** (k / (k - 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.clip(number(downstream) / p1, critical, 1.0)
        speed = 2 * number(molar_mass) / (R * number(temperature)) * k / (k - 1)
        flux = p1 * np.sqrt(speed * (ratio ** (2 / k) - ratio ** ((k + 1) / k)))
        return number(discharge_coefficient) * number(area) * flux
