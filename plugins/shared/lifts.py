"""A line lifted out of a liquid before the heat goes off: what is forgotten, and who stands by.

Where a solid is heated until it gives gas, the gas ends with the heat, and what cools draws back
the liquid that the gas bubbles through. `lifted:` at a step takes the end of the line out in time.
Played are: that it is forgotten, late or out of order; and that the heat is lost before. The first
a stop on the run sheet reveals, since nobody turns the heat off before the tube is out; of the
second `readiness.lift_margin` says whether somebody who stands by lifts it before the liquid comes
to what is hot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from review import Overlay, Scenario, played

from .names import LIFT_KIND, SHOWN_KIND

#: Where it is measured: at whatever is lifted in the procedure, all of it.
LIFTED_AT = "what is lifted"
#: How the failures end whose heat takes its gas along.
GAS_ENDS = ":its gas ends"


@dataclass(frozen=True)
class Lift:
    """One end lifted out of one item's liquid, by the number of its step."""

    number: int
    step: str
    item: str

    @property
    def name(self) -> str:
        """Its name as a place of a measure."""
        return f"lift out of {self.item}"


def lifts(scenario: Scenario) -> list[Lift]:
    """The first step that lifts the line out of each item."""
    found: dict[str, Lift] = {}
    for number, step in enumerate(scenario.procedure, 1):
        for name in step.lifted:
            found.setdefault(name, Lift(number, step.step, name))
    return list(found.values())


def forgotten(scenario: Scenario) -> Iterator[Overlay]:
    """Each lifting left out."""
    for lift in lifts(scenario):
        later = scenario.procedure[lift.number - 1 :]
        yield Overlay(
            id=f"not lifted:{lift.item}:{lift.step}",
            title=f"the line is not lifted out of {lift.item} in step {lift.step}",
            case="upset",
            changes={f"settings.{s.step}.lifted.{lift.item}": 0.0 for s in later},
            from_step=lift.number,
        )


def with_gas(scenario: Scenario, upsets: Sequence[Overlay]) -> Iterator[Overlay]:
    """Heat lost in mid-step again, where what it heats gives gas only for as long as it is hot."""
    dips = {item.id for item in scenario.train if item.dip_depth is not None}
    drawn = {name for dip in dips for name in scenario.above(dip)}
    for upset in upsets:
        if not upset.id.startswith(("heat lost:", "power lost:")) or upset.from_step is None:
            continue
        off = {
            heat.heats
            for name, heat in scenario.heat.items()
            if upset.changes.get(f"heat.{name}.delivered") == 0.0 and heat.heats in drawn
        }
        ends = {}
        for name, flow in scenario.flows.items():
            held = scenario.reagents[flow.reagent].held
            if held is not None and held.as_ == "generator" and flow.into in off:
                ends[f"flows.{name}.delivered"] = 0.0
        if ends:
            yield replace(
                upset,
                id=f"{upset.id}{GAS_ENDS}",
                title=f"{upset.title}, in mid-step, and no more gas is made",
                changes={**upset.changes, **ends},
                late=True,
            )


def lifted_in_time(scenario: Scenario, upsets: Sequence[Overlay]) -> Iterator[Overlay]:
    """The failures again: with the stop before the heat goes off, and with somebody who lifts."""
    all_lifts, steps = lifts(scenario), scenario.procedure
    for upset in upsets:
        if all_lifts and upset.id.endswith(GAS_ENDS):
            out = {
                f"settings.{s.step}.lifted.{lift.item}": 1.0
                for s in steps[(upset.from_step or 1) - 1 :]
                for lift in all_lifts
            }
            yield replace(
                upset,
                id=f"{upset.id} | somebody lifts it",
                title="somebody who stands by lifts the line out at once",
                changes={**upset.changes, **out},
                counters=upset.id,
                adequacy=(LIFT_KIND, LIFTED_AT),
            )
        for lift in all_lifts:
            until = _stopped(scenario, lift, upset)
            if until is not None:
                yield replace(
                    upset,
                    id=f"{upset.id} | {lift.name}",
                    title=f"the line is out of {lift.item} before the heat goes off",
                    until_step=max(until, upset.from_step or 0),
                    counters=upset.id,
                    adequacy=(SHOWN_KIND, lift.name),
                )
                break


def _stopped(scenario: Scenario, lift: Lift, upset: Overlay) -> int | None:
    """The step before which somebody finds that the line is still in; None where nobody does."""
    kind, *what = upset.id.split(":")
    count = len(scenario.procedure)
    order: list[int | None] = list(range(count))
    if kind == "not lifted":
        return _heat_off(scenario, lift, order, lifted=False) if what[0] == lift.item else None
    names = [step.step for step in scenario.procedure]
    if kind == "skipped":
        order[names.index(what[0])] = None
    elif kind == "swapped":
        n = names.index(what[0])
        order[n], order[n + 1] = n + 1, n
    else:
        return None
    found = _heat_off(scenario, lift, order)
    return None if found == _heat_off(scenario, lift, list(range(count))) else found


def _heat_off(
    scenario: Scenario, lift: Lift, order: Sequence[int | None], lifted: bool = True
) -> int | None:
    """The first step, in this order, in which heat before the item goes off with the line in."""
    numbers = played(scenario, order)
    hot = scenario.above(lift.item)
    heaters = [name for name, heat in scenario.heat.items() if heat.heats in hot]
    was: set[str] = set()
    for place, step in enumerate(scenario.procedure, 1):
        path = f"settings.{step.step}."
        now = {
            name
            for name in heaters
            if any(v for p, v in numbers.items() if p.startswith(f"{path}heat.{name}."))
        }
        if lifted and numbers[f"{path}lifted.{lift.item}"]:
            return None
        if was - now:
            return place
        was = now
    return len(scenario.procedure) + 1 if was else None
