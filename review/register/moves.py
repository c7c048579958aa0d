"""Which findings moved between two reviews: graded otherwise, new or gone.

Findings are plain data as `review.render.json` writes them, so that what was stored long ago can
be compared with what is said today.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Literal

from review.interface.plugin import Kind
from review.interface.result import CASES, GRADES
from review.render import words
from review.render.grouping import urgency

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


def alike(found: Iterable[Move]) -> Iterator[tuple[Move, ...]]:
    """Moves in their order, those that differ in nothing but their place together."""

    def key(move: Move) -> tuple[Any, ...]:
        sides = (move.before, move.after)
        grades = tuple(None if side is None else side["grade"] for side in sides)
        return move.criterion, move.cases, grades

    for _, same in groupby(found, key):
        yield tuple(same)


def move_in_words(
    move: Move, titles: Mapping[str, str], kinds: Mapping[str, Kind] | None = None
) -> str:
    """One move as `moves_in_words` says it."""
    return moves_in_words((move,), titles, kinds)


def moves_in_words(
    same: Sequence[Move], titles: Mapping[str, str], kinds: Mapping[str, Kind] | None = None
) -> str:
    """Moves that are `alike` as a sentence without its end.

    `titles` are the criteria's, by id. With `kinds` the numbers are told too.

    >>> old = {"criterion": "a.b", "at": "tube", "of": "", "case": "plan", "grade": "acceptable"}
    >>> found = moves([old], [{**old, "grade": "tolerable"}])
    >>> moves_in_words(found, {"a.b": "Hot part"})
    'Hot part (a.b) was acceptable, is tolerable at the stated settings: at tube'
    """
    first = same[0]
    title = titles.get(first.criterion, "")
    name = f"{title} ({first.criterion})" if title else first.criterion
    kind = (kinds or {}).get(str(first.finding.get("kind", "")))
    when = words.listed(_IN_CASE.get(case, case) for case in first.cases)
    if first.before is None:
        graded = f"is new and {first.grade}"
    elif first.after is None:
        graded = f"was {first.grade}, is not judged any more"
    else:
        graded = f"was {first.before['grade']}, is {first.grade}"
    places: dict[str, list[str]] = {}
    for move in same:
        places.setdefault("; ".join(_numbers(move, kind)), []).append(_place(move, kind))
    told = [
        f"{words.listed(filter(None, each))}{f' ({numbers})' if numbers else ''}"
        for numbers, each in places.items()
    ]
    where = "; ".join(part.strip() for part in told if part)
    return f"{name} {graded} {when}{f': {where}' if where else ''}"


def _place(move: Move, kind: Kind | None) -> str:
    subject = words.subject(move.finding["of"], kind)
    at = f"at {move.finding['at']}" if move.finding["at"] else ""
    return " ".join(part for part in (at, f"of {subject}" if subject else "") if part)


def _numbers(move: Move, kind: Kind | None) -> Iterator[str]:
    """The value and the limit, where a kind tells how to read them."""
    if kind is None or move.before is None or move.after is None:
        return
    for name, said in (("value", "value"), ("limit", "limit")):
        old, new = (_number(side.get(name)) for side in (move.before, move.after))
        if old == new:
            if new is not None:
                yield f"{said} {_quantity(new, kind)} as before"
            continue
        told = next(
            texts
            for digits in (3, 4, 6, 9, 17)
            if (texts := [_quantity(each, kind, digits) for each in (old, new)])[0] != texts[1]
            or digits == 17
        )
        yield f"{said} was {told[0]}, is {told[1]}"


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _quantity(value: float | None, kind: Kind, digits: int = 3) -> str:
    if value is None:
        return "not known"
    if kind.labels:
        return words.rating(value, kind.labels)
    return words.quantity(value, kind.unit, kind.display, digits)
