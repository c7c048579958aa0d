"""A scenario resolved against reference data and item kinds: what the walk needs, once per file.

Names become substances and materials, reactions are balanced, settings of steps are looked up in
order, and every number stays addressed by its path so that overlays can change it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from review.interface.items import ItemKind
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics.openings import diffusion_volume
from review.reference.finding import Reference, Substance, heat_capacity_gas
from review.scenario import InputError, Scenario, numbers
from review.walk import sensed, taking
from review.walk.graph import Graph, build_graph
from review.walk.names import Resolver
from review.walk.procedure import (
    AFTERWARDS,
    BEGUN_AGAIN,
    LEFT_FOR,
    LEFT_ON,
    Step,
    played,
    steps_of,
)
from review.walk.properties import Properties
from review.walk.reactions import Term
from review.walk.worked import Worked

#: Dry air by mole: oxygen as 20.95 %, all else counted as nitrogen.
AIR = {"nitrogen": 0.7905, "oxygen": 0.2095}
AIR_MOLAR_MASS = 28.965e-3

#: Numbers that describe the state of equipment; upsets change them, the plan leaves them so. Of a
#: flow: share delivered, 1 if its control gives the most it can, 1 if it is set on the scale for
#: another gas, true flow over reading of a controller made for no stated gas, 1 if it goes on in
#: steps that turn it off, 1 if its regulator lets the cylinder's own pressure through, 1 if all
#: that makes it in a generator meets at once; besides, 1 if the gas of another flow comes. Of a
#: reagent: what is dropped in the room with its bottle, m3. Of a heat source: 1 if it gives heat, 1
#: if it runs to its hottest. Of an item: 1 if blocked, 1 if a joint opens so that all gas leaves
#: there or so that air can come in there, share of its absorbent that works, share of its reactions
#: that start, 1 if they run to completion, 1 if its liquid is spilled, 1 if its coolant runs, 1 if
#: it stands open though built shut, 1 if it closes against what comes back as a check valve does.
#: Of an end outdoors besides: the wind that stands on it, m/s. Of an item that branches join: 1 if
#: the gas of each presses into the others. Of a pump besides: 1 if it sucks. Of a burner: 1 if its
#: flame is out and its gas goes on. Of a safeguard: 1 if people leave at its alarm.
EQUIPMENT = {
    "flows": {
        "delivered": 1.0,
        "at_most_share": 0.0,
        "wrong_scale": 0.0,
        "true_over_read": 1.0,
        "stays_on": 0.0,
        "regulator_failed": 0.0,
        "poured": 0.0,
    },
    "reagents": {"dropped": 0.0},
    "heat": {"delivered": 1.0, "at_hottest": 0.0, "flame_out": 0.0},
    "train": {
        "blocked": 0.0,
        "open_outward": 0.0,
        "open_inward": 0.0,
        "absorbing": 1.0,
        "reacting": 1.0,
        "complete": 0.0,
        "spilled": 0.0,
        "cooling": 1.0,
        "stands_open": 0.0,
        "holds_back": 1.0,
    },
}
VENTILATION_WORKING = "ventilation.working"


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
    bottled: Mapping[str, Mapping[str, float]]
    """Mole fractions of each liquid reagent."""
    credited: frozenset[tuple[str, str]]
    binding: Mapping[tuple[str, str], float]
    """Moles of a gas that a kilogram of an item's liquid surely binds, by item and name."""
    rivals: Mapping[tuple[str, str], Mapping[str, float]]
    """What else an absorbent binds, by item and name of the gas that it is for: how much of its
    capacity a mole of each takes, mol."""
    paths: Mapping[str, tuple[str, ...]]
    exhaustible: frozenset[str]
    notes: tuple[str, ...] = ()
    presumed: frozenset[str] = frozenset()
    """Paths of numbers that the file does not state and that count as the least that is made."""
    worked: Worked = field(default_factory=Worked, compare=False)

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
    filed, names = scenario, Resolver(scenario, reference, kinds)
    for air in AIR:
        names.found[air] = reference.substance(air)
    chosen = names.everything()
    for path, said in sensed.misnamed(scenario, reference):
        names.wrong(path, said)
    scenario, given = names.scenario, numbers(names.scenario)
    if names.problems:
        raise InputError(names.problems)
    credited = taking.credited(scenario, reference, chosen, names.liquids)
    binding = taking.binding(scenario, reference, chosen, names.liquids, credited)
    for path, said in taking.too_little(scenario, reference, binding):
        names.wrong(path, said)
    if names.problems:
        raise InputError(names.problems)
    species = tuple(names.found[s] for s in sorted(names.found) if names.found[s].can_be_gas)
    worst = _presumed(scenario, chosen, given)
    base = _unused(filed, scenario) | _base_numbers(scenario, given | worst)
    return Resolved(
        scenario=scenario,
        reference=reference,
        graph=build_graph(scenario, chosen),
        species=species,
        index={s.name: i for i, s in enumerate(species)},
        properties=properties_of(species),
        base=base,
        steps=steps_of(scenario),
        reactions=names.reactions,
        liquids=names.liquids,
        bottled=names.bottled,
        credited=credited,
        binding=binding,
        rivals=taking.rivals(scenario, reference, chosen, names.liquids, credited, species),
        exhaustible=frozenset(
            item
            for item, equations in names.reactions.items()
            if any(t.substance is None and t.coefficient < 0 for terms in equations for t in terms)
        ),
        paths={
            item.id: tuple(path for path in base if path.startswith(f"train.{item.id}."))
            for item in scenario.train
        },
        notes=tuple(names.notes),
        presumed=frozenset(worst),
    )


