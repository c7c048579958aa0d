"""What changed between two scenarios, in words; with `moves`, what changed between two reviews."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any, NamedTuple

from review.register.moves import Move, alike, move_in_words, moves, moves_in_words
from review.render import words
from review.scenario import InputError, loads
from review.scenario.units import Stated
from review.scenario.yaml import read_bytes

__all__ = [
    "Change", "Move", "alike", "move_in_words", "moves", "moves_in_words", "scenario_changes",
]  # fmt: skip

#: What one entry of a section is called; elsewhere a change is told field by field.
_NOUNS = {
    "reagents": "reagent",
    "flows": "flow",
    "train": "item",
    "heat": "heat source",
    "catalysts": "catalyst",
    "frame.feet": "foot",
    "frame.masses": "mass",
    "frame.rods": "rod",
    "frame.clamps": "clamp",
    "procedure": "step",
    "safeguards": "safeguard",
}
#: Lists whose entries have a name, and the field that holds it.
_NAMED_BY = {"train": "id", "procedure": "step", "safeguards": "kind"}
#: Lists whose order is the order in which something happens.
_ORDERED = ("train", "procedure")
_LONGEST, _LEAD = 100, 20
_ABSENT: Any = object()
"""Where nothing is written, or where nobody knows what is meant."""

Key = str | int


class Change(NamedTuple):
    """One difference of two scenarios. `same` where both mean the same, in other words or units."""

    words: str
    same: bool = False


def scenario_changes(old: str, new: str) -> tuple[Change, ...]:
    """What differs between two scenario texts, field by field; nothing where only comments differ.

    Values are told as they are written. Raises `InputError` for a text that is no YAML; whether it
    is a valid scenario does not matter.

    >>> old = "title: t\\ntrain: [{id: tube, kind: reactor, length: 600 mm}]"
    >>> for change in scenario_changes(old, old.replace("600 mm", "500 mm")):
    ...     print(change.words)
    train.tube.length was 600 mm, is 500 mm
    """
    before, after = (read_bytes(t.encode("utf-8", "surrogatepass"), "<text>") for t in (old, new))
    return tuple(_changes("", _Sides(before.data, after.data, _meaning(old), _meaning(new))))


@dataclass(frozen=True, slots=True)
class _Sides:
    """Two values: as they are written, and what they mean with defaults filled in."""

    old: Any
    new: Any
    was: Any
    now: Any

    def part(self, old: Key | None, new: Key | None) -> _Sides:
        """What stands under a key or an index on each side; None where it stands on one only."""
        # A key that is not written may still have a default; an entry of a list has none.
        other = {key for key in (old, new) if isinstance(key, str)}
        was, now = (key if key is not None else next(iter(other), None) for key in (old, new))
        return _Sides(
            _under(self.old, old), _under(self.new, new), _under(self.was, was),
            _under(self.now, now),
        )  # fmt: skip

    @property
    def same(self) -> bool:
        return _ABSENT not in (self.was, self.now) and _alike(self.was, self.now)


def _meaning(text: str) -> Any:
    try:
        return loads(text).model_dump(by_alias=True)
    except InputError:
        return _ABSENT


def _under(value: Any, key: Key | None) -> Any:
    if isinstance(value, list) and isinstance(key, int):
        return value[key]
    return value.get(key, _ABSENT) if isinstance(value, dict) else _ABSENT


def _alike(was: Any, now: Any) -> bool:
    """Whether two meanings are one, but for the last digit of a converted unit."""
    if isinstance(was, Stated) and isinstance(now, Stated):
        return was.by == now.by and _alike(was.value, now.value)
    if isinstance(was, float) and isinstance(now, float):
        return math.isclose(was, now, rel_tol=1e-12)
    if isinstance(was, dict) and isinstance(now, dict):
        return was.keys() == now.keys() and all(_alike(was[key], now[key]) for key in was)
    if isinstance(was, list) and isinstance(now, list):
        return len(was) == len(now) and all(map(_alike, was, now))
    return bool(was == now)


def _changes(path: str, sides: _Sides) -> Iterator[Change]:
    """Every difference below a path; at least one where what is written differs."""
    old, new = sides.old, sides.new
    if old is not _ABSENT and new is not _ABSENT and old == new:
        return
    inner: list[Change] = []
    if _is_absent_or(old, dict) and _is_absent_or(new, dict):
        keys = [{key: key for key in side} if side is not _ABSENT else {} for side in (old, new)]
        inner += _entries(path, sides, *keys)
    elif _has_entries(old) and _has_entries(new):
        old_names, new_names = _names(path, old, new)
        inner += _entries(path, sides, old_names, new_names)
        inner += _order(path, list(old_names), list(new_names)) if path in _ORDERED else ()
        if not inner and old and new and _ABSENT not in (old, new):
            inner.append(Change(f"{path} stand in another order"))
    yield from inner or [_leaf(path, sides)]


def _is_absent_or(value: Any, kind: type) -> bool:
    return value is _ABSENT or isinstance(value, kind)


def _has_entries(value: Any) -> bool:
    """A list of entries with fields, or none at all; a list of texts is one value."""
    return value is _ABSENT or (
        isinstance(value, list) and all(isinstance(part, dict) for part in value)
    )


def _names(path: str, old: Any, new: Any) -> tuple[dict[str, int], dict[str, int]]:
    """The entries of two lists by name, with their indices; else by their number.

    Where names need not be unique, entries that are alike on both sides are paired first.
    """
    field = _NAMED_BY.get(path, "")
    sides = [list(enumerate(side)) if side is not _ABSENT else [] for side in (old, new)]
    if path and path not in _ORDERED and field:
        for entry in list(sides[0]):
            twin = next((other for other in sides[1] if other[1] == entry[1]), None)
            if twin is not None:
                sides[0].remove(entry)
                sides[1].remove(twin)
    return _named(sides[0], field), _named(sides[1], field)


def _named(entries: Sequence[tuple[int, Mapping[str, Any]]], field: str) -> dict[str, int]:
    found: dict[str, int] = {}
    for index, entry in entries:
        given = entry.get(field)
        name = given if isinstance(given, str) else str(index)
        count = 1 + sum(other.partition(" (")[0] == name for other in found)
        found[name if count == 1 else f"{name} ({count})"] = index
    return found


def _entries(
    path: str, sides: _Sides, old: Mapping[str, Key], new: Mapping[str, Key]
) -> Iterator[Change]:
    """What differs in the entries of two mappings or lists, by name."""
    noun = _NOUNS.get(path)
    for name in dict.fromkeys((*old, *new)):
        below = f"{path}.{name}" if path else name
        if noun and name not in new:
            yield Change(f"{noun} {name} is gone")
        elif noun and name not in old:
            yield Change(f"{noun} {name} was added")
        else:
            yield from _changes(below, sides.part(old.get(name), new.get(name)))


def _order(path: str, old: Sequence[str], new: Sequence[str]) -> Iterator[Change]:
    """The fewest entries that were moved, each with what it now comes after."""
    before = [name for name in old if name in new]
    after = [name for name in new if name in old]
    kept: set[str] = set()
    for block in SequenceMatcher(None, after, before, autojunk=False).get_matching_blocks():
        kept.update(after[block.a : block.a + block.size])
    for position, name in enumerate(new):
        if name in old and name not in kept:
            place = f"after {_NOUNS[path]} {new[position - 1]}" if position else "first"
            yield Change(f"{_NOUNS[path]} {name} now comes {place}")


def _leaf(path: str, sides: _Sides) -> Change:
    old, new = (_written(side) for side in (sides.old, sides.new))
    if sides.old is not _ABSENT and sides.new is not _ABSENT:
        if old == new:
            texts = isinstance(sides.old, str) and isinstance(sides.new, str)
            how = "differs only in its blanks" if texts else "is written in another way"
            return Change(f"{path} {how}", sides.same)
        old, new = _excerpts(old, new)
    was = "was not given" if sides.old is _ABSENT else f"was {old}"
    now = "is no longer given" if sides.new is _ABSENT else f"is {new}"
    return Change(f"{path} {was}, {now}{', which is the same' if sides.same else ''}", sides.same)


def _written(value: Any) -> str:
    """A value as a line of text; what stands in the file is kept, brackets and quotes are not."""
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_written(part)}" for key, part in value.items()) or "empty"
    if isinstance(value, list):
        return words.listed(_written(part) for part in value) or "empty"
    return words.clean(str(value)) or "blank"


def _excerpts(old: str, new: str) -> tuple[str, str]:
    """Two texts short enough for a line, and still showing where they first differ."""
    if max(len(old), len(new)) <= _LONGEST:
        return old, new
    at = next((n for n, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1]), 0)
    at = at or min(len(old), len(new))
    start = 0 if at < _LONGEST - _LEAD else at - _LEAD
    return _excerpt(old, start), _excerpt(new, start)


def _excerpt(text: str, start: int) -> str:
    end = start + _LONGEST
    return f"{'…' if start else ''}{text[start:end]}{'…' if len(text) > end else ''}"
