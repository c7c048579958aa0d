"""What a user can change otherwise than by a number: place, material, a trap, a safeguard, a purge.

Each change adds or replaces and takes nothing away that protects. Whether it helps is for a review
of the changed file to say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from review.explore.renewed import (
    BOUGHT,
    REBUILT,
    SMALL,
    Change,
    guards,
    item_of,
    joints,
    materials,
)  # fmt: skip
from review.explore.ways import inert
from review.interface.result import Finding, Review
from review.scenario import Scenario

#: The warmest that a water bath is set to, K (95 degC; common practice, no source).
WATER = 368.15
#: A relief that is tried: its share of the least rating that is stated, and what it opens at where
#: none is, bar gauge; its bore and length (common practice, no source).
OF_THE_WEAKEST, OPENS, RELIEF = 0.4, 0.05, {"bore": "8 mm", "length": "300 mm"}
#: What a relief is not let into: lines and what is heated or under liquid.
NO_PLACE = ("line", "reactor", "outlet", "arrester", "valve")
#: Settings of regulators that are tried, bar gauge.
REGULATED = (0.5, 0.3, 0.2, 0.1, 0.05)


def changes(scenario: Scenario, data: Any, review: Review) -> tuple[Change, ...]:
    """All that are worth a review, given what stands against the run; nearest first."""
    against = [f for f in review.findings if f.grade == "unacceptable" or _open(f)]
    made: list[Change] = [
        *_places(scenario, data), *_baths(scenario), *_purges(scenario, data),
        *_traps(scenario, against), *_safeguards(scenario, review),
        *materials(scenario, against), *joints(scenario, against), *guards(scenario, against),
        *_regulators(scenario), *_reliefs(scenario, against),
    ]  # fmt: skip
    return tuple(sorted(made, key=lambda change: change.far))


def _open(finding: Finding) -> bool:
    return finding.grade == "undetermined" and finding.blocks


def _places(scenario: Scenario, data: Any) -> Iterator[Change]:
    """Outlets into the hood or outdoors; the whole train into the hood."""
    here = scenario.ventilation is not None and scenario.ventilation.hood is not None
    outlets = [item.id for item in scenario.train if item.to == "room"]

    def lead(where: str) -> Callable[[Any], None]:
        def make(changed: Any) -> None:
            for id in outlets:
                item_of(changed, id)["to"] = where

        return make

    if outlets and here:
        yield Change("Lead the outlet into the hood", SMALL, lead("hood"))
    if outlets:
        yield Change("Lead the outlet outdoors", BOUGHT, lead("outdoors"))
    if not here and scenario.train:

        def hood(changed: Any) -> None:
            room = changed.setdefault("ventilation", {})
            room["hood"] = {
                "opening_width": "1.2 m",
                "opening_height": "0.4 m",
                "face_velocity": "0.5 m/s",
                "tested": "yes",
                "exhaust": "outdoors",
            }
            _inside(changed)

        says = "Stand the whole train in a tested hood (0.5 m/s, 1.2 m by 0.4 m open)"
        yield Change(says, REBUILT, hood)
    if here and any(item.in_ in (None, "room") for item in scenario.train):
        yield Change("Stand the whole train in the hood", SMALL, _inside)


def _inside(changed: Any) -> None:
    for item in changed["train"]:
        item["in"] = "hood"
        if item.get("to") == "room":
            item["to"] = "hood"


def _baths(scenario: Scenario) -> Iterator[Change]:
    """Warm a liquid in a water bath in place of a plate, mantle or flame."""
    for name, heat in scenario.heat.items():
        setting = heat.set_temperature or heat.hottest or 1e3
        holds = any(item.id == heat.heats and item.liquid for item in scenario.train)
        if not holds or heat.energy == "bath" or setting > WATER:
            continue

        def make(changed: Any, name: str = name, setting: float = setting) -> None:
            entry = changed["heat"][name]
            entry["kind"] = "water bath"
            entry.setdefault("set_temperature", f"{setting - 273.15:.4g} degC")
            entry["hottest"] = "100 degC"
            for key in ("power", "fuel", "fuel_rate"):
                entry.pop(key, None)

        yield Change(f'Warm "{heat.heats}" in a water bath in place of "{name}"', BOUGHT, make)


def _purges(scenario: Scenario, data: Any) -> Iterator[Change]:
    """Inert gas before anything goes on and after everything is off."""
    if not scenario.procedure or not scenario.flows:
        return
    for minutes in (10, 30, 60):
        for name in inert(scenario) or [""]:
            what = f'"{name}"' if name else "500 mL/min of nitrogen"
            yield Change(
                f"Purge with {what} for {minutes} min before the first step, and for {minutes} min "
                "after the last with the other flows off",
                (BOUGHT if name else REBUILT) + minutes / 1000,
                _purge(scenario, name, minutes),
                f"purge {name}",
            )


def _purge(scenario: Scenario, name: str, minutes: int) -> Callable[[Any], None]:
    def make(changed: Any) -> None:
        flow = name or _fresh("purge gas", changed.get("flows", {}))
        if not name:
            first = next(iter(scenario.flows.values()))
            changed["reagents"][flow] = {
                "state": "gas",
                "composition": {"nitrogen": "100 %"},
                "held": {"as": "cylinder", "volume": "10 L", "pressure": "200 bar gauge",
                         "regulator": "0.2 bar gauge"},
            }  # fmt: skip
            changed["flows"][flow] = {
                "reagent": flow, "into": first.into, "rate": "500 mL/min",
                "reference": "standard", "at_most": "2 L/min", "on_power_loss": "stays",
                "instrument": {"kind": "mass flow controller", "calibration_gas": "nitrogen"},
            }  # fmt: skip
        steps = changed["procedure"]
        others = [each for each in scenario.flows if each != flow]
        steps[0].setdefault("flows", {}).setdefault(flow, "off")  # as it was: not yet on
        if not name:
            _back_when_off(steps, others, flow)
        names = {step["step"] for step in steps}
        before, after = _fresh("purge", names), _fresh("last purge", names)
        lasts = f"{minutes} min"
        steps.insert(0, {"step": before, "duration": lasts, "flows": {flow: "on"}})
        closing = {flow: "on", **dict.fromkeys(others, "off")}
        heat = dict.fromkeys(scenario.heat, "off")
        last = {"step": after, "duration": lasts, "flows": closing}
        steps.append({**last, "heat": heat} if heat else last)

    return make


def _back_when_off(steps: list[Any], others: Iterable[str], flow: str) -> None:
    """The purge gas comes back in the step in which the last of the other flows goes off."""
    on: set[str] = set()
    for step in steps:
        said = step.get("flows", {})
        before = set(on)
        for other in others:
            if other in said:
                (on.discard if said[other] == "off" else on.add)(other)
        if before and not on:
            step["flows"][flow] = "on"
            return


def _traps(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """An empty trap before a bottle whose liquid could be drawn back."""
    for n, item in enumerate(scenario.train):
        if not item.liquid or item.kind not in ("wash bottle", "bubbler", "absorber"):
            continue
        if any(item.id in other.from_ for m, other in enumerate(scenario.train) if m != n + 1):
            continue
        if len(item.from_) != 1:
            continue
        holds = item.liquid_volume or 250e-6
        millilitres = max(100, int(-(-holds * 1.5e6 // 50) * 50))

        def make(changed: Any, name: str = item.id, size: int = millilitres) -> None:
            train = changed["train"]
            item = item_of(changed, name)
            n = train.index(item)
            id = _fresh("trap", {each["id"] for each in train})
            above = item.get("from") or train[n - 1]["id"]
            trap = {"id": id, "kind": "trap", "from": above, "gas_volume": f"{size} mL",
                    "material": item.get("material", "borosilicate glass 3.3"), "home_made": "no",
                    "in": item.get("in", "room")}  # fmt: skip
            for key in ("rating", "joint", "joint_material", "joint_rating"):
                if key in item:
                    trap[key] = item[key]
            item["from"] = id
            train.insert(n, trap)

        says = f'Put an empty trap of {millilitres} mL before "{item.id}"'
        yield Change(says, BOUGHT, make)


def _safeguards(scenario: Scenario, review: Review) -> Iterator[Change]:
    """Detectors for what none senses, and switches that shut every feed but the inert ones."""
    feeds = [name for name in scenario.flows if name not in inert(scenario)]
    here = scenario.ventilation is not None and scenario.ventilation.hood is not None
    place = "hood" if here else "room"
    for gas in review.facts.get("undetected", ()):
        alarm = "10 % LFL" if gas in review.facts.get("combustibles", ()) else "1 ppm"
        entry = {"kind": "detector", "senses": gas, "alarm": alarm, "at": place}
        says = f"Add a detector for {gas} in the {place}, alarm at {alarm}"
        yield Change(says, BOUGHT, _add(entry))
    for what in (*scenario.flows, *scenario.heat, *(["ventilation"] if here else [])):
        shuts = [feed for feed in feeds if feed != what]
        if shuts:
            entry = {"kind": "flow switch" if what not in scenario.heat else "temperature switch",
                     "senses": what, "closes": shuts, "response_time": "2 s"}  # fmt: skip
            names = ", ".join(f'"{feed}"' for feed in shuts)
            said = "the hood" if what == "ventilation" else f'"{what}"'
            yield Change(
                f"Add a switch that shuts {names} within 2 s when {said} fails", BOUGHT, _add(entry)
            )
    everything = [*scenario.flows, *scenario.heat]
    if everything and scenario.procedure:
        reveals = [*everything, *(["ventilation"] if here else [])]
        entry = {"kind": "check list", "reveals": reveals, "takes": "30 s"}
        yield Change("Look at every flow and heater by a check list before each step", SMALL,
                     _add(entry))  # fmt: skip


def _add(entry: dict[str, Any]) -> Callable[[Any], None]:
    def make(changed: Any) -> None:
        changed.setdefault("safeguards", []).append(dict(entry))

    return make


def _regulators(scenario: Scenario) -> Iterator[Change]:
    """All regulators lower at once, where there are several; one alone is a number to turn."""
    held = {name: reagent.held.regulator - scenario.ambient.pressure
            for name, reagent in scenario.reagents.items()
            if reagent.held and reagent.held.regulator}  # fmt: skip
    for bar in REGULATED:
        if len(held) < 2 or min(held.values()) <= bar * 1e5:
            continue

        def make(changed: Any, bar: float = bar) -> None:
            for name in held:
                changed["reagents"][name]["held"]["regulator"] = f"{bar:g} bar gauge"

        far = math.log(min(held.values()) / (bar * 1e5))
        yield Change(f"Set every regulator to {bar:g} bar gauge", far, make, "regulators")


def _reliefs(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """A relief on each vessel, where something may be pressed beyond what it holds."""
    if not any(f.criterion.startswith(("pressure.working", "pressure.plugged")) for f in against):
        return
    rated = [r - scenario.ambient.pressure for item in scenario.train
             for r in (item.rating, item.joint_rating) if r is not None]  # fmt: skip
    bar = OF_THE_WEAKEST * min(rated) / 1e5 if rated else OPENS
    bar = math.floor(100 * bar) / 100
    hood = scenario.ventilation is not None and scenario.ventilation.hood is not None
    for item in scenario.train:
        if item.relief is not None or item.kind in NO_PLACE or not bar > 0:
            continue
        led = {"to": "hood"} if hood and item.in_ != "hood" else {}

        def make(changed: Any, id: str = item.id, led: dict[str, str] = led) -> None:
            opens = {"opens_at": f"{bar:g} bar gauge"}
            item_of(changed, id)["relief"] = {**opens, **RELIEF, **led}

        where = ", led into the hood" if led else ""
        says = f'Fit a relief on "{item.id}" that opens fully at {bar:g} bar, 8 mm wide{where}'
        yield Change(says, BOUGHT, make)


def _fresh(name: str, taken: Iterable[str]) -> str:
    """A name that is not taken."""
    names = set(taken)
    return next(n for n in (name, *(f"{name} {k}" for k in range(2, 99))) if n not in names)
