"""Which way a number may be turned: never the way in which there is more of what does harm.

More of a gas that burns, poisons or oxidises, more liquid on the heat, more time with the heat on:
each may make a review look better, by what is used up or boiled dry, and none of them is advice.
"""

from __future__ import annotations

from review.scenario import Scenario
from review.scenario.errors import path_parts

#: Inert gas, by formula or name; of air, which thins too, the most oxygen as a mole fraction.
INERT = frozenset({"nitrogen", "n2", "argon", "ar", "helium", "he"})
AIR, OXYGEN, IN_AIR = "air", frozenset({"oxygen", "o2"}), 0.22
#: What wash bottles and absorbers are filled with, of which more may be taken.
WASHING = frozenset({
    "water", "h2o", "sodium hydroxide", "naoh", "potassium hydroxide", "koh", "calcium hydroxide",
    "sodium carbonate", "sodium bicarbonate", "sodium hydrogencarbonate", "sodium chloride",
})  # fmt: skip


def inert(scenario: Scenario) -> list[str]:
    """The flows of inert gas alone."""
    return [name for name in scenario.flows if _parts(scenario, name) <= INERT]


def thinning(scenario: Scenario) -> set[str]:
    """The flows of inert gas or air, of which more thins what is there."""
    return {name for name in scenario.flows if _thins(scenario, name)}


def _thins(scenario: Scenario, name: str) -> bool:
    parts = _parts(scenario, name)
    if parts <= INERT or parts == {AIR}:
        return True
    if not (parts <= INERT | OXYGEN and parts & INERT):
        return False
    composition = scenario.reagents[scenario.flows[name].reagent].composition
    oxygen = (share for part, share in composition.items() if part.casefold() in OXYGEN)
    return sum(oxygen) <= IN_AIR


def _parts(scenario: Scenario, flow: str) -> set[str]:
    """What a flow of gas consists of; a liquid that is fed is never inert."""
    reagent = scenario.reagents.get(scenario.flows[flow].reagent)
    if reagent is None or reagent.state != "gas":
        return {"a liquid"}
    return {part.casefold() for part in reagent.composition}


def downwards(scenario: Scenario, path: str) -> bool:
    """Whether a number of the file may only fall."""
    _, name, field = [*path_parts(path), "", ""][:3]
    if field == "rate":
        return not _thins(scenario, name)
    if field == "duration":
        return name not in _calm(scenario)
    if field == "set_temperature":
        return _wet(scenario, name)
    if field == "liquid_volume":
        return not _more_is_better(scenario, name)
    return False


def _calm(scenario: Scenario) -> set[str]:
    """Steps that purge or cool: no gas but inert gas or air is on; nothing heats, or under inert
    gas what holds no liquid."""
    named = {name for step in scenario.procedure for name in step.flows}
    heated = {name for step in scenario.procedure for name in step.heat}
    # What no step switches may be on in all of them.
    feeds, heaters = set(scenario.flows) - named, set(scenario.heat) - heated
    purging, quiet, calm = set(inert(scenario)), thinning(scenario), set()
    for step in scenario.procedure:
        for on, switched in ((feeds, step.flows), (heaters, step.heat)):
            for name, said in switched.items():
                (on.discard if said == "off" else on.add)(name)
        dry = feeds & purging and not any(_wet(scenario, name) for name in heaters)
        if feeds <= quiet and (not heaters or dry):
            calm.add(step.step)
    return calm


def _wet(scenario: Scenario, heater: str) -> bool:
    """Whether it heats an item that holds liquid."""
    return any(item.id == scenario.heat[heater].heats and item.liquid for item in scenario.train)


def _more_is_better(scenario: Scenario, id: str) -> bool:
    """Of a washing liquid that nothing warms."""
    item = scenario.item(id)
    reagent = scenario.reagents.get(item.liquid or "")
    warmed = item.bath_temperature is not None or any(h.heats == id for h in scenario.heat.values())
    return (
        not warmed
        and reagent is not None
        and {part.casefold() for part in reagent.composition} <= WASHING
    )
