"""The steps of a run: what is turned on and off in each, and how long it must last at least."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from review.interface.result import Finding, Review
from review.reference.finding import Reference, UnknownName
from review.render import words
from review.scenario import Scenario
from review.scenario.units import show

#: Kinds that tell the time a step needs over the time it is given, and what the time is for.
_PURGE, _COOLING = "readiness.purge_ratio", "readiness.cooling_ratio"
#: What a time with the heat on counts as in the cooling ratio, s.
_HEATED = 1.0
#: General trade practice; common practice, no source.
OFF_IN_ORDER = (
    "Off in this order: what burns, oxidises or poisons, then heat; inert gas last, when all is "
    "cold."
)
AS_PLANNED = "as planned"


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step: what it is called, what is done in it, how long it is planned and must last."""

    name: str
    does: tuple[str, ...]
    planned: str
    hold: str
    note: str = ""


def step_lines(review: Review, scenario: Scenario) -> tuple[StepLine, ...]:
    """The steps in order; without a procedure the stated settings as one step."""
    if not scenario.procedure:
        on = [_with_rate(scenario, "flows", name) for name in scenario.flows]
        on += [_with_rate(scenario, "heat", name) for name in scenario.heat]
        on += [item.id for item in scenario.train if item.suction is not None]
        lasts = _minutes(scenario.duration) if scenario.duration else "not stated"
        stated = (f"on: {words.listed(on)}",) if on else ()
        return (StepLine("run as stated", stated, lasts, AS_PLANNED),)
    running: dict[tuple[str, str], str] = {}
    lines = []
    for number, step in enumerate(scenario.procedure):
        does = _done(scenario, number, running)
        heated = {name for section, name in running if section == "heat"}
        hold = _hold(review.findings, step.step, step.duration, heated)
        planned = _written(scenario, ("procedure", number, "duration"))
        lines.append(
            StepLine(
                name=words.clean(step.step),
                does=does,
                planned=planned or _minutes(step.duration),
                hold=hold,
                note=words.clean(step.note or ""),
            )
        )
    return tuple(lines)


def still_on(scenario: Scenario) -> str:
    """What the procedure leaves on at its end, and in which order it goes off; "" where nothing."""
    running: dict[tuple[str, str], str] = {}
    for number in range(len(scenario.procedure)):
        _done(scenario, number, running)
    if not running:
        return ""
    return f"Still on when the last step is over: {words.listed(running.values())}. {OFF_IN_ORDER}"


def _done(scenario: Scenario, number: int, running: dict[tuple[str, str], str]) -> tuple[str, ...]:
    """What is turned off, on and to another value in a step; `running` is kept up to date."""
    step = scenario.procedure[number]
    off: list[str] = []
    on: list[str] = []
    heat_off: list[str] = []
    heat_on: list[str] = []
    changed: list[str] = []
    turned: tuple[tuple[str, Mapping[str, object]], ...] = (
        ("flows", step.flows), ("heat", step.heat), ("suction", step.suction),
    )  # fmt: skip
    for section, given in turned:
        for name, value in given.items():
            was = running.pop((section, name), None)
            if value == "off":
                (off if section == "flows" else heat_off).extend([words.clean(name)] if was else [])
                continue
            said = running[section, name] = _with_rate(scenario, section, name, number)
            if was is None:
                (on if section == "flows" else heat_on).append(said)
            elif was != said:
                changed.append(said)
    set_to = [f"{name} to {position}" for name, position in step.valves.items()]
    still = [said for said in running.values() if said not in (*on, *heat_on, *changed)]
    waits = words.listed([words.clean(name) for name in step.hold])
    out = [words.clean(name) for name in step.lifted]
    found = (
        f"STOP until the flow of {waits} and its purge are proven; else heat and feed stay off"
        if waits
        else "",
        f"STOP: lift the end of the line out of {words.listed(out)}; the heat stays on until it "
        "is out"
        if out
        else "",
        f"turn {words.listed([words.clean(each) for each in set_to])}" if set_to else "",
        *_exchanged(scenario, number, off, on, (heat_off, heat_on)),
        f"change to {words.listed(changed)}" if changed else "",
        f"{words.listed(still)} {'goes' if len(still) == 1 else 'go'} on" if still else "",
        "" if running else "all is off",
    )
    return tuple(part for part in found if part)


