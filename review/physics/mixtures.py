"""Limits of flammable mixtures, computed from limits that are passed in; none of its own.

Fractions and limits are mole fractions (0 … 1).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number

#: Mole fraction of oxygen in dry air (U.S. Standard Atmosphere, 1976: 0.209476).
OXYGEN_IN_AIR = 0.2095

#: Temperature at which limits are stated, K.
LIMIT_TEMPERATURE = 298.15

#: Mean heat capacity of a gas from 298.15 K up to T is a + b T, J/(mol K): through the enthalpies
#: of NIST-JANAF (1998, from memory) at 1000 and 1500 K.
MEAN_HEAT_CAPACITY = {
    "nitrogen": (27.81, 2.76e-3),
    "oxygen": (29.49, 2.86e-3),
    "carbon dioxide": (40.06, 7.52e-3),
    "water": (31.03, 6.02e-3),
}

#: A noble gas warms as easily as 20.79 J/(mol K) says, air on its way to 1300 K takes up 31.8. The
#: 0.97 keeps below what equal flame temperatures give, because the burnt gas changes too.
NOBLE_CREDIT = 1 - 0.97 * 20.786 / 31.83

#: How much more fuel than air burns rich beside a noble gas: what air takes up more than it, 11
#: J/(mol K), in units of the least that a fuel takes up, 30 J/(mol K) of hydrogen.
NOBLE_ODDS = (31.83 - 20.786) / 30.0


def limit_ratio(fractions: Stack, limits: Stack) -> FloatArray:
    """How far a mixture's fuels reach their limit together, dimensionless; 1 is at the limit.

    r = sum_i x_i / L_i

    fractions (S, ...) mole fraction of each fuel in the whole gas; limits (S,) or (S, ...) mole
    fraction. Result (...), 0 without fuel. Valid: lower limits, of fuels
    that burn alike.

    >>> f"{limit_ratio([0.008, 0.020, 0.005], [0.012, 0.053, 0.031]):.3f}"
    '1.205'

    Source: [1] Le Chatelier (1891).
    """
    x, limit = matching(fractions, limits)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number((x / limit).sum(axis=0))[()]


def burgess_wheeler_lower(
    limit: ArrayLike,
    temperature: ArrayLike,
    slope: ArrayLike = 7.21e-4,
    floor: ArrayLike = 0.1,
) -> FloatArray:
    """Lower limit of a hot gas, mole fraction; never zero or below.

    L(T) = L25 max(1 - s (T - 298.15 K), floor), not above L25

    limit L25 mole fraction at 25 degC; temperature T K; slope s 1/K; floor share of L25 that is
    always kept; any shapes that broadcast.
    Valid: paraffins about 20 to 900 degC; hydrogen falls faster: pass its own slope. Colder than
    25 degC the limit is kept, though it rises.

    >>> f"{burgess_wheeler_lower(0.05, 473.15):.5f}"
    '0.04369'

    Source: [1] Zabetakis, Bureau of Mines Bulletin 627 (1965), after Burgess and Wheeler.
    """
    change = 1 - number(slope) * (number(temperature) - LIMIT_TEMPERATURE)
    return number(limit) * np.minimum(np.maximum(change, number(floor)), 1.0)


def burgess_wheeler_upper(
    limit: ArrayLike, temperature: ArrayLike, slope: ArrayLike = 7.21e-4
) -> FloatArray:
    """Upper limit of a hot gas, mole fraction, at most 1.

    U(T) = U25 [1 + s (T - 298.15 K)], not below U25, not above 1

    limit U25 mole fraction at 25 degC; temperature T K; slope s 1/K; any shapes that broadcast.
    Valid: without cool flames; colder than 25 degC the limit is kept, though it falls.

    >>> f"{burgess_wheeler_upper(0.15, 473.15):.4f}"
    '0.1689'

    Source: [1] Zabetakis, Bureau of Mines Bulletin 627 (1965).
    """
    change = 1 + number(slope) * (number(temperature) - LIMIT_TEMPERATURE)
    return np.minimum(number(limit) * np.maximum(change, 1.0), 1.0)


def limit_flame_temperature(
    lower_limit: ArrayLike,
    heat_of_combustion: ArrayLike,
    carbon: ArrayLike,
    hydrogen: ArrayLike,
    other: ArrayLike,
    oxygen_demand: ArrayLike,
) -> FloatArray:
    """Temperature of the flame in a gas at its lower limit in air at 25 degC, K.

    (T - T0) sum_i n_i (a_i + b_i T) = L Hc, n the burnt gas of L fuel and 1 - L air

    lower_limit L mole fraction; heat_of_combustion Hc J/mol, water as vapour; carbon and hydrogen
    atoms of the fuel (sulfur counts as carbon); other products of one mole of it, mol (half of its
    nitrogen atoms); oxygen_demand mol/mol; any shapes that broadcast. NaN where an input is.
    Valid: complete combustion, no heat lost, below about 1700 K.

    >>> f"{limit_flame_temperature(0.044, 802.6e3, 1, 4, 0, 2):.0f}"
    '1360'

    Source: [1] energy balance; [2] heat capacities as above.
    """
    fuel, z = number(lower_limit), number(oxygen_demand)
    burnt = {
        "carbon dioxide": fuel * number(carbon),
        "water": fuel * number(hydrogen) / 2,
        "oxygen": OXYGEN_IN_AIR * (1 - fuel) - z * fuel,
        "nitrogen": (1 - OXYGEN_IN_AIR) * (1 - fuel) + fuel * number(other),
    }
    level = sum((n * MEAN_HEAT_CAPACITY[gas][0] for gas, n in burnt.items()), number(0.0))
    rise = sum((n * MEAN_HEAT_CAPACITY[gas][1] for gas, n in burnt.items()), number(0.0))
    start = LIMIT_TEMPERATURE
    half = level - rise * start
    heat = fuel * number(heat_of_combustion)
    with np.errstate(invalid="ignore"):
        return number((np.sqrt(half**2 + 4 * rise * (level * start + heat)) - half) / (2 * rise))


def lower_limit_in_noble_gas(limit: ArrayLike, noble_share: ArrayLike) -> FloatArray:
    """Lower limit in a gas that holds argon, helium or another noble gas, mole fraction.

    L' = L [1 - n (1 - 0.97 cp/cp_air)], cp/cp_air = 20.79/31.83

    limit L mole fraction in air; noble_share n of all that is not fuel, 0 … 1; any shapes that
    broadcast. Valid: flames as hot as at the limit in air; helium's conductivity only raises the
    limit. Carbon dioxide, steam and more oxygen count as air, though they too take up more heat.

    >>> f"{lower_limit_in_noble_gas(0.044, 0.7905) / 0.044:.2f}"
    '0.71'

    Source: [1] equal flame temperature: the heat of the fuel over what the gas takes up; constant
    flame temperature at the lower limit after Zabetakis, Bureau of Mines Bulletin 627 (1965).
    """
    return number(number(limit) * (1 - NOBLE_CREDIT * number(noble_share)))


def upper_limit_in_noble_gas(limit: ArrayLike, noble_share: ArrayLike) -> FloatArray:
    """Upper limit in a gas that holds argon, helium or another noble gas, mole fraction.

    U'/(1 - U') = U/(1 - U) + n 11.04/30

    limit U mole fraction in air; noble_share n of all that is not fuel, 0 … 1; any shapes that
    broadcast. At a rich limit oxygen makes the heat; equal temperature of the flame then lets as
    much more fuel in as takes up what the noble gas leaves.
    Valid: an upper bound, with 30 J/(mol K) for the fuel, that of hydrogen.

    >>> f"{upper_limit_in_noble_gas(0.15, 0.79):.2f}"
    '0.32'

    Source: [1] equal flame temperature, as above; measured: methane 15 to 18, ethylene 32 to 37 %.
    """
    u = number(limit)
    with np.errstate(divide="ignore", invalid="ignore"):
        odds = u / (1 - u) + NOBLE_ODDS * number(noble_share)
        wider = np.where(np.isinf(odds), 1.0, odds / (1 + odds))
    return keep_nan(np.maximum(wider, u), u, noble_share)


def nitrogen_equivalent_fuel(
    fuel_fractions: Stack, inert_fractions: Stack, coefficients: Stack
) -> FloatArray:
    """Share of each fuel once its inert gases are counted as nitrogen, mole fraction.

    A'_i = A_i / (sum_i A_i + sum_k K_k B_k)

    fuel_fractions A (S, ...), inert_fractions B (I, ...) mole fraction; coefficients K (I,) or
    (I, ...), 1 for nitrogen, 0.55 for argon. Result (S, ...). NaN where there is neither.

    >>> f"{nitrogen_equivalent_fuel([0.05], [0.95], [0.55])[0]:.4f}"
    '0.0873'

    Source: [1] ISO 10156, nitrogen equivalents.
    """
    fuel, inert, k = matching(fuel_fractions, inert_fractions, coefficients)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number(fuel / (fuel.sum(axis=0) + (k * inert).sum(axis=0)))


def iso10156_ratio(
    fuel_fractions: Stack, tci: Stack, inert_fractions: Stack, coefficients: Stack
) -> FloatArray:
    """Fuel of a gas mixture against what is not flammable in air, dimensionless; above 1 it is.

    r = sum_i A'_i / Tc_i, A'_i = A_i / (sum A + sum K B)

    fuel_fractions A (S, ...); tci Tc (S,) the highest content of each fuel in nitrogen that is not
    flammable in air, mole fraction; inert_fractions B (I, ...); coefficients K (I,).
    Result (...), 0 without fuel. Valid: about 20 degC, 1 bar, no oxidiser in the mixture.

    >>> f"{iso10156_ratio([0.05], [0.055], [0.95], [0.55]):.3f}"
    '1.588'
    >>> f"{iso10156_ratio([0.05], [0.055], [0.95], [1.0]):.3f}"
    '0.909'

    Source: [1] ISO 10156, method by calculation.
    """
    fuel, limit, inert, k = matching(fuel_fractions, tci, inert_fractions, coefficients)
    equivalent = nitrogen_equivalent_fuel(fuel, inert, k)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = (equivalent / limit).sum(axis=0)
    given = fuel.sum(axis=0) + limit.sum(axis=0) + inert.sum(axis=0) + k.sum(axis=0)
    return keep_nan(np.where(fuel.sum(axis=0) == 0, 0.0, ratio), given)


def adjusted_tube_loc(limiting_oxygen: ArrayLike) -> FloatArray:
    """Limiting oxygen measured in a flammability tube, lowered as NFPA 69 asks, mole fraction.

    LOC' = LOC - 0.02 where LOC >= 0.10, 0.85 LOC below

    limiting_oxygen mole fraction, tube value; any shape.
    Valid: tube values without an ASTM E2079 value.

    >>> f"{adjusted_tube_loc(0.12):.3f} {adjusted_tube_loc(0.05):.4f}"
    '0.100 0.0425'

    Source: [1] NFPA 69, TIA Log No. 1211.
    """
    loc = number(limiting_oxygen)
    return keep_nan(np.where(loc >= 0.10, loc - 0.02, 0.85 * loc), loc)


def upper_boundary(oxygen: ArrayLike, upper_air: ArrayLike, upper_oxygen: ArrayLike) -> FloatArray:
    """Largest flammable fuel content at an oxygen content, mole fraction.

    straight from (0.2095 (1 - U), U) to (1 - Uox, Uox) over oxygen, level beyond both ends

    oxygen mole fraction in the gas; upper_air U, upper_oxygen Uox upper limits in air and in pure
    oxygen, mole fraction; any shapes that broadcast. Where Uox is below U, U counts.
    Valid: as wide as the limits given; below the first point U is kept, though envelopes close
    towards the limiting oxygen.

    >>> f"{upper_boundary(0.30, 0.15, 0.61):.4f}"
    '0.4146'

    Source: [1] straight boundary between the upper limits in air and in oxygen, as in the
    triangular diagrams of Bureau of Mines Bulletin 627 (1965).
    """
    air = number(upper_air)
    pure = np.maximum(number(upper_oxygen), air)
    o2 = number(oxygen)
    left, right = OXYGEN_IN_AIR * (1 - air), 1 - pure
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip((o2 - left) / (right - left), 0.0, 1.0)
    # Limits so close to 1 that the points change order: the wider one counts from the lower on.
    share = np.where(right > left, share, np.where(o2 >= right, 1.0, 0.0))
    return keep_nan(air + (pure - air) * share, o2, air, pure)


def burning_length(
    volume: ArrayLike, share: ArrayLike, mass: ArrayLike, bore: ArrayLike, viscosity: float
) -> FloatArray:
    """Length up to which the free jet of a gas burns in still air, m.

    x = min((1 + 2 Sc) Q s / (8 pi nu), 5.4 D s sqrt(29/M)), Sc = 1

    The laminar jet's axis carries (1 + 2 Sc)/(8 pi nu x) of the flow Q; the turbulent one's mass
    fraction is 5.4 D sqrt(rho_gas/rho_air)/x, and at the limit M/(29 s).

    volume Q m3/s of gas; share s its fuel over the lower limit; mass M g/mol; bore D m,
    infinite for the laminar jet alone; viscosity nu m2/s of air. Any shapes that
    broadcast. Valid: 20 degC, no cross wind, no ceiling; buoyancy and draughts shorten it. 0 where
    the gas is leaner than its limit.

    >>> f"{burning_length(1e-3, 25.0, 2.016, 6e-3, 1.5e-5):.2f}"
    '3.07'

    Source: [1] Schlichting, Boundary-Layer Theory, round laminar jet; [2] Chen and Rodi, Vertical
    Turbulent Buoyant Jets (1980), as in Molkov, Fundamentals of Hydrogen Safety Engineering; both
    from memory.
    """
    q, s, m, d = (number(v) for v in (volume, share, mass, bore))
    laminar = 3 * q * s / (8 * np.pi * viscosity)
    with np.errstate(divide="ignore", invalid="ignore"):
        turbulent = 5.4 * d * s * np.sqrt(28.96 / m)
    return keep_nan(np.where(s <= 1, 0.0, np.minimum(laminar, turbulent)), q + s + m + d)


def cloud_radius(vapour: ArrayLike, air_speed: ArrayLike) -> FloatArray:
    """Radius up to which what a spill gives off burns in a room's random air, m.

    r = sqrt(sum(q/L) / (pi s)): the half sphere whose air, pi r^2 s, thins it to its lower limit

    vapour, the sum over fuels of volume flow q m3/s over lower limit L; air_speed s m/s. Any shapes
    that broadcast. Valid: settled, on a bench; heavy vapour that runs along a bench or down into a
    sink goes further.

    >>> f"{cloud_radius(2e-4 / 0.025, 0.05):.2f}"
    '0.23'

    Source: [1] near field of Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542, solved for its radius.
    """
    return np.asarray(np.sqrt(number(vapour) / (np.pi * number(air_speed))))
