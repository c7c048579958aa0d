"""The scenario that follows from a few answers; what nobody was asked stands as assumed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from review.reference.finding import Reference, UnknownName
from review.scenario import loads
from review.scenario.errors import Misspelt
from review.scenario.sizes import filled
from review.scenario.units import show
from review.scenario.words import folded
from review.walk.reactions import parse_equation

_HEAD = """\
# One set-up and how it is run. What you were asked stands here as you said it. What stands under
# "assumed" is a guess: measure it, correct it, and take it off that list.
"""
#: From here on a tube is taken to be of quartz. Borosilicate glass 3.3 softens above 500 degC.
QUARTZ_FROM = 450 + 273.15

SOURCES = ("cylinder", "generator", "room air")
#: What is assumed of a supply.
_HELD: dict[str, dict[str, str]] = {
    "cylinder": {"volume": "10 L", "pressure": "150 bar gauge", "regulator": "0.2 bar gauge"},
    "generator": {},
    "room air": {},
}
#: What is assumed of an item of each kind; all but `joint` and `material` are dimensions.
_ITEM: dict[str, dict[str, Any]] = {
    "line": {"material": "PTFE", "inner_diameter": "6 mm", "wall": "1 mm", "length": "500 mm"},
    "reactor": {"inner_diameter": "20 mm", "wall": "2 mm", "length": "600 mm", "ends": "open"},
    "arrester": {"inner_diameter": "20 mm", "length": "50 mm"},
    "column": {"inner_diameter": "30 mm", "wall": "2 mm", "length": "200 mm"},
    "wash bottle": {"capacity": "250 mL", "liquid_volume": "100 mL", "dip_depth": "50 mm",
                    "dip_tube_bore": "6 mm", "lift": "100 mm"},
    "trap": {"capacity": "250 mL"},
    "vessel": {"capacity": "250 mL"},
    "junction": {"gas_volume": "5 mL"},
    "pump": {"material": "polypropylene", "suction": {"can_draw": "8 L/min"}},
}  # fmt: skip
_JOINT = {"joint": "screw-thread connector", "joint_material": "PTFE"}
_GLASS = "borosilicate glass 3.3"


@dataclass(frozen=True, slots=True)
class Feed:
    """A gas, where it comes from and how much of it: `source` is one of SOURCES.

    `into` is the number of the part that it enters.
    """

    gas: str
    source: str = "cylinder"
    rate: str = "200 mL/min"
    into: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """An item as it was named, its kind, and the liquid in it."""

    named: str
    kind: str
    liquid: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was asked. `heated` is the number of a part; `hottest` in K, None: nothing is heated.

    `equation` is what reacts in the heated part and `catalyst` lies there, "" where nothing does.
    """

    title: str
    feeds: tuple[Feed, ...]
    parts: tuple[Part, ...]
    to: str = "room"
    heated: int = 0
    heater: str = ""
    hottest: float | None = None
    equation: str = ""
    room: str = "60 m3"
    framed: bool = False
    operators: int = 1
    catalyst: str = ""


@dataclass(slots=True)
class _Draft:
    """The scenario as it grows, with the paths of what is assumed in it."""

    data: dict[str, Any] = field(default_factory=dict)
    assumed: list[str] = field(default_factory=list)

    def guess(self, into: dict[str, Any], path: str, values: Mapping[str, Any]) -> None:
        """Put values where none stand, and note them as assumed."""
        for key, value in values.items():
            if key not in into:
                into[key] = value
                self.assumed.append(f"{path}.{key}")


def written(answers: Answers, reference: Reference) -> str:
    """A scenario with these answers; all else is assumed, and said to be.

    >>> one = Answers("A try", (Feed("argon"),), (Part("hose 6x8", "line"),))
    >>> loads(written(one, Reference())).title
    'A try'
    """
    draft = _Draft()
    draft.data = {"title": answers.title, "operators": str(answers.operators)}
    _supplies(draft, answers)
    names = _train(draft, answers, reference)
    if answers.hottest is not None:
        _heat(draft, answers, names[answers.heated])
    if answers.catalyst:
        catalyst = {"in": names[answers.heated], "material": answers.catalyst}
        name = f"{answers.catalyst} catalyst"
        draft.guess(catalyst, f"catalysts.{name}", {"form": "pellets", "mass": "5 g"})
        draft.data["catalysts"] = {name: catalyst}
    _room(draft, answers)
    if not answers.framed:
        draft.data["frame"] = "stands by itself on the bench"
    draft.data["procedure"] = _steps(answers, reference)
    draft.assumed.append("procedure")
    draft.data["safeguards"] = []
    text = _HEAD + _yaml(draft.data, draft.assumed, answers)
    loads(text)  # what is handed out loads; if not, it is a fault here
    return text


