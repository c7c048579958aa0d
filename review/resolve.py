"""A scenario resolved against reference data and item kinds: what the walk needs, once per file.

Names become substances and materials, reactions are balanced, settings of steps are looked up in
order, and every number stays addressed by its path so that overlays can change it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from review.items import Absorption, ItemKind, ItemView, Reaction, Vapour
from review.measure import FloatArray
from review.physics import gas as gas_physics
from review.reactions import Term, parse_equation
from review.reference import Reference, Substance, UnknownName, heat_capacity_gas
from review.runs import Runs
from review.scenario import InputError, Problem, Scenario, numbers
from review.scenario.models import Flow, Reagent
from review.scenario.models import ItemModel as Item
from review.train import Graph, Properties, build_graph

#: Dry air by mole: oxygen as 20.95 %, all else counted as nitrogen.
AIR = {"nitrogen": 0.7905, "oxygen": 0.2095}
AIR_MOLAR_MASS = 28.965e-3

#: Numbers that describe the state of equipment; upsets change them, the plan leaves them so.
#: Of a flow: share delivered, 1 if its control gives the most it can, 1 if it is set on the scale
#: for another gas, 1 if it goes on in steps that turn it off, 1 if its regulator lets the
#: cylinder's own pressure through. Of a heat source:
#: 1 if it gives heat, 1 if it runs to its hottest. Of an item: 1 if blocked, 1 if a joint opens
#: so that all gas leaves there or so that air can come in there, share of its absorbent that
#: works, share of its reactions that start, 1 if they run to completion. Of a burner: 1 if its
#: flame is out and its gas goes on.
EQUIPMENT = {
    "flows": {
        "delivered": 1.0,
        "at_most_share": 0.0,
        "wrong_scale": 0.0,
        "stays_on": 0.0,
        "regulator_failed": 0.0,
    },
    "heat": {"delivered": 1.0, "at_hottest": 0.0, "flame_out": 0.0},
    "train": {
        "blocked": 0.0,
        "open_outward": 0.0,
        "open_inward": 0.0,
        "absorbing": 1.0,
        "reacting": 1.0,
        "complete": 0.0,
    },
}
VENTILATION_WORKING = "ventilation.working"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the procedure; the implied one where the file has none."""

    name: str
    duration_path: str


@dataclass(frozen=True, slots=True)
class Resolved:
    """Everything about a scenario that is the same in all runs."""

    scenario: Scenario
    reference: Reference
    graph: Graph
    species: tuple[Substance, ...]
    index: Mapping[str, int]
    properties: Properties
    base: Mapping[str, float]
    steps: tuple[Step, ...]
    reactions: Mapping[str, tuple[tuple[Term, ...], ...]]
    liquids: Mapping[str, Mapping[str, float]]
    credited: frozenset[tuple[str, str]]
    paths: Mapping[str, tuple[str, ...]]
    exhaustible: frozenset[str]
    notes: tuple[str, ...] = field(default=())

    @property
    def air(self) -> FloatArray:
        """Mole fractions of air over the species."""
        out = np.zeros(len(self.species))
        for name, share in AIR.items():
            out[self.index[name]] = share
        return out


