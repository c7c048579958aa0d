"""Small questions to whole set-ups: each builds a scenario, walks or reviews it, gives one number.

Published rows name these as ``adapters.NAME``, so that a figure from a handbook meets the checks
and the walk as a user meets them, not only the formulas beneath.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import fluids
import numpy as np
from review.plugins.flammability import arresters
from review.plugins.hot_surfaces import runaway
from review.plugins.shared.fuels import limits_of
from review.plugins.shared.rating import rating
from review.plugins.standard_items.kinds import KINDS
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from review import Engine, Scenario, loads
from review.physics import burning, openings, room
from review.reference.data import parse_formula
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup
from tests.support import shared_engine


@cache
def _engine() -> Engine:
    return shared_engine()


def _walked(text: str) -> Setup:
    """The plan alone, walked; one trial per step, the stated plan first."""
    resolved = resolve(loads(text), _engine().reference, {kind.id: kind for kind in KINDS})
    return Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])


def _measured(text: str, kind: str, at: str, cell: int = 0) -> float:
    review = _engine().review(_read(text), upsets=False)
    (found,) = [m for m in review.measures if m.kind == kind and m.at == at]
    return float(found.value[cell, 0])


@cache
def _read(text: str) -> Scenario:
    return loads(text)


def _species(setup: Setup, name: str) -> int:
    return [s.name for s in setup.species].index(name)


def _gas(gas: Mapping[str, float], hot: float | None = None) -> str:
    """A gas (percent by mole) that flows through one tube to the hood; hot: its furnace, degC."""
    heat = (
        f"heat: {{furnace: {{heats: tube, kind: tube furnace, set_temperature: {hot} degC}}}}\n"
        if hot is not None
        else ""
    )
    return (
        "title: one gas in one tube\nduration: 10 min\n"
        "reagents: {gas: {state: gas, composition: {"
        + ", ".join(f"{name}: {share} %" for name, share in gas.items())
        + "}}}\nflows: {feed: {reagent: gas, into: tube, rate: 1 L/min, reference: normal}}\n"
        "train:\n- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm}\n"
        "- {id: out, kind: outlet, to: hood}\n"
        "ventilation:\n"
        "  hood: {kind: fume hood, opening_width: 1.2 m, opening_height: 0.4 m,\n"
        "    face_velocity: 0.5 m/s}\n" + heat
    )


def in_air(fuel: str, percent: float) -> dict[str, float]:
    """That much fuel in air of 20.95 % oxygen, percent by mole."""
    air = 100 - percent
    return {fuel: percent, "oxygen": 0.2095 * air, "nitrogen": 0.7905 * air}


def envelope(
    measure: str, fuel: str, percent: float, gas: Mapping[str, float] | None = None
) -> float:
    """A measure of the flammability check for a gas, by default `percent` fuel in air."""
    mixed = dict(gas) if gas else in_air(fuel, percent)
    return _measured(_gas(mixed), f"flammability.{measure}", "tube")


def lower_limit(fuel: str, hot: float | None = None) -> float:
    """Lower limit in air that the check works with, mole fraction, at room temperature or hot."""
    ratio = _measured(_gas(in_air(fuel, 1.0), hot), "flammability.fuel_to_lower_limit", "tube")
    return 0.01 / ratio


def upper_limit(fuel: str, percent: float) -> float:
    """Upper limit in air that the check works with, mole fraction, seen from a rich mixture."""
    return envelope("upper_limit_to_fuel", fuel, percent) * percent / 100


def limiting_oxygen(fuel: str, percent: float) -> float:
    """Limiting oxygen in nitrogen that the check works with, mole fraction."""
    gas = {fuel: percent, "oxygen": 2.0, "nitrogen": 98.0 - percent}
    return 0.02 / envelope("oxygen_to_limiting", fuel, percent, gas)


def at_the_outlet(gas: Mapping[str, float]) -> float:
    """Gas at the outlet against what burns once it meets air."""
    return _measured(_gas(gas), "flammability.outlet_in_air", "out")


def in_the_hood(fuel: str, percent: float) -> float:
    """Fuel in the exhaust of the hood over its lower limit; 1 L/min (normal) of gas leaves."""
    return _measured(_gas(in_air(fuel, percent)), "flammability.air_to_lower_limit", "hood")


def cooled_hydrogen(measure: str) -> float:
    """A tube of neat hydrogen at 900 degC that cools without flow to 600 degC, its end open.

    880 K above the room fall to 580 K in 0.41688 time constants. `measure` is ``drawn_in`` (the
    share drawn in) or ``hydrogen`` (its share then).
    """
    text = (
        "title: cooling\nreagents: {gas: {state: gas, composition: {hydrogen: 100 %}}}\n"
        "flows: {feed: {reagent: gas, into: tube, rate: 1 L/min, reference: normal}}\n"
        "train:\n- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm}\n"
        "- {id: out, kind: outlet, to: hood}\n"
        "heat:\n  furnace: {heats: tube, kind: tube furnace, set_temperature: 900 degC,"
        " cooling_time: 100 min}\n"
        "procedure:\n- {step: heat, duration: 300 min, flows: {feed: on}, heat: {furnace: on}}\n"
        "- {step: cool, duration: 41.688 min, flows: {feed: off}, heat: {furnace: off}}\n"
        "- {step: wait, duration: 1 s}\n"
    )
    setup = _walked(text)
    if measure == "drawn_in":
        return float(setup.places[0].drawn_fraction.value[2])
    return float(setup.places[0].composition("old")[_species(setup, "hydrogen"), 3])


def tube_rating(
    inner: float, wall: float, ends: str = "open", base: float = 0.0, home_made: str = "no"
) -> float:
    """What a vessel of borosilicate glass 3.3 holds, Pa gauge; lengths in mm."""
    flat = f", flat_end_thickness: {base} mm" if base else ""
    text = (
        "title: glass\ntrain:\n- {id: glass, kind: line, material: borosilicate glass 3.3, "
        f"inner_diameter: {inner} mm, wall: {wall} mm, length: 200 mm, joint: none, "
        f"home_made: {home_made}, ends: {ends}{flat}}}\n- {{id: out, kind: outlet, to: hood}}\n"
    )
    setup = _walked(text)
    return float(rating(setup, setup.places[0]).value[0])


def plugged_seconds(cold: float, hot: float, temperature: float) -> float:
    """Seconds until a cold volume rated 0.5 bar lets go when the hot one behind it is plugged.

    Volumes in mL; 1 L/min (normal) comes in from a supply that reaches 1 bar gauge.
    """
    text = (
        "title: plug\nduration: 10 min\n"
        "reagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
        "flows:\n  feed: {reagent: gas, into: cold, rate: 1 L/min, reference: normal,"
        " shut_off_pressure: 1 bar gauge}\n"
        "train:\n"
        f"- {{id: cold, kind: vessel, gas_volume: {cold} mL, rating: 0.5 bar gauge, joint: none}}\n"
        f"- {{id: hot, kind: vessel, gas_volume: {hot} mL, rating: 5 bar gauge, joint: none}}\n"
        "- {id: out, kind: outlet, to: hood}\n"
        "heat:\n  mantle: {heats: hot, kind: heating mantle,"
        f" set_temperature: {temperature} degC}}\n"
    )
    return _measured(text, "pressure.plugged_seconds", "hot")


def molar_flow(rate: str, reference: str, gas: str = "argon", instrument: str = "") -> float:
    """Molar flow that a stated rate is taken as, mol/s."""
    more = f", instrument: {{{instrument}}}" if instrument else ""
    text = (
        f"title: flow\nreagents: {{gas: {{state: gas, composition: {{{gas}: 100 %}}}}}}\n"
        f"flows: {{feed: {{reagent: gas, into: tube, rate: {rate},"
        f" reference: {reference}{more}}}}}\n"
        "train:\n- {id: tube, kind: line, inner_diameter: 6 mm, length: 100 mm}\n"
        "- {id: out, kind: outlet, to: hood}\n"
    )
    return float(_walked(text).places[0].flow.value[0])


AIR_SCALE = (
    "kind: float meter, calibration_gas: air, calibration_temperature: 20 degC,"
    " calibration_pressure: 1 atm, gas_temperature: 20 degC, gas_pressure: 1 atm"
)


def float_meter_on_hydrogen() -> float:
    """How many times the scale's reading a float meter scaled for air lets through of hydrogen."""
    read = molar_flow("1 L/min", "standard", "hydrogen", AIR_SCALE)
    return read / molar_flow("1 L/min", "standard", "hydrogen")