def _presumed(
    scenario: Scenario, kinds: Sequence[ItemKind], given: Mapping[str, float]
) -> dict[str, float]:
    """Numbers that no item states and that count as the least that is made, by path."""
    told = {
        f"train.{item.id}.{field}": value
        for item, kind in zip(scenario.train, kinds, strict=True)
        for field, value in kind.presumed
    }
    return {path: value for path, value in told.items() if path not in given}


def properties_of(species: Sequence[Substance]) -> Properties:
    """Molar mass, viscosity and conductivity at 300 K and heat capacity, as arrays.

    Viscosity by Lucas from the critical constants, conductivity by the modified Eucken formula.
    """
    masses = np.array([s.molar_mass for s in species])
    critical_t = np.array([s.number("critical_temperature") for s in species])
    critical_p = np.array([s.number("critical_pressure") for s in species])
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
    volumes = np.array([diffusion_volume(s.formula, s.elements) for s in species])
    return Properties(tuple(species), masses, viscosity, conductivity, np.array(fits), volumes)


def _draws(scenario: Scenario, flow: str) -> float | None:
    """The most room air that the pump of a train draws, where the file says; else None."""
    stated = scenario.flows[flow]
    held = scenario.reagents[stated.reagent].held
    pumps = [item.suction.can_draw for item in scenario.train if item.suction is not None]
    if held is None or held.as_ != "room air" or len(pumps) != 1 or pumps[0] is None:
        return None
    return pumps[0].value if pumps[0].by == stated.rate.by else None


def _gives(scenario: Scenario, flow: str) -> float | None:
    """What the generator of a flow gives off, where the file says; else None."""
    stated = scenario.flows[flow]
    held = scenario.reagents[stated.reagent].held
    if held is None or held.as_ != "generator" or held.rate is None:
        return None
    return held.rate.value if held.rate.by == stated.rate.by else None


def _unused(filed: Scenario, scenario: Scenario) -> dict[str, float]:
    """Numbers of the flows of liquid that are poured: they may be turned, and change nothing."""
    gone = [f"flows.{name}." for name in filed.flows if name not in scenario.flows]
    return {path: x for path, x in numbers(filed).items() if path.startswith(tuple(gone))}


def _base_numbers(scenario: Scenario, given: Mapping[str, float]) -> dict[str, float]:
    base, unread = dict(given), frozenset(scenario.unreferred)
    for flow in scenario.flows:
        base |= {f"flows.{flow}.{k}": v for k, v in EQUIPMENT["flows"].items()}
        others = (other for other in scenario.flows if other != flow)
        base |= {f"flows.{flow}.gas_of.{other}": 0.0 for other in others}
        most = _draws(scenario, flow)
        if most is not None:
            base.setdefault(f"flows.{flow}.at_most", most)
        if flow in unread:  # as in the room, unless it is read otherwise
            for what in ("temperature", "pressure"):
                base.setdefault(f"flows.{flow}.reference.{what}", float("nan"))
        gives = _gives(scenario, flow)
        if gives is not None and f"flows.{flow}.at_most" in base:
            base[f"flows.{flow}.at_most"] = max(base[f"flows.{flow}.at_most"], gives)
    for reagent in scenario.reagents:
        base |= {f"reagents.{reagent}.{k}": v for k, v in EQUIPMENT["reagents"].items()}
    for heat in scenario.heat:
        base |= {f"heat.{heat}.{k}": v for k, v in EQUIPMENT["heat"].items()}
    for item in scenario.train:
        base |= {f"train.{item.id}.{k}": v for k, v in EQUIPMENT["train"].items()}
        if item.suction is not None:
            base[f"train.{item.id}.suction.working"] = 1.0
        if len(item.from_) > 1:
            base[f"train.{item.id}.pushed_back"] = 0.0
        if item.to == "outdoors":
            base[f"train.{item.id}.wind"] = 0.0
    base |= {f"safeguards.{n}.warns": 0.0 for n in range(len(scenario.safeguards))}
    base[VENTILATION_WORKING] = 1.0
    base[f"procedure.{AFTERWARDS}.duration"] = LEFT_FOR
    base[LEFT_ON] = base[BEGUN_AGAIN] = 0.0
    if scenario.duration is None and scenario.procedure:
        base["duration"] = sum(step.duration for step in scenario.procedure)
    return base | played(scenario, range(len(scenario.procedure)))
