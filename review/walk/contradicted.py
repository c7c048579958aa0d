"""What a file says against itself: less in a bottle than its plan takes, less gas than what is
dropped on makes. Of two readings the worse one counts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress

from review.reference.finding import Reference, UnknownName
from review.scenario import Scenario
from review.scenario.models import Flow, Reagent
from review.scenario.units import Stated
from review.walk.reactions import Term, stoichiometry

#: Upper end of the density of a solution of which nobody states it, kg/m3; gas constant; a funnel
#: whose tap nobody measured is empty after so long, s (a judgement).
HEAVY, R, EMPTY = 1500.0, 8.314462618, 60.0
#: What a plan takes may be so much more than there is: rounding.
ROUNDED = 1.01


def the_worse(scenario: Scenario, reference: Reference) -> Scenario:
    """The scenario in which each amount is what the plan takes at least, and each `at_most` of a
    made gas what the liquid gives that is let in to make it."""
    return _most(_amounts(scenario), reference)


def _amounts(scenario: Scenario) -> Scenario:
    """Of what flows feed, at least their rate over the time that they are on."""
    more: dict[str, Reagent] = {}
    for name, reagent in scenario.reagents.items():
        amount = reagent.amount
        flows = [(n, f) for n, f in scenario.flows.items() if f.reagent == name]
        held = reagent.held.as_ if reagent.held is not None else ""
        if amount is None or held == "cylinder" or any(f.rate.by != amount.by for _, f in flows):
            continue
        takes = sum(_taken(scenario, n, f) for n, f in flows)
        if takes > ROUNDED * amount.value:
            more[name] = reagent.model_copy(update={"amount": Stated(takes, amount.by)})
    if not more:
        return scenario
    return scenario.model_copy(update={"reagents": {**scenario.reagents, **more}})


def _taken(scenario: Scenario, name: str, flow: Flow) -> float:
    """What a flow brings in all steps, in the unit of its rate times a second."""
    on: float = 0.0
    total = 0.0
    for step in scenario.procedure:
        setting = step.flows.get(name)
        if setting is not None:
            on = {"on": flow.rate.value, "off": 0.0}.get(str(setting), on)
            on = getattr(setting, "value", on)
        total += on * (step.duration or 0.0)
    return total


def _most(scenario: Scenario, reference: Reference) -> Scenario:
    flows = dict(scenario.flows)
    for name, flow in scenario.flows.items():
        held = scenario.reagents[flow.reagent].held if flow.reagent in scenario.reagents else None
        if held is None or held.as_ != "generator" or not held.equation or flow.at_most is None:
            continue
        most = 0.0
        with suppress(UnknownName):  # told where names are looked up
            made = max(_gives(scenario, name, reference), default=0.0)
            most = made * _per_mole(scenario, name, reference)
        if not most <= ROUNDED * flow.at_most.value:
            known = Stated(most, flow.at_most.by) if most < math.inf else None
            flows[name] = flow.model_copy(update={"at_most": known})
    return scenario.model_copy(update={"flows": flows})


def _per_mole(scenario: Scenario, name: str, reference: Reference) -> float:
    """A mole of the gas in the unit of its `at_most`."""
    flow = scenario.flows[name]
    by = "molar" if flow.at_most is None else flow.at_most.by
    if by == "volume":
        temperature, pressure = scenario.reference(name)
        return R * temperature / pressure
    if by == "mass":
        texts = scenario.reagents[flow.reagent].composition
        return max(reference.substance(text).molar_mass for text in texts)
    return 1.0


def _gives(scenario: Scenario, name: str, reference: Reference) -> Iterator[float]:
    """Gas that each liquid let into the same vessel makes by the equation, mol/s, its tap wide
    open; of one of which nobody says how fast that is, all of it at once, and without end where
    nobody says how much it is either. What else the equation takes is there in plenty."""
    gas = scenario.flows[name]
    held = scenario.reagents[gas.reagent].held
    terms: tuple[Term, ...] = ()
    with suppress(ValueError, UnknownName):
        terms = tuple(stoichiometry((held and held.equation) or "", reference))
    gases = scenario.reagents[gas.reagent].composition
    formulas = {reference.substance(text).formula for text in gases}
    made = sum(t.coefficient for t in terms if t.coefficient > 0 and t.formula in formulas)
    for flow in scenario.flows.values():
        bottle = scenario.reagents.get(flow.reagent)
        if flow.into != gas.into or bottle is None or bottle.state != "liquid":
            continue
        with suppress(UnknownName):
            shares = reference.by_mass(bottle.composition, bottle.basis)
            mass = _mass_flow(bottle, flow, shares, reference)
            found = {
                one.name: share * mass / one.molar_mass / -term.coefficient * made
                for each, share in shares.items()
                for term in terms
                if share > 0
                and term.coefficient < 0
                and term.formula == (one := reference.substance(each)).formula
            }
            # A solution's water is more than it can use.
            solute = [moles for each, moles in found.items() if each != "water"]
            yield max(solute or found.values(), default=0.0)


def _mass_flow(
    bottle: Reagent, flow: Flow, shares: Mapping[str, float], reference: Reference
) -> float:
    """The most of a liquid that comes, kg/s."""
    rate = flow.at_most
    if rate is None:
        amount = bottle.amount or Stated(math.inf, flow.rate.by)
        rate = Stated(max(amount.value / EMPTY, flow.rate.value), amount.by)
    found = [reference.substance(each).number("liquid_density") for each in shares]
    known = max((x for x in found if x == x), default=HEAVY)
    heavy = bottle.density or (known if len([x for x in found if x == x]) == len(found) else HEAVY)
    molar = max(reference.substance(each).molar_mass for each in shares)
    return rate.value * {"volume": heavy, "mass": 1.0, "molar": molar}[rate.by]
