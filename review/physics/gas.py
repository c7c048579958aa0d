"""Ideal gas, transport properties of gases and gas mixtures, what an idle volume draws in."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number

#: Molar gas constant, J/(mol K), exact since 2019 (SI Brochure, 9th edition).
R = 8.31446261815324

#: Mixing factor of a purge that nobody has measured (NFPA 69 annex on purging, from memory).
UNPROVEN_MIXING = 0.25


def amount(pressure: ArrayLike, volume: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Amount of ideal gas in a volume, mol.

    n = P V / (R T)

    pressure Pa absolute, volume m3, temperature K; any shapes that broadcast.
    Valid: ideal gas, within 1 % for permanent gases to about 10 bar at room temperature.

    >>> f"{amount(101325.0, 0.0224140, 273.15):.4f}"
    '1.0000'

    Source: [1] SI Brochure, 9th edition (2019), for R.
    """
    return number(pressure) * number(volume) / (R * number(temperature))


def density(pressure: ArrayLike, temperature: ArrayLike, molar_mass: ArrayLike) -> FloatArray:
    """Density of an ideal gas, kg/m3.

    rho = P M / (R T)

    pressure Pa absolute, temperature K, molar_mass kg/mol; any shapes that broadcast.
    Valid: ideal gas.

    >>> f"{density(101325.0, 293.15, 28.965e-3):.4f}"
    '1.2041'

    Source: [1] ideal gas law.
    """
    return number(pressure) * number(molar_mass) / (R * number(temperature))


def lucas_viscosity(
    temperature: ArrayLike,
    critical_temperature: ArrayLike,
    critical_pressure: ArrayLike,
    molar_mass: ArrayLike,
    quantum_parameter: ArrayLike = 0.0,
) -> FloatArray:
    """Viscosity of a pure gas at low pressure by Lucas, Pa s.

    eta = [0.807 Tr^0.618 - 0.357 exp(-0.449 Tr) + 0.340 exp(-4.058 Tr) + 0.018] FQ / xi
    xi = 0.176 (Tc / (M^3 Pc^4))^(1/6) (g/mol, bar), eta in 1e-7 Pa s
    FQ = 1.22 Q^0.15 {1 + 0.00385 [(Tr - 12)^2]^(1/M) sign(Tr - 12)}, 1 where Q is zero

    temperature, critical_temperature K; critical_pressure Pa; molar_mass kg/mol;
    quantum_parameter Q: 0.76 hydrogen, 1.38 helium, 0.52 deuterium, 0 for every other gas.
    Any shapes that broadcast. The dipole of polar gases is not counted.
    Valid: reduced pressure below about 0.1, errors to about 4 %.

    >>> f"{lucas_viscosity(300.0, 126.192, 3395800.0, 28.0134e-3):.3e}"
    '1.793e-05'

    Source: [1] Reid, Prausnitz, Poling, The Properties of Gases and Liquids, 4th ed. (1987),
    chapter 9, as given in the documentation of chemicals.viscosity.Lucas_gas.
    """
    tc = number(critical_temperature)
    tr = number(temperature) / tc
    grams = number(molar_mass) * 1e3
    q = number(quantum_parameter)
    xi = 0.176 * (tc / (grams**3 * (number(critical_pressure) / 1e5) ** 4)) ** (1 / 6)
    body = 0.807 * tr**0.618 - 0.357 * np.exp(-0.449 * tr) + 0.340 * np.exp(-4.058 * tr) + 0.018
    deviation = 0.00385 * ((tr - 12) ** 2) ** (1 / grams) * np.sign(tr - 12)
    quantum = np.where(q > 0, 1.22 * np.abs(q) ** 0.15 * (1 + deviation), 1.0)
    return keep_nan(1e-7 * body * quantum / xi, q)


def eucken_conductivity(
    viscosity: ArrayLike, heat_capacity: ArrayLike, molar_mass: ArrayLike
) -> FloatArray:
    """Thermal conductivity of a gas by the modified Eucken relation, W/(m K).

    lambda = (1.32 + 1.77 R / cv) eta cv / M, cv = cp - R

    viscosity Pa s; heat_capacity cp J/(mol K), molar, at constant pressure; molar_mass kg/mol;
    any shapes that broadcast. Valid: low pressure, within 5 to 20 % (polar gases read high).

    >>> f"{eucken_conductivity(1.787e-5, 29.12, 28.0134e-3):.4f}"
    '0.0269'

    Source: [1] Reid, Prausnitz, Poling, The Properties of Gases and Liquids, 4th ed. (1987),
    chapter 10, as in chemicals.thermal_conductivity.Eucken_modified.
    """
    cv = number(heat_capacity) - R
    return (1.32 * cv + 1.77 * R) * number(viscosity) / number(molar_mass)


