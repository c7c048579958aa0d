"""The procedure in numbers: which step is played when, and what each leaves on.

An overlay can leave a step out or swap two, because all of it is numbers with a path.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from review.scenario import Scenario


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the procedure; the implied one where the file has none."""

    name: str
    duration_path: str


#: The implied last step: everything is off and is left until it is cold.
AFTERWARDS = "after the last step"
LEFT_FOR = 86400.0
#: 1 where what the last step leaves on stays on after it.
LEFT_ON = f"procedure.{AFTERWARDS}.left_on"

#: The number of the step after which the run was broken off, or ended, and begun again at once; 0
#: where it is begun for the first time that day.
BEGUN_AGAIN = "procedure.begun_again_after"


def steps_of(scenario: Scenario) -> tuple[Step, ...]:
    given = tuple(Step(s.step, f"procedure.{s.step}.duration") for s in scenario.procedure)
    if not given:
        given = (Step("run as stated", "duration"),)
    return (*given, Step(AFTERWARDS, f"procedure.{AFTERWARDS}.duration"))


def played(scenario: Scenario, order: Sequence[int | None]) -> dict[str, float]:
    """The numbers that say what is set in each step when the steps are played in this order.

    `order` names, for each place in the procedure, the step played there by its index, or None for
    a step that is skipped: it takes no time and nothing is set. Settings last until a later step
    changes them; before the first step everything is off, but a pump that no step names
    runs in all of them. For a flow or heat source X in step S
    ``settings.S.flows.X.on`` is 1 where its stated value holds, and ``settings.S.flows.X.as.T``
    is 1 where the value written in step T does. The durations follow the steps.
    Positions of valves and ends lifted out of a liquid have numbers of their own.
    """
    steps = scenario.procedure
    out: dict[str, float] = {}
    pumps = [item.id for item in scenario.train if item.suction is not None]
    sections: tuple[tuple[str, Iterable[str]], ...] = (
        ("flows", scenario.flows), ("heat", scenario.heat), ("suction", pumps),
    )  # fmt: skip
    for section, names in sections:
        for name in names:
            written = [s.step for s in steps if _explicit(getattr(s, section).get(name))]
            never = section == "suction" and not any(name in s.suction for s in steps)
            now: str | None = "on" if never else None
            for place, index in enumerate(order):
                if index is not None:
                    said = getattr(steps[index], section).get(name)
                    if said is not None:
                        now = steps[index].step if _explicit(said) else str(said)
                path = f"settings.{steps[place].step}.{section}.{name}"
                out[f"{path}.on"] = 1.0 if now == "on" else 0.0
                out |= {f"{path}.as.{s}": 1.0 if now == s else 0.0 for s in written}
    out |= _valves(scenario, order)
    out |= _lifted(scenario, order)
    for place, index in enumerate(order):
        duration = 0.0 if index is None else steps[index].duration
        out[f"procedure.{steps[place].step}.duration"] = duration
    return out


def _valves(scenario: Scenario, order: Sequence[int | None]) -> dict[str, float]:
    """Positions of valves: ``settings.S.valves.V.open`` and ``….to.N`` for each neighbour N.

    1 where V is open in step S, and where its way to N is; as it is built until a step states it.
    """
    steps = scenario.procedure
    out: dict[str, float] = {}
    named = {name for step in steps for name in step.valves}
    for item in (item for item in scenario.train if item.id in named):
        sides = (item.from_, [other.id for other in scenario.train if item.id in other.from_])
        now = "open" if item.open else "closed"
        for place, index in enumerate(order):
            if index is not None:
                now = steps[index].valves.get(item.id, now)
            out |= position(steps[place].step, item.id, sides, now)
    return out


def _lifted(scenario: Scenario, order: Sequence[int | None]) -> dict[str, float]:
    """``settings.S.lifted.I`` is 1 from the step on that lifts the line out of item I's liquid."""
    steps, now, out = scenario.procedure, set[str](), dict[str, float]()
    named = dict.fromkeys(name for step in steps for name in step.lifted)
    for place, index in enumerate(order):
        now |= set() if index is None else set(steps[index].lifted)
        out |= {f"settings.{steps[place].step}.lifted.{n}": float(n in now) for n in named}
    return out


def position(step: str, valve: str, sides: Sequence[Sequence[str]], now: str) -> dict[str, float]:
    """The numbers of one valve in one step; `sides` are its neighbours before and behind it."""
    path = f"settings.{step}.valves.{valve}"
    out = {f"{path}.open": 0.0 if now == "closed" else 1.0}
    for side in sides:
        for name in side:
            out[f"{path}.to.{name}"] = 0.0 if now in side and now != name else 1.0
    return out


def main_step(scenario: Scenario) -> int:
    """Index of the step that the stated plan stands for.

    The one in which most flows and heat sources are on; of those the longest; of those the first.
    What is never on together is so never judged together; steps that follow one another with the
    same settings are as long as all of them.
    """
    steps = scenario.procedure
    plain = played(scenario, range(len(steps)))
    settings: list[dict[str, float]] = []
    for step in steps:
        prefix = f"settings.{step.step}."
        own = {p.removeprefix(prefix): value for p, value in plain.items() if p.startswith(prefix)}
        settings.append(own)
    switched = [
        sum(value for path, value in own.items() if not path.startswith(("valves.", "lifted.")))
        for own in settings
    ]
    alike = [list(each) for _, each in groupby(range(len(steps)), key=settings.__getitem__)]
    longest = max(
        alike, key=lambda each: (switched[each[0]], sum(steps[n].duration for n in each), -each[0])
    )
    return longest[0]


def _explicit(said: object) -> bool:
    return said is not None and said not in ("on", "off")
