"""Facts: what conditions of a ruleset may ask of a set-up, with their types and meanings."""

from __future__ import annotations

from typing import Any

from review.reference.finding import Substance, UnknownName
from review.scenario.bench import Safeguard
from review.walk.resolve import Resolved

#: name -> (type, meaning). The documented vocabulary of conditions.
FACTS: dict[str, tuple[str, str]] = {
    "has_flow": ("bool", "some gas or liquid is fed in"),
    "has_source": ("bool", "gas is fed in, or a liquid gives it off or would if spilled"),
    "has_heat": ("bool", "something is heated"),
    "has_procedure": ("bool", "steps are given"),
    "has_hood": ("bool", "a hood is described"),
    "has_room": ("bool", "the room's volume is given"),
    "has_combustible": ("bool", "something that burns, or may burn, can be in the gas"),
    "has_catalyst": ("bool", "a catalyst is named"),
    "has_flame": ("bool", "a heat source is a burner or flame"),
    "has_home_made": ("bool", "an item is home-made, or nobody said that it is not"),
    "has_liquid": ("bool", "an item holds liquid"),
    "has_cold": ("bool", "something is colder than the room: a bath, an item, a liquefied gas"),
    "has_suction": ("bool", "a pump sucks on the train"),
    "has_absorbent": ("bool", "an item is said to absorb something"),
    "has_frame": ("bool", "a frame is described"),
    "stands_by_itself": ("bool", "the file says that the set-up needs no frame"),
    "has_rods": ("bool", "the frame has rods with clamps"),
    "operators": ("double", "how many people run it; 0 where not given"),
    "steps": ("int", "number of steps"),
    "substances": ("list<string>", "every substance that can be in the gas"),
    "combustibles": ("list<string>", "those of them that burn or may burn"),
    "oxidisers": ("list<string>", "those of them that oxidise, air's oxygen included"),
    "items": ("list<string>", "names of the items in the train"),
    "item_kinds": ("list<string>", "kinds of the items in the train"),
    "materials": ("list<string>", "materials of the items"),
    "heat_kinds": ("list<string>", "kinds of the heat sources"),
    "outlets_to": ("list<string>", "where the outlets lead"),
    "stands_in": ("list<string>", "where the items stand that are no outlets"),
    "detectors": ("list<string>", "what the claimed detectors sense"),
    "safeguards": ("list<string>", "kinds of the claimed safeguards"),
    "has_cylinder": ("bool", "a reagent is held in a cylinder"),
    "has_generator": ("bool", "a generator makes a gas that is fed in"),
    "has_electric_heat": ("bool", "a heat source is no burner or flame"),
    "has_home_made_glass": ("bool", "glass or quartz that is home-made, or may be"),
    "has_corrosive": ("bool", "something burns skin, or may: GHS 1A, 1B, 1C or not classified"),
    "has_waste": ("bool", "liquids, absorbents or solids are left over"),
    "attended": ("bool", "two or more people run it, or somebody is said to be there all the time"),
    "left_to_cool": ("bool", "the last step heats nothing, and no bath stays warm"),
    "eyewash_near": ("bool", "an eyewash is claimed that is reached within 10 s"),
    "oxygen_alarm": (
        "bool",
        "a detector for oxygen in the room gives alarm at 19.5 to 20.5 %, with a free way out, and "
        "nothing held as a gas, or liquefied, harms but by the oxygen that it displaces",
    ),
    "extinguishers": ("list<string>", "agents of the claimed extinguishers"),
    "present": ("list<string>", "every substance of the set-up: gas, liquid and solid"),
    "toxics": (
        "list<string>",
        "what has an IDLH in the gas, or no IDLH and a low limit; gases of unknown IDLH too",
    ),
    "undetected": ("list<string>", "those of them that no claimed detector senses"),
}

#: GHS classes of skin corrosion that need an eyewash; one nobody classified counts.
CORROSIVE = ("1A", "1B", "1C", "unknown")
#: Share of a liquid from which it is that and not dissolved in another.
HALF = 0.5
#: Claims that say that somebody is there all the time.
ATTENDING = ("second person", "attended")
EYEWASH_REACH = 10.0
#: Where an alarm of too little oxygen is set: below fresh air, at or above what counts as deficient
#: (29 CFR 1910.146(b)).
LITTLE_OXYGEN = (0.195, 0.205)


