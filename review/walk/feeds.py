"""What is fed in one cell: settings of the step, rates as written, meters and failed regulators."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics.meters import thermal_conversion
from review.scenario.models import Flow, Reagent
from review.walk.names import moles_of
from review.walk.procedure import LEFT_ON, main_step
from review.walk.resolve import AIR_MOLAR_MASS, Resolved
from review.walk.runs import PLAN, Runs

BoolArray = NDArray[np.bool_]


class Reader:
    """Reads numbers of one cell over runs; NaN where the scenario gives none."""

    def __init__(self, runs: Runs, cell: int, before: bool) -> None:
        self.runs, self.cell, self.before = runs, cell, before

    def __call__(self, path: str) -> FloatArray:
        found = self.runs.number(path, self.cell, before=self.before)
        return np.full(self.runs.size, np.nan) if found is None else found


def setting(
    resolved: Resolved, section: str, name: str, stated: str, cell: int, number: Reader
) -> FloatArray:
    """Value of a flow or heat source in one cell over runs; 0 where it is off.

    Cell 0, the stated plan, holds the settings of the main step; in the single step of a file
    without a procedure everything is on, and after the last step everything is off, unless it is
    left on.
    """
    steps = resolved.scenario.procedure
    if cell == len(resolved.steps):
        left = number(LEFT_ON)
        if not (left > 0).any():
            return np.zeros(number.runs.size)
        return left * setting(resolved, section, name, stated, cell - 1, number)
    if not steps:
        return number(stated)
    step = steps[main_step(resolved.scenario) if cell == 0 else cell - 1]
    path = f"settings.{step.step}.{section}.{name}"
    on = number(f"{path}.on")
    value = np.where(on > 0, number(stated), 0.0)
    for step in steps:
        chosen = f"{path}.as.{step.step}"
        if chosen in resolved.base:
            value = np.where(
                number(chosen) > 0, number(f"procedure.{step.step}.{section}.{name}"), value
            )
    return np.asarray(value)


def feed_flows(
    resolved: Resolved, runs: Runs, cell: int, *, before: bool = False
) -> dict[str, FloatArray]:
    """Molar flow of every species in every declared flow, (species, runs), mol/s."""
    out: dict[str, FloatArray] = {}
    number = Reader(runs, cell, before)
    for name, flow in resolved.scenario.flows.items():
        rate = setting(resolved, "flows", name, f"flows.{name}.rate", cell, number)
        most = number(f"flows.{name}.at_most")
        share = number(f"flows.{name}.at_most_share")
        rate = np.where((share > 0) & (rate > 0), (1 - share) * rate + share * most, rate)
        rate = np.where(
            (number(f"flows.{name}.stays_on") > 0) & (rate == 0) & (cell < len(resolved.steps)),
            number(f"flows.{name}.rate"),
            rate,
        )
        rate = rate * number(f"flows.{name}.delivered") * drawing(resolved, name, cell, number)
        rate = _through_failed_regulator(flow, name, rate, number)
        # What is off brings nothing, whatever its meter would have shown.
        molar = np.where(rate == 0, 0.0, _molar(resolved, name, flow, rate, number))
        out[name] = _exchanged(resolved, name, molar, number)
    return out


def _exchanged(resolved: Resolved, name: str, molar: FloatArray, number: Reader) -> FloatArray:
    """What a flow brings with the gas of another one behind its valve, mol for mol."""
    for other, flow in resolved.scenario.flows.items():
        if other == name or not number.runs.changes(f"flows.{name}.gas_of.{other}"):
            continue
        instead = composition(resolved, flow.reagent, number) * molar.sum(axis=0)
        molar = np.where(number(f"flows.{name}.gas_of.{other}") > 0, instead, molar)
    return molar


def drawing(resolved: Resolved, name: str, cell: int, number: Reader) -> FloatArray:
    """1 where a flow comes by itself; room air that a pump draws, only while the pump runs."""
    pumps = drawn_by(resolved, name)
    running = [pumping(resolved, pump, cell, number) for pump in pumps]
    return np.max(running, axis=0) if running else np.ones(number.runs.size)


def drawn_by(resolved: Resolved, name: str) -> list[str]:
    """The pumps that draw a flow of room air; none of a flow that is pushed."""
    flow, graph = resolved.scenario.flows[name], resolved.graph
    held = resolved.scenario.reagents[flow.reagent].held
    if held is None or held.as_ != "room air":
        return []
    start = graph.ids.index(flow.into)
    return [
        item.id
        for k, item in enumerate(resolved.scenario.train)
        if item.suction is not None and start in graph.before[k]
    ]


def pumping(
    resolved: Resolved, pump: str, cell: int, number: Reader, *, broken: bool = True
) -> FloatArray:
    """1 where a pump sucks in one cell; after the last step it is off.

    With `broken` false, where it should.
    """
    steps = resolved.scenario.procedure
    if cell == len(resolved.steps):
        left = number(LEFT_ON)
        return left * pumping(resolved, pump, cell - 1, number, broken=broken)
    working = number(f"train.{pump}.suction.working") if broken else np.ones(number.runs.size)
    if not steps:
        return working
    step = steps[main_step(resolved.scenario) if cell == 0 else cell - 1]
    return working * number(f"settings.{step.step}.suction.{pump}.on")


def escaping_fuel(resolved: Resolved, runs: Runs, cell: int, *, before: bool = False) -> FloatArray:
    """Burner gas that goes on although the flame is out, (species, runs), mol/s."""
    number = Reader(runs, cell, before)
    out = np.zeros((len(resolved.species), runs.size))
    for name, heat in resolved.scenario.heat.items():
        escapes = number(f"heat.{name}.flame_out")
        if heat.fuel is None or not escapes.any():
            continue
        rate = number(f"heat.{name}.fuel_rate")
        mix = composition(resolved, heat.fuel, number)
        if heat.fuel_rate is None or heat.fuel_rate.by == "molar":
            moles = rate
        elif heat.fuel_rate.by == "mass":
            moles = rate / (resolved.properties.molar_masses @ mix)
        else:
            moles = gas_physics.amount(101325.0, rate, 293.15)
        out += np.where(escapes > 0, mix * moles, 0.0)
    return out


def _through_failed_regulator(
    flow: Flow, name: str, rate: FloatArray, number: Reader
) -> FloatArray:
    """A set valve passes in proportion to the absolute pressure before it (choked flow).

    A mass flow controller goes on holding its rate: its own failure is another upset.
    """
    failed = number(f"flows.{name}.regulator_failed")
    controlled = flow.instrument is not None and flow.instrument.kind == "mass flow controller"
    if controlled or not failed.any():
        return rate
    path = f"reagents.{flow.reagent}.held"
    growth = number(f"{path}.pressure") / number(f"{path}.regulator")
    return np.where(failed > 0, rate * growth, rate)


def composition(resolved: Resolved, reagent_id: str, number: Reader) -> FloatArray:
    """Mole fractions of a reagent over the species, (species, runs); renormalised to one."""
    reagent = resolved.scenario.reagents[reagent_id]
    out = np.zeros((len(resolved.species), number.runs.size))
    for text in reagent.composition:
        substance = resolved.reference.substance(text)
        i = resolved.index.get(substance.name)
        if i is None:
            continue
        share = number(f"reagents.{reagent_id}.composition.{text}")
        out[i] += share * moles_of(reagent, substance)
    total = out.sum(axis=0)
    return np.asarray(out / np.where(total > 0, total, 1.0))


def at_the_most(resolved: Resolved, name: str, number: Reader) -> FloatArray:
    """The most that a flow can bring, mol/s of each species; NaN where the file does not say."""
    most = number(f"flows.{name}.at_most")
    return _molar(resolved, name, resolved.scenario.flows[name], most, number)


def _molar(
    resolved: Resolved, name: str, flow: Flow, rate: FloatArray, number: Reader
) -> FloatArray:
    """A rate as written turned into mol/s of each species."""
    fractions = composition(resolved, flow.reagent, number)
    mass = resolved.properties.molar_masses @ fractions
    reagent = resolved.scenario.reagents[flow.reagent]
    if flow.rate.by == "molar":
        return np.asarray(fractions * rate)
    if flow.rate.by == "mass":
        return np.asarray(fractions * rate / mass)
    if reagent.state == "liquid":
        density = _liquid_density(resolved, reagent)
        return np.asarray(fractions * rate * density / mass)
    ambient = number("ambient.temperature"), number("ambient.pressure")
    temperature, pressure = _state(number, f"flows.{name}.reference.", "", ambient)
    instrument = flow.instrument
    if instrument is not None and instrument.kind == "mass flow controller":
        wrong = number(f"flows.{name}.wrong_scale") > 0
        rate = rate * _thermal_factor(resolved, instrument.calibration_gas, fractions, wrong)
        rate = rate * number(f"flows.{name}.true_over_read")
    if instrument is not None and instrument.kind == "float meter":
        path = f"flows.{name}.instrument."
        gas_t, gas_p = _state(number, path, "gas_", ambient)
        scale_t, scale_p = _state(number, path, "calibration_", (293.15, 101325.0))
        calibration = str(instrument.calibration_gas)
        if calibration == "air":
            calibration_mass = AIR_MOLAR_MASS
        else:
            calibration_mass = resolved.reference.substance(calibration).molar_mass
        # On the scale for another gas: the correction is left out, or made where none is due.
        wrong = number(f"flows.{name}.wrong_scale") > 0
        other = np.where(np.abs(calibration_mass / mass - 1) > 0.01, mass, AIR_MOLAR_MASS)
        rate = gas_physics.float_meter_correction(
            rate,
            np.where(wrong, other, calibration_mass),
            mass,
            scale_t,
            scale_p,
            gas_t,
            gas_p,
        )
        temperature, pressure = gas_t, gas_p
    return np.asarray(fractions * gas_physics.amount(pressure, rate, temperature))


def _thermal_factor(
    resolved: Resolved, calibration: str | None, fractions: FloatArray, wrong: BoolArray
) -> FloatArray:
    """True flow of a thermal mass flow controller over its reading, F(gas) / F(calibration gas).

    Without a calibration gas it is taken as made for this gas. On the wrong scale the correction
    is left out, or made where none is due, as for nitrogen.
    """
    names = [s.name for s in resolved.species]
    heats = resolved.properties.molar_heat(300.0)
    of_gas = thermal_conversion(names, fractions, heats)
    factor = np.ones_like(of_gas)
    if calibration == "air":
        factor = of_gas
    elif calibration is not None:
        name = resolved.reference.substance(calibration).name
        own = names.index(name)
        made_for = thermal_conversion([name], np.ones((1, of_gas.size)), heats[[own]])
        same = fractions[own] > 0.999
        factor = np.where(same, 1.0, of_gas / made_for)
    other = np.where(np.abs(factor - 1) > 0.01, 1.0, of_gas)
    return np.asarray(np.where(wrong, other, factor))


def thermal_factors(resolved: Resolved, name: str) -> list[float]:
    """True flow over reading of a controller made for this gas, for nitrogen or for any one of its
    components: every one, least first."""
    plan = Reader(Runs(resolved.base, [PLAN]), 0, False)
    reagent = resolved.scenario.flows[name].reagent
    fractions, no = composition(resolved, reagent, plan), np.zeros(1, dtype=bool)
    present = [s.name for s, share in zip(resolved.species, fractions, strict=True) if share > 0]
    made = (_thermal_factor(resolved, each, fractions, no) for each in (None, "air", *present))
    return sorted(float(factor[0]) for factor in made)


def _state(
    number: Reader,
    path: str,
    prefix: str,
    otherwise: tuple[FloatArray | float, FloatArray | float],
) -> tuple[FloatArray, FloatArray]:
    """Temperature and pressure a meter or a reference states, else the given ones."""
    temperature = number(f"{path}{prefix}temperature")
    pressure = number(f"{path}{prefix}pressure")
    return (
        np.where(np.isnan(temperature), otherwise[0], temperature),
        np.where(np.isnan(pressure), otherwise[1], pressure),
    )


def _liquid_density(resolved: Resolved, reagent: Reagent) -> float:
    """Density of a liquid reagent: that of its densest component, so the feed is never too low.

    A dissolved solid leaves no more of the rest in a litre than the rest alone has.
    """
    parts = [resolved.reference.substance(text) for text in reagent.composition]
    found = [s.number("liquid_density") for s in parts if s.phase_at_20C != "solid"]
    return float(np.max(found)) if found else float("nan")