def _supplies(draft: _Draft, answers: Answers) -> None:
    reagents: dict[str, Any] = {}
    flows: dict[str, Any] = {}
    for feed in answers.feeds:
        name = _named(feed)
        held: dict[str, Any] = {"as": feed.source}
        draft.guess(held, f"reagents.{name}.held", _HELD[feed.source])
        gas = "air" if feed.source == "room air" else feed.gas
        composition = diluted(gas) or {gas: "100 %"}
        reagents[name] = {"state": "gas", "composition": composition, "held": held}
        flow: dict[str, Any] = {"reagent": name, "into": "", "rate": feed.rate}
        path = f"flows.{name} feed"
        draft.guess(flow, path, {"reference": "standard"} if "L/" in feed.rate else {})
        draft.guess(flow, path, {"at_most": _times(feed.rate, 10)})
        if feed.source == "generator":
            draft.guess(flow, path, {"shut_off_pressure": "0.2 bar gauge"})
        flows[f"{name} feed"] = flow
    for liquid in (part.liquid for part in answers.parts if diluted(part.liquid)):
        reagents[_plain(liquid)] = {"state": "liquid", "composition": diluted(liquid)}
    draft.data |= {"reagents": reagents, "flows": flows}


def _train(draft: _Draft, answers: Answers, reference: Reference) -> list[str]:
    """The items, each by a name of its own, with an outlet at the end."""
    names = _names(part.named for part in answers.parts)
    train: list[dict[str, Any]] = []
    for number, (name, part) in enumerate(zip(names, answers.parts, strict=True)):
        item: dict[str, Any] = {"id": name, "kind": part.kind}
        if _sized(part.named):
            item["size"] = part.named
        if part.liquid:
            item["liquid"] = _plain(part.liquid) if diluted(part.liquid) else part.liquid
        hot = answers.hottest is not None and number == answers.heated
        sized = filled(item)
        guess = {k: v for k, v in _ITEM.get(part.kind, {}).items() if k not in sized}
        if "inner_diameter" in sized and part.kind in ("wash bottle", "trap", "vessel"):
            guess.pop("capacity", None)
        if hot and part.kind == "reactor":
            guess["heated_length"] = "250 mm"
        if hot:
            item["reactions"] = _reactions(draft, name, answers.equation, reference)
        quartz = hot and answers.hottest is not None and answers.hottest > QUARTZ_FROM
        if "condenser" in folded(part.named):
            guess |= {"coolant_temperature": "15 degC", "material": _GLASS}
        quartz = quartz or "quartz" in folded(part.named)
        guess.setdefault("material", "fused quartz" if quartz else _GLASS)
        if part.liquid:
            guess.setdefault("liquid_volume", "100 mL")
        draft.guess(item, f"train.{name}", guess | {k: v for k, v in _JOINT.items()})
        train.append(item)
    train.append({"id": "outlet", "kind": "outlet", "to": answers.to})
    draft.data["train"] = train
    for feed, flow in zip(answers.feeds, draft.data["flows"].values(), strict=True):
        flow["into"] = names[feed.into]
        if feed.into and answers.parts[feed.into].kind == "junction":
            flow["into"] = _branch(draft, f"{_named(feed)} hose", names[feed.into])
    return names


def _branch(draft: _Draft, name: str, joins: str) -> str:
    """A hose of its own for a gas that joins the others at a junction."""
    train: list[dict[str, Any]] = draft.data["train"]
    at = next(n for n, item in enumerate(train) if item["id"] == joins)
    before = [item["id"] for item in train[:at][-1:]]
    hose: dict[str, Any] = {"id": name, "kind": "line"}
    draft.guess(hose, f"train.{name}", _ITEM["line"] | _JOINT)
    train[at].setdefault("from", before).append(name)
    train.insert(0, hose)
    if at:
        train[1].setdefault("from", [])
    return name


def _reactions(draft: _Draft, name: str, equation: str, reference: Reference) -> Any:
    """The statement that nothing reacts, or the reaction with all of its first gas converted."""
    if not equation:
        return "none"
    terms = parse_equation(equation, reference)
    gases = [t.substance.name for t in terms if t.substance and t.coefficient < 0]
    reaction: dict[str, Any] = {"equation": equation}
    guess = {"limiting": gases[0] if gases else "", "conversion": "100 %"}
    draft.guess(reaction, f"train.{name}.reactions.0", guess)
    return [reaction]


def _heat(draft: _Draft, answers: Answers, name: str) -> None:
    assert answers.hottest is not None
    usual = max(answers.hottest - 20.0, (answers.hottest + 293.15) / 2)
    heater: dict[str, Any] = {
        "heats": name, "kind": answers.heater or "tube furnace",
        "hottest": _said(answers.hottest),
    }  # fmt: skip
    guess = {"set_temperature": _said(min(usual, answers.hottest)), "cooling_time": "20 min"}
    draft.guess(heater, "heat.heater", guess)
    draft.data["heat"] = {"heater": heater}


