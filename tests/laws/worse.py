"""Ways of making a set-up worse, each a function of a file's data; None where it has no such thing.

Each makes one thing more hazardous by plain physics (its reason beside it) and nothing better, save
what `exceptions.yaml` lists.
"""

from __future__ import annotations

import copy
import random
import re
from collections.abc import Callable, Iterator
from typing import Any

Data = dict[str, Any]
Way = Callable[[Data, random.Random], Data | None]
WORSE: list[Way] = []


def worse(change: Callable[[Data, random.Random], Any]) -> Way:
    """The function's own copy to change; it gives False where there is nothing to change."""

    def way(data: Data, draw: random.Random) -> Data | None:
        mine = copy.deepcopy(data)
        return None if change(mine, draw) is False else mine

    way.__name__ = change.__name__
    WORSE.append(way)
    return way


def apart(text: Any) -> tuple[float, str]:
    """The number of a stated value, and the rest with its unit."""
    match = re.fullmatch(r"\s*(-?[\d.]+(?:e-?\d+)?)(.*)", str(text), re.S)
    assert match is not None, text
    return float(match[1]), match[2]


def times(text: Any, factor: float) -> str:
    """A stated value with its number multiplied, its unit kept."""
    number, unit = apart(text)
    return f"{number * factor:.6g}{unit}"


def plus(text: Any, more: float) -> str:
    """A stated value with so much added, its unit kept."""
    number, unit = apart(text)
    return f"{number + more:.6g}{unit}"


def some(parts: Iterator[Data] | list[Data], key: str, draw: random.Random) -> Data | None:
    """One of the parts that state this as a number."""
    found = [part for part in parts if re.match(r"\s*-?\d", str(part.get(key, "")))]
    return draw.choice(found) if found else None


def scaled(parts: list[Data], key: str, factor: float, draw: random.Random) -> bool:
    part = some(parts, key, draw)
    if part is None:
        return False
    part[key] = times(part[key], factor)
    return True


def items(data: Data, *kinds: str) -> list[Data]:
    return [item for item in data["train"] if not kinds or item["kind"] in kinds]


def flows(data: Data) -> list[Data]:
    return list(data.get("flows", {}).values())


def heaters(data: Data) -> list[Data]:
    return list(data.get("heat", {}).values())


def suppliers(data: Data) -> list[Data]:
    reagents = data.get("reagents", {}).values()
    return [reagent["held"] for reagent in reagents if "held" in reagent]


def air(data: Data) -> Data:
    found: Data = data.get("ventilation", {})
    return found


def hood(data: Data) -> Data:
    found: Data = air(data).get("hood", {})
    return found


# What holds pressure


@worse
def a_part_that_holds_less(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "rating", 0.05, draw)


@worse
def a_joint_that_holds_less(data: Data, draw: random.Random) -> Any:
    stronger = [item for item in items(data) if str(item.get("joint_rating", "0"))[0] in "12"]
    part = some(stronger, "joint_rating", draw)
    if part is None:
        return False
    part["joint_rating"] = "0.5 bar gauge"
    return True


@worse
def a_thinner_wall(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "wall", 0.4, draw)


@worse
def home_made_glass(data: Data, draw: random.Random) -> Any:
    found = [i for i in items(data) if i.get("home_made") == "no"]
    if not found:
        return False
    draw.choice(found)["home_made"] = "yes"


@worse
def a_higher_regulator(data: Data, draw: random.Random) -> Any:
    return scaled(suppliers(data), "regulator", 30, draw)


@worse
def a_fuller_cylinder(data: Data, draw: random.Random) -> Any:
    return scaled(suppliers(data), "pressure", 1.3, draw)


@worse
def a_larger_cylinder(data: Data, draw: random.Random) -> Any:
    return scaled(suppliers(data), "volume", 5, draw)


@worse
def a_higher_shut_off(data: Data, draw: random.Random) -> Any:
    return scaled(flows(data), "shut_off_pressure", 10, draw)


@worse
def a_shut_way_out(data: Data, draw: random.Random) -> Any:
    ways = [i for i in items(data) if i["kind"] == "outlet"]
    for way in ways:
        way["open"] = "no"
    return bool(ways)


@worse
def a_narrower_hose(data: Data, draw: random.Random) -> Any:
    return scaled(items(data, "line"), "inner_diameter", 0.3, draw)


@worse
def a_longer_hose(data: Data, draw: random.Random) -> Any:
    return scaled(items(data, "line"), "length", 8, draw)