def drawn_in_fraction(temperature: ArrayLike, hot_temperature: ArrayLike) -> FloatArray:
    """Share of what an idle open volume holds that came in while it cooled, mole fraction.

    y = 1 - T / Th, not below zero

    temperature T and hot_temperature Th K (mean over the volume); any shapes that broadcast.
    Valid: constant pressure, one open end, evenly mixed. The front of the drawn-in gas holds every
    fraction from 0 to 1 whatever this mean says.

    >>> f"{drawn_in_fraction(293.15, 1173.15):.4f}"
    '0.7501'

    Source: [1] ideal gas law at constant pressure and volume.
    """
    return np.maximum(1 - number(temperature) / number(hot_temperature), 0.0)


def float_meter_correction(
    rate: ArrayLike,
    calibration_molar_mass: ArrayLike,
    gas_molar_mass: ArrayLike,
    calibration_temperature: ArrayLike,
    calibration_pressure: ArrayLike,
    gas_temperature: ArrayLike,
    gas_pressure: ArrayLike,
) -> FloatArray:
    """Volume flow through a float (variable-area) meter read on another gas's scale, m3/s.

    Q = Q_scale sqrt(rho_cal / rho_gas), rho = P M / (R T)

    rate: the scale reading, m3/s of the calibration gas at calibration temperature and pressure;
    molar masses kg/mol; temperatures K; pressures Pa absolute; any shapes that broadcast. The
    result is the actual volume flow at the temperature and pressure of the gas in the meter.
    Valid: float much denser than the gas (glass or steel in gas near 1 bar), viscosity has no
    influence (turbulent meters; small laminar ones lie between this and the viscosity ratio).

    >>> ratio = float_meter_correction(1.0, 28.965e-3, 2.016e-3, 293.15, 101325, 293.15, 101325)
    >>> f"{ratio:.2f}"
    '3.79'

    Source: [1] VDI/VDE 3513-1, conversion for variable-area meters (from memory).
    """
    calibration = density(calibration_pressure, calibration_temperature, calibration_molar_mass)
    gas = density(gas_pressure, gas_temperature, gas_molar_mass)
    return number(rate) * np.sqrt(calibration / gas)


def mixing_residual(
    volume_flow: ArrayLike, time: ArrayLike, volume: ArrayLike, mixing_factor: ArrayLike
) -> FloatArray:
    """Share of the old gas left in a volume after flushing with new gas, 0 … 1.

    y = exp(-K Q t / V)

    volume_flow Q m3/s at the volume's own temperature and pressure; time s; volume V m3;
    mixing_factor K, 1 for perfect mixing, 0.25 unless shown better; any shapes that broadcast.
    Valid: constant flow, no dead legs. One volume.

    >>> f"{mixing_residual(1e-5, 300.0, 1e-3, 0.25):.3f}"
    '0.472'

    Source: [1] NFPA 69, Annex on purging (from memory), for the mixing factor.
    """
    exchanges = number(volume_flow) * number(time) / number(volume)
    return np.exp(-number(mixing_factor) * exchanges)


def swept_volume(volumes: Stack, flows: Stack, flow: ArrayLike) -> FloatArray:
    """Gas volume that a flow has to sweep on its way to where it is wanted, m3.

    V = sum(V_i min(1, q / q_i)) over the volumes in series; V = sum(V_i) where q <= 0

    volumes V_i m3 and flows q_i through each, (volumes, ...); flow q where it is wanted, (...), in
    the unit of q_i. Where ways part, more gas flows through a volume than gets there: it counts by
    the share that does.
    Valid: no dead legs.

    >>> float(swept_volume([1e-3, 1e-3], [2.0, 1.0], 1.0))
    0.0015

    Source: [1] conservation of volume.
    """
    each, through, q = matching(volumes, flows, [flow])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(q <= 0, 1.0, q / np.maximum(through, q))
    return np.asarray((each * share).sum(axis=0))