def resolve(
    scenario: Scenario,
    reference: Reference,
    kinds: Mapping[str, ItemKind],
) -> Resolved:
    """Resolve names; raises `InputError` with every problem found at once."""
    problems: list[Problem] = []
    found: dict[str, Substance] = {}
    notes: list[str] = []

    def name(text: str, path: tuple[str | int, ...]) -> Substance | None:
        try:
            substance = reference.substance(text)
        except UnknownName as unknown:
            nearest = unknown.nearest[0] if unknown.nearest else ""
            wrong = f'unknown substance "{text}"'
            problems.append(scenario.problem(path, wrong, nearest, at_key=path[-1] == text))
            return None
        found.setdefault(substance.name, substance)
        return substance

    for air in AIR:
        found[air] = reference.substance(air)
    for reagent_id, reagent in scenario.reagents.items():
        for text in reagent.composition:
            name(text, ("reagents", reagent_id, "composition", text))
    chosen: list[ItemKind] = []
    reactions: dict[str, tuple[tuple[Term, ...], ...]] = {}
    liquids: dict[str, dict[str, float]] = {}
    given = numbers(scenario)
    for i, item in enumerate(scenario.train):
        kind = kinds.get(item.kind)
        if kind is None:
            problems.append(_unknown_kind(scenario, i, item, kinds))
            continue
        chosen.append(kind)
        for wanted in kind.requires:
            if not _given(item, wanted, given):
                problems.append(
                    scenario.problem(("train", i, "kind"), f'a {kind.id} needs "{wanted}"')
                )
        if item.material is not None:
            try:
                reference.material(item.material)
            except UnknownName as unknown:
                nearest = unknown.nearest[0] if unknown.nearest else ""
                problems.append(
                    scenario.problem(
                        ("train", i, "material"), f'unknown material "{item.material}"', nearest
                    )
                )
        if item.joint is not None:
            try:
                reference.joint(item.joint)
            except UnknownName as unknown:
                nearest = unknown.nearest[0] if unknown.nearest else ""
                problems.append(
                    scenario.problem(
                        ("train", i, "joint"), f'unknown joint "{item.joint}"', nearest
                    )
                )
        equations: list[tuple[Term, ...]] = []
        for n, reaction in enumerate(item.reactions):
            place = ("train", i, "reactions", n)
            try:
                terms = parse_equation(reaction.equation, reference)
            except (ValueError, UnknownName) as error:
                problems.append(scenario.problem((*place, "equation"), str(error)))
                continue
            for term in terms:
                if term.substance is not None:
                    found.setdefault(term.substance.name, term.substance)
            limiting = name(reaction.limiting, (*place, "limiting"))
            reactants = {t.substance.name for t in terms if t.substance and t.coefficient < 0}
            if limiting is not None and limiting.name not in reactants:
                problems.append(
                    scenario.problem(
                        (*place, "limiting"),
                        f'"{reaction.limiting}" is no gas on the left of the reaction',
                    )
                )
            equations.append(terms)
        reactions[item.id] = tuple(equations)
        for text in item.absorbs:
            name(text, ("train", i, "absorbs", text))
        if item.liquid is not None:
            liquids[item.id] = _liquid(item.liquid, scenario.reagents, name, i)
    for f, flow in scenario.flows.items():
        instrument = flow.instrument
        if instrument is not None and instrument.kind == "float meter":
            if instrument.calibration_gas is None:
                problems.append(
                    scenario.problem(
                        ("flows", f, "instrument"),
                        'a float meter needs "calibration_gas": it reads light gases low',
                    )
                )
            elif instrument.calibration_gas != "air":
                name(instrument.calibration_gas, ("flows", f, "instrument", "calibration_gas"))
    if scenario.flows and chosen and not any(kind.is_end for kind in chosen):
        last = len(scenario.train) - 1
        problems.append(
            scenario.problem(
                ("train", last, "id"),
                f'the train ends at "{scenario.train[last].id}" without an outlet: add an item of '
                'kind "outlet" that says where the gas goes',
            )
        )
    if problems:
        raise InputError(problems)
    species = tuple(found[s] for s in sorted(found) if found[s].can_be_gas)
    base = _base_numbers(scenario, given)
    return Resolved(
        scenario=scenario,
        reference=reference,
        graph=build_graph(scenario, chosen),
        species=species,
        index={s.name: i for i, s in enumerate(species)},
        properties=properties_of(species),
        base=base,
        steps=_steps(scenario),
        reactions=reactions,
        liquids=liquids,
        credited=_credited(scenario, reference, chosen, liquids),
        exhaustible=frozenset(
            item
            for item, equations in reactions.items()
            if any(t.substance is None and t.coefficient < 0 for terms in equations for t in terms)
        ),
        paths={
            item.id: tuple(path for path in base if path.startswith(f"train.{item.id}."))
            for item in scenario.train
        },
        notes=tuple(notes),
    )