@worse
def a_finer_packing(data: Data, draw: random.Random) -> Any:
    packed = [i["packing"] for i in items(data) if isinstance(i.get("packing"), dict)]
    return scaled(packed, "particle_diameter", 0.2, draw)


@worse
def a_deeper_dip_tube(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "dip_depth", 3, draw)


# What flows


@worse
def a_valve_that_gives_more(data: Data, draw: random.Random) -> Any:
    return scaled(flows(data), "at_most", 10, draw)


@worse
def a_coarser_meter(data: Data, draw: random.Random) -> Any:
    return scaled(flows(data), "accuracy", 4, draw)


@worse
def a_controller_that_opens_without_power(data: Data, draw: random.Random) -> Any:
    found = [f for f in flows(data) if f.get("on_power_loss") in ("closes", "stays")]
    if not found:
        return False
    draw.choice(found)["on_power_loss"] = "opens"


@worse
def a_poison_in_the_gas(data: Data, draw: random.Random) -> Any:
    """Two percent of carbon monoxide."""
    found = [
        r for r in data.get("reagents", {}).values()
        if r["state"] == "gas" and "carbon monoxide" not in r["composition"]
        and re.match(r"\d\d", str(r["composition"].get("nitrogen", "")))
    ]  # fmt: skip
    if not found:
        return False
    mix = draw.choice(found)["composition"]
    mix["nitrogen"] = plus(mix["nitrogen"], -2)
    mix["carbon monoxide"] = "2 %"


# What is hot


@worse
def a_heater_that_runs_hotter_when_it_fails(data: Data, draw: random.Random) -> Any:
    part = some(heaters(data), "hottest", draw)
    if part is None:
        return False
    part["hottest"] = plus(part["hottest"], 250)


@worse
def a_hotter_furnace(data: Data, draw: random.Random) -> Any:
    part = some([h for h in heaters(data) if "furnace" in h["kind"]], "set_temperature", draw)
    if part is None:
        return False
    for key in ("set_temperature", "hottest"):
        if key in part:
            part[key] = plus(part[key], 150)


@worse
def a_heater_that_cools_slowly(data: Data, draw: random.Random) -> Any:
    return scaled(heaters(data), "cooling_time", 6, draw)


@worse
def heat_that_stays_on_without_power(data: Data, draw: random.Random) -> Any:
    found = [h for h in heaters(data) if h.get("on_power_loss") == "off"]
    if not found:
        return False
    draw.choice(found)["on_power_loss"] = "stays"


@worse
def a_heater_without_insulation(data: Data, draw: random.Random) -> Any:
    found = [h for h in heaters(data) if h.get("insulation", "none") != "none"]
    if not found:
        return False
    part = draw.choice(found)
    part["insulation"] = "none"
    part.pop("insulation_thickness", None)


@worse
def thinner_insulation(data: Data, draw: random.Random) -> Any:
    return scaled(heaters(data), "insulation_thickness", 0.2, draw)


@worse
def a_heater_near_the_way_out(data: Data, draw: random.Random) -> Any:
    return scaled(heaters(data), "distance", 0.1, draw)


@worse
def a_catalyst_that_lights_sooner(data: Data, draw: random.Random) -> Any:
    part = some(list(data.get("catalysts", {}).values()), "light_off", draw)
    if part is None:
        return False
    part["light_off"] = "30 degC"


@worse
def a_catalyst_that_bears_less(data: Data, draw: random.Random) -> Any:
    return scaled(list(data.get("catalysts", {}).values()), "maximum_temperature", 0.3, draw)


@worse
def a_condenser_with_little_cooling(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "cooling_power", 0.05, draw)


# What is taken up and drawn back


@worse
def an_absorbent_that_lets_through(data: Data, draw: random.Random) -> Any:
    absorbed = [a for i in items(data) for a in i.get("absorbs", {}).values()]
    return scaled(absorbed, "efficiency", 0.3, draw)


@worse
def an_absorbent_soon_spent(data: Data, draw: random.Random) -> Any:
    absorbed = [a for i in items(data) for a in i.get("absorbs", {}).values()]
    return scaled(absorbed, "capacity", 0.02, draw)


@worse
def a_bottle_that_is_soon_drawn_back(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "lift", 0.1, draw)


# What is breathed


@worse
def a_smaller_room(data: Data, draw: random.Random) -> Any:
    return scaled([air(data)], "room_volume", 0.3, draw)


@worse
def a_room_seldom_aired(data: Data, draw: random.Random) -> Any:
    return scaled([air(data)], "air_changes", 0.1, draw)


