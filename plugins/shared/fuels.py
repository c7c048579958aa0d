"""Flammability limits of the substances in a set-up, as arrays the envelope works with.

Figures come from the reference data: the widest published range, the lowest autoignition
temperature. Where no limiting oxygen is tabulated for the inert in use it is estimated from the
lower limit with a stated factor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from review import FloatArray, Input, Method, Quantity, Substance
from review.physics.mixtures import (
    LIMIT_TEMPERATURE,
    adjusted_tube_loc,
    burgess_wheeler_lower,
    burgess_wheeler_upper,
    limit_flame_temperature,
    lower_limit_in_noble_gas,
    upper_limit_in_noble_gas,
)

#: Fall of the lower limit per kelvin as a share of its value at 25 degC: what brings it to zero
#: where gas at rest is as hot as the fuel's own flame at the limit, and at least that of Bureau of
#: Mines Bulletin 627 (1965). Hydrogen, whose weak flames are hotter than their gas, is measured:
#: 3.9 % at 20, 2.1 % at 300 and 1.5 % at 400 degC, Schroeder and Holtappels, ICHS 2005 (from
#: memory). From 4 % at 25 degC, 1.75e-3/K passes below both hot ones: 2.08 and 1.38 %. Fuels
#: whose heat of combustion is not known fall as fast.
LOWER_SLOPE = 7.21e-4
HYDROGEN_SLOPE = 1.75e-3
FLOOR = 0.1

#: Limiting oxygen where none is tabulated: this share of z times the lower limit. Against the
#: tabulated nitrogen values, adjusted as NFPA 69 asks, z LFL reads up to 20 % high (carbon
#: monoxide 5.45 against 4.68 %, diethyl ether 10.2 against 8.5 %). Argon and helium inert less
#: than nitrogen, by about the ratio of the heat capacities, 20.8 to 29.1 J/(mol K).
NITROGEN_FACTOR = 0.8
NOBLE_FACTOR = 0.8 * 20.8 / 29.1
NOBLE = ("argon", "helium", "neon", "krypton", "xenon")

#: Below this mole fraction an oxidiser or fuel is a trace that takes no part in a flame: a fiftieth
#: of the smallest limiting oxygen that any fuel here has when hot.
TRACE = 1e-4
#: Limiting oxygen below which NFPA 69 asks for the larger distance (from memory).
LOW_LOC = 0.05

LOWER_LIMIT = Method(
    id="flammability.lower_limit_hot",
    title="Lower limit at temperature",
    result="lower limit",
    unit="mol/mol",
    formula="L25 * min(max(1 - s * (T - 298.15), floor), 1)",
    inputs=(
        Input("L25", "L25", "mol/mol", "lower limit in air at 25 degC"),
        Input("s", "s", "1/K", "fall per kelvin"),
        Input("T", "T", "K", "hottest temperature in the item"),
        Input("floor", "floor", "1", "least share left"),
    ),
    function=lambda L25, s, T, floor: burgess_wheeler_lower(L25, T, s, floor),
    source="Burgess-Wheeler form (Bureau of Mines Bulletin 627, 1965) with the slope of the fuel's "
    "own limit flame",
    validity="25 degC to autoignition, past it extrapolated; never below a tenth of the limit",
)

UPPER_LIMIT = Method(
    id="flammability.upper_limit_hot",
    title="Upper limit at temperature and pressure",
    result="upper limit",
    unit="mol/mol",
    formula=(
        "min(U25 * max(1 + 0.000721 * (T - 298.15), 1)"
        " + max(0.206 * log(P / 100000.0) / log(10), 0), 1)"
    ),
    inputs=(
        Input("U25", "U25", "mol/mol", "upper limit at 25 degC"),
        Input("T", "T", "K", "hottest temperature in the item"),
        Input("P", "P", "Pa", "absolute pressure"),
    ),
    function=lambda U25, T, P: np.minimum(
        burgess_wheeler_upper(U25, T) + np.maximum(0.206 * np.log10(P / 1e5), 0.0), 1.0
    ),
    source="Zabetakis, Bureau of Mines Bulletin 627 (1965), temperature and pressure rules",
    validity="without cool flames, to about 20 bar; below 1 bar the limit is kept",
)

_NOBLE = Input("n", "n", "1", "argon, helium and the like, share of all that is not fuel")
LOWER_IN_NOBLE = Method(
    id="flammability.lower_limit_noble",
    title="Lower limit where argon or another noble gas takes nitrogen's place",
    result="lower limit",
    unit="mol/mol",
    formula="L * (1 - (1 - 0.97 * 20.786 / 31.83) * n)",
    inputs=(Input("L", "L", "mol/mol", "lower limit in air, when hot"), _NOBLE),
    function=lambda L, n: lower_limit_in_noble_gas(L, n),
    source="equal flame temperature: mean heat capacities of noble gas and of air up to 1300 K",
    validity="carbon dioxide, steam and more oxygen earn nothing",
)
UPPER_IN_NOBLE = Method(
    id="flammability.upper_limit_noble",
    title="Upper limit where argon or another noble gas takes nitrogen's place",
    result="upper limit",
    unit="mol/mol",
    formula=(
        "where(U < 1, 1 - 1 / (1 + U / (1 - min(U, 1 - 1e-12)) + (31.83 - 20.786) / 30 * n), 1)"
    ),
    inputs=(Input("U", "U", "mol/mol", "upper limit in air, when hot"), _NOBLE),
    function=lambda U, n: upper_limit_in_noble_gas(U, n),
    source="equal flame temperature, the fuel taking up no more than hydrogen, 30 J/(mol K)",
    validity="an upper bound; measured are 15 to 18 % for methane, 32 to 37 % for ethylene",
)


#: What the mixing lines at an item are made of, and what their limits hang on.
GAS = (
    "old", "inlet", "outlet", "outlet_middle", "outlet_end", "over_liquid", "drawn_from", "exposed",
    "shut", "moving", "condensed", "hot", "gas_out", "low", "pressure",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits over the fuels of a set-up; arrays (fuels,), NaN where unknown.

    `loc` is the limiting oxygen with nitrogen as the inert and `loc_noble` with argon or helium;
    `estimated` marks those that are estimates. Fuels that burn without oxygen have neither.
    """

    fuels: tuple[Substance, ...]
    rows: tuple[int, ...]
    lower: FloatArray
    slope: FloatArray
    slope_from: tuple[str, ...]
    upper: FloatArray
    upper_oxygen: FloatArray
    loc: FloatArray
    loc_noble: FloatArray
    estimated: FloatArray
    autoignition: FloatArray
    alone: FloatArray
    oxygen: int
    noble: tuple[int, ...]
    strangers: tuple[int, ...]


