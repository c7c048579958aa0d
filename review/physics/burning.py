"""Flames in small channels and closed vessels: what quenches them, what pressure they make.

Every function is pure, takes SI values as arrays that broadcast, and errs towards the hazard: a
channel is never too narrow, a quenching distance never too wide, a pressure never too low.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number
from review.physics.columns import alike
from review.physics.gas import R

#: Vibrations of nitrogen and of water vapour as temperatures, K (tables, from memory).
NITROGEN_VIBRATION = (3393.0,)
WATER_VIBRATIONS = (2294.0, 5255.0, 5404.0)

#: Moles of burnt gas over moles of the mixture, the most of any fuel with air near its best
#: mixture: 1.07 of decane, 1.04 of propane, 0.85 of hydrogen.
MOLES = 1.1
#: Of a detonation: pressure of the wave over that of an explosion in a closed vessel, and of its
#: reflection at an end over that of the wave (Lewis and von Elbe, Combustion, Flames and
#: Explosions of Gases, from memory).
DETONATION, REFLECTION = 2.0, 2.5
#: Hottest burnt gas that is looked for, K.
HOTTEST = 2.0e4


def _vibration(temperature: FloatArray, theta: float) -> FloatArray:
    with np.errstate(over="ignore", divide="ignore"):
        return np.asarray(R * theta / np.expm1(theta / temperature))


def internal_energy(temperature: ArrayLike, gas: str) -> FloatArray:
    """Internal energy of an ideal gas over that at 0 K, J/mol, by rigid rotor and oscillators.

    u = f R T/2 + sum R theta/(exp(theta/T) - 1), f = 3 (noble gas), 5 (nitrogen), 6 (water vapour).

    temperature K, gas "nitrogen", "water" or "noble"; without dissociation, within 1 % of tables to
    2500 K and below them, so that a gas warmed by a given heat comes out too hot.

    >>> bool(abs(internal_energy(300.0, "noble") - 1.5 * 8.314462618 * 300.0) < 1e-6)
    True

    Source: [1] statistical mechanics, any textbook of physical chemistry.
    """
    t = np.asarray(temperature, dtype=np.float64)
    if gas == "noble":
        return np.asarray(1.5 * R * t)
    theta = NITROGEN_VIBRATION if gas == "nitrogen" else WATER_VIBRATIONS
    value = (2.5 if gas == "nitrogen" else 3.0) * R * t
    for each in theta:
        value = value + _vibration(t, each)
    return np.asarray(value)


def burnt_temperature(
    heat: ArrayLike, triatomic: ArrayLike, noble: ArrayLike, start: ArrayLike
) -> FloatArray:
    """Temperature of gas burnt in a closed vessel that loses no heat, K.

    Solves sum x_i (u_i(T) - u_i(T0)) = q for T by halving.

    heat q J/mol of mixture; triatomic, share of the burnt gas that is water vapour or carbon
    dioxide (which takes up more); noble, share that is argon or helium; start T0 K. The rest counts
    as nitrogen. NaN in, NaN out.

    >>> bool(abs(burnt_temperature(12471.7, 0.0, 1.0, 300.0) - 1300.0) < 0.1)
    True

    Source: [1] energy balance at constant volume; without dissociation, so never too cold.
    """
    q, w, n, t0 = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (heat, triatomic, noble, start))
    )
    if q.ndim == 1:
        rows = np.array([q, w, n, t0])
        first, kind = alike(rows)
        if first.size < kind.size:
            return burnt_temperature(*rows[:, first])[kind]

    wet = (w != 0).any()  # of vapour that is not there three vibrations are not worked out

    def energy(t: FloatArray) -> FloatArray:
        plain = n * internal_energy(t, "noble")
        if wet:
            plain = plain + w * internal_energy(t, "water")
        return np.asarray(plain + (1 - n - w) * internal_energy(t, "nitrogen"))

    before, low, high = energy(t0), t0.copy(), np.full(q.shape, HOTTEST)
    for _ in range(40):
        middle = (low + high) / 2
        cold = energy(middle) - before < q
        low, high = np.where(cold, middle, low), np.where(cold, high, middle)
    return np.asarray(np.where(np.isnan(q + w + n + t0), np.nan, high))


def explosion_ratio(
    heat: ArrayLike, triatomic: ArrayLike, noble: ArrayLike, start: ArrayLike
) -> FloatArray:
    """Pressure of a mixture burnt in a closed vessel over its pressure before, an upper bound.

    P/P0 = 1.1 T/T0, T of `burnt_temperature`; 1 where no heat is released.

    heat J/mol, triatomic, noble and start K as there. Hydrocarbons in air come to 9 to 10 by
    equilibrium and to 8 to 9 in tests.

    >>> float(explosion_ratio(0.0, 0.0, 0.0, 300.0))
    1.0

    Source: [1] ideal gas; moles as for the richest products of fuels with air.
    """
    q, w, n, t0 = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (heat, triatomic, noble, start))
    )
    some = ~(q <= 0)
    ratio = np.ones(q.shape)
    hot = burnt_temperature(q[some], w[some], n[some], t0[some])
    ratio[some] = MOLES * hot / t0[some]
    return ratio


def detonation_ratio(ratio: ArrayLike, *, reflected: bool = True) -> FloatArray:
    """Pressure of a detonation over that before it, where it strikes an end.

    2 r for the wave, 5 r at an end, r the ratio of an explosion in a closed vessel.

    >>> float(detonation_ratio(8.0)), float(detonation_ratio(8.0, reflected=False))
    (40.0, 16.0)

    Source: [1] Lewis and von Elbe, Combustion, Flames and Explosions of Gases (from memory).
    """
    return np.asarray(DETONATION * (REFLECTION if reflected else 1.0) * np.asarray(ratio))


def explosion_energy(pressure: ArrayLike, before: ArrayLike, volume: ArrayLike) -> FloatArray:
    """Work that burnt gas can do as it expands from a vessel that lets go, J.

    E = (P - P0) V/(g - 1), Brode, with g = 1.25 of hot burnt gas.

    pressure and before, Pa; volume m3.

    >>> float(explosion_energy(9e5, 1e5, 1e-3))
    3200.0

    Source: [1] Brode 1959, as in Crowl & Louvar, Chemical Process Safety.
    """
    return np.asarray((number(pressure) - number(before)) * number(volume) / 0.25)


def wool_channel(fibre: ArrayLike, voidage: ArrayLike) -> FloatArray:
    """Hydraulic diameter of the channels in packed wool or felt, m.

    d = d_f e/(1 - e), four times the voids over the surface of the fibres.

    fibre diameter m, voidage 1.

    >>> f"{float(wool_channel(1e-4, 0.8)):.1e}"
    '4.0e-04'

    Source: [1] definition of the hydraulic diameter; loosely packed wool has wider channels, so
    that the voidage is to be measured (mass, volume and density) and not guessed.
    """
    e, d = number(voidage), number(fibre)
    with np.errstate(divide="ignore", invalid="ignore"):
        return keep_nan(np.where(e < 1, d * e / (1 - e), np.inf), e + d)


def bead_channel(particle: ArrayLike) -> FloatArray:
    """Diameter of the widest hole between beads in contact, m: (sqrt(2) - 1) d, four in a square.

    particle, diameter d of a bead m.

    >>> round(float(bead_channel(1e-3)) * 1e3, 4)
    0.4142

    Source: [1] geometry of spheres in cubic packing; closer packings have narrower holes.
    """
    return np.asarray((np.sqrt(2.0) - 1.0) * np.asarray(particle, dtype=np.float64))


def mesh_opening(wires: ArrayLike, wire: ArrayLike) -> FloatArray:
    """Opening of woven wire mesh, m: 1/N - d.

    wires per metre (28 mesh: 28/0.0254 m), wire diameter m.

    >>> round(float(mesh_opening(100 / 0.0254, 0.0045 * 0.0254)) / 0.0254, 4)
    0.0055

    Source: [1] geometry.
    """
    return np.asarray(1.0 / number(wires) - number(wire))


def quenching_at(distance: ArrayLike, temperature: ArrayLike, pressure: ArrayLike) -> FloatArray:
    """Quenching distance of hot or compressed gas, m.

    d = d0 min(P0/P, 1) min(T0/T, 1): inversely to the pressure, no wider below 1 atm, and narrower
    by the heat that the channel need not take away any more.

    distance at 25 degC and 1 atm m, temperature K, pressure Pa absolute.

    >>> round(float(quenching_at(2.0e-3, 298.15, 2 * 101325.0)) * 1e3, 3)
    1.0

    Source: [1] d P constant: Lewis and von Elbe (from memory); T0/T falls faster than the square
    root that tests show (from memory).
    """
    p, t = np.asarray(pressure, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    return np.asarray(
        np.asarray(distance) * np.minimum(101325.0 / p, 1.0) * np.minimum(298.15 / t, 1.0)
    )


def run_up(bore: ArrayLike, fierce: ArrayLike) -> FloatArray:
    """Length of pipe in which a flame may speed up before an arrester for slow flames, m.

    50 bores, 30 for gases of group IIC.

    bore m; fierce, whether the gas is of group IIC.

    >>> float(run_up(0.01, False)), float(run_up(0.01, True))
    (0.5, 0.3)

    Source: [1] ISO 16852, arresters for deflagrations in line (from memory).
    """
    group = number(fierce)
    return keep_nan(np.where(group != 0, 30.0, 50.0) * number(bore), group)