def properties_of(species: Sequence[Substance]) -> Properties:
    """Molar mass, viscosity and conductivity at 300 K and heat capacity, as arrays.

    Viscosity by Lucas from the critical constants, conductivity by the modified Eucken formula.
    """
    masses = np.array([s.molar_mass for s in species])
    critical_t = np.array([_number(s, "critical_temperature") for s in species])
    critical_p = np.array([_number(s, "critical_pressure") for s in species])
    quantum = np.array([{"hydrogen": 0.76, "helium": 1.38}.get(s.name, 0.0) for s in species])
    viscosity = gas_physics.lucas_viscosity(300.0, critical_t, critical_p, masses, quantum)
    heat = np.array([float(heat_capacity_gas(s, 300.0)[0]) for s in species])
    conductivity = gas_physics.eucken_conductivity(viscosity, heat, masses)
    sampled = np.linspace(250.0, 1500.0, 26)
    fits = []
    for s in species:
        values = heat_capacity_gas(s, sampled)[0] / gas_physics.R
        if np.isnan(values).any():
            fits.append(np.full(5, np.nan))
        else:
            fits.append(np.polynomial.polynomial.polyfit(sampled / 1000.0, values, 4))
    return Properties(tuple(species), masses, viscosity, conductivity, np.array(fits))


def _credited(
    scenario: Scenario,
    reference: Reference,
    kinds: Sequence[ItemKind],
    liquids: Mapping[str, Mapping[str, float]],
) -> frozenset[tuple[str, str]]:
    """Pairs of item and species whose absorption the item's kind has a source for."""
    out = set()
    for item, kind in zip(scenario.train, kinds, strict=True):
        for text in item.absorbs:
            substance = reference.substance(text)
            if kind.credits_absorption(tuple(liquids.get(item.id, ())), substance.name):
                out.add((item.id, substance.name))
    return frozenset(out)


def _number(substance: Substance, name: str) -> float:
    value = substance.datum(name).value
    return float("nan") if value is None else value


def _given(item: Item, wanted: str, given: Mapping[str, float]) -> bool:
    if f"train.{item.id}.{wanted}" in given:
        return True
    return getattr(item, wanted, None) is not None


def _unknown_kind(
    scenario: Scenario, i: int, item: Item, kinds: Mapping[str, ItemKind]
) -> Problem:
    import difflib

    nearest = difflib.get_close_matches(item.kind, kinds, 1, 0.5)
    known = ", ".join(sorted(kinds))
    return scenario.problem(
        ("train", i, "kind"),
        f'unknown kind of item "{item.kind}"; known are {known}',
        nearest[0] if nearest else "",
    )


def _liquid(
    text: str,
    reagents: Mapping[str, Reagent],
    name: object,
    item: int,
) -> dict[str, float]:
    """Mole fractions of a held liquid: a reagent's composition, or one substance."""
    assert callable(name)
    if text in reagents:
        reagent = reagents[text]
        moles: dict[str, float] = {}
        for component, share in reagent.composition.items():
            substance = name(component, ("reagents", text, "composition", component))
            if substance is not None:
                amount = share / substance.molar_mass if reagent.basis == "mass" else share
                moles[substance.name] = moles.get(substance.name, 0.0) + amount
        total = sum(moles.values())
        return {s: n / total for s, n in moles.items()} if total > 0 else {}
    substance = name(text, ("train", item, "liquid"))
    return {} if substance is None else {substance.name: 1.0}


def _base_numbers(scenario: Scenario, given: Mapping[str, float]) -> dict[str, float]:
    base = dict(given)
    for flow in scenario.flows:
        base |= {f"flows.{flow}.{k}": v for k, v in EQUIPMENT["flows"].items()}
    for heat in scenario.heat:
        base |= {f"heat.{heat}.{k}": v for k, v in EQUIPMENT["heat"].items()}
    for item in scenario.train:
        base |= {f"train.{item.id}.{k}": v for k, v in EQUIPMENT["train"].items()}
    base[VENTILATION_WORKING] = 1.0
    base[f"procedure.{AFTERWARDS}.duration"] = _LEFT_FOR
    if scenario.duration is None and scenario.procedure:
        base["duration"] = sum(step.duration for step in scenario.procedure)
    return base | played(scenario, range(len(scenario.procedure)))


#: The implied last step: everything is off and is left until it is cold.
AFTERWARDS = "after the last step"
_LEFT_FOR = 86400.0


def _steps(scenario: Scenario) -> tuple[Step, ...]:
    given = tuple(Step(s.step, f"procedure.{s.step}.duration") for s in scenario.procedure)
    if not given:
        given = (Step("run as stated", "duration"),)
    return (*given, Step(AFTERWARDS, f"procedure.{AFTERWARDS}.duration"))