def _exchanged(
    scenario: Scenario,
    number: int,
    off: list[str],
    on: list[str],
    heat: tuple[list[str], list[str]],
) -> tuple[str, ...]:
    """What goes off and what comes on, in the order in which it is done.

    Inert gas comes on before the other goes off, and goes off last, so that no moment is without
    flow; fuel and air never overlap.
    """
    heat_off, heat_on = heat
    if not (off and on):  # heat goes with whatever else goes the same way
        off, on, heat_off, heat_on = [*off, *heat_off], [*on, *heat_on], [], []
    turned_off = f"turn off {words.listed(off)}" if off else ""
    turned_on = f"turn on {words.listed(on)}" if on else ""
    then = tuple(
        f"{what} {words.listed(named)}"
        for what, named in (("turn off", heat_off), ("then turn on", heat_on))
        if named
    )
    given = scenario.procedure[number].flows
    new = [name for name, said in given.items() if said != "off"]
    old = [name for name, said in given.items() if said == "off"]
    if not (off and on and new and old):
        return turned_off, turned_on, *then
    if all(_inert(scenario, name) for name in new) or all(_inert(scenario, name) for name in old):
        return f"first {turned_on}; when its flow is seen, {turned_off}", *then
    return f"first {turned_off}; when its flow is seen to have stopped, {turned_on}", *then


def _inert(scenario: Scenario, flow: str) -> bool:
    """Whether all that a flow holds is inert, by the reference data; unknown is not."""
    reference = Reference()
    try:
        held = scenario.reagents[scenario.flows[flow].reagent].composition
        return bool(held) and all(reference.substance(name).inert for name in held)
    except (UnknownName, KeyError):
        return False


def at_least(seconds: float) -> str:
    """A time that must not be cut short, rounded up to what a clock on the wall shows.

    >>> at_least(41.2), at_least(359.4), at_least(2919.0), at_least(9301.0)
    ('42 s', '6 min', '49 min', '2 h 36 min')
    """
    if seconds <= 120:
        return f"{math.ceil(seconds - _ROUNDING)} s"
    minutes = math.ceil(seconds / 60 - _ROUNDING)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


#: What is left over when a whole number of seconds or minutes went through a ratio.
_ROUNDING = 1e-9


def _hold(findings: Iterable[Finding], step: str, duration: float, heated: set[str]) -> str:
    """How long the criteria ask a step to last: the ratio's own limit, not more and not less."""
    held: dict[str, tuple[float, bool]] = {}
    unknown = []
    for finding in findings:
        if finding.case != "step" or finding.at != step or finding.kind not in (_PURGE, _COOLING):
            continue
        what = "purge" if finding.kind == _PURGE else f"{finding.of} must cool".strip()
        if math.isnan(finding.value) or not finding.limit or finding.status == "outside range":
            unknown.append(what)
        elif finding.value > 0:
            given = duration
            if finding.kind == _COOLING:
                given = _HEATED if finding.of in heated else max(duration, _HEATED)
                what += " after it is off" if finding.of in heated else ""
            needed = finding.value * given / finding.limit
            estimated = finding.status == "estimated"
            if needed > held.get(what, (0.0, False))[0]:
                held[what] = needed, estimated
    return "; ".join(_in_words(held, unknown, duration)) or AS_PLANNED


def _in_words(
    held: Mapping[str, tuple[float, bool]], unknown: Iterable[str], duration: float
) -> Iterable[str]:
    for what, (seconds, estimated) in held.items():
        if math.isinf(seconds):
            yield f"{what}: no time is enough"
            continue
        longer = ", MORE than planned" if seconds > duration * (1 + _ROUNDING) else ""
        doubt = ", an estimate" if estimated else ""
        yield f"{at_least(seconds)} ({what}{doubt}){longer}"
    for what in dict.fromkeys(unknown):
        yield f"not known ({what}): measure before going on"


def _with_rate(scenario: Scenario, section: str, name: str, step: int | None = None) -> str:
    """A flow or heat source with the value it is set to: the step's own, else the stated one."""
    own = _written(scenario, ("procedure", step, section, name)) if step is not None else ""
    stated = {"flows": "rate", "heat": "set_temperature"}.get(section, "")
    value = own if own not in ("", "on") else _written(scenario, (section, name, stated))
    return words.clean(f"{name} {value}".strip())


def _written(scenario: Scenario, path: tuple[str | int, ...]) -> str:
    place = scenario.places.get(path)
    return words.clean(place.text) if place else ""


def _minutes(seconds: float) -> str:
    return show(seconds, "min")
