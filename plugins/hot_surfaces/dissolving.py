"""What warms a liquid that it is put into, with nothing declared: a solid that dissolves, a strong
acid that is diluted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import numpy as np

from review import FloatArray, Input, Measure, Method, Quantity, Setup

from ..shared.stores import bottled
from .reaction import adiabatic_rise
from .sheet import item_temperature, kind

#: Heat capacities of water and, the low end, of other liquids, J/(kg K) (handbooks, from memory).
WATER, OTHER = 4180.0, 1700.0
#: Heat set free when a solid dissolves in much water at 25 degC, J/mol (CRC Handbook, enthalpy of
#: solution of electrolytes, from memory).
DISSOLVES: Mapping[str, float] = {
    "sodium hydroxide": 44.5e3, "potassium hydroxide": 57.6e3, "calcium chloride": 81.3e3,
    "zinc chloride": 73.1e3, "lithium chloride": 37.0e3, "potassium carbonate": 30.9e3,
    "sodium carbonate": 26.7e3, "magnesium chloride": 160e3, "magnesium sulfate": 91.2e3,
    "copper sulfate": 73.1e3, "copper chloride": 49.4e3, "copper nitrate": 47.0e3,
    "ferric chloride": 150.5e3, "ferrous sulfate": 70.0e3, "aluminium sulfate": 349e3,
    "zinc sulfate": 80.4e3, "cobalt chloride": 80.0e3, "strontium chloride": 51.2e3,
    "sodium sulfide": 82.3e3, "nickel sulfate": 90.4e3, "cobalt sulfate": 79.2e3,
    "nickel nitrate": 53.7e3, "cobalt nitrate": 52.5e3, "magnesium nitrate": 91.0e3,
    "calcium nitrate": 19.4e3, "zinc nitrate": 85.0e3,
}  # fmt: skip
#: A salt that names so much crystal water has given off that heat, and cools or hardly warms; with
#: less of it, calcium chloride dihydrate still gives 45 kJ/mol (CRC Handbook, from memory).
HYDRATE = re.compile(
    r"(?:tetra|penta|hexa|hepta|octa|nona|deca)hydrate$|[·•⋅*.]\s*(?:[4-9]|1\d)\s*H2O$"
    r"|^(?:epsom salt|bittersalz|\w* ?vitriol)$",
    re.I,
)
AS_DRY = "counted as the dry salt: say so where it has crystal water, as in 'heptahydrate'"
#: Dilution of sulfuric acid, J per mole of it: A n / (n + B) with n moles of water (Thomsen,
#: 17 860 cal, at 18 degC, from memory); its heat capacity beside water's share is the lower end.
DILUTED, HALF_AT = 74.73e3, 1.7983
ACID = 800.0
ACID_MOLE, WATER_MOLE = 0.09808, 0.018015
#: Shares of the bottle that may have been poured when it is at its hottest.
POURED = np.linspace(0.02, 1.0, 50)
#: Solid bases: equivalents of acid that a mole takes, and heat per equivalent, J (heats of
#: formation, CRC Handbook, from memory: strong acid 55.8 kJ, lime 64 kJ, magnesia 73 kJ).
BASES: Mapping[str, tuple[int, float]] = {
    "sodium hydroxide": (1, 57e3), "potassium hydroxide": (1, 57e3), "barium hydroxide": (2, 57e3),
    "calcium hydroxide": (2, 64e3), "magnesium oxide": (2, 73e3),
    "magnesium hydroxide": (2, 57e3), "zinc hydroxide": (2, 42e3),
}  # fmt: skip
#: Equivalents that a mole of an acid gives.
ACIDS: Mapping[str, int] = {
    "hydrogen chloride": 1, "hydrogen bromide": 1, "hydrogen iodide": 1, "nitric acid": 1,
    "perchloric acid": 1, "sulfuric acid": 2, "phosphoric acid": 3, "formic acid": 1,
    "acetic acid": 1,
}  # fmt: skip
#: What they dissolve in, and from which mass fraction on.
DISSOLVING, ENOUGH = ("water", "methanol", "ethanol", "ethylene glycol", "glycerol"), 0.1
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


def limit(setup: Setup, names: Iterable[str]) -> Quantity:
    """Where the liquid begins to boil or to decompose, K; missing where neither is known."""
    found: list[FloatArray] = []
    for name in names:
        one = setup.reference.substance(name)
        for figure in ("boiling_point", "decomposes_above"):
            datum = one.datum(figure)
            if one.phase_at_20C == "liquid" and datum.state == "known":
                found.append(np.asarray(float(datum.value or 0.0)))
    if not found:
        return Quantity.missing("boiling point", "K", why="no boiling point is known")
    return Quantity.of(np.min(found), name="boils or decomposes", unit="K", source="data")


def amount_of(setup: Setup, solid: str, *, hydrates: bool = False) -> FloatArray:
    """Of a solid in all reagents that hold it dry, kg; NaN where one does not say how much.

    A base is none the less one for its crystal water, and nothing else where `hydrates` count.
    """
    total = np.zeros(setup.trials)
    for name, reagent in setup.scenario.reagents.items():
        for text in reagent.composition if reagent.state == "solid" else ():
            if setup.reference.substance(text).name == solid and (
                hydrates or solid in BASES or not HYDRATE.search(text)
            ):
                mass = reagent.amount is not None and reagent.amount.by == "mass"
                whole = setup.number(f"reagents.{name}.amount").value if mass else np.nan
                total = total + whole * setup.number(f"reagents.{name}.composition.{text}").value
    return total


def dissolving(setup: Setup) -> Iterable[Measure]:
    """Each solid that warms the liquid it may be put into, all of it at once, in the cold."""
    for place in setup.places:
        solvent = sum(float(np.max(place.liquid.get(name, 0.0))) for name in DISSOLVING)
        acids = sum(float(np.max(place.liquid.get(name, 0.0))) for name in ACIDS)
        if solvent + acids < ENOUGH:
            continue
        water = float(np.min(place.liquid.get("water", 0.0)))
        acid = 0.0
        for name in ACIDS.keys() & place.liquid.keys():
            share = float(np.max(place.liquid[name]))
            acid += ACIDS[name] * share / setup.reference.substance(name).molar_mass
        heats = DISSOLVES.keys() | (BASES.keys() if acid else ())
        for solid in sorted(heats & place.solids.keys()):
            molar = setup.reference.substance(solid).molar_mass
            moles = amount_of(setup, solid) / molar / (1000.0 * place.number("liquid_volume").value)
            takes, each = BASES.get(solid, (0, 0.0))
            rise = RISE(
                extents=[
                    Quantity.of(moles, name="dissolves", unit="mol/kg", source="the file"),
                    Quantity.of(np.minimum(takes * moles, acid), name="neutralised", unit="mol/kg",
                        source="the file"),
                ],
                H=[
                    setup.quantity(-DISSOLVES.get(solid, 0.0), "heat of solution", "J/mol",
                        "CRC Handbook"),
                    setup.quantity(-each, "heat of neutralisation", "J/mol", "CRC Handbook"),
                ],
                c=setup.quantity(water * WATER + (1 - water) * OTHER, "heat capacity", "J/(kg K)",
                    "water 4180, other liquids at least 1700 (from memory)"),
            )  # fmt: skip
            margin = MARGIN(T_max=limit(setup, place.liquid), T=setup.number("ambient.temperature"),
                rise=rise)  # fmt: skip
            yield setup.measure(KIND, margin, place.id, solid, note=AS_DRY * (solid in DISSOLVES))
    yield from _diluted(setup)


def dilution_heat(water: FloatArray) -> FloatArray:
    """Of sulfuric acid in so many moles of water, J per mole of it."""
    return DILUTED * water / (water + HALF_AT)


def _diluted(setup: Setup) -> Iterable[Measure]:
    """Strong sulfuric acid poured into what is mostly water or alcohol, or that into it, at the
    share of the bottle that makes it hottest; a kilogram of alcohol counts as one of water."""
    for name, at in setup.scenario.poured:
        place = next(p for p in setup.places if p.id == at)
        reagent = setup.scenario.reagents[name]
        bottle = setup.reference.by_mass(reagent.composition, reagent.basis)
        if "sulfuric acid" not in bottle.keys() | place.liquid.keys():
            continue
        poured, amount = _parts(bottle), _mass(setup, name)
        more = amount * POURED[:, None]
        if place.liquid:
            held = _parts(place.liquid)
            less = place.number("liquid_volume").value * _density(held)
        else:  # empty ware: what the other bottles hold is there already
            held, less = _others(setup, name, at)
        heat, capacity = _mixing(more, poured, less, held)
        rises = np.where(heat <= 0, 0.0, heat / capacity)
        rise = Quantity.of(rises.max(axis=0), name="heat of dilution", unit="K", source="Thomsen")
        names = bottle.keys() | place.liquid.keys()
        before = item_temperature(place)  # it may be poured while that is hot; ice earns nothing
        warm = np.maximum(before.value, setup.number("ambient.temperature").value)
        margin = MARGIN(T_max=limit(setup, names), T=before.revised(warm), rise=rise)
        yield setup.measure(KIND, margin, at, name)


def _mass(setup: Setup, name: str) -> FloatArray:
    """Of what a bottle holds, kg; NaN where nobody says."""
    reagent = setup.scenario.reagents[name]
    parts = _parts(setup.reference.by_mass(reagent.composition, reagent.basis))
    return bottled(setup, name, _density(parts))


def _others(setup: Setup, name: str, at: str) -> tuple[tuple[float, float, float], FloatArray]:
    """Of the other bottles that are poured into the same item the one with most water: its parts,
    and its mass in kg."""
    found = []
    for other, where in setup.scenario.poured:
        if where == at and other != name:
            reagent = setup.scenario.reagents[other]
            bottle = setup.reference.by_mass(reagent.composition, reagent.basis)
            found.append((_parts(bottle), _mass(setup, other)))
    nothing = (0.0, 0.0, 1.0), np.zeros(setup.trials)
    return max(found, key=lambda each: each[0][1], default=nothing)  # most water or alcohol


def _parts(liquid: Mapping[str, float]) -> tuple[float, float, float]:
    """Mass fractions of sulfuric acid, of water and alcohols, of the rest."""
    total = sum(liquid.values())
    acid = liquid.get("sulfuric acid", 0.0) / total
    wet = sum(liquid.get(name, 0.0) for name in DISSOLVING) / total
    return acid, wet, 1 - acid - wet


def _density(parts: tuple[float, float, float]) -> float:
    """Of an acid of this strength, kg/m3, within some per cent (water 1000, acid 1840)."""
    return 1000.0 + 840.0 * parts[0]


def _mixing(
    more: FloatArray,
    one: tuple[float, float, float],
    less: FloatArray,
    other: tuple[float, float, float],
) -> tuple[FloatArray, FloatArray]:
    """Heat in J that two masses in kg of these parts give, and their heat capacity, J/K."""
    acid, wet, rest = (more * a + less * b for a, b in zip(one, other, strict=True))
    heat = _diluting(acid, wet) - _diluting(more * one[0], more * one[1])
    heat = heat - _diluting(less * other[0], less * other[1])
    return heat, wet * WATER + acid * ACID + rest * OTHER


def _diluting(acid: FloatArray, wet: FloatArray) -> FloatArray:
    """Heat that masses of sulfuric acid and of water in kg have given, J."""
    moles = acid / ACID_MOLE
    water = wet / WATER_MOLE / np.where(moles == 0, 1.0, moles)
    return np.asarray(np.where(acid == 0, 0.0, moles * dilution_heat(water)))