def _room(draft: _Draft, answers: Answers) -> None:
    room: dict[str, Any] = {"room_volume": answers.room}
    draft.guess(room, "ventilation", {"air_changes": "2 / hour"})
    if answers.to == "hood":
        hood: dict[str, Any] = {"tested": "unknown"}
        measured = {"opening_width": "1.2 m", "opening_height": "0.4 m", "face_velocity": "0.5 m/s"}
        draft.guess(hood, "ventilation.hood", measured)
        room["hood"] = hood
    draft.data["ventilation"] = room


def _steps(answers: Answers, reference: Reference) -> list[dict[str, Any]]:
    """Flush with what is inert, run, cool under what is inert."""
    flows = {_named(f): f for f in answers.feeds}
    inert = [n for n, f in flows.items() if n != "room air" and _inert(f.gas, reference)]
    rest = [name for name in flows if name not in inert]
    heated = answers.hottest is not None
    steps = [_step("purge" if inert else "start", "10 min", on=inert or rest)]
    steps.append(_step("run", "30 min", on=rest if inert else (), heat="on" if heated else ""))
    if heated:
        steps.append(_step("cool", "90 min", off=rest if inert else (), heat="off"))
    elif inert and rest:
        steps.append(_step("flush", "10 min", off=rest))
    return steps


def _inert(gas: str, reference: Reference) -> bool:
    """Whether the gas, or all of a mixture, is inert."""
    if parts := diluted(gas):
        return all(_inert(name, reference) for name in parts)
    try:
        mixture, strength = reference.mixture(gas)
    except UnknownName:
        return bool(reference.substance(gas).inert)
    return all(reference.substance(name).inert for name in mixture.parts(strength))


def _step(
    name: str, duration: str, on: Sequence[str] = (), off: Sequence[str] = (), heat: str = ""
) -> dict[str, Any]:
    step: dict[str, Any] = {"step": name, "duration": duration}
    flows = {f"{gas} feed": "on" for gas in on} | {f"{gas} feed": "off" for gas in off}
    return step | ({"flows": flows} if flows else {}) | ({"heat": {"heater": heat}} if heat else {})


def _yaml(data: Mapping[str, Any], assumed: Iterable[str], answers: Answers) -> str:
    """The sections, a line for each thing in them."""
    lines = []
    if answers.framed:
        lines.append('# The frame: see "frame" in benchgate schema; until then nobody checks it.')
    for key, value in data.items():
        if isinstance(value, dict):
            lines += ["", f"{key}:"] + [f"  {_flow(k)}: {_flow(v)}" for k, v in value.items()]
        elif isinstance(value, list) and value:
            lines += ["", f"{key}:"] + [f"  - {_flow(each)}" for each in value]
        elif isinstance(value, list):
            lines += ["", f"{key}: []                     # claim only what is there"]
        else:
            lines.append(f"{key}: {_flow(value)}")
    lines += ["", "assumed:"] + [f"  - {_flow(path)}" for path in assumed]
    return "\n".join(lines) + "\n"


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_flow(k)}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    plain = re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 ./%_-]*", value)
    return value if plain and value == value.strip() else json.dumps(value, ensure_ascii=False)


def diluted(text: str) -> dict[str, str]:
    """What a text says is how much of what in what; nothing where it says no such thing.

    >>> diluted("propane 1 % in nitrogen"), diluted("5 % NaOH in water"), diluted("argon")
    ({'propane': '1 %', 'nitrogen': 'rest'}, {'NaOH': '5 %', 'water': 'rest'}, {})
    """
    share = r"(?P<share>\d+(?:\.\d+)?\s*(?:%|ppm))"
    for order in (rf"(?P<of>.+?)\s+{share}", rf"{share}\s+(?P<of>.+?)"):
        found = re.fullmatch(rf"\s*{order}\s+in\s+(?P<rest>.+?)\s*", text)
        if found:
            return {found["of"]: found["share"], found["rest"]: "rest"}
    return {}


def _named(feed: Feed) -> str:
    return "room air" if feed.source == "room air" else _plain(feed.gas)


def _plain(text: str) -> str:
    """A name without what no name may hold: a dot parts a path."""
    return text.replace(".", ",") if diluted(text) else text


def _names(texts: Iterable[str]) -> list[str]:
    """A name for each, numbered where it comes again; without what a name may not hold."""
    found: list[str] = []
    for text in texts:
        plain = re.sub(r"[^A-Za-z0-9 _-]+", " ", text)
        plain = " ".join(plain.split()) or "item"
        same = sum(1 for each in found if re.fullmatch(rf"{re.escape(plain)}( no \d+)?", each))
        found.append(f"{plain} no {same + 1}" if same else plain)
    return found


def _sized(text: str) -> bool:
    try:
        return bool(filled({"size": text}))
    except Misspelt:
        return False


def _times(rate: str, factor: float) -> str:
    number, unit = re.fullmatch(r"\s*([\d.eE+-]+)\s*(.*)", rate).groups()  # type: ignore[union-attr]
    return f"{float(number) * factor:g} {unit}"


def _said(temperature: float) -> str:
    return show(round(temperature - 273.15) + 273.15, "degC")
