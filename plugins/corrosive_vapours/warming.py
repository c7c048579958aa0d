"""How hot an absorbent gets by what it takes up, if it loses no heat."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Reference,
    Setup,
    Substance,
    vapour_pressure,
)
from review.physics.gas import R

from ..shared.binding import BINDS, PER_MOLE
from .capacity import most_bound

#: Heats of formation at 25 degC, kJ/mol: gases, and what they become in much water (NBS tables of
#: chemical thermodynamic properties, 1982, from memory).
FORMATION = {
    "hydrogen chloride": (-92.3, -167.2), "hydrogen bromide": (-36.4, -121.5),
    "hydrogen iodide": (26.5, -55.2), "hydrogen fluoride": (-273.3, -332.6),
    "nitric acid": (-135.1, -207.4), "acetic acid": (-432.2, -486.0),
    "sulfur dioxide": (-296.8, -635.5), "sulfur trioxide": (-395.7, -909.3),
    "carbon dioxide": (-393.5, -677.1), "hydrogen sulfide": (-20.6, 33.1),
    "chlorine": (0.0, -167.2 - 107.1), "ammonia": (-45.9, -132.5),
}  # fmt: skip
HYDROXIDE, WATER = -230.0, -285.8
#: Hydroxide that one mole takes up as it is bound whole.
HYDROXIDES = {"sulfur dioxide": 2, "sulfur trioxide": 2, "carbon dioxide": 2, "hydrogen sulfide": 2,
              "chlorine": 2}  # fmt: skip
#: Gases dissolved in water alone, kJ/mol given off (the same tables).
DISSOLVED = {
    "hydrogen chloride": 74.9, "hydrogen bromide": 85.1, "hydrogen iodide": 81.7,
    "hydrogen fluoride": 61.5, "ammonia": 34.6, "sulfur dioxide": 26.2, "sulfur trioxide": 227.8,
    "carbon dioxide": 20.3,
}  # fmt: skip
#: What metal ions precipitate and peroxide oxidises, kJ/mol given off: Cu2+ + H2S -> CuS + 2 H+;
#: H2O2 + SO2 -> H2SO4 (the same tables; H2O2 in water -191.2, Cu2+ 64.8, CuS -53.1 kJ/mol).
OTHERWISE = {("copper", "hydrogen sulfide"): 97.3, ("peroxide", "sulfur dioxide"): 421.3}

#: Heat capacity of strong lye and acid, the low end, J/(kg K) (50 % lye 3200, from memory).
CAPACITY = 3000.0
#: Lye that is mostly water, per kilogram of as much water by volume, J/(kg K): sodium hydroxide of
#: 4, 18 and 31 % 4100 to 4500, potassium hydroxide of 14 and 24 % 3830 (specific heats and
#: densities of Perry's Chemical Engineers' Handbook, tables of aqueous solutions, from memory).
LYE = 3750.0
#: Water by mass from which a liquid takes up as much, whatever else is in it.
NEARLY_WATER = 0.95


def absorption_heat(gas: str, binds: str) -> float:
    """Heat given off per mole of a gas that a liquid binds or dissolves, J/mol.

    gas + n OH- -> ion + (n + 1)/2 .. n H2O, by Hess's law from heats of formation at 25 degC.

    gas, binds: a name of `FORMATION` and `lye`, `acid`, `copper`, `peroxide` or `water`. NaN where
    it is not known.

    >>> f"{absorption_heat('carbon dioxide', 'lye') / 1e3:.0f}"
    '109'

    Source: [1] NBS tables of chemical thermodynamic properties (1982), from memory.
    """
    if (binds, gas) in OTHERWISE:
        return 1e3 * OTHERWISE[binds, gas]
    if binds == "water" or gas not in FORMATION:
        return 1e3 * DISSOLVED.get(gas, np.nan)
    before, after = FORMATION[gas]
    if binds == "acid":
        return 1e3 * (before - after)
    hydroxides = HYDROXIDES.get(gas, 1)
    waters = {"hydrogen sulfide": 2}.get(gas, 1)
    return 1e3 * (before + hydroxides * HYDROXIDE - after - waters * WATER)


WARMED = Method(
    id="corrosion.absorbent_temperature",
    title="Absorbent by the end of the step, no heat lost",
    result="temperature",
    unit="K",
    formula="T + n * H / (m * c)",
    inputs=(
        Input("T", "T", "K", "absorbent before"),
        Input("n", "n", "mol", "taken up by the end of the step"),
        Input("H", "H", "J/mol", "heat of absorption and neutralisation"),
        Input("m", "m", "kg", "absorbent, no denser than water"),
        Input("c", "c", "J/(kg K)", "its heat capacity, the low end"),
    ),
    function=lambda T, n, H, m, c: T + n * H / (m * c),
    source="energy balance; heats of formation at 25 degC",
    validity="nothing evaporates or is lost to the room: too hot, which is the hazardous side",
)
WARMED_KIND = Kind.of(
    WARMED, "higher", "degC", {"flows.*.rate": "up", "procedure.*.duration": "up"}
)


#: A spent absorbent gives off so many times the heat of what it binds: carbonate goes on to
#: hydrogencarbonate with 28 of 109 kJ/mol (the same tables), rounded up.
FURTHER = 1.5


#: Water by mass from which a liquid counts as a solution in water, and the share of water's vapour
#: pressure that is left over it: lye and sulfuric acid of 30 % keep more (handbooks, from memory).
WATERY, LEFT = 0.7, 0.5
#: Mole fraction of other vapours that counts as none; what boils below this, K, is no vapour.
NO_VAPOUR, GAS = 1e-4, 293.15


def wet_bulb(
    gas: FloatArray,
    steam: FloatArray,
    pressure: FloatArray,
    capacity: FloatArray,
    left: float = LEFT,
) -> FloatArray:
    """Temperature of a watery liquid through which hot gas bubbles, no heat lost, K.

    c (Tg - T) = H (y_s / (1 - y_s) (1 - y) - y), y_s = left p_s(T) / P

    gas Tg K, its steam y mol/mol, pressure P Pa, heat capacity c J/(mol K), any shape; `left` of
    water's vapour pressure over the liquid; H of water by Watson. Gas leaves saturated; between 0
    and 100 degC, by bisection. With less of the vapour pressure left it is warmer.

    >>> hot, dry, room, air = (np.array(x) for x in (366.5, 0.0, 101325.0, 29.1))
    >>> f"{wet_bulb(hot, dry, room, air) - 273.15:.0f}"
    '39'

    Source: [1] adiabatic saturation, any textbook of humid air.
    """
    water = Reference().substance("water")
    low, high = np.full(np.shape(gas), 273.16), np.full(np.shape(gas), 373.15)
    for _ in range(30):
        middle = (low + high) / 2
        over = np.minimum(left * vapour_pressure(water, middle)[0] / pressure, 0.999)
        heat = 40650.0 * ((647.1 - middle) / (647.1 - 373.15)) ** 0.38
        takes = heat * (over / (1 - over) * (1 - steam) - steam)
        colder = takes >= capacity * (gas - middle)
        low, high = np.where(colder, low, middle), np.where(colder, middle, high)
    return np.asarray(high)


def _before(setup: Setup, place: Place) -> Quantity:
    """The absorbent before it takes anything up: as hot as anything here, or, where only the gas
    warms a watery liquid, no hotter than what evaporates leaves it."""
    hottest = place.hottest
    own = ("bath_temperature", "temperature")
    heated = any(heat.heats == place.id for heat in setup.scenario.heat.values())
    heated |= any(getattr(place.model, field) is not None for field in own)
    if heated or not place.liquid.get("water", 0.0) >= WATERY:
        return hottest
    gas = place.composition("inlet")
    others = [
        i for i, s in enumerate(setup.species)
        if s.name != "water" and not s.number("boiling_point") <= GAS
    ]  # fmt: skip
    steam = gas[setup.rows["water"]] if "water" in setup.rows else np.zeros(setup.trials)
    warm = np.clip(hottest.value, 250.0, 1500.0) / 1e3
    powers = warm ** np.arange(setup.heat_capacities.shape[1])[:, None]
    capacity = R * (gas * (setup.heat_capacities @ powers)).sum(axis=0)
    bulb = wet_bulb(hottest.value, steam, place.pressure.value, capacity)
    plain = gas[others].sum(axis=0) <= NO_VAPOUR
    room = setup.number("ambient.temperature").value
    cooler = np.minimum(hottest.value, np.maximum(bulb, room))
    return hottest.revised(np.where(plain & (bulb > 0), cooler, hottest.value), hottest.status)


def _binds(place: Place, name: str) -> str:
    kinds = {BINDS[n] for n in place.liquid if n in BINDS}
    fitting = [kind for kind in kinds if name in PER_MOLE[kind]]
    return fitting[0] if fitting else "water"


def _capacity(place: Place, gas: str) -> float:
    """Heat capacity of what binds a gas here, the low end, J/(kg K)."""
    lye = {name for name in place.liquid if BINDS.get(name) == "lye"} | {"water"}
    weak = set(place.liquid) <= lye and _binds(place, gas) == "lye"
    least = WATERY if weak else NEARLY_WATER
    return CAPACITY if not place.liquid.get("water", 0.0) >= least else LYE


def _compute(setup: Setup) -> Iterable[Measure]:
    found = 0
    for place in setup.places:
        for substance, taken in _taken(setup, place):
            heat = absorption_heat(substance.name, _binds(place, substance.name))
            if np.isnan(heat):
                continue
            found += 1
            volume = place.number("liquid_volume")
            most = most_bound(setup, place, substance)
            if most is not None:  # what is spent takes up, and gives off, hardly more
                taken = taken.revised(np.fmin(taken.value, FURTHER * most), taken.status)
            warmed = WARMED(
                T=_before(setup, place),
                n=taken,
                H=Quantity.of(heat, name=f"heat of {substance.name}", unit="J/mol", source="NBS"),
                m=Quantity.of(
                    1000.0 * volume.value, volume.status, name="absorbent", unit="kg",
                    source="volume, as water",
                ),
                c=Quantity.of(
                    _capacity(place, substance.name), name="heat capacity", unit="J/(kg K)",
                    source="stated",
                ),
            )  # fmt: skip
            yield setup.measure(WARMED_KIND, warmed, place.id, substance.name)
    if not found:
        ambient = setup.number("ambient.temperature")
        none = Quantity.of(ambient.value, name="absorbent", unit="K", source="nothing is absorbed")
        yield setup.measure(WARMED_KIND, none, "train", note="nothing is absorbed by a liquid")


def _taken(setup: Setup, place: Place) -> Iterator[tuple[Substance, Quantity]]:
    """What the liquid of an item takes up by the end of each step, mol: what the file says that it
    absorbs, and all that comes through it of what it is known to bind or dissolve, said or not."""
    if not place.liquid:
        return
    said = {setup.reference.substance(text).name for text in place.model.absorbs}
    for name, row in setup.rows.items():
        substance = setup.reference.substance(name)
        if name in said:
            yield substance, place.used(substance)
        elif place.kind.credits_absorption(tuple(place.liquid), name):
            comes = np.where(place.flow.value == 0, 0.0, place.composition("inlet")[row])
            lasts = np.array([setup.duration(cell) for cell in range(setup.shape[0])])
            moles = (comes * place.flow.value).reshape(setup.shape) * lasts
            moles[1:] = np.cumsum(moles[1:], axis=0)
            if not (moles <= 0).all():
                said_of = f"{name} that comes to {place.id}"
                yield substance, setup.quantity(moles.reshape(-1), said_of, "mol", "its flow")


WARMING = Computation(kinds=(WARMED_KIND,), compute=_compute)
