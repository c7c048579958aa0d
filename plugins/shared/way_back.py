"""The way that liquid drawn back has to go, from a bottle to what it harms."""

from __future__ import annotations

import numpy as np

from review import Place, Quantity, Setup

#: Void share of a bed that states none (mixed grains leave no less: a judgement, no source).
LEAST_VOID = 0.3


def least_volume(place: Place) -> Quantity:
    """Gas volume of an item; a bed of unstated length leaves no more than a full one."""
    packing, volume = place.model.packing, place.volume
    if packing is None or packing.length is not None or place.model.gas_volume is not None:
        return volume
    least = LEAST_VOID if packing.voidage is None else place.number("packing.voidage").value
    bore = np.pi / 4 * place.number("inner_diameter").value ** 2
    full = bore * place.number("length").value * least
    return volume.revised(np.fmin(volume.value, full), volume.status)


def way_back(setup: Setup, place: Place) -> list[Quantity]:
    """Volumes from a bottle to what is heated or makes the gas, else to the supply, m3."""
    scenario = setup.scenario
    made = {name for name, r in scenario.reagents.items() if r.held and r.held.as_ == "generator"}
    harmed = {
        heat.heats
        for heat in scenario.heat.values()
        if not (_luke(setup, place, heat.heats) or _chilled(setup, place, heat.heats))
    }
    harmed |= {
        flow.into
        for flow in scenario.flows.values()
        if flow.reagent in made and not _dilutes(setup, place, flow.into, flow.reagent)
    }
    beside = [setup.quantity(1e-9, "no way between", "m3", "bottle beside what it harms")]
    return _shortest(setup, place.index, harmed) or beside


#: Water in what is drawn back, by mass, so that it only dilutes: 1.5 mol/kg of lye warm an acid by
#: 20 K (57 kJ/mol, from memory). What must not meet is judged by the table of pairs.
MOSTLY_WATER = 0.94


#: Glass no hotter than this takes a splash, K: a drop of 40 K, which soda-lime glass bears (makers'
#: sheets, from memory).
LUKE = 333.15


def _luke(setup: Setup, bottle: Place, into: str) -> bool:
    """Whether a heated vessel is only luke, and holds water that is diluted and not splashed."""
    flask = next(p for p in setup.places if p.id == into)
    wet = bottle.liquid.get("water", 0.0) >= MOSTLY_WATER and flask.liquid.get("water", 0.0) >= 0.5
    return wet and bool((flask.hottest.value <= LUKE).all())


#: Dry ice cools to 194.7 K: glass so cold takes a splash as warm as the room, some 100 K as
#: borosilicate ware bears (makers' sheets, from memory); of liquid nitrogen it does not. What
#: a thermometer is off by counts as well.
DRY_ICE = 183.0
#: So cold is a bath of ice, K; what nothing cools is a heater that is off.
COOLED = 278.0
#: What an ice bath may be colder than water freezes, K: nothing freezes through in it.
SLUSH = 1.0


def _chilled(setup: Setup, bottle: Place, into: str) -> bool:
    """Whether it is an empty vessel that only a bath of ice or dry ice cools, as good as the empty
    bottle: what is drawn back does not freeze there, which bursts it. What it has caught and must
    not meet the liquid is judged by the table of pairs."""
    trap = next(p for p in setup.places if p.id == into)
    liquids = [setup.reference.substance(name) for name in bottle.liquid]
    melting = [x.datum("melting_point") for x in liquids if x.phase_at_20C == "liquid"]
    points = [0.0 if m.state == "none" else m.value or np.nan for m in melting]
    coldest = np.max([DRY_ICE, *(point - SLUSH for point in points)])
    cold = (trap.hottest.value <= LUKE) & (trap.coldest.value >= coldest)
    cooled = (trap.coldest.value <= COOLED).any()
    return not trap.liquid and not trap.model.reactions and bool(cold.all() and cooled)


def _dilutes(setup: Setup, bottle: Place, into: str, reagent: str) -> bool:
    """Whether a bottle's liquid is mostly water, and so is what it would come into: a solution that
    makes the gas, and not with this water."""
    flask = next(p for p in setup.places if p.id == into)
    held = setup.scenario.reagents[reagent].held
    if held is None or held.equation is None:
        return False
    needs = any(t.formula == "H2O" and t.coefficient < 0 for e in flask.made for t in e)
    return (
        bottle.liquid.get("water", 0.0) >= MOSTLY_WATER
        and flask.liquid.get("water", 0.0) >= 0.5
        and (not needs or held.limited_by == "fermentation")
    )


def _shortest(setup: Setup, index: int, harmed: set[str]) -> list[Quantity]:
    """Volumes on the way back that holds least: to what is harmed or to where the train begins.

    An unknown volume counts as none; what is shut takes nothing up.
    """
    ways: list[list[Quantity]] = []

    def back(i: int, way: list[Quantity]) -> None:
        before = setup.places[i].upstream
        if not before:
            ways.append(way)
        for j in before:
            there = setup.places[j]
            if there.id in harmed:
                ways.append(way)
            else:
                back(j, [*way, least_volume(there)] if there.model.open else way)

    back(index, [])
    return min(ways, key=lambda way: sum(np.nan_to_num(v.value).min() for v in way), default=[])