def saturated(liquid: str, temperature: float) -> float:
    """Partial pressure of a liquid's vapour in argon that bubbled through it, Pa."""
    text = (
        "title: saturator\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
        "flows: {feed: {reagent: gas, into: bottle, rate: 200 mL/min, reference: normal}}\n"
        f"train:\n- {{id: bottle, kind: wash bottle, liquid: {liquid}, liquid_volume: 100 mL,"
        f" gas_volume: 50 mL, dip_depth: 0 mm, dip_tube_bore: 8 mm,"
        f" bath_temperature: {temperature} degC}}\n"
        "- {id: out, kind: outlet, to: hood}\n"
    )
    setup = _walked(text)
    share = setup.places[0].composition("outlet")[_species(setup, liquid), 0]
    return float(share * setup.number("ambient.pressure").value[0])


def column_loss(rate: float, grain: float, voidage: float, length: float) -> float:
    """Pressure loss of argon at 20 degC in a column of 20 mm bore, Pa; L/min, mm, share, mm."""
    text = (
        "title: column\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
        f"flows: {{feed: {{reagent: gas, into: bed, rate: {rate} L/min, reference: standard}}}}\n"
        f"train:\n- {{id: bed, kind: column, inner_diameter: 20 mm, length: {length} mm,"
        f" packing: {{voidage: {voidage * 100} %, particle_diameter: {grain} mm}}}}\n"
        "- {id: out, kind: outlet, to: hood, inner_diameter: 100 mm}\n"
    )
    setup = _walked(text)
    return float((setup.places[0].pressure.value - setup.number("ambient.pressure").value)[0])


