"""Valves in the wrong position, gases behind the wrong valve, check valves that leak, and what
makes a gas poured together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import combinations

from review import Overlay, Reference, Scenario

#: Shares of what burns up to which a cylinder may have the outlet of gases that do not burn, and
#: from which it may have that of gases that do (ISO 10156 draws the line between them).
INERT_OUTLET, FUEL_OUTLET = 0.10, 0.01
#: Shares of oxygen between which a cylinder has the outlet of air.
LIKE_AIR = (0.15, 0.235)


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


def left_open(scenario: Scenario) -> Iterator[Overlay]:
    """Each item that is built shut and that no step opens, standing open instead."""
    named = {name for step in scenario.procedure for name in step.valves}
    for item in scenario.train:
        if item.open or item.id in named:
            continue
        for number, step in enumerate(scenario.procedure, 1):
            yield Overlay(
                id=f"wrong position:{item.id}:{step.step}",
                title=f"{item.id} stands open instead of closed from step {step.step} on",
                case="upset",
                changes={f"train.{item.id}.stands_open": 1.0},
                from_step=number,
            )


def leaking_back(scenario: Scenario) -> Iterator[Overlay]:
    """Each check valve, which fails unseen: it lets back what it should hold."""
    for item in scenario.train:
        if item.cracking_pressure is None:
            continue
        for number, step in enumerate(scenario.procedure, 1):
            yield Overlay(
                id=f"check valve leaks:{item.id}:{step.step}",
                title=f"{item.id} does not close from step {step.step} on",
                case="upset",
                changes={f"train.{item.id}.holds_back": 0.0},
                from_step=number,
            )


def exchanged(scenario: Scenario, reference: Reference) -> Iterator[Overlay]:
    """Two cylinders at each other's regulator, where their valves' outlets may be alike.

    Outlets differ by what the gas does: burns, oxidises, is air, or none of these; of all others
    each gas has its own. Both sides of a doubt count. (DIN 477-1 and CGA V-1, from memory.)
    """
    if not scenario.procedure:
        return
    for a, b in combinations(scenario.flows, 2):
        same = scenario.flows[a].reagent == scenario.flows[b].reagent
        if same or not alike(scenario, reference, a, b):
            continue
        yield Overlay(
            id=f"exchanged:{a}:{b}",
            title=f"the cylinders of {a} and {b} are exchanged",
            case="upset",
            changes={f"flows.{a}.gas_of.{b}": 1.0, f"flows.{b}.gas_of.{a}": 1.0},
            from_step=1,
        )


#: Share of its efficiency that an absorber keeps where gas rushes through it: large bubbles and
#: jets touch it for a tenth of a second (a judgement, no source).
OVERWHELMED = 0.5


def poured(
    steps: Iterable[tuple[int, str, frozenset[str]]], scenario: Scenario
) -> Iterator[Overlay]:
    """Each generator whose reagents nothing keeps apart, with all of them together at once.

    Once with absorbents that take up what they are said to, which heats them and draws liquid back,
    and once more overwhelmed: their efficiency holds for the stated rate, not a hundred times it.
    """
    absorbers = [item.id for item in scenario.train if item.absorbs]
    for number, step, flows in steps:
        for name in sorted(flows):
            held = scenario.reagents[scenario.flows[name].reagent].held
            if held is None or held.as_ != "generator" or held.limited_by is not None:
                continue
            once = Overlay(
                id=f"all at once:{name}:{step}",
                title=f"all that makes {name} meets at once in step {step}",
                case="upset",
                changes={f"flows.{name}.poured": 1.0},
                from_step=number,
            )
            yield once
            if absorbers:
                yield replace(
                    once,
                    id=f"{once.id}:through",
                    title=f"{once.title} and comes through what absorbs it",
                    changes={
                        **once.changes,
                        **{f"train.{i}.absorbing": OVERWHELMED for i in absorbers},
                    },
                )


def alike(scenario: Scenario, reference: Reference, a: str, b: str) -> bool:
    """Whether two flows come from cylinders whose valves may have the same outlet."""
    reagents = [scenario.flows[name].reagent for name in (a, b)]
    held = [scenario.reagents[name].held for name in reagents]
    if not all(each is not None and each.as_ == "cylinder" for each in held):
        return False
    first, second = (_outlets(scenario, reference, name) for name in reagents)
    return bool(first & second)


def _outlets(scenario: Scenario, reference: Reference, reagent: str) -> set[str]:
    """Kinds of outlet that the cylinder of a gas may have."""
    shares = scenario.reagents[reagent].composition
    known = [(reference.substance(text), share) for text, share in shares.items()]
    oxygen = sum(share for gas, share in known if gas.name == "oxygen")
    burns = sum(share for gas, share in known if gas.combustible is not False)
    own = {
        gas.name
        for gas, _ in known
        if gas.combustible is False and gas.name != "oxygen" and gas.inert is not True
    }
    if own:
        return own
    found = {"fuel"} if burns >= FUEL_OUTLET else set()
    if burns <= INERT_OUTLET and oxygen <= LIKE_AIR[0]:
        found.add("inert")
    if LIKE_AIR[0] <= oxygen <= LIKE_AIR[1]:
        found.add("air")
    return found | ({"oxygen"} if oxygen > LIKE_AIR[1] else set())


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
