"""What could light gas here: heaters, and the ignition sources that the file names.

A source whose distance nobody states counts as near, and so do ignition sources of which the file
says nothing at all; `ignition_sources: none in the room` is a statement.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
#: A heater that is off lights nothing once what it heats is no hotter than this, K: it may be
#: touched (EN ISO 13732-1, 60 degC for a minute, from memory).
IDLE = 333.15
#: The number that leaves on after the last step what is on in it.
LEFT_ON = "procedure.after the last step.left_on"
#: What a heater lacks that nobody says when it is cold again, as the file spells it.
COOLS = "cooling_time"
#: A catalyst of this light-off, K, or more lights no hydrocarbon while it is cold; other fuels,
#: hydrogen and alcohols first, catch fire on platinum black at room temperature (from memory).
SLOW_LIGHT_OFF = 373.15
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


def lit(setup: Setup, name: str) -> NDArray[np.bool_]:
    """Whether a heat source is on, over trials; after the last step none is."""
    return setup.once(_lit)[name]


def _lit(setup: Setup) -> dict[str, NDArray[np.bool_]]:
    """The same of every heat source."""
    (cells, runs), found = setup.shape, {}
    steps = [step.step for step in setup.scenario.procedure]
    for name in setup.scenario.heat:
        working = setup.number(f"heat.{name}.delivered").value.reshape(cells, runs) > 0
        on = np.zeros((cells, runs), dtype=bool)
        if not steps:
            on[:-1] = True
        for cell, step in enumerate(steps, 1):
            for path in setup.paths(f"settings.{step}.heat.{name}."):
                on[cell] |= setup.number(path).value.reshape(cells, runs)[cell] > 0
        found[name] = (on & working).reshape(-1)
    return found


def idle(setup: Setup, name: str, ignition: FloatArray) -> NDArray[np.bool_]:
    """Whether a heat source is off, the step before as well, and what it heats is cool, in trials.

    One that no step has yet turned on is so, and one that has cooled down; of one whose cooling
    time nobody states the walk says that it stays hot. The stated plan counts as a step with heat.
    """
    cells, runs = setup.shape
    on = lit(setup, name).reshape(cells, runs).copy()
    on[0] = True
    on[-1] |= (setup.number(LEFT_ON).value.reshape(cells, runs)[-1] > 0) & on[-2]
    before = np.concatenate([on[:1], np.zeros((1, runs), dtype=bool), on[1:-1]])
    item = next(p for p in setup.places if p.id == setup.scenario.heat[name].heats)
    cool = item.hottest.value <= np.minimum(IDLE, ignition - INDIRECT_BELOW)
    return np.asarray(~(on | before).reshape(-1) & cool)


def _slow(setup: Setup) -> NDArray[np.bool_]:
    """Whether all that burns here are hydrocarbons, and each catalyst is cold and lights late."""
    fuels = [s for s in setup.species if s.combustible is not False]
    plain = all(set(s.elements) == {"C", "H"} and "acetylene" not in s.name for s in fuels)
    found = np.full(setup.trials, plain)
    for name, catalyst in setup.scenario.catalysts.items():
        item = next(p for p in setup.places if p.id == catalyst.in_)
        late = setup.number(f"catalysts.{name}.light_off").value >= SLOW_LIGHT_OFF
        found &= late & (catalyst.light_off != "unknown") & (item.hottest.value <= IDLE)
    return found


def nothing_near(setup: Setup, ignition: FloatArray) -> tuple[FloatArray, str]:
    """1 in trials where nothing within reach lights the gas, 0 where something may, NaN where the
    file says nothing of ignition sources; and what it is.
    """
    found, why = np.ones(setup.trials), []
    stated = bool(setup.scenario.ignition_sources) or setup.scenario.nothing_ignites
    for name, heat in setup.scenario.heat.items():
        far = setup.number(f"heat.{name}.distance").value >= REACH
        here = far | (indirect(setup, name, ignition) > 0) | stated & idle(setup, name, ignition)
        if not here.all():
            why.append(f"the {heat.kind} {name} may light it, {NEAR}")
            if heat.cooling_time is None and heat.energy == "electric":
                why.append(f"{name} counts as hot for good: state its {COOLS}")
        found = np.where(here, found, 0.0)
    for name, source in setup.scenario.ignition_sources.items():
        far = setup.number(f"ignition_sources.{name}.distance").value >= REACH
        far &= source.in_ == "room"
        if not far.all():
            why.append(f"the {source.kind} {name} may light it, {NEAR}")
        found = np.where(far, found, 0.0)
    if setup.scenario.catalysts:
        why.append("a catalyst may light it")
        found = np.where(_slow(setup), found, 0.0)
    if not stated:
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
    draws = hood is not None and hood.is_fume_hood and not hood.returns
    return place.model.to == "outdoors" or (place.model.to == "hood" and draws)