def played(scenario: Scenario, order: Sequence[int | None]) -> dict[str, float]:
    """The numbers that say what is set in each step when the steps are played in this order.

    `order` names, for each place in the procedure, the step played there by its index, or None for
    a step that is skipped: it takes no time and nothing is set. Settings last until a later step
    changes them; before the first step everything is off. For a flow or heat source X in step S
    ``settings.S.flows.X.on`` is 1 where its stated value holds, and ``settings.S.flows.X.as.T``
    is 1 where the value written in step T does. The durations follow the steps.
    """
    steps = scenario.procedure
    out: dict[str, float] = {}
    for section, names in (("flows", scenario.flows), ("heat", scenario.heat)):
        for name in names:
            written = [s.step for s in steps if _explicit(getattr(s, section).get(name))]
            now: str | None = None
            for place, index in enumerate(order):
                if index is not None:
                    said = getattr(steps[index], section).get(name)
                    if said is not None:
                        now = steps[index].step if _explicit(said) else str(said)
                path = f"settings.{steps[place].step}.{section}.{name}"
                out[f"{path}.on"] = 1.0 if now == "on" else 0.0
                out |= {f"{path}.as.{s}": 1.0 if now == s else 0.0 for s in written}
    for place, index in enumerate(order):
        duration = 0.0 if index is None else steps[index].duration
        out[f"procedure.{steps[place].step}.duration"] = duration
    return out


def main_step(scenario: Scenario) -> int:
    """Index of the step that the stated plan stands for.

    The one in which most flows and heat sources are on; of those the longest; of those the first.
    What is never on together is so never judged together.
    """
    plain = played(scenario, range(len(scenario.procedure)))

    def rank(index: int) -> tuple[float, float, int]:
        step = scenario.procedure[index]
        prefix = f"settings.{step.step}."
        on = sum(value for path, value in plain.items() if path.startswith(prefix))
        return on, step.duration, -index

    return max(range(len(scenario.procedure)), key=rank)


def _explicit(said: object) -> bool:
    return said is not None and said not in ("on", "off")


def setting(
    resolved: Resolved, section: str, name: str, stated: str, cell: int, number: _reader
) -> FloatArray:
    """Value of a flow or heat source in one cell over runs; 0 where it is off.

    Cell 0, the stated plan, holds the settings of the main step; in the single step of a file
    without a procedure everything is on, and after the last step everything is off.
    """
    steps = resolved.scenario.procedure
    if cell == len(resolved.steps):
        return np.zeros(number.runs.size)
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
    number = _reader(runs, cell, before)
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
        rate = rate * number(f"flows.{name}.delivered")
        rate = _through_failed_regulator(flow, name, rate, number)
        out[name] = _molar(resolved, name, flow, rate, number)
    return out


def escaping_fuel(
    resolved: Resolved, runs: Runs, cell: int, *, before: bool = False
) -> FloatArray:
    """Burner gas that goes on although the flame is out, (species, runs), mol/s."""
    number = _reader(runs, cell, before)
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
    flow: Flow, name: str, rate: FloatArray, number: _reader
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


class _reader:
    """Reads numbers of one cell over runs; NaN where the scenario gives none."""

    def __init__(self, runs: Runs, cell: int, before: bool) -> None:
        self.runs, self.cell, self.before = runs, cell, before

    def __call__(self, path: str) -> FloatArray:
        found = self.runs.number(path, self.cell, before=self.before)
        return np.full(self.runs.size, np.nan) if found is None else found


def composition(resolved: Resolved, reagent_id: str, number: _reader) -> FloatArray:
    """Mole fractions of a reagent over the species, (species, runs); renormalised to one."""
    reagent = resolved.scenario.reagents[reagent_id]
    out = np.zeros((len(resolved.species), number.runs.size))
    for text in reagent.composition:
        substance = resolved.reference.substance(text)
        i = resolved.index.get(substance.name)
        if i is None:
            continue
        share = number(f"reagents.{reagent_id}.composition.{text}")
        out[i] += share / substance.molar_mass if reagent.basis == "mass" else share
    total = out.sum(axis=0)
    return np.asarray(out / np.where(total > 0, total, 1.0))