def fact_types() -> dict[str, str]:
    """Name and type of every fact."""
    return {name: kind for name, (kind, _) in FACTS.items()}


#: Where the list of IDLH values has none, an AEGL-2 or an 8-hour limit up to this share of the air
#: says that a gas is toxic (our judgement; nitrous oxide, silane).
LOW_LIMIT = 1e-4


def _toxic(substance: Substance) -> bool:
    """Whether a detector is asked for: an IDLH, or a low limit; a gas of unknown IDLH counts."""
    idlh = substance.datum("idlh")
    if idlh.state == "unknown":
        return substance.phase_at_20C == "gas"
    if idlh.value is not None or substance.datum("aegl_2").value is not None:
        return True
    limit = substance.datum("limit_8_hour").value
    return limit is not None and limit <= LOW_LIMIT


def facts_of(resolved: Resolved) -> dict[str, Any]:
    """The facts of one set-up; the same in all runs.

    Of a substance nobody classified, the hazardous side is assumed: it may burn.
    """
    scenario = resolved.scenario
    ventilation = scenario.ventilation
    combustibles = [s.name for s in resolved.species if s.combustible is not False]
    oxidisers = [s.name for s in resolved.species if s.oxidiser]
    heat_kinds = sorted({h.kind for h in scenario.heat.values()})
    detectors = sorted({s.senses or "" for s in scenario.safeguards if s.kind == "detector"})
    present = _present(resolved)
    toxics = [s.name for s in resolved.species if _toxic(s)]
    sensed = {_name(resolved, text) for text in detectors}
    kinds = {s.kind for s in scenario.safeguards}
    return {
        "has_flow": bool(scenario.flows),
        "has_source": bool(scenario.flows) or _gives_off(resolved),
        "has_heat": bool(scenario.heat),
        "has_procedure": bool(scenario.procedure),
        "has_hood": ventilation is not None and ventilation.hood is not None,
        "has_room": ventilation is not None and ventilation.room_volume is not None,
        "has_combustible": bool(combustibles),
        "has_catalyst": bool(scenario.catalysts),
        "has_flame": any(h.energy == "flame" for h in scenario.heat.values()),
        "has_home_made": any(item.home_made != "no" for item in scenario.train),
        "has_liquid": any(item.liquid for item in scenario.train),
        "has_cold": _cold(resolved),
        "has_suction": any(item.suction for item in scenario.train),
        "has_absorbent": any(item.absorbs for item in scenario.train),
        "has_frame": scenario.frame is not None,
        "stands_by_itself": scenario.stands_by_itself,
        "has_rods": scenario.frame is not None and bool(scenario.frame.clamps),
        "operators": scenario.operators or 0.0,
        "steps": len(resolved.steps),
        "substances": [s.name for s in resolved.species],
        "combustibles": combustibles,
        "oxidisers": oxidisers,
        "items": [item.id for item in scenario.train],
        "item_kinds": sorted({kind.id for kind in resolved.graph.kinds}),
        "materials": sorted({item.material for item in scenario.train if item.material}),
        "heat_kinds": heat_kinds,
        "outlets_to": sorted({item.to for item in scenario.train if item.to}),
        "stands_in": sorted({i.in_ or "room" for i in scenario.train if not i.to}),
        "detectors": detectors,
        "safeguards": sorted(kinds),
        "has_generator": any(
            (held := scenario.reagents[flow.reagent].held) is not None and held.as_ == "generator"
            for flow in scenario.flows.values()
        ),
        "has_cylinder": any(
            r.held is not None and r.held.as_ == "cylinder" for r in scenario.reagents.values()
        ),
        "has_electric_heat": any(h.energy != "flame" for h in scenario.heat.values()),
        "has_home_made_glass": any(
            item.home_made != "no" and not kind.is_end and _glass(resolved, item.material)
            for item, kind in zip(scenario.train, resolved.graph.kinds, strict=True)
        ),
        "has_corrosive": any(s.skin_corrosion in CORROSIVE for s in present.values()),
        "has_waste": any(item.liquid or item.absorbs for item in scenario.train)
        or any(reagent.state != "gas" for reagent in scenario.reagents.values()),
        "left_to_cool": _left_to_cool(resolved),
        "attended": (scenario.operators or 0.0) >= 2 or any(k in kinds for k in ATTENDING),
        "eyewash_near": any(
            s.kind == "eyewash" and s.within is not None and s.within <= EYEWASH_REACH
            for s in scenario.safeguards
        ),
        "oxygen_alarm": "free way out" in kinds
        and _only_displaces(resolved)
        and any(_warns_of_little_oxygen(resolved, s) for s in scenario.safeguards),
        "extinguishers": sorted(
            {s.agent or "" for s in scenario.safeguards if s.kind == "extinguisher"}
        ),
        "present": sorted(present),
        "toxics": toxics,
        "undetected": [name for name in toxics if name not in sensed],
    }


