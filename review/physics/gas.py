"""Ideal gas, transport properties of gases and gas mixtures, what an idle volume draws in."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number, stack

#: Molar gas constant, J/(mol K), exact since 2019 (SI Brochure, 9th edition).
R = 8.31446261815324


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


def molar_mass_of_mixture(fractions: Stack, molar_masses: Stack) -> FloatArray:
    """Molar mass of a gas mixture, kg/mol.

    M = sum(x_i M_i) / sum(x_i)

    fractions (S, ...) mole fraction, normalised here; molar_masses (S,) or (S, ...) kg/mol.
    Result (...). NaN where all fractions are zero.

    >>> f"{molar_mass_of_mixture([0.05, 0.95], [2.016e-3, 39.948e-3]):.5f}"
    '0.03805'

    Source: [1] definition of the mole fraction.
    """
    x, m = matching(fractions, molar_masses)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number((x * m).sum(axis=0) / x.sum(axis=0))[()]


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


def lucas_polarity_factor(
    temperature: ArrayLike,
    critical_temperature: ArrayLike,
    critical_pressure: ArrayLike,
    critical_compressibility: ArrayLike,
    dipole_moment: ArrayLike,
) -> FloatArray:
    """Polarity factor of the Lucas gas viscosity, dimensionless.

    mu_r = 52.46 mu^2 Pc / Tc^2 (debye, bar, K)
    F = 1                                                   where mu_r < 0.022
    F = 1 + 30.55 (0.292 - Zc)^1.72                         where 0.022 <= mu_r < 0.075
    F = 1 + 30.55 (0.292 - Zc)^1.72 |0.96 + 0.1 (Tr - 0.7)|  where mu_r >= 0.075

    temperature, critical_temperature K; critical_pressure Pa; critical_compressibility
    dimensionless; dipole_moment C m (1 debye = 3.33564e-30 C m); any shapes that broadcast.
    Valid: Zc <= 0.292; above it the excess is taken as none.

    >>> f"{lucas_polarity_factor(550.0, 512.6, 80.9e5, 0.224, 1.7 * 3.33564e-30):.4f}"
    '1.2999'

    Source: [1] Reid, Prausnitz, Poling, The Properties of Gases and Liquids, 4th ed. (1987),
    chapter 9, as given in the documentation of chemicals.viscosity.Lucas_gas.
    """
    tr = number(temperature) / number(critical_temperature)
    debye = number(dipole_moment) / 3.33564e-30
    reduced = 52.46 * debye**2 * number(critical_pressure) / 1e5 / number(critical_temperature) ** 2
    excess = 30.55 * np.maximum(0.292 - number(critical_compressibility), 0.0) ** 1.72
    strong = 1 + excess * np.abs(0.96 + 0.1 * (tr - 0.7))
    factor = np.where(reduced < 0.022, 1.0, np.where(reduced < 0.075, 1 + excess, strong))
    return keep_nan(factor, reduced, excess, tr)


def lucas_viscosity(
    temperature: ArrayLike,
    critical_temperature: ArrayLike,
    critical_pressure: ArrayLike,
    molar_mass: ArrayLike,
    quantum_parameter: ArrayLike = 0.0,
    polarity_factor: ArrayLike = 1.0,
) -> FloatArray:
    """Viscosity of a pure gas at low pressure by Lucas, Pa s.

    eta = [0.807 Tr^0.618 - 0.357 exp(-0.449 Tr) + 0.340 exp(-4.058 Tr) + 0.018] Fp FQ / xi
    xi = 0.176 (Tc / (M^3 Pc^4))^(1/6) (g/mol, bar), eta in 1e-7 Pa s
    FQ = 1.22 Q^0.15 {1 + 0.00385 [(Tr - 12)^2]^(1/M) sign(Tr - 12)}, 1 where Q is zero

    temperature, critical_temperature K; critical_pressure Pa; molar_mass kg/mol;
    quantum_parameter Q: 0.76 hydrogen, 1.38 helium, 0.52 deuterium, 0 for every other gas;
    polarity_factor from `lucas_polarity_factor`. Any shapes that broadcast.
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
    return keep_nan(1e-7 * body * number(polarity_factor) * quantum / xi, q)


