"""A liquid that reacts once its cooling is lost: how hot it gets if all of it reacts at once.

Counted from the heats of the reactions that the file declares, whole at the start of the step, with
no heat lost. Whether the reaction is quick enough for that nobody knows, so it is taken to be.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Measure, Method, Place, Quantity, Setup
from review.physics.liquids import heat_of_vaporisation

from .reaction import adiabatic_rise, amounts_of, reaction_enthalpy
from .sheet import item_temperature, kind

#: Heat capacities of water and, the low end, of other liquids, J/(kg K) (handbooks, from memory).
WATER, OTHER = 4180.0, 1700.0
#: Heat of condensation of a product whose figures are not known, J/mol: no small molecule has more
#: (glycol 66 kJ/mol, from memory).
CONDENSES = 70e3
AMBIENT = 298.15

RISE = Method(
    id="heat.runaway_rise",
    title="Rise if all that a liquid holds reacts and no heat is lost",
    result="adiabatic rise",
    unit="K",
    formula="sum([n * max(-h, 0) for n, h in zip(extents, H)]) / c",
    inputs=(
        Input("extents", "xi", "mol/kg", "moles of equation per mass of liquid"),
        Input("H", "H_r", "J/mol", "enthalpy of each reaction, liquids"),
        Input("c", "c", "J/(kg K)", "heat capacity of the liquid"),
    ),
    function=adiabatic_rise,
    source="energy balance without loss, Stoessel, Thermal Safety of Chemical Processes (memory)",
    validity="all at once; reactions that are declared, not those that only start when it is hot",
)  # fmt: skip
MARGIN = Method(
    id="heat.runaway_margin",
    title="Liquid that reacts without cooling, below where it boils or decomposes",
    result="margin",
    unit="K",
    formula="T_max - (T + 1.2 * rise)",
    inputs=(
        Input("T_max", "T_max", "K", "lowest boiling point or temperature of decomposition"),
        Input("T", "T", "K", "hottest the liquid gets before"),
        Input("rise", "dT", "K", "adiabatic rise, heats known to a fifth"),
    ),
    function=lambda T_max, T, rise: T_max - (T + 1.2 * rise),
    source=RISE.source,
    validity="at 1 atm; what boils takes heat away and foams or presses instead",
)
KIND = kind(MARGIN, "lower", "K", {"train.*.bath_temperature": "down"})


def _condensing(setup: Setup, name: str) -> float:
    """Heat of vaporisation at 25 degC, J/mol; NaN for what is no liquid or has no figures."""
    try:
        one = setup.reference.substance(name)
    except LookupError:
        return 0.0  # a solid by its formula
    if one.phase_at_20C != "liquid":
        return 0.0
    boils, critical, pressure = (
        one.number(f) for f in ("boiling_point", "critical_temperature", "critical_pressure")
    )
    return float(heat_of_vaporisation(boils, critical, pressure, AMBIENT))


def enthalpy(setup: Setup, amounts: dict[str, float]) -> float:
    """Of a reaction between liquids, J per mole of equation; never too mild where figures lack."""
    total = reaction_enthalpy(amounts, setup.reference)
    for name, nu in amounts.items():
        own = _condensing(setup, name)
        if np.isnan(own):
            own = CONDENSES if nu > 0 else 0.0
        total -= nu * own
    return total


def _extent(place: Place, setup: Setup, amounts: dict[str, float]) -> float:
    """Moles of an equation that a kilogram of the liquid can react by; gas that is fed in counts
    as plenty."""
    found = []
    for name, nu in amounts.items():
        if nu < 0 and name in place.liquid:
            mass = setup.reference.substance(name).molar_mass
            found.append(float(np.max(place.liquid[name])) / mass / -nu)
    return min(found, default=0.0)


def _limit(setup: Setup, place: Place) -> Quantity:
    """Where the liquid begins to boil or to decompose, K; missing where neither is known."""
    found: list[FloatArray] = []
    for name in place.liquid:
        one = setup.reference.substance(name)
        for figure in ("boiling_point", "decomposes_above"):
            datum = one.datum(figure)
            if one.phase_at_20C == "liquid" and datum.state == "known":
                found.append(np.asarray(float(datum.value or 0.0)))
    if not found:
        return Quantity.missing("boiling point", "K", why="no boiling point is known")
    return Quantity.of(np.min(found), name="boils or decomposes", unit="K", source="data")


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for place in setup.places:
        equations = [amounts_of(terms) for terms in setup.resolved.reactions.get(place.id, ())]
        extents = [_extent(place, setup, each) for each in equations]
        if not place.liquid or not any(extents):
            continue
        found = True
        heats = [enthalpy(setup, each) for each in equations]
        water = float(np.min(place.liquid.get("water", 0.0)))
        rise = RISE(
            extents=[
                Quantity.of(x, name="reacts", unit="mol/kg", source="the liquid as stated")
                for x in extents
            ],
            H=[
                Quantity.of(
                    h, np.uint8(3 if np.isnan(h) else 0), name="enthalpy", unit="J/mol",
                    source="reference data, or heats of formation from memory",
                )
                for h in heats
            ],
            c=Quantity.of(
                water * WATER + (1 - water) * OTHER, name="heat capacity", unit="J/(kg K)",
                source="water 4180, other liquids at least 1700 (from memory)",
            ),
        )  # fmt: skip
        margin = MARGIN(T_max=_limit(setup, place), T=item_temperature(place), rise=rise)
        why = "heat of a declared reaction" if np.isnan(heats).any() else ""
        yield setup.measure(KIND, margin, place.id, note=why)
    if not found:
        why = "no reaction of a held liquid is declared"
        none = Quantity.of(np.inf, name="margin", unit="K", source=why)
        yield setup.measure(KIND, none, "train", note=why)


RUNAWAY = Computation(kinds=(KIND,), compute=_compute)
