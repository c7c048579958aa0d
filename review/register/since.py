"""What a record rests on and is no longer as it was: rules, limits, data, code, plugins."""

from __future__ import annotations

import math
import platform
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from review.engine.reviewing import Engine
from review.interface.plugin import Kind
from review.interface.result import Review
from review.judge.effective import ruleset_to_json
from review.provenance import code_hash, libraries
from review.register.moves import Move
from review.register.record import plain
from review.render import words

#: What else of a criterion decides a grade or what is asked for, and how one says it.
_PARTS = {
    "kind": "what it judges",
    "floor": "the best grade it gives",
    "require": "what it requires",
    "otherwise": "the grade if that does not hold",
    "applies": "when it applies",
    "blocks": "whether it blocks when it cannot be judged",
    "condition": "the condition it makes then",
    "disabled": "whether it is switched off",
    "action": "what to do",
}
_CLOSE = 1e-9
#: Limits from here on only stand for "any number".
ENDLESS = 1e9


@dataclass(frozen=True, slots=True)
class Since:
    """What has changed since a record was signed, in words.

    `absent` are plugins of the record that were not given now, `other` its rules that were not.
    `rules` go by criterion; `grounds` are what numbers are computed from: limits, data, code,
    libraries and plugins.
    """

    absent: tuple[str, ...]
    other: tuple[str, ...]
    rules: Mapping[str, str]
    grounds: tuple[str, ...]

    def because(self, move: Move) -> tuple[str, ...]:
        """What a finding moved for, as far as the record can tell; nothing where nothing did.

        A finding whose number stayed where it was moved for its rule alone.
        """
        rule = self.rules.get(move.criterion)
        if rule is not None and not _number_moved(move):
            return (rule,)
        return (*((rule,) if rule is not None else ()), *self.grounds)


def since(record: Mapping[str, Any], engine: Engine, review: Review) -> Since:
    """Compare what a record rests on with today's engine and with today's review of its text."""
    today = plain(ruleset_to_json(engine.ruleset))
    return Since(
        absent=tuple(_absent(record, engine)),
        other=tuple(_other_rules(record, today)),
        rules=dict(_rules(record["ruleset"], today, engine.kinds)),
        grounds=(
            *_limits(record["ruleset"]["limits"], today["limits"]),
            *_data(record["data"], review),
            *_tool(record["tool"], review.version),
            *_plugins(record["tool"]["plugins"], engine),
        ),
    )


def _number_moved(move: Move) -> bool:
    if move.before is None or move.after is None:
        return False
    old, new = move.before, move.after
    if old["status"] != new["status"]:
        return True
    values = old["value"], new["value"]
    if None in values:
        return bool(values[0] != values[1])
    return not math.isclose(float(values[0]), float(values[1]), rel_tol=_CLOSE)


def _absent(record: Mapping[str, Any], engine: Engine) -> Iterator[str]:
    """Plugins that the record names and nobody gave this time: what they look at, nobody has."""
    plugins = {plugin["name"] for plugin in record["tool"]["plugins"]}
    given = {plugin.name for plugin in engine.plugins}
    for name in sorted(plugins - given):
        yield f"reviewed with plugin '{name}', which was not given now: add --plugin"


def _other_rules(record: Mapping[str, Any], today: Mapping[str, Any]) -> Iterator[str]:
    """Rules that the record names and nobody gave: those of today decide whether it may be used."""
    plugins = {plugin["name"] for plugin in record["tool"]["plugins"]}
    then, now = (
        Counter(layer["name"] for layer in side["layers"]) for side in (record["ruleset"], today)
    )
    for name in then - now:
        if name not in plugins:
            yield f"it was signed under rules '{name}', which are not given today"


def _rules(
    old: Mapping[str, Any], new: Mapping[str, Any], kinds: Mapping[str, Kind]
) -> Iterator[tuple[str, str]]:
    then, now = ({each["id"]: each for each in side["criteria"]} for side in (old, new))
    for id in dict.fromkeys((*then, *now)):
        if id not in now:
            yield id, f"rule {id} of {then[id]['layer']} is no longer in force"
        elif id not in then:
            yield id, f"rule {id} of {now[id]['layer']} is new"
        else:
            parts = list(_rule_parts(then[id], now[id], kinds.get(now[id]["kind"])))
            if parts:
                yield id, f"rule {id}, now as {now[id]['layer']} has it: {'; '.join(parts)}"


def _rule_parts(old: Mapping[str, Any], new: Mapping[str, Any], kind: Kind | None) -> Iterator[str]:
    alike: dict[str, list[str]] = {}
    then, today = old.get("bands", {}), new["bands"]
    for case in dict.fromkeys((*then, *today)):
        for grade in ("acceptable", "tolerable"):
            was, now = (side.get(case, {}).get(grade) for side in (then, today))
            if was != now:
                told = f"{grade} was {_edge(was, kind)}, is {_edge(now, kind)}"
                alike.setdefault(told, []).append(case)
    for told, cases in alike.items():
        yield f"in {words.listed(cases)}, {told}"
    for part, said in _PARTS.items():
        if old.get(part, new[part]) != new[part]:
            yield f"{said} was {_value(old[part])}, is {_value(new[part])}"


def _edge(kept: float | str | None, kind: Kind | None) -> str:
    if kept is None:
        return "nothing"
    edge = float(kept)
    if kind is None:
        return words.number(edge, digits=6)
    if not kind.labels and abs(edge) >= ENDLESS:
        return "anything"
    side = "at most" if kind.worse == "higher" else "at least"
    if kind.labels:
        return f"{side} {words.rating(edge, kind.labels)}"
    return f"{side} {words.quantity(edge, kind.unit, kind.display, digits=6)}"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f'"{value}"' if value else "nothing"


def _limits(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    for name in dict.fromkeys((*old, *new)):
        was, now = (side.get(name, {}).get("value") for side in (old, new))
        if was != now:
            said = (
                "not set" if v is None else words.number(float(v), digits=6) for v in (was, now)
            )
            yield f"the limit {name} was {next(said)}, is {next(said)}"


def _data(old: list[Mapping[str, str]], review: Review) -> Iterator[str]:
    """Names that another file answers to now, or the same file with other content."""
    now = {(each.kind, each.name): (each.file, each.sha256) for each in review.data}
    for each in old:
        file, digest = now.get((each["kind"], each["name"]), (each["file"], each["sha256"]))
        name = f"the data on {each['name']}"
        if file != each["file"]:
            then = each["file"] or "no file"
            yield f"{name} come from {file or 'no file'}, and came from {then}"
        elif digest != each["sha256"]:
            yield f"{name} ({file}) have changed"


def _tool(old: Mapping[str, Any], version: str) -> Iterator[str]:
    if old["code"] != code_hash():
        said = f"{old['benchgate']} then, {version} now" if old["benchgate"] != version else version
        yield f"the code of benchgate has changed ({said})"
    now = {"Python": platform.python_version(), **libraries()}
    for name, was in {"Python": old["python"], **old["libraries"]}.items():
        if name in now and now[name] != was:
            yield f"{name} was {was}, is {now[name]}"


def _plugins(old: list[Mapping[str, str]], engine: Engine) -> Iterator[str]:
    then = {plugin["name"]: plugin["sha256"] for plugin in old}
    now = {plugin.name: plugin.sha256 for plugin in engine.plugins}
    for name in dict.fromkeys((*then, *now)):
        if name not in now:
            yield f"plugin '{name}' was not given"
        elif name not in then:
            yield f"plugin '{name}' is used now and was not then"
        elif then[name] != now[name]:
            yield f"plugin '{name}' has changed"
