"""Suction and feeds that contradict one another."""

from __future__ import annotations

from collections.abc import Iterator

from review.scenario.errors import quoted
from review.scenario.models import Scenario
from review.scenario.yaml import Where


def sucked_and_fed(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    """Suction and feeds that cannot both be."""
    for i, item in enumerate(scenario.train):
        path: Where = ("train", i, "suction")
        if item.suction is None:
            continue
        if not item.from_:
            yield path, "nothing stands before the pump: name what it sucks on, `from: ...`"
        if not any(item.id in other.from_ for other in scenario.train):
            yield path, "nothing stands behind the pump: write an outlet where its exhaust goes"
        if item.suction.lowest_pressure >= scenario.ambient.pressure:
            yield (*path, "lowest_pressure"), "not below the pressure of the room: it sucks nothing"
        before = scenario.above(item.id)
        for k, other in enumerate(scenario.train):
            if other.to is not None and set(other.from_) & before and item.id not in other.from_:
                yield (
                    ("train", k, "from"),
                    f"{quoted(item.id)} sucks on this outlet: what is drawn in there is a flow of "
                    "room air (held: {as: room air}), not an outlet",
                )
        yield from _drawn_and_fed(scenario, i, before)


def _drawn_and_fed(scenario: Scenario, i: int, before: set[str]) -> Iterator[tuple[Where, str]]:
    """More fed in than the pump draws, or room air where the pump stands still."""
    item = scenario.train[i]
    most = item.suction.can_draw if item.suction else None
    into = [name for name, flow in scenario.flows.items() if flow.into in before]
    ways = {scenario.flows[name].rate.by for name in into}
    if most is None or not into or ways != {most.by}:
        return
    total = sum(scenario.flows[name].rate.value for name in into)
    if total > most.value:
        yield (
            ("train", i, "suction", "can_draw"),
            f"less than what flows in before it, {_listing(into)} together",
        )


def _listing(names: list[str]) -> str:
    """Names in quotes, in a row."""
    return " and ".join(quoted(name) for name in names)