def dip_tube_head(liquid: str, depth: float) -> float:
    """Pressure that gas needs to bubble out of a dip tube, Pa; depth in mm, bore 8 mm."""
    text = (
        "title: bottle\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
        "flows: {feed: {reagent: gas, into: bottle, rate: 200 mL/min, reference: normal}}\n"
        f"train:\n- {{id: bottle, kind: wash bottle, liquid: {liquid}, liquid_volume: 100 mL,"
        f" gas_volume: 50 mL, dip_tube_bore: 8 mm, dip_depth: {depth} mm}}\n"
        "- {id: out, kind: outlet, to: hood}\n"
    )
    setup = _walked(text)
    return float((setup.places[0].pressure.value - setup.number("ambient.pressure").value)[0])


def relief_kpa(rate: float, bore: float, length: float, opens: float = 0.0) -> float:
    """Pressure of a shut vessel that a relief lets nitrogen out of, kPa; L/min, mm, mm, bar."""
    text = (
        "title: relief\nreagents: {gas: {state: gas, composition: {nitrogen: 100 %}}}\n"
        f"flows: {{feed: {{reagent: gas, into: pot, rate: {rate} L/min, reference: standard,"
        " shut_off_pressure: 5 bar gauge}}\n"
        "train:\n- {id: pot, kind: vessel, gas_volume: 1 L, rating: 9 bar gauge, joint: none,"
        f" relief: {{opens_at: {opens} bar gauge, bore: {bore} mm, length: {length} mm}}}}\n"
        "- {id: out, kind: outlet, to: hood, open: no}\n"
    )
    return float(_walked(text).places[0].pressure.value[0] - 101325.0) / 1e3


def purge_residual(volumes: list[float], minutes: float) -> float:
    """Air left at the end of vessels in series after a purge with 1 L/min at 20 degC; litres."""
    items = "".join(
        f"- {{id: vessel {n}, kind: vessel, gas_volume: {v} L}}\n" for n, v in enumerate(volumes)
    )
    text = (
        "title: purge\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
        "flows: {feed: {reagent: gas, into: vessel 0, rate: 1 L/min, reference: standard}}\n"
        f"train:\n{items}- {{id: out, kind: outlet, to: hood, inner_diameter: 6 mm}}\n"
        f"procedure:\n- {{step: purge, duration: {minutes} min, flows: {{feed: on}}}}\n"
        "- {step: wait, duration: 1 s}\n"
    )
    setup = _walked(text)
    oxygen = setup.places[len(volumes) - 1].composition("old")[_species(setup, "oxygen")]
    return float(oxygen[2] / 0.2095)


def exchange_l_min(bore_mm: float, density: float) -> float:
    """Flow below which air of 20 degC runs in beside a gas, L/min."""
    return float(openings.gravity_exchange(bore_mm / 1e3, density, 1.2041)) * 6e4


def diffusion_volume(formula: str) -> float:
    """Fuller's diffusion volume of a molecule."""
    return openings.diffusion_volume(formula, parse_formula(formula))


