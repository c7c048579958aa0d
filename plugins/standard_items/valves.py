"""Valves in the wrong position: each other one that it has, until the next step sets it."""

from __future__ import annotations

from collections.abc import Iterator

from review import Overlay, Scenario


def wrong_positions(scenario: Scenario) -> Iterator[Overlay]:
    """Each valve that a step sets, in each of its other positions."""
    steps = scenario.procedure
    named = {name for step in steps for name in step.valves}
    for item in (item for item in scenario.train if item.id in named):
        sides = (item.from_, [other.id for other in scenario.train if item.id in other.from_])
        ways = [name for side in sides if len(side) > 1 for name in side]
        now = "open" if item.open else "closed"
        for number, step in enumerate(steps, 1):
            if item.id not in step.valves:
                continue
            now = step.valves[item.id]
            last = number
            while last < len(steps) and item.id not in steps[last].valves:
                last += 1
            lasting = [s.step for s in steps[number - 1 : last]]
            for wrong in _others(now, ways):
                changes: dict[str, float] = {}
                for name in lasting:
                    changes |= _set(name, item.id, sides, wrong)
                yield Overlay(
                    id=f"wrong position:{item.id}:{step.step}:{wrong}",
                    title=f"{item.id} stands at {wrong} instead of {now} from step {step.step} on",
                    case="upset",
                    changes=changes,
                    from_step=number,
                )


def _others(now: str, ways: list[str]) -> list[str]:
    """Positions beside the right one; a valve of two ways is open or closed."""
    if now in ways:
        return [way for way in ways if way != now] + ["closed"]
    return ["closed" if now == "open" else "open"]


def _set(step: str, valve: str, sides: tuple[list[str], list[str]], now: str) -> dict[str, float]:
    """The numbers of one valve in one step, as the procedure writes them."""
    path = f"settings.{step}.valves.{valve}"
    out = {f"{path}.open": 0.0 if now == "closed" else 1.0}
    for side in sides:
        for name in side:
            out[f"{path}.to.{name}"] = 0.0 if now in side and now != name else 1.0
    return out
