"""Ways of saying the same, each a function of a file's data; None where it has nothing of the kind.

Units, synonyms, orders, names, what is understood written out, and parts that touch nothing.
"""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Callable, Iterator
from typing import Any

from review.scenario import units

Data = dict[str, Any]
Way = Callable[[Data, random.Random], Data | None]
SAME: list[Way] = []


def same(change: Callable[[Data], Data | None]) -> Way:
    def way(data: Data, draw: random.Random) -> Data | None:
        return change(copy.deepcopy(data))

    way.__name__ = change.__name__
    SAME.append(way)
    return way


def rewritten(part: Any, pattern: str, by: Callable[[float], str]) -> Any:
    """Every text that is a number with this unit, written otherwise."""
    if isinstance(part, dict):
        return {key: rewritten(value, pattern, by) for key, value in part.items()}
    if isinstance(part, list):
        return [rewritten(each, pattern, by) for each in part]
    found = re.fullmatch(rf"(-?[\d.]+) {pattern}", part) if isinstance(part, str) else None
    return by(float(found[1])) if found else part


def renamed(part: Any, names: dict[str, str]) -> Any:
    """Names exchanged wherever they stand, as keys and as values."""
    if isinstance(part, dict):
        return {
            names.get(key, key): value if key in ("title", "purpose") else renamed(value, names)
            for key, value in part.items()
        }
    if isinstance(part, list):
        return [renamed(each, names) for each in part]
    return names.get(part, part) if isinstance(part, str) else part


def turned(data: Data, key: str) -> Data | None:
    part = data.get(key)
    if not part or len(part) < 2:
        return None
    data[key] = dict(reversed(part.items())) if isinstance(part, dict) else part[::-1]
    return data


@same
def litres_per_hour(data: Data) -> Data:
    out: Data = rewritten(data, "mL/min", lambda n: f"{n * 0.06!r} L/hour")
    return out


@same
def millimetres_as_metres(data: Data) -> Data:
    out: Data = rewritten(data, "mm", lambda n: f"{n / 1000!r} m")
    return out


@same
def gauge_as_absolute(data: Data) -> Data:
    """By the room's pressure."""
    said = data.get("ambient", {}).get("pressure", "1 atm")
    room = units.parse(said, "pressure_absolute") / 1e5
    out: Data = rewritten(data, "bar gauge", lambda n: f"{n + room!r} bar absolute")
    return out


@same
def celsius_as_kelvin(data: Data) -> Data:
    out: Data = rewritten(data, "degC", lambda n: f"{n + 273.15!r} K")
    return out


@same
def minutes_as_hours(data: Data) -> Data:
    out: Data = rewritten(data, "min", lambda n: f"{n / 60!r} hour")
    return out


@same
def percent_as_fractions(data: Data) -> Data:
    for reagent in data.get("reagents", {}).values():
        reagent["composition"] = rewritten(
            reagent["composition"], "%", lambda n: f"{n * 10000!r} ppm"
        )
    return data


@same
def flows_in_another_order(data: Data) -> Data | None:
    return turned(data, "flows")


@same
def reagents_in_another_order(data: Data) -> Data | None:
    return turned(data, "reagents")


@same
def safeguards_in_another_order(data: Data) -> Data | None:
    return turned(data, "safeguards")


@same
def sections_in_another_order(data: Data) -> Data:
    return dict(reversed(data.items()))


def _explicit(data: Data) -> Data:
    before: list[str] = []
    for item in data["train"]:
        item.setdefault("from", before)
        before = [item["id"]]
    return data


@same
def what_stands_before_written_out(data: Data) -> Data:
    return _explicit(data)


@same
def items_in_another_order(data: Data) -> Data | None:
    return turned(_explicit(data), "train")


@same
def substances_by_formula(data: Data) -> Data:
    formulae = {
        "hydrogen": "H2", "nitrogen": "N2", "oxygen": "O2", "carbon monoxide": "CO",
        "carbon dioxide": "CO2", "methane": "CH4", "ammonia": "NH3", "methanol": "67-56-1",
        "water": "H2O", "hydrogen chloride": "HCl", "argon": "7440-37-1", "propane": "74-98-6",
    }  # fmt: skip
    for reagent in data.get("reagents", {}).values():
        reagent["composition"] = renamed(reagent["composition"], formulae)
    return data


@same
def what_is_on_told_again(data: Data) -> Data | None:
    """Each step says all that is on in it."""
    flows: Data = {}
    heat: Data = {}
    if not data.get("procedure"):
        return None
    for step in data["procedure"]:
        flows |= step.get("flows", {})
        heat |= step.get("heat", {})
        step |= {key: dict(now) for key, now in (("flows", flows), ("heat", heat)) if now}
    return data