def controller_ml_min(gas: str, calibration: str, reading: float) -> float:
    """True flow of a thermal controller that shows `reading`, mL/min at 20 degC and 1 atm."""
    setup = _walked(
        f"title: t\nreagents: {{gas: {{state: gas, composition: {{{gas}: 100 %}}}}}}\n"
        f"flows: {{feed: {{reagent: gas, into: in, rate: {reading} mL/min, reference: standard,"
        f" instrument: {{kind: mass flow controller, calibration_gas: {calibration}}}}}}}\n"
        "train:\n- {id: in, kind: junction, gas_volume: 5 mL}\n"
        "- {id: out, kind: outlet, to: hood}\n"
    )
    return float(setup.places[0].flow.value[0] * 8.314462618 * 293.15 / 101325.0 * 6e7)


def partial_pressure_mmhg(solute: str, strength: float, temperature: float) -> float:
    """Partial pressure of a solute over its solution in water, from the shipped tables."""
    table = _engine().reference.solution(solute, "water")
    assert table is not None
    found = table.at(strength).partial_pressure(solute, np.float64(temperature))
    return float(found) / 133.322387


def rachford_rice(fractions: list[float], ratios: list[float]) -> float:
    """Share of vapour by the library's solver."""
    from chemicals.rachford_rice import flash_inner_loop

    return float(flash_inner_loop(fractions, ratios)[0])


def enthalpy_rise(gas: str, temperature: float) -> float:
    """Enthalpy over that at 298.15 K, J/mol, as tables of thermodynamics have it."""
    start = 298.15
    rise = burning.internal_energy(temperature, gas) - burning.internal_energy(start, gas)
    return float(rise + 8.314462618 * (temperature - start))


def _best_in_air(fuel: str) -> tuple[float, float]:
    """Heat and oxygen used of the stoichiometric mixture with air, by the reference data."""
    data = _engine().reference.substance(fuel)
    demand = float(data.datum("oxygen_demand").value or 0.0)
    share = 1 / (1 + demand / 0.2095)
    return share * float(data.datum("heat_of_combustion").value or 0.0), share * demand


def explosion_in_air(fuel: str, kelvin: float = 298.15) -> float:
    """Explosion pressure of the stoichiometric mixture with air over that before it."""
    heat, oxygen = _best_in_air(fuel)
    return float(burning.explosion_ratio(heat, oxygen, 0.0, kelvin))


def burnt_in_air(fuel: str) -> float:
    """Temperature of the same mixture burnt in a closed vessel, K."""
    heat, oxygen = _best_in_air(fuel)
    return float(burning.burnt_temperature(heat, oxygen, 0.0, 298.15))


def heat_of_liquids(coefficients: Mapping[str, float]) -> float:
    """Heat that a reaction between liquids sets free, kJ per mole of equation."""
    setup = _walked("title: t\ntrain:\n- {id: out, kind: outlet, to: hood}\n")
    return -runaway.enthalpy(setup, dict(coefficients)) / 1e3


def quenched_mm(fuel: str, kelvin: float = 298.15) -> float:
    """What an arrester's channels are held against, mm, at a temperature and 1 atm."""
    setup = _walked(
        "title: t\nreagents:\n"
        f"  gas: {{state: gas, composition: {{{fuel}: 1 %, nitrogen: 99 %}}}}\n"
        "flows: {feed: {reagent: gas, into: stop, rate: 1 mL/min, reference: standard}}\n"
        f"train:\n- {{id: stop, kind: arrester, inner_diameter: 20 mm, length: 50 mm,"
        f" temperature: {kelvin} K}}\n- {{id: out, kind: outlet, to: hood}}\n"
    )
    found, _ = arresters.quenches_at(setup, setup.places[0], limits_of(setup.species))
    return float(found[0]) * 1e3


def detonation_in_air(fuel: str) -> float:
    """Pressure of the wave over that before it, of the stoichiometric mixture with air."""
    return float(burning.detonation_ratio(explosion_in_air(fuel), reflected=False))


#: Names of the fuels in the file of gases that comes with Cantera.
NASA = {
    "methane": "CH4", "ethane": "C2H6", "propane": "C3H8", "butane": "C4H10,n-butane",
    "ethylene": "C2H4", "propylene": "C3H6,propylene", "acetylene": "C2H2,acetylene",
    "hydrogen": "H2", "carbon monoxide": "CO", "methanol": "CH3OH", "ethanol": "C2H5OH",
    "benzene": "C6H6",
}  # fmt: skip
BURNT = ("O2", "N2", "CO2", "CO", "H2O", "H2", "OH", "H", "O", "NO", "N")


