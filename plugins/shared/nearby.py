"""What could light gas here: heaters, and the ignition sources that the file names.

A source whose distance nobody states counts as near, and so do ignition sources of which the file
says nothing at all; `ignition_sources: none in the room` is a statement.
"""

from __future__ import annotations

import numpy as np

from review import FloatArray, Place, Setup

#: Sources nearer than this to where gas leaves or may leak, m, are within its reach: heavy vapour
#: runs along a bench (common practice, no source).
REACH = 3.0
NEAR = f"nearer than {REACH:g} m or nobody says how far"
#: Heaters whose wires lie behind cloth or in solid metal, so that vapour meets no hotter surface
#: than is stated (common practice, no source). Baths, steam and jackets are so by their kind.
COVERED = ("heating mantle", "heating block")
#: Share of the autoignition temperature in degrees Celsius, and kelvins below it, up to which heat
#: through such a heater is no ignition source: EN 1127-1 and a judgement of ours; and where that
#: temperature lies below 100 degC, as for carbon disulfide, none is.
INDIRECT_SHARE, INDIRECT_BELOW, LOWEST = 0.8, 25.0, 373.15
ZERO = 273.15
#: Content near a source over that of the whole room where no mixing factor is stated: factors of
#: 0.1 to 0.5 on the air flow are usual (Crowl & Louvar, Chemical Process Safety, from memory).
UNMIXED = 10.0


def indirect(setup: Setup, name: str, ignition: FloatArray) -> FloatArray:
    """1 in trials where a heat source lights nothing by itself, else 0.

    A bath, steam, a jacket, a closed mantle or a metal block that at its hottest stays below 80 %
    (degC) of the autoignition temperature `ignition` (K, over trials) and 25 K below it. One whose
    hottest nobody states is not.
    """
    heat = setup.scenario.heat[name]
    if heat.energy != "bath" and heat.kind not in COVERED:
        return np.zeros(setup.trials)
    hottest = setup.number(f"heat.{name}.hottest").value
    if heat.kind == "cooling bath":
        hottest = np.fmax(setup.number("ambient.temperature").value, hottest)
    most = np.minimum(ZERO + INDIRECT_SHARE * (ignition - ZERO), ignition - INDIRECT_BELOW)
    return np.where((hottest <= most) & (ignition >= LOWEST), 1.0, 0.0)


def nothing_near(setup: Setup, ignition: FloatArray) -> tuple[FloatArray, str]:
    """1 in trials where nothing within reach lights the gas, 0 where something may, NaN where the
    file says nothing of ignition sources; and what it is.
    """
    found, why = np.ones(setup.trials), []
    for name, heat in setup.scenario.heat.items():
        far = setup.number(f"heat.{name}.distance").value >= REACH
        here = far | (indirect(setup, name, ignition) > 0)
        if not here.all():
            why.append(f"the {heat.kind} {name} may light it, {NEAR}")
        found = np.where(here, found, 0.0)
    for name, source in setup.scenario.ignition_sources.items():
        far = setup.number(f"ignition_sources.{name}.distance").value >= REACH
        far &= source.in_ == "room"
        if not far.all():
            why.append(f"the {source.kind} {name} may light it, {NEAR}")
        found = np.where(far, found, 0.0)
    if setup.scenario.catalysts:
        why.append("a catalyst may light it")
        found = np.zeros(setup.trials)
    if not setup.scenario.ignition_sources and not setup.scenario.nothing_ignites:
        why.append("ignition_sources are not stated (none in the room, or each with its distance)")
        found = np.where(found > 0, np.nan, found)
    return found, "; ".join(why)


def in_use(setup: Setup) -> list[Place]:
    """The items of all trains but those that are empty and idle: nothing is fed to one or sucked
    from it, nothing lies or reacts in it and nothing heats it. Only air is there."""
    scenario = setup.scenario
    busy = {flow.into for flow in scenario.flows.values()}
    busy |= {heat.heats for heat in scenario.heat.values()}
    busy |= {catalyst.in_ for catalyst in scenario.catalysts.values()}
    for item in scenario.train:
        if item.liquid or item.packing or item.suction or item.absorbs or item.reactions:
            busy.add(item.id)
    found = joined(setup, busy)
    return [place for place in setup.places if place.id in found]


def joined(setup: Setup, items: set[str]) -> set[str]:
    """These items and all on the gas ways that join with them."""
    ways = [{p.id} | {setup.places[i].id for i in p.before} for p in setup.places]
    while more := [way for way in ways if way & items and not way <= items]:
        items = items.union(*more)
    return items


def led_away(setup: Setup) -> bool:
    """Whether every open end leads into a fume hood that blows outdoors, or outdoors itself.

    What comes of it when the hood fails is judged in the room's air.
    """
    ends = [p for p in setup.once(in_use) if p.is_end and p.model.open]
    return all(into_hood_or_outdoors(setup, place) for place in ends)


def into_hood_or_outdoors(setup: Setup, place: Place) -> bool:
    """Whether an end leads outdoors, or into a fume hood that does."""
    ventilation = setup.scenario.ventilation
    hood = None if ventilation is None else ventilation.hood
    draws = hood is not None and hood.kind == "fume hood" and not hood.returns
    return place.model.to == "outdoors" or (place.model.to == "hood" and draws)
