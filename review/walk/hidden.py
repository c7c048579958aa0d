"""What a file implies: a light-off nobody believes away, heat where a temperature is stated, a
bottle that stands open where it is poured."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from review.reference.finding import Reference, Substance, UnknownName
from review.scenario import Scenario
from review.scenario.models import Heat, ItemModel, Reagent
from review.scenario.units import Stated
from review.scenario.words import Known, Words
from review.walk.reactions import parse_equation

#: Metals of groups 8 to 11, and those whose oxides light fuels: of these nobody is believed that
#: they have no light-off temperature. By name and by symbol.
LIGHTS = re.compile(
    r"iron|ruthenium|osmium|cobalt|rhodium|iridium|nickel|palladium|platinum|copper|silver|gold"
    r"|mangan|vanad|chrom|ceri|raney|\b(?:Fe|Ru|Os|Co|Rh|Ir|Ni|Pd|Pt|Cu|Ag|Au|Mn|V|Cr|Ce)"
    r"(?:\d|O|\b|/)",
)

#: The same as elements of a substance that the data know.
LIGHTING = frozenset(
    {"Fe", "Ru", "Os", "Co", "Rh", "Ir", "Ni", "Pd", "Pt", "Cu", "Ag", "Au", "Mn", "V", "Cr", "Ce"}
)  # fmt: skip


def doubted(scenario: Scenario, reference: Reference) -> Scenario:
    """The scenario with the light-off unknown of catalysts that have one whatever the file says."""
    found = {
        name: catalyst.model_copy(update={"light_off": "unknown"})
        for name, catalyst in scenario.catalysts.items()
        if catalyst.light_off == "none"
        and any(_lights(text, reference) for text in (name, catalyst.material) if text)
    }
    if not found:
        return scenario
    return scenario.model_copy(update={"catalysts": {**scenario.catalysts, **found}})


def _lights(text: str, reference: Reference) -> bool:
    """Whether a catalyst is such a metal or oxide, by what the data know, else by its name."""
    with suppress(UnknownName):
        return bool(LIGHTING & set(reference.substance(text).elements))
    with suppress(UnknownName):
        return reference.material(text).kind == "metal"
    return bool(LIGHTS.search(text) or LIGHTS.search(text.casefold()))


#: From where on a temperature of an item is a source of heat: above the room by so much, or hot.
WARMER, HOT = 30.0, 333.15


def heated(scenario: Scenario) -> Scenario:
    """The scenario with a heat source for every item that is said to be hot and names none.

    It is on in every step until the last one, and nobody knows the hottest it can get.
    """
    sources = {heat.heats for heat in scenario.heat.values()}
    above = min(scenario.ambient.temperature + WARMER, HOT)
    kind = Known.of(Words.built_in().find("heat", "electric heater"))
    found = {
        f"heat of {item.id}": Heat.model_construct(
            heats=item.id, kind=kind, set_temperature=item.temperature
        )
        for item in scenario.train
        if item.temperature is not None and item.temperature > above and item.id not in sources
    }
    if not found:
        return scenario
    on = {name: "on" for name in found}
    steps = [
        step.model_copy(update={"heat": {**on, **step.heat}}) if n == 0 else step
        for n, step in enumerate(scenario.procedure)
    ]
    hot = {heat.heats for heat in found.values()}
    train = [
        item.model_copy(update={"temperature": None}) if item.id in hot else item
        for item in scenario.train
    ]
    changed = {"heat": {**scenario.heat, **found}, "procedure": steps, "train": train}
    return scenario.model_copy(update=changed)


#: Densities where none is stated, kg/m3, on the side that dilutes less (65 % nitric acid 1390, 96 %
#: ethanol 800, from memory): of what is poured, of what it is poured into.
POURED, INTO = 1500.0, 800.0
#: From this mole fraction of water on a liquid mixes with another that has as much.
WATERY = 0.5


def poured(scenario: Scenario, reference: Reference) -> Scenario:
    """The scenario with each liquid that is poured into an open vessel standing there by itself.

    Through the mouth of the vessel, all of it; mixed with what is in there where both are mostly
    water, else as strong as it is in its bottle. What is poured, and where, is as `reactive_pairs`
    has it: the liquid of a bottle that no item, flow or burner has, where an equation uses it, else
    where any liquid is. In a vessel that is no open one its gas is not reckoned with.
    """
    mouths = {
        item.from_[0]: item for item in scenario.train if item.to and item.open and item.from_
    }
    open_ones = [i for i in scenario.train if i.id in mouths and i.joint in (None, "none")]
    train: list[ItemModel] = []
    reagents: dict[str, Reagent] = {}
    found: list[tuple[str, str]] = []
    for name, reagent in scenario.reagents.items() if mouths else ():
        if reagent.state != "liquid" or name in scenario.in_use:
            continue
        uses = _using(scenario, name, reference)
        for vessel in open_ones:
            if vessel.id not in uses if uses else vessel.liquid is None:
                continue
            found.append((name, vessel.id))
            if not _by_mass(reagent, reference).keys() <= {"water"}:
                here = _mixed(vessel, reagent, scenario.reagents, reference)
                reagents[called := f"{name} poured into {vessel.id}"] = here
                train += _standing(vessel, mouths[vessel.id], called, here)
    if not found:
        return scenario
    changed = {"train": [*scenario.train, *train], "reagents": {**scenario.reagents, **reagents}}
    ids = (item.id for item in train)
    return scenario.model_copy(update=changed).with_poured(found, ids)


def _standing(vessel: ItemModel, mouth: ItemModel, name: str, poured: Reagent) -> list[ItemModel]:
    none = dict.fromkeys(("packing", "temperature", "bath_temperature", "dip_depth", "size"))
    bottle = vessel.model_copy(
        update={
            **none, "id": name, "from_": [], "liquid": name, "capacity": None, "absorbs": {},
            "liquid_volume": poured.amount.value if poured.amount else None,
            "reactions": type(vessel.reactions)(),
            "gas_volume": vessel.gas_volume or vessel.capacity,
        }
    )  # fmt: skip
    end = mouth.model_copy(update={"id": f"mouth over {name}", "from_": [name]})
    return [bottle, end]


def _mixed(
    vessel: ItemModel, poured: Reagent, reagents: Mapping[str, Reagent], reference: Reference
) -> Reagent:
    """What stands in the vessel then, its amount by volume."""
    amount = poured.amount
    if amount is not None and amount.by == "mass":
        amount = Stated(amount.value / (poured.density or INTO), "volume")
    held = reagents.get(vessel.liquid or "")
    one = _by_mass(poured, reference)
    other = {} if held is None else _by_mass(held, reference)
    volume = vessel.liquid_volume or 0.0
    mixes = held is not None and _watery(one, reference) and _watery(other, reference)
    if amount is None or amount.by != "volume" or held is None or not mixes:
        return poured.model_copy(update={"amount": amount})
    first, second = amount.value * (poured.density or POURED), volume * (held.density or INTO)
    share = first / (first + second)
    names = dict.fromkeys((*one, *other))
    mixed = {n: share * one.get(n, 0.0) + (1 - share) * other.get(n, 0.0) for n in names}
    whole = Stated(amount.value + volume, "volume")
    changed = {"composition": mixed, "basis": "mass", "amount": whole, "density": None}
    return poured.model_copy(update=changed)


def _by_mass(reagent: Reagent, reference: Reference) -> dict[str, float]:
    """Mass fractions of a liquid; empty where one of its components is not known."""
    found: dict[str, float] = {}
    for text, share in reagent.composition.items():
        try:
            one = reference.substance(text)
        except UnknownName:
            return {}
        each = {"mole": one.molar_mass, "volume": one.number("liquid_density")}
        found[one.name] = found.get(one.name, 0.0) + share * each.get(reagent.basis, 1.0)
    total = sum(found.values())
    return {name: mass / total for name, mass in found.items()} if total > 0 else {}


def _watery(masses: Mapping[str, float], reference: Reference) -> bool:
    moles = {name: mass / reference.substance(name).molar_mass for name, mass in masses.items()}
    return bool(moles) and moles.get("water", 0.0) >= WATERY * sum(moles.values())


def _using(scenario: Scenario, name: str, reference: Reference) -> set[str]:
    """Items of which an equation starts from what a liquid reagent consists of."""
    here = _substances(scenario.reagents[name].composition, reference)
    present = [s for r in scenario.reagents.values() for s in _substances(r.composition, reference)]
    names = {s.name for s in here} | {s.formula for s in here}
    found = set[str]()
    for at, text in _equations(scenario):
        with suppress(ValueError, UnknownName):
            for term in parse_equation(text, reference, present):
                if term.coefficient < 0 and {term.text, term.formula} & names:
                    found.add(at)
    return found


def _equations(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """Each equation with the item where it runs, those of generators too."""
    for item in scenario.train:
        yield from ((item.id, reaction.equation) for reaction in item.reactions)
    for flow in scenario.flows.values():
        held = scenario.reagents[flow.reagent].held if flow.reagent in scenario.reagents else None
        if held is not None and held.equation is not None:
            yield flow.into, held.equation


def _substances(texts: Sequence[str] | dict[str, float], reference: Reference) -> list[Substance]:
    found = []
    for text in texts:
        with suppress(UnknownName):
            found.append(reference.substance(text))
    return found
