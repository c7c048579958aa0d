"""Are the active safeguards quick enough, and do they notice at all.

A safeguard that reveals a failure must leave time to look and to act before the step it guards; one
that closes flows must have closed them before any harm that is timed. Harm that nothing times, and
a detector for the wrong gas, earn no credit: the margin is missing then, with the reason.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.gas import R

from ..shared.detectors import AIR, alarm_point, unfit
from ..shared.rating import rating
from ..shared.relief import RISE
from ..shared.time_left import governing
from .closing import TIMED, Closing
from .gases import MISSING

if TYPE_CHECKING:
    from review.scenario.models import Safeguard

REVEAL = Method(
    id="readiness.reveal_margin",
    title="Time until a safeguard is looked at over the time that takes",
    result="time available over time needed",
    unit="1",
    formula="t / takes",
    inputs=(
        Input("t", "t", "s", "steps from the failure to the look, at their full length"),
        Input("takes", "t_need", "s", "time that looking and acting takes"),
    ),
    function=lambda t, takes: t / takes,
    source="ratio",
    validity="the next step waits for the look; a failure after it counts as one of the next step",
)
CLOSING = Method(
    id="readiness.closing_margin",
    title="Time until harm over the time until a safeguard has closed",
    result="time available over time needed",
    unit="1",
    formula="where(t < inf, t / (alarm + response + rest), inf)",
    inputs=(
        Input("t", "t", "s", "shortest time until harm from here on"),
        Input("alarm", "t_a", "s", "until a gas detector is at its alarm; 0 of anything else"),
        Input("response", "t_close", "s", "from there, or from the failure, to the closed valve"),
        Input("rest", "t_rest", "s", "for which what is left in the train flows on"),
    ),
    function=lambda t, alarm, response, rest: np.where(
        t < np.inf, t / (alarm + response + rest), np.where(np.isnan(t), np.nan, np.inf)
    ),
    source="ratio",
    validity="harm whose time is computed; wherever any other reaches its limit it is not known",
)
BURST = Method(
    id="readiness.seconds_to_burst",
    title="Time from a plug to the first item that lets go, whatever it bore before",
    result="time to burst",
    unit="s",
    formula="where(supply - p0 > rating, (1 - used) * rating / rise, inf)",
    inputs=(
        Input("rating", "rating", "Pa", "lowest gauge pressure that an item upstream holds"),
        Input("used", "used", "1", "most of it that may be in use before the plug"),
        Input("rise", "dP/dt", "Pa/s", "pressure rise behind the plug"),
        Input("supply", "p_s", "Pa", "highest pressure the supplies can reach, absolute"),
        Input("p0", "p0", "Pa", "pressure of the room"),
    ),
    function=lambda rating, used, rise, supply, p0: np.where(
        np.isnan(rating + rise + supply + p0),
        np.nan,
        np.where(supply - p0 > rating, (1 - used) * rating / rise, np.inf),
    ),
    source="pressure rise behind a plug",
    validity="normal use of at most 80 % of the rating; more is refused in the plan already",
)
REVEAL_KIND = Kind.of(REVEAL, "lower", "", {"safeguards.*.takes": "down"})
CLOSING_KIND = Kind.of(CLOSING, "lower", "", {"safeguards.*.response_time": "down"})
#: Kinds that say how long it takes to harm.
CLOCKS = ("pressure.plugged_seconds",)
#: Harm that nothing times: kind -> (the value at which it is done, which side is harm).
UNTIMED: dict[str, tuple[float, int]] = {
    "flammability.margin": (0.0, -1),
    "flammability.under_ceiling": (1.0, 1),
    "ignition.lit_leak": (6.0, 1),
    "oxygen.low": (0.195, -1),
    "oxygen.high": (0.235, 1),
    "pressure.suckback_reach": (1.0, 1),
    "heat.handled_part_over_burn": (0.0, 1),
    "heat.joint_margin": (0.0, -1),
    "heat.material_margin": (0.0, -1),
    "heat.reaction_margin": (0.0, -1),
    "heat.runaway_margin": (-50.0, -1),
    "heat.bath_to_flash_point": (10.0, -1),
}
#: Most of a rating that the criterion on working pressure tolerates in normal use.
MOST_USED = 0.8
OXYGEN_IN_AIR = 0.2095
BLIND = "in some runs it does not notice the failure"


def _compute_reveals(setup: Setup) -> Iterable[Measure]:
    for number, safeguard in enumerate(setup.scenario.safeguards):
        if not safeguard.reveals:
            continue
        # Without a word on what it senses somebody looks at the thing itself.
        looks = safeguard.senses is None and safeguard.kind != "detector"
        wrong = unfit(setup, safeguard) if looks else _unfit_to_notice(setup, safeguard)
        seen = np.full(setup.trials, not wrong)
        if not (wrong or looks):
            seen = _notices(setup, safeguard)
        why = wrong or ("" if seen.all() else BLIND)
        until = Quantity.of(
            np.where(seen, _until_look(setup, safeguard), np.nan),
            name="time until it is looked at",
            unit="s",
            source=why or "durations of the steps; no look follows the last step that has one",
        )
        takes = setup.number(f"safeguards.{number}.takes")
        yield setup.measure(
            REVEAL_KIND, REVEAL(t=until, takes=takes), f"{safeguard.kind} {number + 1}"
        )


def _until_look(setup: Setup, safeguard: Safeguard) -> FloatArray:
    """Seconds from the start of each cell to the next look; NaN where none follows."""
    cells, runs = setup.shape
    steps = setup.scenario.procedure
    out = np.full((cells, runs), np.nan)
    for cell in range(len(steps) - 1, 0, -1):
        own = setup.number(f"procedure.{steps[cell - 1].step}.duration").value
        lasts = own.reshape(cells, runs)[cell]
        looks = safeguard.before in (None, steps[cell].step)
        out[cell] = lasts if looks else lasts + out[cell + 1]
    # The plan speaks for all steps: the shortest step that a look follows.
    known = [row for row in out[1:] if not np.isnan(row).any()]
    out[0] = np.min(known, axis=0) if known else np.nan
    return out.reshape(-1)


def _compute_closing(setup: Setup) -> Iterable[Measure]:
    closing = [(n, s) for n, s in enumerate(setup.scenario.safeguards) if s.closes]
    if not closing:
        return
    clock, untimed = _clock(setup)
    breathed, reached = Closing(setup), _breathed(setup)
    for number, safeguard in closing:
        wrong = _unfit_to_notice(setup, safeguard)
        alarm = None if wrong else breathed.alarm(number, safeguard)
        seen = np.zeros(setup.trials, dtype=bool) if wrong else _notices(setup, safeguard)
        if alarm is None:
            alarm = np.zeros(setup.trials)
        else:  # what it is too late for is told by its time
            seen = seen | reached
        why = wrong or "; ".join(filter(None, ("" if seen.all() else BLIND, untimed)))
        response = setup.number(f"safeguards.{number}.response_time")
        harm = np.where(reached, breathed.harm(safeguard), np.inf)
        rest = np.where(reached, breathed.rest, 0.0)
        alarm = np.where(reached, alarm, 0.0)
        seconds = alarm + response.value + rest
        cell = governing(setup, harm, seconds, breathed.step)
        own = clock.value < np.inf
        harm, alarm, rest = harm[cell], alarm[cell], rest[cell]
        # A plug is seen by what it presses, not by what is breathed.
        least = np.where(np.isnan(clock.value), np.nan, np.minimum(harm, clock.value))
        time = Quantity.of(
            np.where(seen, least, np.nan),
            np.where(own, clock.status, np.where(np.isnan(harm), MISSING, 0)),
            name="shortest time until harm",
            unit="s",
            source=why or f"{', '.join(CLOCKS)}, {BURST.id}, two-zone room: the least of all",
        )
        parts = {
            "alarm": setup.quantity(alarm, "until its alarm", "s", "two-zone room"),
            "rest": setup.quantity(rest, "what is left flows on", "s", "gas held in the train"),
        }
        yield setup.measure(
            CLOSING_KIND,
            CLOSING(t=time, response=response, **parts),
            f"{safeguard.kind} {number + 1}",
        )


def _breathed(setup: Setup) -> NDArray[np.bool_]:
    """Where anything that `TIMED` times comes to its limit, from each cell on, over trials."""
    cells, runs = setup.shape
    out = np.zeros((cells, runs), dtype=bool)
    for kind, (limit, side) in TIMED.items():
        for measure in setup.measures(kind):
            out |= ~(side * (measure.value - limit) < 0) | (measure.status == MISSING)
    return np.broadcast_to(out.any(axis=0), (cells, runs)).reshape(-1)


def _names(setup: Setup) -> set[str]:
    """What an upset can be of, as its id names it."""
    scenario = setup.scenario
    items = {item.id for item in scenario.train}
    return {*scenario.flows, *scenario.heat, *items, "ventilation"}


def _alarm_pressure(safeguard: Safeguard) -> float:
    """Absolute pressure at which it acts, Pa; NaN where none is given."""
    alarm = safeguard.alarm
    return alarm.value if alarm is not None and alarm.of == "pressure" else float("nan")


def _unfit_to_notice(setup: Setup, safeguard: Safeguard) -> str:
    if safeguard.senses == "pressure":
        known = not np.isnan(_alarm_pressure(safeguard))
        return "" if known else "its alarm is not given as a pressure (0.1 bar gauge)"
    if safeguard.senses is None:
        lacks = "what it senses is not given: pressure, a gas, or what fails (a flow, an item)"
        return unfit(setup, safeguard) or lacks
    if safeguard.senses in _names(setup):
        return ""
    return unfit(setup, safeguard)


def _notices(setup: Setup, safeguard: Safeguard) -> NDArray[np.bool_]:
    """In which trials what it senses is there, from the failure on, over trials."""
    cells, runs = setup.shape
    if safeguard.senses == "pressure":
        above = setup.stacked("pressure") >= _alarm_pressure(safeguard)
        return np.asarray(above.any(axis=0))
    if safeguard.senses in _names(setup):
        what = safeguard.senses
        of = [overlay.id.split(":") for overlay in setup.runs.overlays]
        seen = [
            parts[0] == "ventilation lost" if what == "ventilation" else what in parts[1:2]
            for parts in of
        ]
        return np.tile(np.array(seen, dtype=bool), cells)
    substance = setup.reference.substance(str(safeguard.senses))
    row = setup.rows[substance.name]
    # The lesser of the room's two: what the hood misses counts for people, not for an alarm.
    found = setup.air(AIR[str(safeguard.at)])[row]
    point = alarm_point(setup, safeguard)
    low = substance.name == "oxygen" and point < OXYGEN_IN_AIR
    return np.asarray(found <= point if low else found >= point)


def _clock(setup: Setup) -> tuple[Quantity, str]:
    """Shortest time until harm from each cell of a run on; missing where some harm is untimed."""
    cells, runs = setup.shape
    least = np.full(setup.trials, np.inf)
    trust = np.zeros(setup.trials, dtype=np.uint8)
    for kind in CLOCKS:
        for measure in setup.measures(kind):
            own = Quantity.of(measure.value.reshape(-1), measure.status.reshape(-1))
            own = _before_it_was_shut(setup, measure.at, own)
            least = np.minimum(least, own.value)
            trust = np.maximum(trust, own.status)
    untimed = np.zeros((cells, runs), dtype=bool)
    reasons = []
    for kind, (limit, side) in UNTIMED.items():
        for measure in setup.measures(kind):
            # What nobody knows may have reached its limit; nothing at all has not.
            done = ~(side * (measure.value - limit) < 0) | (measure.status == MISSING)
            if done.any() and kind not in reasons:
                reasons.append(kind)
            untimed |= done
    value = np.where(untimed, np.nan, least.reshape(cells, runs))
    status = np.where(untimed, MISSING, trust.reshape(cells, runs))
    for cell in range(cells - 2, 0, -1):  # the plan stands alone; later cells count for earlier
        value[cell] = np.minimum(value[cell], value[cell + 1])
        status[cell] = np.maximum(status[cell], status[cell + 1])
    why = f"no check times what {', '.join(reasons)} says" if reasons else ""
    return Quantity.of(value.reshape(-1), status.reshape(-1)), why


def _before_it_was_shut(setup: Setup, at: str, seconds: Quantity) -> Quantity:
    """Where an item is shut in, the time from the plug on, not from the pressure it has led to."""
    (place,) = [p for p in setup.places if p.id == at]
    before = [setup.places[i] for i in place.before if not setup.places[i].is_end]
    shut = np.any([(p.leaves <= 0) & (p.delivered.value != 0) for p in before], axis=0)
    if not shut.any():
        return seconds
    holds = [rating(setup, p) for p in before]
    lowest = np.min([np.broadcast_to(q.value, setup.trials) for q in holds], axis=0)
    trust = np.max([np.broadcast_to(q.status, setup.trials) for q in holds], axis=0)
    constant = setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact")
    rise = RISE(
        n=place.delivered, R=constant, V=[p.volume for p in before], T=[p.hottest for p in before]
    )
    burst = BURST(
        rating=Quantity.of(lowest, trust, name="lowest rating upstream", unit="Pa"),
        used=Quantity.of(MOST_USED, name="share used before", unit="1", source="pressure.working"),
        rise=rise,
        supply=place.supply,
        p0=setup.number("ambient.pressure"),
    )
    return Quantity.of(
        np.where(shut, burst.value, seconds.value), np.where(shut, burst.status, seconds.status)
    )


REVEALS = Computation(kinds=(REVEAL_KIND,), compute=_compute_reveals)
CLOSINGS = Computation(
    kinds=(CLOSING_KIND,), compute=_compute_closing, needs=(*CLOCKS, *UNTIMED, *TIMED)
)
