"""What reaches a train from outside itself: wind, another supply's hose, another branch's gas."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from review import Overlay, Reference, Scenario

from .valves import alike

#: Fastest wind of a gale, 34 to 40 knots, Beaufort 8, m/s: nobody runs an experiment in a storm (a
#: judgement).
GALE = 20.6


def windy(scenario: Scenario) -> Iterator[Overlay]:
    """Wind onto all outlets that lead outdoors, in every step: one wind, so one failure."""
    ends = [item.id for item in scenario.train if item.to == "outdoors" and item.suction is None]
    if ends and scenario.procedure:
        yield Overlay(
            id=f"wind:{ends[0]}",
            title=f"wind blows onto {' and '.join(ends)}",
            case="upset",
            changes={f"train.{name}.wind": GALE for name in ends},
            from_step=1,
        )


def hoses_exchanged(scenario: Scenario, reference: Reference) -> Iterator[Overlay]:
    """Two gases at each other's valve because their hoses were exchanged.

    Hoses fit each other unless both name a connector and these differ. Cylinders that can be
    exchanged themselves bring the same and are not played twice. A gas that is made in the train,
    and room air, come through no hose.
    """
    if not scenario.procedure:
        return
    held = {item.id for item in scenario.train if item.liquid is not None}
    hoses = {}
    for name, flow in scenario.flows.items():
        reagent = scenario.reagents[flow.reagent]
        how = None if reagent.held is None else reagent.held.as_
        made = how == "generator" and (flow.into in held or _in_place(scenario, name))
        if reagent.state == "gas" and how != "room air" and not made:
            hoses[name] = flow
    for a, b in combinations(hoses, 2):
        ends = {hoses[a].connector, hoses[b].connector}
        differ = None not in ends and len(ends) > 1
        if hoses[a].reagent == hoses[b].reagent or differ or alike(scenario, reference, a, b):
            continue
        yield Overlay(
            id=f"hoses exchanged:{a}:{b}",
            title=f"the hoses of {a} and {b} are exchanged",
            case="upset",
            changes={f"flows.{a}.gas_of.{b}": 1.0, f"flows.{b}.gas_of.{a}": 1.0},
            from_step=1,
        )


def _in_place(scenario: Scenario, name: str) -> bool:
    """Whether a flow is gas made in the vessel that it enters: what is dropped or ferments
    there, and what gives it off in what is heated; a generator beside the train has a hose."""
    flow = scenario.flows[name]
    held, item = scenario.reagents[flow.reagent].held, scenario.item(flow.into)
    by = None if held is None else held.limited_by
    if by == "heat":
        return any(heat.heats == flow.into for heat in scenario.heat.values())
    vessel = item.capacity is not None or item.gas_volume is not None
    return by in ("dropping funnel", "fermentation") and vessel


def pushed_back(
    scenario: Scenario, steps: Sequence[tuple[int, str, frozenset[str]]]
) -> Iterator[Overlay]:
    """Each item that branches with different gases join, blocked: each presses into the others.

    `steps` are number, name and the flows that are on. What is blocked further on does the same.
    """
    above = {item.id: scenario.above(item.id) | {item.id} for item in scenario.train}
    for item in (item for item in scenario.train if len(item.from_) > 1):
        for number, name, on in steps:
            bring = [
                {f.reagent for n, f in scenario.flows.items() if n in on and f.into in above[way]}
                for way in item.from_
            ]
            if len(set.union(*bring)) < 2 or all(each == bring[0] for each in bring):
                continue
            path = f"train.{item.id}"
            yield Overlay(
                id=f"pushed back:{item.id}:{name}",
                title=f"{item.id} is blocked and one branch pushes into another from step"
                f" {name} on",
                case="upset",
                changes={f"{path}.blocked": 1.0, f"{path}.pushed_back": 1.0},
                from_step=number,
            )
