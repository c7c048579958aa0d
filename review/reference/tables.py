"""Reads YAML as tables that know the line of every key; every scalar stays text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from review.reference.data import DataError
from review.reference.properties import HOW
from review.scenario.nodes import composed, text_of


class Table(dict[str, Any]):
    """A mapping of a file with the line of each key; scalars stay text, so NO stays NO."""

    path: Path
    line: int
    lines: dict[str, int]

    def error(self, name: str, message: str) -> DataError:
        return DataError(f"{self.path}:{self.lines.get(name, self.line)}: {name}: {message}")


def _plain(node: yaml.Node, path: Path) -> Any:
    start = node.start_mark.line + 1
    if isinstance(node, yaml.ScalarNode):
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, path) for item in node.value]
    table = Table()
    table.path, table.line, table.lines = path, start, {}
    for key_node, value in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            raise DataError(f"{path}:{line}: a key must be plain text")
        name = str(key_node.value)
        if name in table:
            raise DataError(
                f"{path}:{line}: {name}: listed twice, first in line {table.lines[name]}"
            )
        table[name], table.lines[name] = _plain(value, path), line
    return table


def read_table(path: Path) -> Table:
    """A YAML file as a mapping whose scalars are text; DataError for anything else.

    What is returned is shared by all who read the same text: not to be written to.
    """
    try:
        return _table(path, text_of(path))
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise DataError(f"{path}:{line}: {error.problem}") from error
    except (yaml.YAMLError, OSError) as error:
        raise DataError(f"{path}: cannot be read: {error}") from error


@lru_cache(maxsize=1024)
def _table(path: Path, text: str) -> Table:
    """Many engines of one process read the same files."""
    node = composed(text, "data files")
    if not isinstance(node, yaml.MappingNode):
        raise DataError(f"{path}:1: a mapping was expected")
    table = _plain(node, path)
    assert isinstance(table, Table)
    return table


def number_of(table: Table, name: str, text: Any) -> float:
    """A finite number; DataError for anything else."""
    try:
        value = float(text)
    except (TypeError, ValueError):
        raise table.error(name, f"{text!r} is not a number") from None
    if not math.isfinite(value):
        raise table.error(name, f"{text!r} is not a finite number")
    return value


def entry_of(table: Table, name: str, allowed: Sequence[str]) -> Table:
    """The mapping under `name`, its provenance checked; a bare `unknown` becomes a mapping.

    `none` is a statement about the thing and needs a source like a number.
    """
    entry = table[name]
    if entry == "unknown":
        bare = Table(value=entry)
        bare.path, bare.line, bare.lines = table.path, table.lines[name], {}
        return bare
    if not isinstance(entry, Table):
        lacks = "`none` needs a source: write {value: none, how: .., source: ..}"
        raise table.error(
            name, lacks if entry == "none" else "a mapping with a source or `unknown` was expected"
        )
    only(entry, ("source", "how", *allowed))
    if entry.get("value") != "unknown":
        if not str(entry.get("source", "")).strip():
            raise table.error(name, "has no source")
        if entry.get("how") not in HOW:
            raise table.error(name, f"how must be one of {', '.join(HOW)}")
    return entry


def texts(table: Table, single: Sequence[str], lists: Sequence[str]) -> None:
    """DataError where what is there is no text, or a list holds anything but texts."""
    for name in single:
        if not isinstance(table.get(name, ""), str):
            raise table.error(name, "text was expected")
    for name in lists:
        said = table.get(name, [])
        if isinstance(said, list) and not all(isinstance(text, str) for text in said):
            raise table.error(name, "a list of texts was expected")


def only(table: Table, allowed: Sequence[str]) -> None:
    """DataError for a key that nobody knows."""
    for name in table:
        if name not in allowed:
            raise table.error(name, "unknown key")