def _warns_of_little_oxygen(resolved: Resolved, safeguard: Safeguard) -> bool:
    low, high = LITTLE_OXYGEN
    alarm, place = safeguard.alarm, safeguard.at == "room"
    set_so = alarm is not None and alarm.of == "fraction" and low <= alarm.value <= high
    detects = safeguard.kind == "detector" and _name(resolved, safeguard.senses or "") == "oxygen"
    return detects and set_so and place


def _only_displaces(resolved: Resolved) -> bool:
    """Whether no gas that is held, or boils in the room, is poisonous or burns: a tenth of carbon
    dioxide fells people whose oxygen alarm has hardly sounded."""
    reagents, room = resolved.scenario.reagents.values(), resolved.scenario.ambient.temperature
    held = [(r.state, resolved.reference.substance(t)) for r in reagents for t in r.composition]
    gases = (s for state, s in held if state == "gas" or s.number("boiling_point") < room)
    return all(
        s.name == "oxygen" or (s.inert is True and s.datum("idlh").state == "none") for s in gases
    )


def _cold(resolved: Resolved) -> bool:
    """Whether something is stated colder than the room, or held that boils below it."""
    room = resolved.scenario.ambient.temperature
    baths = [heat.set_temperature or heat.hottest for heat in resolved.scenario.heat.values()]
    by_step = [value for step in resolved.scenario.procedure for value in step.heat.values()]
    if any(isinstance(t, float) and t < room for t in (*baths, *by_step)):
        return True
    for item in resolved.scenario.train:
        stated = [t for t in (item.bath_temperature, item.temperature) if t is not None]
        liquid = resolved.liquids.get(item.id, {})
        held = [resolved.reference.substance(n) for n, x in liquid.items() if x > HALF]
        boiling = [s.number("boiling_point") for s in held]
        if any(t < room for t in (*stated, *boiling)):
            return True
    return False


def _glass(resolved: Resolved, material: str | None) -> bool:
    """Whether an item may be of glass; one that nobody describes may be."""
    return material is None or resolved.reference.material(material).kind == "glass"


def _gives_off(resolved: Resolved) -> bool:
    """Whether a liquid or a cold solid is held, anywhere, that is not non-volatile by data."""
    held = [name for liquid in resolved.liquids.values() for name in liquid]
    for reagent in resolved.scenario.reagents.values():
        held += reagent.composition if reagent.state != "gas" else ()
    found = (resolved.reference.substance(text) for text in held)
    return any(s.can_be_gas and s.curve("vapour_pressure").state != "none" for s in found)


#: What is warmer than this may not be held for a minute, K.
WARM = 333.15


def _left_to_cool(resolved: Resolved) -> bool:
    """Whether whoever takes the train apart after the last step finds it less hot than it was."""
    scenario, base = resolved.scenario, resolved.base
    if len(scenario.procedure) < 2 or not scenario.heat:
        return False
    last = scenario.procedure[-1].step
    warm = [t for i in scenario.train for t in (i.bath_temperature, i.temperature) if t is not None]
    return max(warm, default=0.0) <= WARM and not any(
        base.get(f"settings.{last}.heat.{name}.on", 1.0) for name in scenario.heat
    )


def _present(resolved: Resolved) -> dict[str, Substance]:
    """Every substance by name: what can be in the gas, what reagents and liquids consist of."""
    found = {s.name: s for s in resolved.species}
    texts = [t for r in resolved.scenario.reagents.values() for t in r.composition]
    texts += [name for liquid in resolved.liquids.values() for name in liquid]
    for text in texts:
        substance = resolved.reference.substance(text)
        found.setdefault(substance.name, substance)
    return found


def _name(resolved: Resolved, text: str) -> str:
    """The substance's own name; the text itself where nobody knows it."""
    try:
        return resolved.reference.substance(text).name
    except UnknownName:
        return text
