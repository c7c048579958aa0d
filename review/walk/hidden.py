"""What a file implies: a light-off nobody believes away, heat where a temperature is stated, a
bottle that stands open where it is poured."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from math import inf, isnan

from review.interface.items import ItemKind
from review.reference.finding import Reference, Substance, UnknownName
from review.scenario import Scenario
from review.scenario.models import Heat, ItemModel, Reagent
from review.scenario.units import Stated
from review.scenario.words import Known, Words, folded
from review.walk.reactions import parse_equation, stoichiometry

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


#: Baths of water, and the hottest that one in the open gets, K.
WATER_BATHS, BOILS = ("water bath", "steam bath"), 373.15


def bathed(scenario: Scenario) -> Scenario:
    """The scenario with the hottest of each bath of water that states none: it boils then."""
    found = {
        name: heat.model_copy(update={"hottest": BOILS})
        for name, heat in scenario.heat.items()
        if heat.kind in WATER_BATHS and heat.hottest is None and heat.set_temperature is not None
        and heat.set_temperature <= BOILS
    }  # fmt: skip
    return scenario.model_copy(update={"heat": {**scenario.heat, **found}}) if found else scenario


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
#: Kinds of items into which somebody pours where no item holds a liquid.
WARE = ("vessel", "trap")
#: Share of a bottle that a liquid made from it holds at least.
NEARLY_ALL = 0.8
#: Gas over what is poured into closed ware, m3: the vessel's own is counted there.
LITTLE = 1e-6


#: Pressure of a funnel's own column of liquid at the most, Pa (1 m of water); share of a closed
#: vessel's gas that may be pressed into the rest of it: so much any glass bears.
COLUMN, PRESSED = 1e4, 0.05
#: Least density of a liquid where none is stated, kg/m3 (pentane 626, from memory).
LIGHT = 600.0


def dropped(
    scenario: Scenario, reference: Reference, known: Mapping[str, ItemKind]
) -> tuple[Scenario, dict[str, set[str]]]:
    """The scenario without the flows that let a liquid into a vessel, and what goes where by them.

    It is poured there: all of its bottle and from the start, whatever the flow's rate. Not into
    dry ware that is hot, nor where the amount is not known, where a reaction of the vessel makes it
    something else, or where it may press the vessel or run it over: there all that flows is vapour.
    """
    hot = {heat.heats for heat in scenario.heat.values()}
    hot |= {item.id for item in scenario.train if item.bath_temperature is not None}
    fed = dict[tuple[str, str], list[str]]()
    for name, flow in scenario.flows.items():
        reagent = scenario.reagents.get(flow.reagent)
        item = next((item for item in scenario.train if item.id == flow.into), None)
        if reagent is None or item is None or reagent.state != "liquid" or reagent.amount is None:
            continue
        kind = known.get(folded(item.kind))
        if kind is None or kind.id != "vessel" or (item.liquid is None and item.id in hot):
            continue
        if reagent.held is not None and reagent.held.as_ == "bottle":
            fed.setdefault((flow.reagent, flow.into), []).append(name)
    still = scenario.without_flows(scenario.flows)
    into: dict[str, set[str]] = {}
    gone = set[str]()
    for (bottle, vessel), flows in fed.items():
        bottles = {other for other, at in fed if at == vessel}
        item = next(item for item in scenario.train if item.id == vessel)
        if _has_room(scenario, item, bottles, flows) and (
            vessel not in _using(still, bottle, reference)[0]
        ):
            into.setdefault(bottle, set()).add(vessel)
            gone.update(flows)
    return (scenario.without_flows(gone) if gone else scenario), into


def _has_room(
    scenario: Scenario, vessel: ItemModel, bottles: set[str], flows: Sequence[str]
) -> bool:
    """Whether all of these bottles go into a vessel, and press no gas together there.

    An open one gives way, or one with a relief; a closed one does if little comes or if nothing
    presses but the column of a funnel.
    """
    unsaid = vessel.liquid is not None and vessel.liquid_volume is None
    held = inf if unsaid else vessel.liquid_volume or 0.0
    room = vessel.gas_volume or (vessel.capacity or 0.0) - held
    comes = 0.0
    for name in bottles:
        bottle, amount = scenario.reagents[name], scenario.reagents[name].amount
        if amount is None or amount.by == "molar":
            return False
        comes += amount.value / ((bottle.density or LIGHT) if amount.by == "mass" else 1.0)
    mouth = any(item.to and item.open and vessel.id in item.from_ for item in scenario.train)
    gapes = mouth and vessel.joint in (None, "none")
    most = [scenario.flows[name].shut_off_pressure for name in flows]
    mild = scenario.ambient.pressure + COLUMN
    calm = all(each is not None and each <= mild for each in most)
    return comes <= room and (gapes or vessel.relief is not None or calm or comes <= PRESSED * room)


def poured(
    scenario: Scenario,
    reference: Reference,
    known: Mapping[str, ItemKind],
    into: Mapping[str, set[str]],
) -> Scenario:
    """The scenario with each liquid that is poured into a vessel standing there by itself.

    All of it; mixed with what is in there where both are mostly water, else as strong as it is in
    its bottle. An open vessel has it beside itself, under a mouth as wide; one that is closed right
    before itself, so that what is fed goes over it. What is poured is the liquid of a bottle that
    no item, flow or burner has: `into` what the file says, else where an equation uses it, else
    where any liquid is or, but for water, in what ware something reacts, else into any ware. What a
    generator's equation uses is its charge, and closed ware gives off what that makes.
    """
    mouths = {i.from_[0]: i for i in scenario.train if i.to and i.open and i.from_}
    dry = all(item.liquid is None for item in scenario.train)
    solids = any(reagent.state == "solid" for reagent in scenario.reagents.values())
    reacts = {at for at, _, _ in _equations(scenario)}
    out = scenario
    for name, reagent in scenario.reagents.items():
        if reagent.state != "liquid" or (name in scenario.in_use and name not in into):
            continue
        uses, charged = _using(scenario, name, reference)
        charged = charged and into.get(name, uses) <= uses
        uses = into.get(name, uses)
        water = _by_mass(reagent, reference).keys() <= {"water"}
        for vessel in scenario.train:
            dry_ware = (dry or (vessel.id in reacts and not water)) and _is_ware(vessel, known)
            here = vessel.liquid is not None or dry_ware
            gapes = vessel.joint in (None, "none") and vessel.id in mouths
            if vessel.to or not (vessel.id in uses if uses else here):
                continue
            if charged and not gapes:
                out = out.with_charge(name, vessel.id)
                continue
            made_of = _made_of(vessel, reagent, scenario.reagents, reference)
            out = out.with_poured(scenario, name, vessel.id, ingredient=made_of)
            if not water or (vessel.liquid is None and solids):
                mixed = _mixed(vessel, reagent, scenario.reagents, reference)
                called = scenario.bottle(name, vessel.id)
                out = _beside(out, vessel, called, mixed, mouths[vessel.id] if gapes else None)
    return out


def _made_of(
    vessel: ItemModel, bottle: Reagent, reagents: Mapping[str, Reagent], reference: Reference
) -> bool:
    """Whether a vessel's liquid holds nearly as much of all that a bottle holds but water: it was
    made from that bottle. By mass, with the density of what is not stated from its components."""
    held, amount = reagents.get(vessel.liquid or ""), bottle.amount
    if held is None or amount is None:
        return False
    one, other = _by_mass(bottle, reference), _by_mass(held, reference)
    volumes = [x / reference.substance(n).number("liquid_density") for n, x in one.items()]
    density = bottle.density or (1.0 / sum(volumes) if one else 0.0)
    poured = amount.value * (density if amount.by == "volume" else 1.0)
    there = (vessel.liquid_volume or 0.0) * (held.density or INTO)
    parts = [(x * poured, other.get(n, 0.0) * there) for n, x in one.items() if n != "water"]
    return bool(parts) and all(need * NEARLY_ALL <= has for need, has in parts)


def _is_ware(item: ItemModel, known: Mapping[str, ItemKind]) -> bool:
    kind = known.get(folded(item.kind))
    return kind is not None and kind.id in WARE


def _beside(
    scenario: Scenario, vessel: ItemModel, name: str, poured: Reagent, mouth: ItemModel | None
) -> Scenario:
    """With an item of that name for what is poured: under a mouth of its own, or before it."""
    none = dict.fromkeys(("temperature", "bath_temperature", "dip_depth", "size"))
    train = list(scenario.train)
    n = next(n for n, item in enumerate(train) if item.id == vessel.id)
    bottle = vessel.model_copy(
        update={
            **none, "id": name, "from_": train[n].from_ if mouth is None else [], "liquid": name,
            "capacity": None, "absorbs": {}, "reactions": type(vessel.reactions)(),
            "liquid_volume": poured.amount.value if poured.amount else None,
            "gas_volume": _over(vessel, poured), "relief": None, "kind": "vessel",
        }
    )  # fmt: skip
    flows = dict(scenario.flows)
    if mouth is not None:
        train += [bottle, mouth.model_copy(update={"id": f"mouth over {name}", "from_": [name]})]
    else:
        bottle = bottle.model_copy(update={"gas_volume": LITTLE})
        train[n : n + 1] = [bottle, train[n].model_copy(update={"from_": [name]})]
        for flow, stated in flows.items():
            if stated.into == vessel.id and not _made(scenario, flow):
                flows[flow] = stated.model_copy(update={"into": name})
    reagents = {**scenario.reagents, name: poured}
    return scenario.model_copy(update={"train": train, "reagents": reagents, "flows": flows})


def _over(vessel: ItemModel, poured: Reagent) -> float | None:
    """What is left over a liquid that stands in a vessel in place of its own, m3."""
    whole = vessel.capacity
    if vessel.gas_volume is not None:
        whole = vessel.gas_volume + (vessel.liquid_volume or 0.0)
    if whole is None or poured.amount is None:
        return whole
    return max(whole - poured.amount.value, LITTLE)


def _made(scenario: Scenario, flow: str) -> bool:
    reagent = scenario.reagents.get(scenario.flows[flow].reagent)
    return reagent is not None and reagent.held is not None and reagent.held.as_ == "generator"


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
    with suppress(UnknownName):
        found = reference.by_mass(reagent.composition, reagent.basis)
        return {} if isnan(sum(found.values())) else found
    return {}


def _watery(masses: Mapping[str, float], reference: Reference) -> bool:
    moles = {name: mass / reference.substance(name).molar_mass for name, mass in masses.items()}
    return bool(moles) and moles.get("water", 0.0) >= WATERY * sum(moles.values())


def _using(scenario: Scenario, name: str, reference: Reference) -> tuple[set[str], bool]:
    """Items of which an equation starts from what a liquid reagent consists of, and whether that
    of a generator does."""
    here = _substances(scenario.reagents[name].composition, reference)
    present = [s for r in scenario.reagents.values() for s in _substances(r.composition, reference)]
    names = {s.name for s in here} | {s.formula for s in here}
    found, charged = set[str](), False
    for at, text, made in _equations(scenario):
        with suppress(ValueError, UnknownName):
            read = (
                stoichiometry(text, reference, present)
                if made
                else parse_equation(text, reference, present)
            )
            if any({t.text, t.formula} & names for t in read if t.coefficient < 0):
                found.add(at)
                charged |= made
    return found, charged


def _equations(scenario: Scenario) -> Iterator[tuple[str, str, bool]]:
    """Each equation with the item where it runs, and whether it is a generator's."""
    for item in scenario.train:
        yield from ((item.id, reaction.equation, False) for reaction in item.reactions)
    for flow in scenario.flows.values():
        held = scenario.reagents[flow.reagent].held if flow.reagent in scenario.reagents else None
        if held is not None and held.equation is not None:
            yield flow.into, held.equation, True


def _substances(texts: Sequence[str] | dict[str, float], reference: Reference) -> list[Substance]:
    found = []
    for text in texts:
        with suppress(UnknownName):
            found.append(reference.substance(text))
    return found