def limits_of(species: Sequence[Substance]) -> Limits:
    """Collect the limits of everything that burns, or that nobody has said does not."""
    rows = tuple(i for i, s in enumerate(species) if s.combustible is not False)
    fuels = tuple(species[i] for i in rows)
    lower = _all(fuels, "lower_limit_air")
    upper = _all(fuels, "upper_limit_air")
    demand = _all(fuels, "oxygen_demand")
    alone = np.array([1.0 if f.burns_without_oxygen else 0.0 for f in fuels])
    tabulated = np.array([_tabulated(f) for f in fuels])
    left = 0.2095 * (1 - upper)
    guess = np.fmin(NITROGEN_FACTOR * demand * lower, left)
    loc = np.where(np.isnan(tabulated), guess, np.fmin(tabulated, left))
    noble = np.fmin(NOBLE_FACTOR * demand * lower, loc)
    names = [s.name for s in species]
    slopes = [_slope(f) for f in fuels]
    return Limits(
        fuels=fuels,
        rows=rows,
        lower=lower,
        slope=np.array([value for value, _ in slopes]),
        slope_from=tuple(source for _, source in slopes),
        upper=upper,
        upper_oxygen=_all(fuels, "upper_limit_oxygen"),
        loc=np.where(alone > 0, np.nan, loc),
        loc_noble=np.where(alone > 0, np.nan, noble),
        estimated=np.isnan(tabulated).astype(float),
        autoignition=_all(fuels, "autoignition"),
        alone=alone,
        oxygen=names.index("oxygen"),
        noble=tuple(i for i, n in enumerate(names) if n in NOBLE),
        strangers=tuple(
            i for i, s in enumerate(species) if s.oxidiser is not False and s.name != "oxygen"
            and s.combustible is not True and not s.inert
        ),
    )  # fmt: skip


def noble_share(gas: FloatArray, limits: Limits, *, ends: bool = False) -> FloatArray:
    """Share of noble gas in all that is not fuel; `gas` (..., species, trials), result without
    the axis of species.

    A gas that is all fuel has the share of whatever it is mixed with: that of the other end where
    the first axis holds the two `ends` of lines, else none.
    """
    rest = 1 - gas[..., list(limits.rows), :].sum(axis=-2)
    noble = gas[..., list(limits.noble), :].sum(axis=-2)
    share = np.where(rest <= TRACE, 0.0, np.clip(noble / rest, 0.0, 1.0))
    if ends:
        share = np.where(rest <= TRACE, share[::-1], share)
    return np.asarray(share)


def datum(fuel: Substance, name: str) -> Quantity:
    """A figure of a fuel, missing where it has none."""
    return Quantity.of_datum(fuel.datum(name), f"{name.replace('_', ' ')} of {fuel.name}")


def _slope(fuel: Substance) -> tuple[float, str]:
    """Fall of the lower limit per kelvin as a share of it, and whence."""
    if fuel.name == "hydrogen":
        return HYDROGEN_SLOPE, "Schroeder and Holtappels, ICHS 2005 (from memory)"
    atoms = fuel.elements
    flame = float(
        limit_flame_temperature(
            fuel.number("lower_limit_air"),
            fuel.number("heat_of_combustion"),
            atoms.get("C", 0.0) + atoms.get("S", 0.0),
            atoms.get("H", 0.0),
            sum(n for element, n in atoms.items() if element not in "CHOS") / 2,
            fuel.number("oxygen_demand"),
        )
    )
    if not flame > LIMIT_TEMPERATURE:
        return HYDROGEN_SLOPE, "its heat of combustion is not known: as hydrogen"
    slope = max(1 / (flame - LIMIT_TEMPERATURE), LOWER_SLOPE)
    return slope, f"1/(T - 298 K) of its own flame at the limit, {flame:.0f} K"


def _all(fuels: Sequence[Substance], name: str) -> FloatArray:
    values = [f.datum(name).value for f in fuels]
    return np.array([np.nan if v is None else v for v in values], dtype=np.float64)


def _tabulated(fuel: Substance) -> float:
    """Limiting oxygen in nitrogen; a flammability-tube value adjusted as NFPA 69 asks."""
    datum = fuel.datum("limiting_oxygen_nitrogen")
    if datum.value is None:
        return float("nan")
    if datum.apparatus == "vessel":
        return datum.value
    return float(adjusted_tube_loc(datum.value))