@worse
def a_room_badly_mixed(data: Data, draw: random.Random) -> Any:
    return scaled([air(data)], "mixing_factor", 4, draw)


@worse
def still_air_at_the_source(data: Data, draw: random.Random) -> Any:
    if "mixing_factor" in air(data):
        return False
    air(data)["air_speed"] = "0.01 m/s"


@worse
def into_the_room_instead(data: Data, draw: random.Random) -> Any:
    """Every way out; nothing is led into the hood or outdoors any more."""
    found = [i for i in items(data, "outlet") if i.get("to") in ("hood", "outdoors")]
    for item in found:
        item["to"] = "room"
    return bool(found)


@worse
def a_train_on_the_bench(data: Data, draw: random.Random) -> Any:
    found = [i for i in items(data) if i.get("in") in ("hood", "outdoors")]
    for item in found:
        item["in"] = "room"
    return bool(found)


@worse
def a_hood_never_tested(data: Data, draw: random.Random) -> Any:
    if hood(data).get("tested") != "yes":
        return False
    hood(data)["tested"] = "no"


@worse
def a_hood_that_blows_into_the_room(data: Data, draw: random.Random) -> Any:
    if not hood(data):
        return False
    hood(data)["exhaust"] = "room"


@worse
def a_feeble_hood(data: Data, draw: random.Random) -> Any:
    return scaled([hood(data)], "face_velocity", 0.3, draw)


@worse
def a_flame_in_the_room(data: Data, draw: random.Random) -> Any:
    if data.get("ignition_sources", "none in the room") != "none in the room":
        return False
    data["ignition_sources"] = {"a flame": {"kind": "flame", "in": "room"}}


@worse
def a_hose_of_another_stuff(data: Data, draw: random.Random) -> Any:
    """Silicone rubber, through which gases pass and which many of them attack."""
    found = [i for i in items(data, "line") if i.get("material") == "PTFE"]
    if not found:
        return False
    draw.choice(found)["material"] = "silicone rubber"


# What is liquid, solid or cold


@worse
def a_wider_mouth(data: Data, draw: random.Random) -> Any:
    return scaled(items(data), "mouth", 3, draw)


# What people do


@worse
def a_purge_cut_short(data: Data, draw: random.Random) -> Any:
    found = [s for s in data.get("procedure", []) if "purge" in s["step"]]
    if not found:
        return False
    found[0]["duration"] = times(found[0]["duration"], 0.05)


@worse
def too_little_time_to_cool(data: Data, draw: random.Random) -> Any:
    found = [s for s in data.get("procedure", []) if "cool" in s["step"]]
    if not found:
        return False
    found[-1]["duration"] = times(found[-1]["duration"], 0.02)


@worse
def one_safeguard_fewer(data: Data, draw: random.Random) -> Any:
    if not data.get("safeguards"):
        return False
    data["safeguards"].remove(draw.choice(data["safeguards"]))


@worse
def nobody_waits(data: Data, draw: random.Random) -> Any:
    found = [s for s in data.get("procedure", []) if "hold" in s]
    for step in found:
        del step["hold"]
    return bool(found)


@worse
def a_slow_alarm(data: Data, draw: random.Random) -> Any:
    return scaled(data.get("safeguards", []), "response_time", 30, draw)


@worse
def slow_people(data: Data, draw: random.Random) -> Any:
    return scaled(data.get("safeguards", []), "takes", 30, draw)


@worse
def alone(data: Data, draw: random.Random) -> Any:
    data["operators"] = 1
    guards = data.get("safeguards", [])
    data["safeguards"] = [g for g in guards if g["kind"] != "second person"]


@worse
def the_last_step_left_out(data: Data, draw: random.Random) -> Any:
    """What it would have switched off stays on."""
    steps = data.get("procedure", [])
    last = steps[-1] if steps else {}
    switched = [*last.get("flows", {}).values(), *last.get("heat", {}).values()]
    if len(steps) < 2 or not switched or set(map(str, switched)) != {"off"}:
        return False
    steps.pop()


# What stands


@worse
def a_clamp_that_slips(data: Data, draw: random.Random) -> Any:
    frame = data.get("frame")
    clamps = list(frame.get("clamps", {}).values()) if isinstance(frame, dict) else []
    return scaled(clamps, "holding_torque", 0.1, draw)


@worse
def a_thinner_rod(data: Data, draw: random.Random) -> Any:
    frame = data.get("frame")
    rods = list(frame.get("rods", {}).values()) if isinstance(frame, dict) else []
    return scaled(rods, "diameter", 0.3, draw)
