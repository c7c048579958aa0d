"""Whether somebody who stands by lifts a line out of a liquid before that comes to what is hot.

The heat is lost and with it the gas that it made. Of the gas upstream that of unheated items is
as cold as the room at once, and what dissolves or condenses is gone at once; the rest shrinks no
faster than its wall cools. With T - Ta falling as exp(-t/tau), the gas of a volume V shrinks by
V Ta (T - Ta)/(T2 tau) a second, at most V/(4 tau), which is at T = 2 Ta. So liquid needs at least
4 tau W/V to fill the way W.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.heat import wall_cooling_time

from ..shared.lifts import LIFTED_AT, Lift, lifts
from ..shared.names import LIFT_KIND
from ..shared.way_back import way_back
from .hold import attended

#: Noticing that the flame is out and lifting the tube, s (common practice, no source).
NOTICED = 10.0
#: Gas in heated items where there is none, m3.
NOTHING = 1e-9
MARGIN = Method(
    id=LIFT_KIND,
    title="Time until liquid comes back to what is hot over the time to lift the line out",
    result="times as long",
    unit="1",
    formula="where(S <= W, inf, 4 * tau * W / V / t)",
    inputs=(
        Input("S", "S", "m3", "what the gas upstream shrinks by until it is cold"),
        Input("W", "W", "m3", "the way back that is left once vapour and soluble gas are gone"),
        Input("tau", "tau", "s", "time constant of the wall that cools fastest"),
        Input("V", "V", "m3", "gas upstream in heated items"),
        Input("t", "t", "s", "noticing and lifting"),
    ),
    function=lambda S, W, tau, V, t: np.where(
        S <= W, np.inf, 4 * tau * W / V / t
    ),
    source="gas as cold as its wall; lumped wall, radiation as black, convection 20 W/(m2 K)",
    validity="somebody is there all the time; thin walls; the lift of the liquid is not counted",
)
KIND = replace(Kind.of(MARGIN, "lower"), absent=np.inf)


def _compute(setup: Setup) -> Iterable[Measure]:
    for lift in lifts(setup.scenario):
        yield setup.measure(KIND, _margin(setup, lift), LIFTED_AT, lift.item)


def _margin(setup: Setup, lift: Lift) -> Quantity:
    place = next(p for p in setup.places if p.id == lift.item)
    room = setup.number("ambient.temperature").value
    heated = {heat.heats for heat in setup.scenario.heat.values()}
    before = [setup.places[i] for i in place.before if i != place.index]
    way = np.sum([np.nan_to_num(v.value) for v in way_back(setup, place)], axis=0)
    shrinks, tau = np.zeros((2, setup.trials)), np.full(setup.trials, np.inf)
    hot = np.full(setup.trials, NOTHING)
    for each in before:
        volume = each.volume.value
        gone = volume * _taken(place, each, setup)
        own = np.maximum(volume * (1 - room / each.hottest.value), 0.0)
        at_once = each.id not in heated
        shrinks += [own, gone + (own if at_once else 0.0)]
        if not at_once:
            hot = hot + volume
            tau = np.minimum(tau, _time_constant(each, room))
    there = 1.0 if attended(setup.scenario) else np.nan
    told = "balance of the train"
    return MARGIN(
        S=setup.quantity(shrinks[0], "shrinks", "m3", told),
        W=setup.quantity(np.maximum(way - shrinks[1], 0.0), "way left", "m3", told),
        tau=setup.quantity(tau, "time constant", "s", MARGIN.source),
        V=setup.quantity(hot, "heated gas", "m3", told),
        t=setup.quantity(NOTICED / there, "noticing and lifting", "s", "nobody is said to be there"
                         if np.isnan(there) else "common practice, no source"),
    )  # fmt: skip


def _taken(bottle: Place, each: Place, setup: Setup) -> FloatArray:
    """Largest share of an item's gas that the bottle's liquid takes up, or that condenses."""
    room = setup.number("ambient.temperature").value
    liquid, out = tuple(bottle.liquid), np.zeros(setup.trials)
    for point in ("old", "inlet", "outlet_end"):
        mixture, share = each.composition(point), np.zeros(setup.trials)
        for row, substance in enumerate(setup.species):
            vapour = ~(substance.number("boiling_point") <= room)
            meant = any(setup.reference.substance(n) is substance for n in bottle.model.absorbs)
            taken = meant or bottle.kind.vanishes(liquid, substance.name)
            share = share + np.where(vapour | taken, mixture[row], 0.0)
        out = np.maximum(out, share)
    return out


def _time_constant(each: Place, room: FloatArray) -> FloatArray:
    """Of a heated item's wall, s; NaN where nobody says how thick it is."""
    hot = np.maximum(each.hottest.value, room)
    return wall_cooling_time(each.number("wall").value, hot, room)


LIFTS = Computation(kinds=(KIND,), compute=_compute)