def _molar(
    resolved: Resolved, name: str, flow: Flow, rate: FloatArray, number: _reader
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


def _state(
    number: _reader,
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
    """Density of a liquid reagent: that of its densest component, so the feed is never too low."""
    found = [
        _number(resolved.reference.substance(text), "liquid_density")
        for text in reagent.composition
    ]
    return float(np.max(found)) if found else float("nan")


def item_views(
    resolved: Resolved,
    runs: Runs,
    cell: int,
    active: Mapping[int, FloatArray],
    heated: Mapping[int, FloatArray],
    *,
    before: bool,
    known: dict[int, ItemView],
) -> list[ItemView]:
    """Every item in numbers at one cell; `active` says where reactions have their heat.

    `heated` is the temperature of items that something heats.

    Items that no overlay touches are the same in every cell of these runs and are kept in `known`.
    """
    number = _reader(runs, cell, before)
    shared = runs.changes("ambient.")
    views = []
    for i, item in enumerate(resolved.scenario.train):
        view = known.get(i)
        if view is None:
            view = _view(resolved, item, number)
            if not shared and not runs.changes(f"train.{item.id}."):
                known[i] = view
        if i in heated or i in active:
            view = replace(view, active=active.get(i), heated=heated.get(i))
        views.append(view)
    return views


def _view(resolved: Resolved, item: Item, number: _reader) -> ItemView:
    prefix = f"train.{item.id}."
    values = {path[len(prefix) :]: number(path) for path in resolved.paths[item.id]}
    material = None if item.material is None else resolved.reference.material(item.material)
    return ItemView(
        model=item,
        numbers=values,
        size=number.runs.size,
        material=material,
        reactions=_reactions(resolved, item, number),
        absorptions=_absorptions(resolved, item, number),
        vapours=_vapours(resolved, item),
        liquid_density=_held_density(resolved, item),
        ambient=number("ambient.temperature"),
    )


def _reactions(resolved: Resolved, item: Item, number: _reader) -> tuple[Reaction, ...]:
    out = []
    for n, terms in enumerate(resolved.reactions[item.id]):
        coefficients = np.zeros(len(resolved.species))
        for term in terms:
            if term.substance is not None and term.substance.name in resolved.index:
                coefficients[resolved.index[term.substance.name]] += term.coefficient
        declared = item.reactions[n]
        limiting = resolved.reference.substance(declared.limiting).name
        path = f"train.{item.id}.reactions.{n}."
        out.append(
            Reaction(
                declared.equation,
                resolved.index[limiting],
                coefficients,
                np.where(number(f"train.{item.id}.complete") > 0, 1.0, number(path + "conversion"))
                * number(f"train.{item.id}.reacting"),
                number(path + "selectivity"),
            )
        )
    return tuple(out)


def _absorptions(resolved: Resolved, item: Item, number: _reader) -> tuple[Absorption, ...]:
    out = []
    for text in item.absorbs:
        substance = resolved.reference.substance(text)
        if substance.name not in resolved.index:
            continue
        path = f"train.{item.id}.absorbs.{text}."
        efficiency = number(path + "efficiency") * number(f"train.{item.id}.absorbing")
        if (item.id, substance.name) not in resolved.credited:
            efficiency = np.zeros_like(efficiency)
        out.append(
            Absorption(resolved.index[substance.name], efficiency, number(path + "capacity"))
        )
    return tuple(out)


#: Organic vapours over water are stronger than Raoult's law says; infinite-dilution activity
#: coefficients of ethanol and acetone in water are 4 to 8 (from memory), taken as 10, and never
#: more than the pure liquid's vapour.
IN_WATER = 10.0


def _vapours(resolved: Resolved, item: Item) -> tuple[Vapour, ...]:
    """What a held liquid gives off, by Raoult's law; a dissolved solid gives off nothing."""
    liquid = resolved.liquids.get(item.id, {})
    watery = liquid.get("water", 0.0) >= 0.5
    out = []
    for name, share in liquid.items():
        if name not in resolved.index:
            continue
        substance = resolved.species[resolved.index[name]]
        if watery and substance.combustible is not False:
            share = min(1.0, IN_WATER * share)
        out.append(Vapour(resolved.index[name], substance, share))
    return tuple(out)


def _held_density(resolved: Resolved, item: Item) -> float:
    found = [
        _number(resolved.reference.substance(name), "liquid_density")
        for name in resolved.liquids.get(item.id, {})
    ]
    known = [x for x in found if not np.isnan(x)]
    return max(known) if known else float("nan")