def wilke_viscosity(fractions: Stack, viscosities: Stack, molar_masses: Stack) -> FloatArray:
    """Viscosity of a gas mixture by Wilke, Pa s.

    eta = sum_i x_i eta_i / sum_j x_j phi_ij
    phi_ij = [1 + (eta_i/eta_j)^0.5 (M_j/M_i)^0.25]^2 / [8 (1 + M_i/M_j)]^0.5

    fractions (S, ...) mole fraction; viscosities (S, ...) Pa s; molar_masses (S,) kg/mol.
    Result (...). NaN where all fractions are zero.
    Valid: low pressure; hydrogen or helium with a heavy gas may be off by about 15 %.

    >>> f"{wilke_viscosity([0.05, 0.95], [1.34e-5, 2.5e-5], [2.016e-3, 44.097e-3]):.4e}"
    '2.5043e-05'

    Source: [1] Wilke, J. Chem. Phys. 18 (1950) 517, as in chemicals.viscosity.Wilke.
    """
    x, eta, m = matching(fractions, viscosities, molar_masses)
    eta_i, eta_j, m_i, m_j = eta[:, None], eta[None, :], m[:, None], m[None, :]
    root = 1 + np.sqrt(eta_i / eta_j) * (m_j / m_i) ** 0.25
    phi = root**2 / np.sqrt(8 * (1 + m_i / m_j))
    weight = (x[None, :] * phi).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number((x * eta / weight).sum(axis=0))[()]


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


def polynomial_heat_capacity(
    temperature: ArrayLike,
    coefficients: Stack,
    lowest: ArrayLike = 0.0,
    highest: ArrayLike = np.inf,
) -> FloatArray:
    """Molar heat capacity of an ideal gas from a polynomial, J/(mol K).

    cp = R sum_i a_i T^i, i = 0, 1, 2 …, T held within lowest … highest

    temperature K; coefficients (N,) or (N, ...), a_i in 1/K^i, lowest power first;
    lowest, highest K, the range of the fit. Outside it the value at the nearer end is used:
    a polynomial must not run away.

    >>> f"{polynomial_heat_capacity(300.0, [3.5, 1e-4]):.4f}"
    '29.3501'

    Source: [1] Poling, Prausnitz, O'Connell, The Properties of Gases and Liquids, 5th ed.
    (2001), Appendix A section C, for the form.
    """
    a = stack(coefficients)
    t = np.minimum(np.maximum(number(temperature), number(lowest)), number(highest))
    total = np.zeros(np.broadcast_shapes(t.shape, a.shape[1:]))
    for term in a[::-1]:
        total = total * t + term
    return keep_nan(R * total, t)


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


def drawn_in_volume(
    volume: ArrayLike, ambient: ArrayLike, temperature: ArrayLike, hot: ArrayLike
) -> FloatArray:
    """Volume of gas, measured at ambient temperature, that a cooling volume draws in, m3.

    Va = V Ta (1/T - 1/Th), not below zero

    volume V m3; ambient Ta, temperature T reached, hot Th K; any shapes that broadcast.
    Valid: constant pressure, ideal gas. Gas that dissolves in the liquid drawn pulls more.

    >>> f"{drawn_in_volume(1e-3, 293.15, 293.15, 873.15):.3e}"
    '6.643e-04'

    Source: [1] ideal gas law at constant pressure and volume.
    """
    drawn = number(volume) * number(ambient) * (1 / number(temperature) - 1 / number(hot))
    return np.maximum(drawn, 0.0)


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


def air_diffusion_reach(
    temperature: ArrayLike, time: ArrayLike, reference_diffusivity: ArrayLike
) -> FloatArray:
    """Depth to which air diffuses into an idle open tube, m.

    x = sqrt(4 D t), D = D0 (T / 293.15 K)^1.75

    temperature K, the hottest on the way (an upper bound of D); time s; reference_diffusivity
    D0 m2/s of the gas in air at 20 degC and 1 atm; any shapes that broadcast.
    Valid: pressure of 1 atm or above, no flow. At this depth a deep tube holds erfc(1) = 16 % of
    what stands at its mouth: it is a scale, not a front.

    >>> f"{air_diffusion_reach(293.15, 60.0, 7.6e-5):.3f}"
    '0.135'

    Source: [1] Fuller, Schettler, Giddings, Ind. Eng. Chem. 58 (1966) 18, for T^1.75;
    [2] Crank, The Mathematics of Diffusion, 2nd ed. (1975), half-space solution.
    """
    d = number(reference_diffusivity) * (number(temperature) / 293.15) ** 1.75
    return np.sqrt(4 * d * number(time))


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
