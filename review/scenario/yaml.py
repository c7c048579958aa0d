"""YAML read as plain text with places.

Every scalar stays the text that was written, so that `NO` is nitric oxide, `on` a word and
`1:30` no number. The parser's events are composed here and not by the YAML library, so that
duplicate keys, tags, aliases and nesting are refused before they cost memory or stack.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from review.scenario.errors import InputError, Problem, quoted

LARGEST_FILE = 4_000_000  # bytes
MOST_NODES = 20_000  # after aliases are expanded
DEEPEST = 40

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_CONTROL = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Where = tuple[str | int, ...]


class Place(NamedTuple):
    """A place in the file, both numbers from 1, and the text that stands there."""

    line: int
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Document:
    """A file as nested dict, list and str.

    `places` maps a path (keys and list indices) to the value's place, or to the key's place where
    the value is a mapping or list; `keys` maps it to the place of its key.
    """

    file: str
    data: dict[str, Any]
    places: dict[Where, Place]
    keys: dict[Where, Place]
    sha256: str

    def problem(
        self, path: Where, message: str, suggestion: str = "", *, at_key: bool = False
    ) -> Problem:
        """A problem at a path; at the nearest enclosing place where the path does not exist."""
        return problem_at(
            self.file, self.keys if at_key else self.places, path, message, suggestion
        )


def problem_at(
    file: str, places: dict[Where, Place], path: Where, message: str, suggestion: str = ""
) -> Problem:
    """A problem at the deepest part of `path` that has a place; at 1:1 where no part has."""
    for end in range(len(path), 0, -1):
        place = places.get(path[:end])
        if place:
            return Problem(file, place.line, place.column, place.text, message, suggestion)
    return Problem(file, 1, 1, "", message, suggestion)


def read_file(path: str | os.PathLike[str]) -> Document:
    """Read one YAML file. Raises InputError for whatever keeps it from being read."""
    name = os.fspath(path)
    try:
        status = os.stat(name)
        if stat.S_ISDIR(status.st_mode):
            raise _refused(name, "is a directory, not a file")
        if not stat.S_ISREG(status.st_mode):
            raise _refused(name, "is not a regular file")
        if status.st_size > LARGEST_FILE:
            raise _refused(name, f"is too large: {status.st_size} bytes, at most {LARGEST_FILE}")
        with Path(name).open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _refused(name, "no such file") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise _refused(name, f"cannot be read: {reason}") from None
    return read_bytes(content, name)


def read_bytes(content: bytes, name: str) -> Document:
    """Read the bytes of one YAML file; `name` stands in messages."""
    if len(content) > LARGEST_FILE:
        raise _refused(name, f"is too large: {len(content)} bytes, at most {LARGEST_FILE}")
    if b"\0" in content:
        raise _refused(name, "is binary, not text")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8", "replace")
        raise InputError([_at_offset(name, before, "is not UTF-8 text")]) from None
    odd = _CONTROL.search(text)
    if odd:
        message = f"control character U+{ord(odd[0]):04X} is not allowed"
        raise InputError([_at_offset(name, text[: odd.start()], message)])
    return _Composer(name, text).document(hashlib.sha256(content).hexdigest())


def _refused(name: str, message: str) -> InputError:
    return InputError([Problem(name, 0, 0, "", message)])


def _at_offset(name: str, before: str, message: str) -> Problem:
    last_line = before.rpartition("\n")[2]
    return Problem(name, before.count("\n") + 1, len(last_line) + 1, "", message)


@dataclass(slots=True)
class _Node:
    line: int
    column: int
    text: str | None = None
    pairs: list[tuple[_Node, _Node]] | None = None
    parts: list[_Node] | None = None
    size: int = 1
    height: int = 1


@dataclass(slots=True)
class _Composer:
    """Events to nodes to plain data. Structural errors stop it; duplicate keys are collected."""

    name: str
    text: str
    anchors: dict[str, _Node | None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    places: dict[Where, Place] = field(default_factory=dict)
    keys: dict[Where, Place] = field(default_factory=dict)
    total: int = 0

    def document(self, sha256: str) -> Document:
        try:
            root = self.compose_all()
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            what = error.problem or error.context or "cannot be read"
            problem = Problem(self.name, line, column, "", f"not valid YAML: {what}")
            raise InputError([*self.problems, problem]) from None
        except yaml.YAMLError as error:
            what = str(error).splitlines()[0]
            raise InputError([Problem(self.name, 1, 1, "", f"not valid YAML: {what}")]) from None
        if root is None or root.text == "":
            raise _refused(self.name, "is empty")
        if root.pairs is None:
            raise self.stop(root, "expected a mapping (key: value lines) at the top")
        data = self.plain(root, ())
        if self.problems:
            raise InputError(self.problems)
        return Document(self.name, data, self.places, self.keys, sha256)

    def stop(self, mark: Any, message: str) -> InputError:
        if isinstance(mark, _Node):
            line, column = mark.line, mark.column
        else:
            line, column = mark.line + 1, mark.column + 1
        return InputError([*self.problems, Problem(self.name, line, column, "", message)])

    def compose_all(self) -> _Node | None:
        events: Iterator[Any] = yaml.parse(self.text, Loader=_LOADER)
        root: _Node | None = None
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                if root is not None:
                    raise self.stop(event.start_mark, "a second document starts here; one per file")
            elif isinstance(event, yaml.NodeEvent):
                root = self.compose(event, events, 1)
        return root

    def compose(self, event: Any, events: Iterator[Any], depth: int) -> _Node:
        mark = event.start_mark
        if isinstance(event, yaml.AliasEvent):
            node = self.aliased(event, depth)
        else:
            if event.tag is not None:
                tag = event.tag.replace("tag:yaml.org,2002:", "!!")
                raise self.stop(mark, f"tag {quoted(tag)} is not allowed: all values are text")
            if depth > DEEPEST:
                raise self.stop(mark, f"nested more than {DEEPEST} deep")
            if event.anchor is not None:
                self.anchors[event.anchor] = None
            node = self.fresh(event, events, depth)
            if event.anchor is not None:
                self.anchors[event.anchor] = node
            self.total += 1
        if self.total > MOST_NODES:
            raise self.stop(mark, f"more than {MOST_NODES} values (aliases expanded)")
        return node

    def aliased(self, event: Any, depth: int) -> _Node:
        mark = event.start_mark
        if event.anchor not in self.anchors:
            raise self.stop(mark, f"alias {quoted(event.anchor)} has no anchor before it")
        node = self.anchors[event.anchor]
        if node is None:
            raise self.stop(mark, f"alias {quoted(event.anchor)} contains itself")
        if depth + node.height - 1 > DEEPEST:
            raise self.stop(mark, f"nested more than {DEEPEST} deep")
        self.total += node.size
        return node

    def fresh(self, event: Any, events: Iterator[Any], depth: int) -> _Node:
        node = _Node(event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, yaml.ScalarEvent):
            node.text = event.value
            return node
        inside: list[_Node] = []
        for child in events:
            if isinstance(child, yaml.CollectionEndEvent):
                break
            inside.append(self.compose(child, events, depth + 1))
        node.size += sum(part.size for part in inside)
        node.height += max((part.height for part in inside), default=0)
        if isinstance(event, yaml.MappingStartEvent):
            node.pairs = list(zip(inside[::2], inside[1::2], strict=True))
            self.check_keys(node.pairs)
        else:
            node.parts = inside
        return node

    def check_keys(self, pairs: list[tuple[_Node, _Node]]) -> None:
        seen: dict[str, _Node] = {}
        for key, _ in pairs:
            if key.text is None:
                raise self.stop(key, "a key must be plain text")
            wrong = ""
            if key.text == "":
                wrong = "a key is empty"
            elif key.text == "<<":
                wrong = "merge keys (<<) are not supported"
            elif key.text in seen:
                first = seen[key.text]
                wrong = f"duplicate key {quoted(key.text)}, first at {first.line}:{first.column}"
            if wrong:
                self.problems.append(Problem(self.name, key.line, key.column, key.text, wrong))
            seen.setdefault(key.text, key)

    def plain(self, node: _Node, path: Where) -> Any:
        if node.text is not None:
            self.places[path] = Place(node.line, node.column, node.text)
            return node.text
        self.places[path] = self.keys.get(path, Place(node.line, node.column, ""))
        if node.parts is not None:
            return [self.plain(part, (*path, i)) for i, part in enumerate(node.parts)]
        result: dict[str, Any] = {}
        for key, value in node.pairs or ():
            name = key.text or ""
            self.keys[(*path, name)] = Place(key.line, key.column, name)
            result[name] = self.plain(value, (*path, name))
        return result
