"""Working pressure against rating, a plug anywhere, and liquid sucked back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
)
from review.physics.gas import R

from ..shared.rating import OFF_BY, rating
from ..shared.relief import (
    COMES_APART,
    GENTLE,
    OFF,
    RISE,
    SLOW,
    held_down,
    lifts_first,
    opens,
    pressing,
    relieved,
    slides_off,
    soft,
)
from ..shared.way_back import least_volume, way_back
from . import directions
from .burner import supplies
from .cures import cure

OVER_RATING = Method(
    id="pressure.working_over_rating",
    title="Pressure over what the item holds",
    result="share of the rating",
    unit="1",
    formula="where(p - p0 <= least, 0, where(rating > 0, (p - p0) / rating, inf))",
    inputs=(
        Input("p", "p", "Pa", "absolute pressure at the inlet"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("rating", "rating", "Pa", "gauge pressure the item holds"),
        Input("least", "least", "Pa", "overpressure that anything holds"),
    ),
    function=lambda p, p0, rating, least: np.where(
        p - p0 <= least,
        0.0,
        np.where(np.isnan(rating), np.nan, np.where(rating > 0, (p - p0) / rating, np.inf)),
    ),
    compares=lambda p, p0, rating, least: (p - p0, rating),
    compared_in=("Pa", "bar"),
    source="ratio; pressures marched back from the outlet, or the supply's own where it is shut in",
    validity="steady, no shock, no thermal stress; infinite where no overpressure is held",
)
LIFTED = Method(
    id="pressure.holds_lifted",
    title="What an item holds once its joint is lifted",
    result="rating",
    unit="Pa",
    formula="where(lifted > 0, body, rating)",
    inputs=(
        Input("body", "body", "Pa", "what it holds without its joint"),
        Input("rating", "rating", "Pa", "what it holds with it"),
        Input("lifted", "lifted", "1", "1 where a joint pushed together opens after a failure"),
    ),
    function=lambda body, rating, lifted: np.where(lifted > 0, body, rating),
    source="common practice, no source: such a joint slides apart before glass breaks",
    validity="what is then let out is played as a joint that opens",
)
HEADROOM = Method(
    id="pressure.headroom",
    title="Pressure left before an item lets go",
    result="headroom",
    unit="Pa",
    formula="max(rating - (p - p0), 0)",
    inputs=(
        Input("rating", "rating", "Pa", "gauge pressure the item holds"),
        Input("p", "p", "Pa", "absolute pressure at the inlet"),
        Input("p0", "p0", "Pa", "pressure of the room"),
    ),
    function=lambda rating, p, p0: np.maximum(rating - (p - p0), 0.0),
    source="difference",
    validity="as the rating",
)


def _seconds(
    headrooms: list[FloatArray],
    rise: FloatArray,
    supply: FloatArray,
    p0: FloatArray,
    ratings: list[FloatArray],
) -> FloatArray:
    least = np.min(np.broadcast_arrays(*headrooms), axis=0)
    lowest = np.min(np.broadcast_arrays(*ratings), axis=0)
    reachable = supply - p0 > lowest
    time = np.where(rise > 0, least / np.where(rise > 0, rise, 1.0), np.inf)
    known = ~(np.isnan(least) | np.isnan(rise) | np.isnan(supply) | np.isnan(lowest))
    return np.where(known, np.where(reachable, time, np.inf), np.nan)


SECONDS = Method(
    id="pressure.plugged_seconds",
    title="Time from a plug to the first item that lets go",
    result="seconds to the first item that lets go",
    unit="s",
    formula="where(supply - p0 > min(ratings), min(headrooms) / rise, inf)",
    inputs=(
        Input("headrooms", "headroom", "Pa", "headroom of each item upstream of the plug"),
        Input("rise", "dP/dt", "Pa/s", "pressure rise"),
        Input("supply", "p_s", "Pa", "highest pressure the supplies can reach, absolute"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("ratings", "rating", "Pa", "gauge pressure each item upstream holds"),
    ),
    function=_seconds,
    compares=lambda headrooms, rise, supply, p0, ratings: (
        supply - p0,
        np.min(np.broadcast_arrays(*ratings), axis=0),
    ),
    compared_in=("Pa", "bar"),
    source="pressure rise behind a plug to the lowest headroom upstream of it",
    validity="never, where the supplies cannot reach the lowest rating or give nothing",
)
REACH = Method(
    id="pressure.suckback_reach",
    title="Liquid sucked back as a share of the way to hot glass or a supply",
    result="share of the way",
    unit="1",
    formula="liquid / sum(volumes)",
    inputs=(
        Input("liquid", "V_l", "m3", "liquid drawn out of the bottle while the train cools"),
        Input("volumes", "V", "m3", "gas volume of each item between the bottle and what it harms"),
    ),
    function=lambda liquid, volumes: liquid / np.sum(np.broadcast_arrays(*volumes), axis=0),
    compares=lambda liquid, volumes: (liquid, np.sum(np.broadcast_arrays(*volumes), axis=0)),
    compared_in=("m3", "mL"),
    source="gas contracts as V Ta (1/T - 1/Th) less what the lift of the liquid balances",
    validity="no non-return valve or trap counts unless it stands in the train",
)


def _kind(
    method: Method, worse: str, display: str, moves: directions.Ways, title: str = ""
) -> Kind:
    return Kind(
        id=method.id,
        title=title or method.title,
        worse="lower" if worse == "lower" else "higher",
        unit=method.unit,
        display=display,
        method=method.id,
        source=method.source,
        validity=method.validity,
        moves=moves,
    )


#: Share of the way up to which nobody has to say whether the tube dips into the liquid at all.
SOME_WAY = 0.5
DIPS = 'dip_depth of {0} (write "dip_depth: 0 mm" where the tube into it ends above its liquid)'
#: What only moves the gas through a hose bursts none, Pa: 10 cm of water. Whether its heat softens
#: it, a criterion of its own tells (a judgement).
SLIGHT = 1.0e3
_SHARE_OF_RATING = "Working pressure as a share of what the weakest part holds"
WORKING_KIND = replace(
    _kind(OVER_RATING, "higher", "%", directions.WORKING, _SHARE_OF_RATING), factor=OFF_BY
)
SECONDS_KIND = replace(_kind(SECONDS, "lower", "s", directions.PLUGGED), clock=True)
REACH_KIND = _kind(REACH, "higher", "%", directions.SUCKED_BACK)


def _compute(setup: Setup) -> Iterable[Measure]:
    ambient = setup.number("ambient.pressure")
    ratings, bodies, starts = {}, {}, {}
    for place in setup.places:
        if place.is_end:
            continue
        holds = rating(setup, place)
        ratings[place.index] = holds
        bodies[place.index] = rating(setup, place, joint=False)
        # Where it is shut in already, the time counts from before: from the room's pressure.
        open_way = place.leaves > 0
        start = place.pressure.revised(
            np.where(open_way, place.pressure.value, ambient.value), place.pressure.status
        )
        starts[place.index] = start
        pressure, lifts = relieved(setup, place)
        # A joint that is lifted is no part that bursts; what it then lets out is played apart.
        holds = _either(setup, lifts, bodies[place.index], holds)
        # What stands at the room's pressure or below has nothing to hold, whatever it is made of;
        # nor has an open vessel: what presses at the end of a tube that dips into it presses on the
        # tube alone, which is judged as the item before it. Nor has a flowing hose.
        head = np.inf if place.id in setup.scenario.gaping else SLIGHT if soft(place) else 0.0
        below = place.pressure.value <= ambient.value + head
        least = setup.quantity(head, "least", "Pa", "stated")
        over = OVER_RATING(p=pressure, p0=ambient, rating=holds, least=least)
        off = slides_off(setup, place)
        if off.any():
            whole = OVER_RATING(p=pressure, p0=ambient, rating=bodies[place.index], least=least)
            holds_on = whole.value <= COMES_APART
            if soft(place):  # a soft hose that gives way at so little only lets the gas out
                holds_on |= pressure.value - ambient.value <= GENTLE
            # An estimate counts twice.
            off &= setup.failed & (over.value > COMES_APART / 2) & holds_on
            over = over.revised(np.where(off, COMES_APART, over.value),
                np.where(off, setup.engine_status, over.status))  # fmt: skip
        over = over.revised(np.where(below, 0.0, over.value),
            np.where(below, setup.engine_status, over.status))  # fmt: skip
        note = cure(setup, place, over, holds)
        yield setup.measure(WORKING_KIND, over, place.id, note=note)
    nothing = setup.quantity(0.0, "least", "Pa", "stated")
    for hose, supply, holds in supplies(setup):
        over = OVER_RATING(p=supply, p0=ambient, rating=holds, least=nothing)
        yield setup.measure(WORKING_KIND, over, hose)
    yield from _plugged(setup, ambient, ratings, bodies, starts)
    yield from _suckback(setup)


def _plugged(
    setup: Setup,
    ambient: Quantity,
    ratings: dict[int, Quantity],
    bodies: dict[int, Quantity],
    starts: dict[int, Quantity],
) -> Iterable[Measure]:
    """How long a plug at each item takes to burst something; what an item before it is by itself is
    worked out once, however many plugs it stands before."""
    constant = setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact")
    each = {i: setup.places[i] for i in ratings}
    volumes = {i: least_volume(p) for i, p in each.items()}
    loose = {i: slides_off(setup, p) for i, p in each.items()}
    lifting = {i for i, p in each.items() if opens(setup, p)}
    held = {i: _either(setup, loose[i], bodies[i], ratings[i]) for i in each}
    left = {i: HEADROOM(rating=held[i], p=starts[i], p0=ambient) for i in each}
    for place in setup.places:
        before = {i: each[i] for i in place.before if i in each}
        if place.is_end or not before:
            continue
        if place.id in setup.scenario.gaping:
            wide = setup.quantity(np.inf, "nothing to stop up", "s", "an open vessel, by its mouth")
            yield setup.measure(SECONDS_KIND, wide, place.id)
            continue
        most = pressing(setup, place)
        gaining = _gaining(setup, place)
        rise = RISE(
            n=gaining,
            R=constant,
            V=[volumes[i] for i in before],
            T=[p.hottest for p in before.values()],
        )
        off = np.any([loose[i] & (i in lifting) for i in before], axis=0)
        slow = (gaining.value <= np.where(off, OFF, SLOW)) & (place.leaves > 0)
        most_held = held_down(setup, list(before.values()), place.supply.value, slow)
        supply = place.supply.revised(most_held, place.supply.status)
        holding, headrooms = [], []
        for i, p in before.items():
            holds, head = held[i], left[i]
            if i in lifting and (first := lifts_first(setup, p, most, slow)).any():
                holds = _either(setup, first | loose[i], bodies[i], ratings[i])
                head = HEADROOM(rating=holds, p=starts[i], p0=ambient)
            holding.append(holds)
            headrooms.append(head)
        seconds = SECONDS(
            headrooms=headrooms, rise=rise, supply=supply, p0=ambient, ratings=holding
        )
        idle = (place.delivered.value == 0) | (place.supply.value <= ambient.value)
        done = seconds.revised(np.where(idle, np.inf, seconds.value),
            np.where(idle, setup.engine_status, seconds.status))  # fmt: skip
        yield setup.measure(SECONDS_KIND, done, place.id)


def _either(setup: Setup, lifts: NDArray[np.bool_], body: Quantity, holds: Quantity) -> Quantity:
    """What an item holds: its body alone where its joint is lifted before that bears more."""
    if not lifts.any():
        return holds
    opened = setup.quantity(lifts, "lifted", "1", "what is shut in, and its weakest joint")
    found = LIFTED(body=body, rating=holds, lifted=opened)
    return found.revised(found.value, np.where(lifts, body.status, holds.status))


def _gaining(setup: Setup, place: Place) -> Quantity:
    """Rate behind the plug: what is supplied, or what flows here where reactions add moles."""
    value = np.maximum(place.delivered.value, place.flow.value)
    return setup.quantity(value, f"gas coming to {place.id}", "mol/s", "balance of the train")


def _suckback(setup: Setup) -> Iterable[Measure]:
    """For every bottle the way back."""
    for place in setup.places:
        if place.model.liquid is None or place.is_end:
            continue
        if len(place.before) == 1:
            nothing = setup.quantity(0.0, "nothing upstream", "1", "balance of the train")
            yield setup.measure(REACH_KIND, nothing, place.id)
            continue
        reach, note = REACH(liquid=place.liquid_drawn, volumes=way_back(setup, place)), ""
        doubtful = ~(reach.value <= SOME_WAY)
        if place.model.dip_depth is None and doubtful.any():
            reach = reach.revised(np.where(doubtful, np.nan, reach.value), reach.status)
            note = DIPS.format(place.id)
        yield setup.measure(REACH_KIND, reach, place.id, note=note)


PRESSURE = Computation(kinds=(WORKING_KIND, SECONDS_KIND, REACH_KIND), compute=_compute)
