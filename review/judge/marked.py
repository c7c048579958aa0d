"""The reader of rulesets: YAML composed to nodes, every scalar kept as text with its line."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TypeVar

import yaml

from review.interface.result import Grade
from review.judge.conditions import Place, RulesetError, nearest
from review.scenario.nodes import composed

NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Marked:
    """A piece of YAML with its place; scalars stay text."""

    value: str | tuple[Marked, ...] | Mapping[str, Marked]
    place: Place


@contextmanager
def collected(problems: list[RulesetError]) -> Iterator[None]:
    """Note a problem and go on after the block, so that all are told at once."""
    try:
        yield
    except RulesetError as error:
        problems.append(error)


def compose(text: str, file: str) -> Marked:
    try:
        root = composed(text, "rulesets")
        if root is None:
            raise RulesetError(file, 1, "is empty")
        return marked(root, file)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = 1 if mark is None else mark.line + 1
        raise RulesetError(file, line, f"is no YAML: {error.problem or error.context}") from None
    except yaml.YAMLError as error:
        raise RulesetError(file, 1, f"is no YAML: {error}") from None


def marked(node: yaml.Node, file: str) -> Marked:
    place = Place(file, node.start_mark.line + 1)
    if isinstance(node, yaml.ScalarNode):
        return Marked(str(node.value), place)
    if isinstance(node, yaml.SequenceNode):
        return Marked(tuple(marked(each, file) for each in node.value), place)
    entries: dict[str, Marked] = {}
    lines: dict[str, int] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            raise RulesetError(file, line, "a key must be plain text")
        key = str(key_node.value)
        if key in entries:
            raise RulesetError(file, line, f"key {key!r} is already given in line {lines[key]}")
        lines[key] = line
        # The key's line, because a block value begins on the line after it.
        entries[key] = replace(marked(value_node, file), place=Place(file, line))
    return Marked(entries, place)


def read_mapping(node: Marked, what: str) -> Mapping[str, Marked]:
    if not isinstance(node.value, Mapping):
        raise RulesetError.at(node.place, f"{what} must be a mapping, 'key: value'")
    return node.value


def read_fields(node: Marked, allowed: Sequence[str], what: str) -> Mapping[str, Marked]:
    """A mapping whose keys are all known; names every unknown key."""
    fields = read_mapping(node, what)
    unknown = [
        RulesetError.at(fields[key].place, f"{what} has no key {key!r}{nearest(key, allowed)}")
        for key in fields
        if key not in allowed
    ]
    if unknown:
        raise RulesetError.joined(unknown)
    return fields


def read_items(node: Marked | None, what: str) -> tuple[Marked, ...]:
    if node is None:
        return ()
    if not isinstance(node.value, tuple):
        raise RulesetError.at(node.place, f"{what} must be a list")
    return node.value


def read_text(node: Marked, what: str) -> str:
    if not isinstance(node.value, str):
        raise RulesetError.at(node.place, f"{what} must be text")
    if not node.value.strip():
        raise RulesetError.at(node.place, f"{what} is blank")
    return node.value.strip()


def read_number(node: Marked, what: str) -> float:
    text = read_text(node, what)
    number = float(text) if NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(number):
        raise RulesetError.at(node.place, f"{what}: {text!r} is no finite number")
    return number


def read_choice(node: Marked, allowed: Sequence[T], what: str) -> T:
    text = read_text(node, what)
    for each in allowed:
        if each == text:
            return each
    hint = nearest(text, map(str, allowed)) or f"; write one of {', '.join(map(str, allowed))}"
    raise RulesetError.at(node.place, f"{what}: {text!r} is not known{hint}")


def read_grade(node: Marked | None, allowed: Sequence[Grade], default: Grade, what: str) -> Grade:
    return default if node is None else read_choice(node, allowed, what)


def read_yes(node: Marked, what: str) -> bool:
    return read_choice(node, ("yes", "no", "true", "false"), what) in ("yes", "true")
