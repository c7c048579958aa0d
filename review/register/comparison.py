"""What changed between two scenarios, and which findings moved between two reviews, in words.

Both work on plain data (the text of a scenario, findings as `review.render.json` writes them), so
that what was stored long ago can be compared with what is said today.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any, Literal, NamedTuple

from review.plugin import Kind
from review.render import words
from review.render.grouping import urgency
from review.result import CASES, GRADES
from review.scenario import InputError, loads
from review.scenario.units import Stated
from review.scenario.yaml import read_bytes

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


Direction = Literal["worse", "better", "new", "gone"]


@dataclass(frozen=True, slots=True)
class Move:
    """One finding that is graded otherwise, is new or is gone.

    `before` and `after` are findings as `to_json` writes them, None where there is none. `cases`
    are all cases in which the same happened to the same criterion, place and subject; `before` and
    `after` are of the first of them.
    """

    direction: Direction
    cases: tuple[str, ...]
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None

    @property
    def finding(self) -> Mapping[str, Any]:
        """What is said now, or was said last."""
        found = self.after if self.after is not None else self.before
        assert found is not None
        return found

    @property
    def grade(self) -> str:
        return str(self.finding["grade"])

    @property
    def criterion(self) -> str:
        return str(self.finding["criterion"])

    @property
    def matters(self) -> bool:
        """False for a new finding that is acceptable: it takes nothing back."""
        return self.direction != "new" or self.grade != "acceptable"


def moves(
    before: Iterable[Mapping[str, Any]], after: Iterable[Mapping[str, Any]]
) -> tuple[Move, ...]:
    """The findings that moved, the most serious first; `before` and `after` as in `to_json`.

    Worse and new come first, by what they now are, then what is gone, then what is better.

    >>> old = {"criterion": "a.b", "at": "tube", "of": "", "case": "plan", "grade": "acceptable"}
    >>> [move] = moves([old], [{**old, "grade": "unacceptable"}])
    >>> move.direction, move.grade
    ('worse', 'unacceptable')
    """
    old, new = _by_key(before), _by_key(after)
    found: dict[tuple[Any, ...], Move] = {}
    for key in sorted({*old, *new}, key=lambda k: (k[:3], _case_order(k[3]), k[4])):
        was, now = old.get(key), new.get(key)
        direction = _direction(was, now)
        if direction is None:
            continue
        grades = [side["grade"] if side is not None else None for side in (was, now)]
        alike = (*key[:3], key[4], *grades)
        known = found.get(alike)
        cases = (*(known.cases if known else ()), key[3])
        found[alike] = Move(
            direction, cases, known.before if known else was, known.after if known else now
        )
    return tuple(sorted(found.values(), key=_gravity))


def _by_key(findings: Iterable[Mapping[str, Any]]) -> dict[tuple[Any, ...], Mapping[str, Any]]:
    """Findings by criterion, place, subject and case; alike ones are numbered, gravest first."""
    found: dict[tuple[Any, ...], Mapping[str, Any]] = {}
    for finding in sorted(findings, key=lambda f: GRADES.index(f["grade"])):
        key = tuple(finding[name] for name in ("criterion", "at", "of", "case"))
        number = 0
        while (*key, number) in found:
            number += 1
        found[(*key, number)] = finding
    return found


def _case_order(case: str) -> int:
    return CASES.index(case) if case in CASES else len(CASES)


def _direction(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None) -> Direction | None:
    if was is None or now is None:
        return "new" if was is None else "gone"
    before, after = GRADES.index(was["grade"]), GRADES.index(now["grade"])
    return None if before == after else "worse" if after < before else "better"


def _gravity(move: Move) -> tuple[Any, ...]:
    group = {"worse": 0, "new": 0, "gone": 1, "better": 2}[move.direction]
    place = tuple(str(move.finding[name]) for name in ("criterion", "at", "of"))
    return (
        group if move.matters else 3,
        GRADES.index(move.finding["grade"]),
        urgency(move.criterion),
        place,
        _case_order(move.cases[0]),
    )


_IN_CASE = {
    "plan": "at the stated settings",
    "step": "in a step as planned",
    "upset": "after a single failure",
    "sample": "within the stated accuracies",
}


def move_in_words(
    move: Move, titles: Mapping[str, str], kinds: Mapping[str, Kind] | None = None
) -> str:
    """A move as a sentence without its end; with `kinds` its numbers too, `titles` by criterion.

    >>> old = {"criterion": "a.b", "at": "tube", "of": "", "case": "plan", "grade": "acceptable"}
    >>> [move] = moves([old], [{**old, "grade": "tolerable"}])
    >>> move_in_words(move, {"a.b": "Hot part"})
    'Hot part (a.b) at tube, at the stated settings: was acceptable, is tolerable'
    """
    finding = move.finding
    title = titles.get(move.criterion, "")
    name = f"{title} ({move.criterion})" if title else move.criterion
    kind = (kinds or {}).get(str(finding.get("kind", "")))
    subject = words.subject(finding["of"], kind)
    place = " ".join(p for p in (finding["at"], f"({subject})" if subject else "") if p)
    when = words.listed(_IN_CASE.get(case, case) for case in move.cases)
    where = f"{name}{f' at {place}' if place else ''}, {when}"
    if move.before is None:
        return f"{where}: is new and {move.grade}"
    if move.after is None:
        return f"{where}: was {move.grade}, is not judged any more"
    graded = f"was {move.before['grade']}, is {move.grade}"
    return "; ".join((f"{where}: {graded}", *_numbers(move.before, move.after, kind)))


def _numbers(was: Mapping[str, Any], now: Mapping[str, Any], kind: Kind | None) -> Iterator[str]:
    """The value and the limit, where a kind tells how to read them."""
    if kind is None:
        return
    for name, said in (("value", "the value"), ("limit", "the limit it is held to")):
        old, new = (_number(side.get(name)) for side in (was, now))
        if old is None and new is None:
            continue
        if old == new:
            yield f"{said} is {_quantity(new, kind)} as before"
        else:
            yield f"{said} was {_quantity(old, kind)}, is {_quantity(new, kind)}"


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _quantity(value: float | None, kind: Kind) -> str:
    if value is None:
        return "not known"
    if kind.labels:
        return words.rating(value, kind.labels)
    return words.quantity(value, kind.unit, kind.display, digits=4)
