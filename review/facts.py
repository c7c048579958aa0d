"""Facts: what conditions of a ruleset may ask of a set-up, with their types and meanings."""

from __future__ import annotations

from typing import Any

from review.resolve import Resolved

#: name -> (type, meaning). The documented vocabulary of conditions.
FACTS: dict[str, tuple[str, str]] = {
    "has_flow": ("bool", "some gas or liquid is fed in"),
    "has_heat": ("bool", "something is heated"),
    "has_procedure": ("bool", "steps are given"),
    "has_hood": ("bool", "a hood is described"),
    "has_room": ("bool", "the room's volume is given"),
    "has_combustible": ("bool", "something that burns, or may burn, can be in the gas"),
    "has_catalyst": ("bool", "a catalyst is named"),
    "has_flame": ("bool", "a heat source is a burner or flame"),
    "has_home_made": ("bool", "an item is home-made, or nobody said that it is not"),
    "has_liquid": ("bool", "an item holds liquid"),
    "has_absorbent": ("bool", "an item is said to absorb something"),
    "has_frame": ("bool", "a frame is described"),
    "has_rods": ("bool", "the frame has rods with clamps"),
    "operators": ("double", "how many people run it; 0 where not given"),
    "steps": ("int", "number of steps"),
    "substances": ("list<string>", "every substance that can be in the gas"),
    "combustibles": ("list<string>", "those of them that burn or may burn"),
    "oxidisers": ("list<string>", "those of them that oxidise, air's oxygen included"),
    "item_kinds": ("list<string>", "kinds of the items in the train"),
    "materials": ("list<string>", "materials of the items"),
    "heat_kinds": ("list<string>", "kinds of the heat sources"),
    "outlets_to": ("list<string>", "where the outlets lead"),
    "detectors": ("list<string>", "what the claimed detectors sense"),
    "safeguards": ("list<string>", "kinds of the claimed safeguards"),
}


def fact_types() -> dict[str, str]:
    """Name and type of every fact."""
    return {name: kind for name, (kind, _) in FACTS.items()}


def facts_of(resolved: Resolved) -> dict[str, Any]:
    """The facts of one set-up; the same in all runs.

    Of a substance nobody classified, the hazardous side is assumed: it may burn.
    """
    scenario = resolved.scenario
    ventilation = scenario.ventilation
    combustibles = [s.name for s in resolved.species if s.combustible is not False]
    oxidisers = [s.name for s in resolved.species if s.oxidiser]
    heat_kinds = sorted({h.kind for h in scenario.heat.values()})
    detectors = sorted(
        {
            str((s.model_extra or {}).get("senses", ""))
            for s in scenario.safeguards
            if s.kind == "detector"
        }
    )
    return {
        "has_flow": bool(scenario.flows),
        "has_heat": bool(scenario.heat),
        "has_procedure": bool(scenario.procedure),
        "has_hood": ventilation is not None and ventilation.hood is not None,
        "has_room": ventilation is not None and ventilation.room_volume is not None,
        "has_combustible": bool(combustibles),
        "has_catalyst": bool(scenario.catalysts),
        "has_flame": any("burner" in k or "flame" in k for k in heat_kinds),
        "has_home_made": any(item.home_made != "no" for item in scenario.train),
        "has_liquid": any(item.liquid for item in scenario.train),
        "has_absorbent": any(item.absorbs for item in scenario.train),
        "has_frame": scenario.frame is not None,
        "has_rods": scenario.frame is not None and bool(scenario.frame.clamps),
        "operators": scenario.operators or 0.0,
        "steps": len(resolved.steps),
        "substances": [s.name for s in resolved.species],
        "combustibles": combustibles,
        "oxidisers": oxidisers,
        "item_kinds": sorted({item.kind for item in scenario.train}),
        "materials": sorted({item.material for item in scenario.train if item.material}),
        "heat_kinds": heat_kinds,
        "outlets_to": sorted({item.to for item in scenario.train if item.to}),
        "detectors": detectors,
        "safeguards": sorted({s.kind for s in scenario.safeguards}),
    }
