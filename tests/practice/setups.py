"""Ordinary and dangerous set-ups written out as complete scenarios from what they share.

A set-up names what it builds upon (`use:`, from parts.yaml) and says the rest; an item of its train
may be `like:` one of the parts. A change is laid over it in the same way: mappings are merged, null
takes a key away, and a list may be addressed by the `id`, `step` or `kind` of its entries.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml

HERE = Path(__file__).parent
#: By what the entries of a list are told apart.
NAMES = ("id", "step", "kind")
Part = dict[str, Any]


class Words(yaml.CSafeLoader):
    """YAML in which on, off, yes and no are words, as in a scenario."""


Words.yaml_implicit_resolvers = {
    first: [(tag, regexp) for tag, regexp in found if tag != "tag:yaml.org,2002:bool"]
    for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def read(path: Path) -> Any:
    return yaml.load(path.read_text("utf-8"), Loader=Words)


@dataclass(frozen=True)
class SetUp:
    """One set-up: its name and class, whether it ought to be allowed and why, and its text."""

    name: str
    group: str
    allowed: bool
    why: str
    text: str
    verdict: str = ""
    """What an ordinary one ought to get, stated before it was first run."""
    most: int = 5
    """The most conditions that an ordinary one deserves."""
    beside: str = ""
    """The ordinary one that a single change made dangerous."""
    wrong_input: bool = False
    """Whether it ought to be refused as wrong input."""


@cache
def set_ups() -> tuple[SetUp, ...]:
    """All of them, each ordinary one followed by its dangerous neighbours."""
    return tuple(
        found for path in sorted(HERE.glob("[od]*/*.yaml")) for found in _in_file(path)
    )


def laid_over(base: Any, change: Any) -> Any:
    """`base` with a change laid over it; neither is altered.

    >>> laid_over({"a": {"b": 1, "c": 2}}, {"a": {"b": None, "d": 3}})
    {'a': {'c': 2, 'd': 3}}
    >>> laid_over([{"id": "tube", "wall": 1}], {"tube": {"wall": 2}, "trap": {"wall": 3}})
    [{'id': 'tube', 'wall': 2}, {'id': 'trap', 'wall': 3}]
    """
    if isinstance(base, list) and isinstance(change, dict):
        return _entries(base, change)
    if not (isinstance(base, dict) and isinstance(change, dict)):
        return copy.deepcopy(change)
    out = {key: copy.deepcopy(value) for key, value in base.items() if key not in change}
    for key, value in base.items():
        if key in change and change[key] is not None:
            out[key] = laid_over(value, change[key])
    new = {k: copy.deepcopy(v) for k, v in change.items() if k not in base and v is not None}
    return {key: out[key] for key in base if key in out} | new


def _entries(base: list[Part], change: Part) -> list[Part]:
    name = next((n for n in NAMES if base and n in base[0]), NAMES[0])
    left, out = dict(change), []
    for entry in base:
        said = left.pop(entry[name], {})
        if said is not None:
            out.append(laid_over(entry, said))
    for key, value in left.items():
        if value is None:
            raise KeyError(f"a change takes away {key!r}, which is not there")
        value = copy.deepcopy(value)
        after = value.pop("after", None)
        place = len(out) if after is None else [e[name] for e in out].index(after) + 1
        out.insert(0 if after == "" else place, {name: key, **value})
    return out


def _in_file(path: Path) -> Iterator[SetUp]:
    told = read(path)
    allowed = path.parent.name == "ordinary"
    for name, part in told["set_ups"].items():
        group = part.get("class", path.stem.replace("_", " "))
        data = _written_out({"title": name, **part["scenario"]})
        yield SetUp(
            name, group, allowed, part.get("why", ""), _text(data), part.get("verdict", ""),
            part.get("most", 5), wrong_input=part.get("wrong_input", False),
        )  # fmt: skip
        for other, beside in part.get("dangerous", {}).items():
            changed = _items(laid_over({**data, "title": f"{name}: {other}"}, beside["change"]))
            yield SetUp(
                f"{name}: {other}", group, False, beside["why"], _text(changed), beside=name,
                wrong_input=beside.get("wrong_input", False),
            )  # fmt: skip


@cache
def _parts() -> Part:
    told: Part = read(HERE / "parts.yaml")
    return told


def _written_out(said: Part) -> Part:
    """A complete scenario: what is used, and over it what is said."""
    out: Part = {"title": said["title"]}
    said = dict(said)
    for name in said.pop("use", ()):
        out = laid_over(out, _parts()["bases"][name])
    return _items(laid_over(out, said))


def _items(data: Part) -> Part:
    """With each part that is `like` another written out."""
    for kind in ("train", "procedure", "safeguards"):
        if isinstance(data.get(kind), dict):
            data[kind] = _entries([], data[kind])
    train = [_like(item, "items") for item in data.get("train", ())]
    heat = {name: _like(heater, "heaters") for name, heater in data.get("heat", {}).items()}
    return {**data, "train": [{"id": i["id"], **i} for i in train], "heat": heat}


def _like(part: Part, among: str) -> Part:
    rest = {key: value for key, value in part.items() if key != "like"}
    return laid_over(_parts()[among][part["like"]], rest) if "like" in part else rest


def _text(data: Part) -> str:
    """As YAML; where there is a hood, `stands: hood` puts every item into it."""
    place = data.pop("stands", None)
    if place and data["ventilation"].get(place):
        data["train"] = [i if i["kind"] == "outlet" else {"in": place, **i} for i in data["train"]]
        data["train"] = [{"id": i["id"], **i} for i in data["train"]]
    text: str = yaml.dump(
        data, Dumper=yaml.CSafeDumper, sort_keys=False, allow_unicode=True, width=100
    )
    return text