@same
def off_as_nothing(data: Data) -> Data | None:
    found = False
    for step in data.get("procedure", []):
        for name, said in step.get("flows", {}).items():
            if said == "off":
                step["flows"][name], found = "0 mL/min", True
    return data if found else None


@same
def the_rest_called_rest(data: Data) -> Data | None:
    found = False
    for reagent in data.get("reagents", {}).values():
        mix = reagent["composition"]
        if len(mix) > 1 and not {"rest", "balance"} & {*mix.values()}:
            mix[max(mix, key=lambda name: float(str(mix[name]).split()[0]))] = "rest"
            found = True
    return data if found else None


@same
def items_by_other_names(data: Data) -> Data:
    items = {item["id"]: f"part {n}" for n, item in enumerate(data["train"])}
    taken = {*data.get("reagents", {}), *data.get("flows", {}), *data.get("heat", {})}
    taken |= {step["step"] for step in data.get("procedure", [])}
    out: Data = _named(data, {a: b for a, b in items.items() if a not in taken})
    return out


@same
def flows_by_other_names(data: Data) -> Data:
    taken = {*data.get("reagents", {}), *data.get("heat", {}), *_ids(data)}
    taken |= {step["step"] for step in data.get("procedure", [])}
    names = {f: f"stream {n}" for n, f in enumerate(data.get("flows", {})) if f not in taken}
    return _named(data, names)


def _ids(data: Data) -> Iterator[str]:
    return (item["id"] for item in data["train"])


def _named(data: Data, names: dict[str, str]) -> Data:
    """Not where a word of the file stands that happens to be the same."""
    out: Data = renamed(data, names)
    for old, new in zip(data["train"], out["train"], strict=True):
        new["kind"] = old["kind"]
        for key in ("in", "to", "material", "liquid", "joint"):
            if key in old:
                new[key] = old[key]
    for name, reagent in data.get("reagents", {}).items():
        out["reagents"] = {**out["reagents"], names.get(name, name): reagent}
    for old, new in zip(data.get("heat", {}).values(), out.get("heat", {}).values(), strict=True):
        new["kind"] = old["kind"]
    for old, new in zip(data.get("safeguards", []), out.get("safeguards", []), strict=True):
        new |= {key: old[key] for key in ("kind", "senses", "at", "holds") if key in old}
    return out


@same
def heaters_by_their_other_names(data: Data) -> Data:
    other = {"tube furnace": "split tube furnace", "burner": "Bunsen burner",
             "hot plate": "hotplate", "water bath": "waterbath"}  # fmt: skip
    for heater in data.get("heat", {}).values():
        heater["kind"] = other.get(heater["kind"], heater["kind"])
    return data


@same
def a_step_in_two_halves(data: Data) -> Data | None:
    """Cut in the middle, nothing switched there."""
    steps = data.get("procedure", [])
    if not steps:
        return None
    n = len(steps) // 2
    number, unit = str(steps[n]["duration"]).split()
    half = f"{float(number) / 2!r} {unit}"
    steps[n]["duration"] = half
    steps.insert(n + 1, {"step": f"{steps[n]['step']}, second half", "duration": half})
    return data


@same
def an_idle_step_at_the_end(data: Data) -> Data | None:
    """Where all is off: ten minutes more of nothing."""
    on: set[str] = set()
    for step in data.get("procedure", []):
        for key in ("flows", "heat", "suction"):
            for name, said in step.get(key, {}).items():
                on.discard(name) if said == "off" else on.add(name)
    pumps = any("suction" in item for item in data["train"])
    if on or pumps or not data.get("procedure"):
        return None
    data["procedure"].append({"step": "look round", "duration": "10 min"})
    return data


@same
def an_empty_bottle_beside_it(data: Data) -> Data:
    """A train of its own that nothing is fed to."""
    glass = {"material": "borosilicate glass 3.3", "home_made": "no", "joint": "none"}
    data["train"] += [
        {"id": "spare bottle", "kind": "trap", "from": [], "gas_volume": "250 mL", "in": "room",
         "inner_diameter": "60 mm", "wall": "3 mm", "ends": "round",
         "rating": "0.5 bar gauge", **glass},
        {"id": "its neck", "kind": "outlet", "from": ["spare bottle"], "to": "room",
         "inner_diameter": "20 mm"},
    ]  # fmt: skip
    return data


@same
def the_whole_as_json(data: Data) -> Data:
    out: Data = json.loads(json.dumps(data, sort_keys=True))
    return out
