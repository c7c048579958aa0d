"""Hold points: steps that wait until a flow is proven, and the failures that this reveals.

A hold is stated as `hold:` at a step, or as a flow check that reveals flows. Nothing in its step is
switched before the flow is seen to come, so it reveals at once that the flow never came, that the
step which starts it was left out or comes only now, and that its way is blocked. What goes wrong
later it does not reveal, nor a leak: an instrument before the leak still shows the flow. Only what
lets all of it out before a liquid that it bubbles through is seen there. Whether anything shows the
flow, `readiness.hold_shown` says; without it nothing is credited.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from review import Overlay, Scenario

from .names import SHOWN_KIND

_CHECK = "flow check"
#: Failures that let all gas out, and the criteria that a look before the step is in time for: what
#: could burn only later. What leaks is breathed at once.
LEAKS, FIRE = ("joint open outward", "broken"), ("flammability.", "ignition.", "heat.")


@dataclass(frozen=True)
class Hold:
    """One step that waits, by its number, for one flow."""

    number: int
    step: str
    flow: str

    @property
    def name(self) -> str:
        """Its name as a place of a measure."""
        return f"hold before {self.step}: {self.flow}"


def holds(scenario: Scenario) -> list[Hold]:
    """Every hold point, in the order of the steps."""
    found: dict[tuple[int, str], Hold] = {}
    for number, step in enumerate(scenario.procedure, 1):
        flows = list(step.hold)
        for safeguard in scenario.safeguards:
            if safeguard.kind == _CHECK and safeguard.before in (None, step.step):
                flows += [name for name in safeguard.reveals if name in scenario.flows]
        for flow in flows:
            if _on_before(scenario, flow, number) or _starts(scenario, flow, number):
                found[number, flow] = Hold(number, step.step, flow)
    return list(found.values())


def held(scenario: Scenario, upsets: Sequence[Overlay]) -> Iterator[Overlay]:
    """The failures again, each with the first hold point that reveals it."""
    points = holds(scenario)
    for upset in upsets:
        for hold in points:
            until = _revealed(scenario, hold, upset)
            if until is not None:
                yield replace(
                    upset,
                    id=f"{upset.id} | {hold.name}",
                    title=f"{hold.flow} proven before step {hold.step}",
                    until_step=until,
                    counters=upset.id,
                    adequacy=(SHOWN_KIND, hold.name),
                    in_time_for=FIRE if upset.id.startswith(LEAKS) else (),
                )
                break


def _revealed(scenario: Scenario, hold: Hold, upset: Overlay) -> int | None:
    """The step from which on somebody knows of a failure; None where the hold does not show it."""
    kind, *what = upset.id.split(":")
    start = upset.from_step or 0
    if kind in ("swapped", "skipped") and _starts(scenario, hold.flow, hold.number):
        return None  # the step that waits turns the flow on itself, and sees it
    if kind == "swapped":
        names = [step.step for step in scenario.procedure]
        first, second = names.index(what[0]) + 1, names.index(what[1]) + 1
        # The step that waits comes before the one that starts its flow.
        if hold.number == second and _starts(scenario, hold.flow, first):
            return None if _on_before(scenario, hold.flow, first) else start
        # What comes between it and its step shuts the flow.
        shut = scenario.procedure[second - 1].flows.get(hold.flow) == "off"
        return second if hold.number == first and shut else None
    if kind == "skipped":
        left_out = [step.step for step in scenario.procedure].index(what[0]) + 1
        if left_out >= hold.number or not _on_before(scenario, hold.flow, hold.number):
            return None
        return None if _on_before(scenario, hold.flow, hold.number, left_out) else hold.number
    stops = (kind == "flow lost" and what[0] == hold.flow) or (
        kind == "blocked" and what[0] in _way(scenario, hold.flow)
    )
    stops |= kind in LEAKS and what[0] in _before_bubbles(scenario, hold.flow)
    stops |= kind == "power lost" and upset.changes.get(f"flows.{hold.flow}.delivered") == 0.0
    if not stops or start > hold.number:
        return None
    if start < hold.number:
        return hold.number
    # Of a flow that comes only now, the step waits to see it; one that came may still be lost.
    fresh = not _on_before(scenario, hold.flow, hold.number) and not upset.late
    return start if fresh else None


def _starts(scenario: Scenario, flow: str, number: int) -> bool:
    said = scenario.procedure[number - 1].flows.get(flow)
    return said is not None and said != "off"


def _on_before(scenario: Scenario, flow: str, number: int, left_out: int = 0) -> bool:
    """Whether a flow is on when a step begins, one step before it left out."""
    on = False
    for before, step in enumerate(scenario.procedure[: number - 1], 1):
        said = step.flows.get(flow) if before != left_out else None
        on = on if said is None else said != "off"
    return on


def _before_bubbles(scenario: Scenario, flow: str) -> list[str]:
    """Items that all gas of a flow has to pass to come to the last liquid that it bubbles through.

    Whoever looks there sees it stop where one of these breaks or its joint lets it out.
    """
    way = _way(scenario, flow)
    dips = [n for n, name in enumerate(way) if scenario.item(name).dip_depth]
    return way[: max(dips, default=0)]


def _way(scenario: Scenario, flow: str) -> list[str]:
    """Items that all gas of a flow has to pass, in its order: up to where the train branches."""
    after: dict[str, list[str]] = {}
    for item in scenario.train:
        for upstream in item.from_:
            after.setdefault(upstream, []).append(item.id)
    found = [scenario.flows[flow].into]
    while len(after.get(found[-1], ())) == 1 and after[found[-1]][0] not in found:
        found.append(after[found[-1]][0])
    return found
