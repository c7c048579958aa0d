"""Are the active safeguards quick enough, and do they notice at all.

A safeguard that reveals a failure must leave time to look and to act before the step it guards; one
that closes flows must have closed them before any harm that is timed. Harm that nothing times, and
a detector for the wrong gas, earn no credit: the margin is missing then, with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup

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
    formula="t / response",
    inputs=(
        Input("t", "t", "s", "shortest time until harm from here on"),
        Input("response", "t_close", "s", "time from the failure to the closed valve"),
    ),
    function=lambda t, response: t / response,
    source="ratio",
    validity="harm whose time is computed; wherever any other reaches its limit it is not known",
)
REVEAL_KIND = Kind(
    id=REVEAL.id,
    title=REVEAL.title,
    worse="lower",
    unit="1",
    display="",
    method=REVEAL.id,
    source=REVEAL.source,
    validity=REVEAL.validity,
    moves={"safeguards.*.takes": "down"},
)
CLOSING_KIND = Kind(
    id=CLOSING.id,
    title=CLOSING.title,
    worse="lower",
    unit="1",
    display="",
    method=CLOSING.id,
    source=CLOSING.source,
    validity=CLOSING.validity,
    moves={"safeguards.*.response_time": "down"},
)
#: Kinds that say how long it takes to harm.
CLOCKS = ("pressure.plugged_seconds",)
#: Harm that nothing times: kind -> (the value at which it is done, which side is harm).
UNTIMED: dict[str, tuple[float, int]] = {
    "flammability.margin": (0.0, -1),
    "flammability.air_to_lower_limit": (0.25, 1),
    "exposure.ceiling_ratio": (1.0, 1),
    "exposure.short_term_ratio": (1.0, 1),
    "exposure.eight_hour_ratio": (1.0, 1),
    "exposure.idlh_ratio": (0.1, 1),
    "oxygen.low": (0.195, -1),
    "oxygen.high": (0.235, 1),
    "pressure.suckback_reach": (1.0, 1),
    "heat.handled_part_over_burn": (0.0, 1),
    "heat.joint_margin": (0.0, -1),
    "heat.material_margin": (0.0, -1),
    "heat.reaction_margin": (0.0, -1),
}
ODOUR = re.compile(r"odou?r|smell|nose", re.IGNORECASE)
_ALARM = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(%|ppm|ppb)\s*(?:of\s+)?(LFL|LEL)?\s*")
_UNITS = {"%": 1e-2, "ppm": 1e-6, "ppb": 1e-9}
#: A second alarm at a quarter of the lower limit is the highest that is usual.
LFL_SHARE = 0.25


def unfit(setup: Setup, safeguard: Safeguard) -> str:
    """Why a safeguard warns of nothing here; '' where it may."""
    said = " ".join((safeguard.kind, safeguard.senses or "", *_extra(safeguard).values()))
    if ODOUR.search(said):
        return "odour is never counted as a warning"
    if safeguard.kind != "detector" and safeguard.senses is None:
        return ""
    if safeguard.senses is None:
        return "what the detector senses is not given"
    try:
        substance = setup.reference.substance(safeguard.senses)
    except LookupError as unknown:
        return str(unknown)
    if substance.name not in setup.resolved.index:
        return f"{substance.name}, which it senses, cannot be in the gas here"
    if safeguard.at not in ("hood", "room"):
        return "it does not stand in the hood or the room (at: hood or at: room)"
    alarm = _ALARM.fullmatch(safeguard.alarm or "")
    if alarm is None:
        return "its alarm point is not given in %, ppm or % LFL"
    lower = substance.datum("lower_limit_air").value
    value = float(alarm[1]) * _UNITS[alarm[2]]
    if alarm[3]:
        if lower is None:
            return f"{substance.name} has no lower limit"
        value *= lower
    if substance.name == "oxygen":
        return "" if 0.195 <= value <= 0.235 else "its alarm lies below 19.5 % or above 23.5 %"
    limits = [
        (datum.value, name)
        for name in ("limit_ceiling", "limit_short_term", "limit_8_hour")
        if (datum := substance.datum(name)).value is not None
    ][:1]
    if lower is not None:
        limits.append((LFL_SHARE * lower, "25 % of the lower limit"))
    if not limits:
        return f"no limit of {substance.name} is known"
    lowest, name = min(limits)
    words = name.replace("limit_", "").replace("_", " ")
    return "" if value <= lowest else f"its alarm lies above the {words} of {substance.name}"


def _extra(safeguard: Safeguard) -> dict[str, str]:
    return dict(safeguard.model_extra or {})


def _compute_reveals(setup: Setup) -> Iterable[Measure]:
    for number, safeguard in enumerate(setup.scenario.safeguards):
        if not safeguard.reveals:
            continue
        wrong = unfit(setup, safeguard)
        takes = setup.number(f"safeguards.{number}.takes")
        until = Quantity.of(
            np.full(setup.trials, np.nan) if wrong else _until_look(setup, safeguard),
            name="time until it is looked at",
            unit="s",
            source=wrong or "durations of the steps; not looked at after the failure where missing",
        )
        yield setup.measure(
            REVEAL_KIND, REVEAL(t=until, takes=takes), f"{safeguard.kind} {number + 1}", note=wrong
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
    clock, why = _clock(setup)
    for number, safeguard in closing:
        wrong = unfit(setup, safeguard)
        time = Quantity.of(
            np.full(setup.trials, np.nan) if wrong else clock.value,
            clock.status,
            name="shortest time until harm",
            unit="s",
            source=wrong or why or f"{', '.join(CLOCKS)}, the least of all places",
        )
        response = setup.number(f"safeguards.{number}.response_time")
        yield setup.measure(
            CLOSING_KIND,
            CLOSING(t=time, response=response),
            f"{safeguard.kind} {number + 1}",
            note=wrong or why,
        )


def _clock(setup: Setup) -> tuple[Quantity, str]:
    """Shortest time until harm from each cell of a run on; missing where some harm is untimed."""
    cells, runs = setup.shape
    least = np.full((cells, runs), np.inf)
    trust = np.zeros((cells, runs), dtype=np.uint8)
    for kind in CLOCKS:
        for measure in setup.measures(kind):
            least = np.minimum(least, measure.value)
            trust = np.maximum(trust, measure.status)
    untimed = np.zeros((cells, runs), dtype=bool)
    reasons = []
    for kind, (limit, side) in UNTIMED.items():
        for measure in setup.measures(kind):
            # What nobody knows may have reached its limit.
            done = ~(side * (measure.value - limit) < 0) | (measure.status == MISSING)
            # A share of exactly nothing is no harm, whatever the limit.
            done &= ~((measure.value == 0) & (side > 0))
            if done.any() and kind not in reasons:
                reasons.append(kind)
            untimed |= done
    value = np.where(untimed, np.nan, least)
    status = np.where(untimed, MISSING, trust)
    for cell in range(cells - 2, 0, -1):  # the plan stands alone; later cells count for earlier
        value[cell] = np.minimum(value[cell], value[cell + 1])
        status[cell] = np.maximum(status[cell], status[cell + 1])
    why = f"no check times what {', '.join(reasons)} says" if reasons else ""
    return Quantity.of(value.reshape(-1), status.reshape(-1)), why


REVEALS = Computation(kinds=(REVEAL_KIND,), compute=_compute_reveals)
CLOSINGS = Computation(kinds=(CLOSING_KIND,), compute=_compute_closing, needs=(*CLOCKS, *UNTIMED))