@cache
def _gases() -> Any:
    import cantera as ct

    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    names = dict.fromkeys((*BURNT, *NASA.values()))
    return ct.Solution(thermo="ideal-gas", species=[known[name] for name in names])


def equilibrium_in_air(fuel: str, kelvin: float) -> float:
    """Explosion pressure of the stoichiometric mixture with air over that before it, by Cantera."""
    gas = _gases()
    demand = float(_engine().reference.substance(fuel).datum("oxygen_demand").value or 0.0)
    gas.TPX = kelvin, 101325.0, {NASA[fuel]: 1.0, "O2": demand, "N2": demand * 0.7905 / 0.2095}
    gas.equilibrate("UV")
    return float(gas.P / 101325.0)


def _zones(pair: Mapping[str, float], **events: Any) -> Any:
    """The two zones integrated step by step."""
    q, beta, vn = pair["airflow"], pair["interzonal"], pair["near_volume"]
    vf = pair["room_volume"] - vn

    def change(_: float, c: Any) -> list[float]:
        across = beta * (c[0] - c[1])
        return [(pair["emission"] - across) / vn, (across - q * c[1]) / vf]

    start = [pair.get("start_near", 0.0), pair.get("start_far", 0.0)]
    span = (0.0, pair.get("time", 1e6))
    return solve_ivp(change, span, start, method="LSODA", rtol=1e-10, atol=1e-18, **events)


def two_zones_by_scipy(far: int, **pair: float) -> float:
    """Near or far field after a time."""
    return float(_zones(pair).y[far, -1])


def time_by_scipy(limit: float, **pair: float) -> float:
    """Seconds until the near field is there."""

    def reached(_: float, c: Any) -> float:
        return float(c[0] - limit)

    reached.terminal = True  # type: ignore[attr-defined]
    return float(_zones(pair, events=reached).t_events[0][0])


def time_until(limit: float, **pair: float) -> float:
    """The same as the check has it."""
    return float(room.two_zone_time(limit, **pair))


def behind_a_trap(name: str, cold: float, share: float, rate: float) -> float:
    """Partial pressure of a vapour behind a trap whose surface is so cold, Pa; rate in m3/s."""
    text = f"""
title: t
reagents: {{gas: {{state: gas, composition: {{{name}: {share}, helium: {1 - share}}}}}}}
flows: {{feed: {{reagent: gas, into: trap, rate: {rate} m3/s, reference: normal}}}}
train:
- {{id: trap, kind: trap, gas_volume: 250 mL, inner_diameter: 60 mm, temperature: {cold} K}}
- {{id: out, kind: outlet, to: hood}}
"""
    setup = _walked(text)
    row = setup.resolved.index[name]
    return float(setup.stacked("outlet")[0, row, 0] * 101325.0)


def boiling_pressure(fluid: str, temperature: float) -> float:
    """Vapour pressure by CoolProp, Pa."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("P", "T", temperature, "Q", 0, fluid))


def branch_share(rate: float, left: str, right: str) -> float:
    """Share of nitrogen, L/min at the room's state, that takes the left of two ways to the room."""
    text = (
        "title: two ways\n"
        "reagents: {gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder,"
        " volume: 10 L, pressure: 100 bar gauge, regulator: 0.5 bar gauge}}, water: {state: liquid,"
        " composition: {water: 100 %}}}\n"
        f"flows: {{feed: {{reagent: gas, into: tee, rate: {rate} L/min, reference: ambient}}}}\n"
        "train:\n- {id: tee, kind: line, inner_diameter: 20 mm, length: 10 mm}\n"
        f"- {{id: left, from: tee, {left}}}\n- {{id: right, from: tee, {right}}}\n"
        "- {id: out, kind: outlet, from: [left, right], to: room, inner_diameter: 20 mm}\n"
    )
    tee, one = _walked(text).places[:2]
    return float(one.flow.value[0] / tee.flow.value[0])


def branch_share_by_fluids(
    rate: float, bores: list[float], lengths: list[float], density: float, viscosity: float
) -> float:
    """Share of the first of two pipes by `fluids` and scipy's root finder; L/min, m, SI."""

    def loss(share: float, n: int) -> float:
        flow = share * rate / 60e3 * density
        return float(fluids.one_phase_dP(flow, density, viscosity, bores[n], L=lengths[n]))

    return float(brentq(lambda x: loss(x, 0) - loss(1 - x, 1), 1e-6, 1 - 1e-6))
