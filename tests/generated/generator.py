"""Invented scenarios by number: valid, varied, and complete as a careful user would write them.

Everything a check reads is filled in, so that what cannot be told about one of these is the
tool's doing. Not every one is a good idea: orders of steps, settings and furnishings vary as those
of real people do. The same start number gives the same text on every machine.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

import yaml
from hypothesis import strategies as st

Part = dict[str, Any]


@dataclass(frozen=True)
class Theme:
    """What an experiment is about: its feeds as compositions, what reacts, how hot, what washes."""

    title: str
    feeds: tuple[Part, ...]
    equation: str = ""
    limiting: str = ""
    degrees: tuple[int, int] = (0, 0)
    solid: str = ""
    saturated: bool = False
    taken_up: tuple[tuple[str, str], ...] = ()
    """Pairs of what the washing liquid is and what it takes up."""


def _mixes(gas: str, shares: tuple[float, ...], rest: tuple[str, ...]) -> tuple[Part, ...]:
    out = []
    for share in shares:
        others = rest if share < 100 else rest[:1]
        for other in others:
            mix = {gas: f"{share:g} %"}
            if share < 100:
                mix[other] = f"{100 - share:g} %"
            out.append(mix)
    return tuple(out)


INERT = ("nitrogen", "argon")
THEMES = (
    Theme("Copper oxide reduced by hydrogen", _mixes("hydrogen", (3, 5, 20, 100), INERT),
          "CuO(s) + H2 -> Cu(s) + H2O", "hydrogen", (220, 420), "copper oxide"),
    Theme("Copper oxide reduced by carbon monoxide", _mixes("carbon monoxide", (2, 10), INERT),
          "CuO(s) + CO -> Cu(s) + CO2", "carbon monoxide", (200, 380), "copper oxide"),
    Theme("Methane burnt over a warm bed", _mixes("methane", (0.8, 2, 30), ("air", "nitrogen")),
          "CH4 + 2 O2 -> CO2 + 2 H2O", "methane", (300, 550)),
    Theme("Carbon monoxide burnt over a warm bed", _mixes("carbon monoxide", (1, 4), ("air",)),
          "2 CO + O2 -> 2 CO2", "carbon monoxide", (120, 350)),
    Theme("Ammonia cracked", _mixes("ammonia", (5, 25, 100), INERT),
          "2 NH3 -> N2 + 3 H2", "ammonia", (450, 750), taken_up=(("water", "ammonia"),)),
    Theme("Propane dehydrogenated", _mixes("propane", (2, 20, 100), INERT),
          "C3H8 -> C3H6 + H2", "propane", (480, 600)),
    Theme("Ethylene burnt in lean air", _mixes("ethylene", (0.5, 1.2), ("air",)),
          "C2H4 + 3 O2 -> 2 CO2 + 2 H2O", "ethylene", (200, 380)),
    Theme("Hydrogen chloride washed out of a carrier", _mixes("hydrogen chloride", (1, 10), INERT),
          taken_up=(("water", "hydrogen chloride"), ("sodium hydroxide", "hydrogen chloride"))),
    Theme("Methanol carried over a hot bed", ({"nitrogen": "100 %"}, {"argon": "100 %"}),
          "CH3OH -> CO + 2 H2", "methanol", (250, 400), saturated=True,
          taken_up=(("water", "methanol"),)),
    Theme("Methanol oxidised", ({"air": "100 %"}, {"oxygen": "10 %", "nitrogen": "90 %"}),
          "2 CH3OH + O2 -> 2 formaldehyde + 2 H2O", "methanol", (250, 400), saturated=True,
          taken_up=(("water", "methanol"),)),
    Theme("A bed dried in a stream of gas", ({"air": "100 %"}, {"nitrogen": "100 %"}),
          degrees=(80, 300)),
)  # fmt: skip


@dataclass
class _Draft:
    """A scenario while it is drawn."""

    random: random.Random
    theme: Theme
    data: Part = field(default_factory=dict)
    train: list[Part] = field(default_factory=list)

    def one(self, *choices: Any) -> Any:
        return self.random.choice(choices)

    def often(self, share: float) -> bool:
        return self.random.random() < share

    def between(self, low: float, high: float, step: float = 1.0) -> str:
        return f"{low + step * self.random.randint(0, round((high - low) / step)):g}"


def scenario(start: int) -> str:
    """YAML text of a complete scenario."""
    return _text(_drawn(start))


def incomplete(start: int) -> str:
    """The same with some optional fields left out."""
    data = _drawn(start)
    draw = random.Random(f"left out {start}")
    parts = [data, *data["train"], *data["flows"].values(), *data.get("heat", {}).values()]
    parts += [reagent["held"] for reagent in data["reagents"].values() if "held" in reagent]
    parts += [data["ventilation"], data["ventilation"]["hood"]]
    for part in parts:
        for key in [k for k in part if k in OPTIONAL and draw.random() < 0.3]:
            del part[key]
    return _text(data)


#: What a file may lack without being wrong.
OPTIONAL = frozenset(
    {"rating", "joint", "joint_rating", "joint_material", "wall", "material", "home_made", "ends",
     "heated_length", "packing", "lift", "absorbs", "bath_temperature", "at_most", "accuracy",
     "instrument", "hottest", "cooling_time", "pressure", "regulator", "volume", "room_volume",
     "air_changes", "hood", "opening_width", "face_velocity", "tested", "on_power_loss",
     "operators", "duration", "safeguards", "purpose"}
)  # fmt: skip


def starts() -> st.SearchStrategy[int]:
    """Start numbers to draw scenarios by."""
    return st.integers(min_value=0, max_value=10**9)


def _text(data: Part) -> str:
    text: str = yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)
    return text


def _drawn(start: int) -> Part:
    draw = random.Random(start)
    draft = _Draft(draw, draw.choice(THEMES))
    draft.data = {
        "title": draft.theme.title,
        "purpose": "Invented to try the review out.",
        "operators": draft.one(1, 2),
        "ambient": {"temperature": draft.between(18, 28) + " degC", "pressure": "1 atm"},
    }
    _feeds(draft)
    _train(draft)
    _heat(draft)
    _ventilation(draft)
    _procedure(draft)
    _safeguards(draft)
    return draft.data


def _feeds(draft: _Draft) -> None:
    feed = draft.random.choice(draft.theme.feeds)
    reagents: Part = {"feed gas": _cylinder(draft, feed)}
    flows: Part = {"feed": _flow(draft, "feed gas", feed, "inlet")}
    if draft.often(0.85):
        purge = {draft.one(*INERT): "100 %"}
        reagents["purge gas"] = _cylinder(draft, purge)
        flows["purge"] = _flow(draft, "purge gas", purge, "inlet")
    if "air" not in feed and draft.theme.limiting and draft.often(0.15):
        mix = draft.one({"air": "100 %"}, {"oxygen": "5 %", "nitrogen": "95 %"})
        reagents["oxidant"] = _cylinder(draft, mix)
        flows["oxidant"] = _flow(draft, "oxidant", mix, "inlet")
    if draft.theme.solid:
        reagents["solid"] = {
            "state": "solid",
            "composition": {draft.theme.solid: "100 %"},
            "amount": draft.between(1, 20) + " g",
        }
    draft.data |= {"reagents": reagents, "flows": flows}


def _cylinder(draft: _Draft, mix: Part) -> Part:
    share = float(mix["air"].split()[0]) if "air" in mix else 0.0
    plain = {name: text for name, text in mix.items() if name != "air"}
    if share:
        oxygen = round(0.2095 * share, 3)
        plain |= {"oxygen": f"{oxygen:g} %", "nitrogen": f"{round(share - oxygen, 3):g} %"}
    held = {
        "as": "cylinder",
        "volume": draft.one("0.4", "1", "2", "10") + " L",
        "pressure": draft.one("60", "100", "150") + " bar gauge",
        "regulator": draft.one("0.05", "0.1", "0.2", "0.5", "1.5") + " bar gauge",
    }
    out: Part = {"state": "gas", "composition": plain, "held": held}
    if plain.get("ammonia", plain.get("propane")) == "100 %":  # held as a liquid
        held["pressure"] = "7.5 bar gauge"
        out["amount"] = draft.one("200", "400") + " g"
    elif {"ammonia", "propane"} & set(plain):  # more would condense in it
        held["pressure"] = "25 bar gauge"
    return out


def _flow(draft: _Draft, reagent: str, mix: Part, into: str) -> Part:
    rate = draft.random.choice((20, 50, 100, 150, 200, 350, 500))
    meter = draft.one("float meter", "mass flow controller", "none")
    out: Part = {
        "reagent": reagent,
        "into": into,
        "rate": f"{rate} mL/min",
        "reference": draft.one("normal", "standard", "ambient"),
        "accuracy": draft.one("2", "5", "10") + " %",
        "at_most": f"{rate * draft.random.choice((2, 4, 10))} mL/min",
    }
    if meter == "float meter":
        out["instrument"] = {"kind": meter, "calibration_gas": draft.one("air", "nitrogen")}
    elif meter == "mass flow controller":
        out["instrument"] = {"kind": meter, "calibration_gas": next(iter(mix))}
        out["on_power_loss"] = draft.one("closes", "opens", "stays")
    else:
        out["instrument"] = {"kind": meter}
    return out


def _train(draft: _Draft) -> None:
    theme = draft.theme
    _add(draft, "inlet", "junction", "PTFE", gas_volume=draft.between(2, 20) + " mL")
    if draft.often(0.6):
        _hose(draft, "feed hose")
    if draft.often(0.25):
        _add(
            draft, "arrester", "arrester", "borosilicate glass 3.3", home_made="no", ends="open",
            inner_diameter="12 mm", wall="2 mm", length="60 mm",
            packing={"voidage": "40 %", "particle_diameter": "0.5 mm"},
        )  # fmt: skip
    if theme.saturated:
        _bottle(draft, "saturator", "methanol", {})
        draft.train[-1]["bath_temperature"] = draft.between(0, 30) + " degC"
    if draft.often(0.3):
        _add(
            draft, "drying tube", "column", "borosilicate glass 3.3", home_made="no", ends="open",
            inner_diameter="20 mm", wall="2 mm", length="150 mm",
            packing={"voidage": "45 %", "particle_diameter": "3 mm"},
        )  # fmt: skip
    if draft.often(0.25):
        _branch(draft)
    if theme.degrees[1]:
        _reactor(draft)
    if draft.often(0.7):
        _hose(draft, "outlet hose")
    if theme.taken_up and draft.often(0.8) or draft.often(0.2):
        pairs = [*theme.taken_up] or [("water", "")]
        liquid, gas = draft.random.choice(pairs)
        absorbs = {}
        if gas:
            efficiency, capacity = draft.between(80, 99) + " %", draft.between(0.2, 2, 0.1) + " mol"
            absorbs[gas] = {"efficiency": efficiency, "capacity": capacity}
        if draft.often(0.6):
            _trap(draft, "trap")
        if liquid == "sodium hydroxide":
            draft.data["reagents"]["lye"] = {
                "state": "liquid",
                "composition": {"sodium hydroxide": "10 %", "water": "90 %"},
                "amount": "500 mL",
                "density": "1.1 g/mL",
                "held": {"as": "bottle"},
            }
            liquid = "lye"
        _bottle(draft, "wash bottle", liquid, absorbs)
        if draft.often(0.4):
            _trap(draft, "second trap")
    if draft.often(0.4):
        _hose(draft, "exhaust hose")
    _end(draft, "outlet")
    if draft.often(0.15):
        _side_way(draft)
    draft.data["train"] = draft.train


def _add(draft: _Draft, id: str, kind: str, material: str, **more: Any) -> Part:
    item: Part = {"id": id, "kind": kind, "material": material, **more}
    joint, seal = draft.one(
        ("screw-thread connector", "PTFE"), ("flange with clamp", "PTFE"),
        ("clipped taper joint", "PTFE"), ("fused", ""),
    )  # fmt: skip
    item["rating"] = draft.one("0.3", "0.5", "1", "3") + " bar gauge"
    item["joint"] = joint
    if seal:
        item["joint_material"] = seal
        taper = joint == "clipped taper joint"
        held = ("0.1", "0.3", "0.45") if taper else ("0.5", "1", "2")
        item["joint_rating"] = draft.one(*held) + " bar gauge"
    draft.train.append(item)
    return item


def _hose(draft: _Draft, id: str) -> Part:
    return _add(
        draft, id, "line", "PTFE", inner_diameter=draft.one("4", "6", "8") + " mm", wall="1 mm",
        length=draft.between(300, 1500, 100) + " mm", home_made="no",
    )  # fmt: skip


def _bottle(draft: _Draft, id: str, liquid: str, absorbs: Part) -> None:
    item = _add(
        draft, id, "wash bottle", "borosilicate glass 3.3", home_made="no", ends="round",
        liquid=liquid, liquid_volume=draft.between(50, 150, 10) + " mL",
        gas_volume=draft.between(60, 200, 10) + " mL", inner_diameter="60 mm", wall="3 mm",
        dip_depth=draft.between(10, 60, 5) + " mm", dip_tube_bore=draft.one("4", "6") + " mm",
        lift=draft.between(80, 200, 10) + " mm",
    )  # fmt: skip
    if absorbs:
        item["absorbs"] = absorbs


def _trap(draft: _Draft, id: str) -> None:
    _add(
        draft, id, "trap", "borosilicate glass 3.3", home_made="no", ends="round",
        gas_volume=draft.between(50, 300, 10) + " mL", inner_diameter="50 mm", wall="3 mm",
    )  # fmt: skip


def _reactor(draft: _Draft) -> None:
    item = _add(
        draft, "tube", "reactor", "fused quartz", home_made=draft.one("no", "no", "yes"),
        ends="open", orientation=draft.one("horizontal", "vertical"),
        inner_diameter=draft.one("10", "16", "20", "25") + " mm", wall="2 mm",
        length=draft.between(500, 900, 50) + " mm",
        heated_length=draft.between(100, 250, 50) + " mm",
    )  # fmt: skip
    if draft.often(0.5):
        item["packing"] = {"voidage": "45 %", "particle_diameter": draft.one("2", "4") + " mm",
                           "length": "80 mm"}  # fmt: skip
    if draft.theme.equation:
        item["reactions"] = [
            {
                "equation": draft.theme.equation,
                "limiting": draft.theme.limiting,
                "conversion": draft.between(20, 95, 5) + " %",
                "selectivity": draft.one("100 %", "100 %", "90 %"),
            }
        ]


def _branch(draft: _Draft) -> None:
    """Two ways that part and join again."""
    before = draft.train[-1]["id"]
    share = draft.random.randint(20, 80)
    wide, narrow = _hose(draft, "wide way"), _hose(draft, "narrow way")
    wide |= {"from": [before], "share": {before: f"{share} %"}}
    narrow |= {"from": [before], "share": {before: f"{100 - share} %"}}
    joined = _add(draft, "join", "junction", "PTFE", gas_volume="5 mL")
    joined["from"] = ["wide way", "narrow way"]


def _side_way(draft: _Draft) -> None:
    """A second way out of the inlet, shut or open, to its own outlet."""
    first = draft.train[1]
    share = draft.random.randint(5, 40)
    if "from" not in first:
        first |= {"from": ["inlet"], "share": {"inlet": f"{100 - share} %"}}
        side = _hose(draft, "side hose")
        side |= {"from": ["inlet"], "share": {"inlet": f"{share} %"},
                 "open": draft.one("yes", "no")}  # fmt: skip
        _end(draft, "side outlet")


def _end(draft: _Draft, id: str) -> None:
    draft.train.append(
        {"id": id, "kind": "outlet", "to": draft.one("hood", "hood", "outdoors", "room")}
    )


def _heat(draft: _Draft) -> None:
    low, high = draft.theme.degrees
    if not high:
        return
    at = draft.random.randrange(low, high, 10)
    furnace: Part = {
        "heats": "tube",
        "kind": "tube furnace",
        "set_temperature": f"{at} degC",
        "hottest": f"{at + draft.random.choice((10, 30, 60))} degC",
        "cooling_time": draft.between(10, 60, 5) + " min",
        "outer_diameter": "160 mm",
        "insulation": "glass wool",
        "insulation_thickness": draft.between(40, 60, 5) + " mm",
        "casing": draft.one("aluminium", "carbon steel"),
    }
    if draft.often(0.2):
        draft.data["reagents"]["burner gas"] = {
            "state": "gas",
            "composition": {"methane": "100 %"},
            "held": {"as": "cylinder", "volume": "0.4 L", "pressure": "20 bar gauge",
                     "regulator": "0.05 bar gauge"},
        }  # fmt: skip
        for key in ("outer_diameter", "insulation", "insulation_thickness", "casing"):
            del furnace[key]
        furnace |= {"kind": "burner", "fuel": "burner gas", "fuel_rate": "1 L/min"}
        name = "burner"
    else:
        name = "furnace"
        furnace["on_power_loss"] = "off"
    draft.data["heat"] = {name: furnace}
    if draft.often(0.25) and not draft.theme.solid:
        mass, light_off = draft.between(1, 5), draft.one("none", "150 degC", "250 degC")
        draft.data["catalysts"] = {
            "bed": {"in": "tube", "mass": f"{mass} g", "light_off": light_off,
                    "material": "alumina" if light_off == "none" else "platinum",
                    "maximum_temperature": "900 degC"}
        }  # fmt: skip


def _ventilation(draft: _Draft) -> None:
    draft.data["ventilation"] = {
        "on_power_loss": draft.one("stops", "stays"),
        "room_volume": draft.one("40", "60", "120", "200") + " m3",
        "air_changes": draft.one("1", "4", "8") + " / hour",
        "hood": {
            "kind": "fume hood",
            "opening_width": draft.one("0.9", "1.2", "1.5") + " m",
            "opening_height": draft.one("0.3", "0.4") + " m",
            "face_velocity": draft.one("0.4", "0.5", "0.6") + " m/s",
            "tested": draft.one("yes", "no"),
            "heat_inside": draft.one("yes", "no"),
        },
    }
    if draft.often(0.5):
        draft.data["ventilation"]["mixing_factor"] = draft.one("2", "4")


def _procedure(draft: _Draft) -> None:
    flows, heat = draft.data["flows"], [*draft.data.get("heat", {})]
    reacting = [name for name in flows if name != "purge"]
    all_off = dict.fromkeys(flows, "off")
    steps: list[Part] = []

    def step(name: str, shortest: int, longest: int, on: list[str], hot: str = "") -> None:
        minutes = draft.random.randrange(shortest, longest + 1, 5)
        said: Part = {"step": name, "duration": f"{minutes} min"}
        said["flows"] = all_off | dict.fromkeys(on, "on")
        if hot:
            said["heat"] = dict.fromkeys(heat, hot)
        steps.append(said)

    purge = ["purge"] if "purge" in flows else []
    if purge and draft.often(0.85):
        step("purge", 10, 30, purge)
    warm = heat and draft.often(0.6)
    if warm:
        step("heat", 10, 30, draft.one(purge, reacting), "on")
    step("run", 20, 60, reacting, "" if warm or not heat else "on")
    if draft.often(0.3):
        name = reacting[0]
        rate = float(flows[name]["rate"].split()[0])
        slower = {"flows": {name: f"{0.5 * rate:g} mL/min"}}
        steps.append({"step": "slow run", "duration": "15 min", **slower})
    early = bool(heat) and draft.often(0.3)
    if purge and draft.often(0.8):
        step("sweep", 10, 30, purge, "off" if early else "")
    if heat:
        step("cool", 30, 120, draft.one(purge, purge, [], reacting), "off")
    if len(steps) > 1 and draft.often(0.15):  # slightly wrong: two steps the other way round
        at = draft.random.randrange(len(steps) - 1)
        steps[at], steps[at + 1] = steps[at + 1], steps[at]
    minutes = sum(int(said["duration"].split()[0]) for said in steps)
    draft.data |= {"duration": f"{minutes} min", "procedure": steps}


def _safeguards(draft: _Draft) -> None:
    steps = [said["step"] for said in draft.data["procedure"]]
    flows, ids = [*draft.data["flows"]], [item["id"] for item in draft.data["train"]]
    things = [*flows, *draft.data.get("heat", {}), *ids, "ventilation"]
    possible: list[Part] = [
        {"kind": "flow seen by eye", "reveals": draft.random.sample(flows, 1), "takes": "1 min"},
        {"kind": "check list", "reveals": draft.random.sample(things, 2),
         "before": draft.random.choice(steps), "takes": "3 min"},
        {"kind": "detector with valve", "senses": draft.theme.limiting or "oxygen",
         "alarm": "10 % of the lower limit", "at": "hood", "closes": [flows[0]],
         "response_time": "20 s"},
        {"kind": "hood alarm", "reveals": "ventilation", "takes": "10 s"},
        {"kind": "extinguisher", "at": "beside the door"},
        {"kind": "eyewash", "at": "at the sink"},
    ]  # fmt: skip
    kept = [one for one in possible if draft.often(0.35)]
    if kept:
        draft.data["safeguards"] = kept
