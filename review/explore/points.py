"""One number of a scenario as something to turn, and the review of the file with other numbers.

A point is a review of the changed file itself, as if a user had typed the numbers, so whatever a
review reads of a number follows it, and a number that no file may hold is a wrong input there too.
"""

from __future__ import annotations

import copy
import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from review.engine.wishes import unmet
from review.explore.rounding import rounded
from review.interface.result import GRADES, Finding, Review, Verdict
from review.judge.verdict import verdict
from review.scenario import InputError, Scenario, loads, numbers
from review.scenario.errors import path_parts

ALLOWED: tuple[Verdict, ...] = ("may proceed", "may proceed with conditions")
#: Verdict of a point whose file is refused as wrong input.
NO_FILE = "wrong input"
_NUMBER = re.compile(r"^\s*([-+]?\d+(?:\.\d*)?(?:[eE][-+]?\d+)?)\s*(.*)$")

Reviewer = Callable[[Scenario], Review]
Reader = Callable[[str, str], Scenario]
#: Criterion, place and subject.
Same = tuple[str, str, str]


class RangeError(ValueError):
    """What was asked for cannot be turned: the message says why and what is near."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A number of the file by its path: its value and unit as written, and the limits to look at.

    `set_to` writes a value into the file's data, into several entries for a ratio or a total of
    flows. Values are in the unit of the file.
    """

    path: str
    unit: str
    value: float
    low: float
    high: float
    set_to: Callable[[Any, float], None] = field(compare=False, repr=False)
    places: tuple[tuple[str | int, ...], ...] = ()
    """Where in the file's data it is written."""

    def safely(self, good: float, bad: float) -> str:
        """`good` in few digits, rounded away from `bad`, with its unit."""
        return self.show(rounded(good, bad, least=3))

    def show(self, value: float) -> str:
        """The value with its unit, as it can be typed into the file."""
        return f"{value:.4g} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Blocker:
    """What refuses or cannot be judged at a point: criterion, place, subject, case, run, step."""

    criterion: str
    title: str
    at: str
    of: str
    case: str
    trial: str
    step: str
    grade: str
    when: str = ""
    """As planned, or after which failure, in words."""

    @property
    def same(self) -> Same:
        """What makes two of them the same trouble at two points."""
        return self.criterion, self.at, self.of


@dataclass(frozen=True, slots=True)
class Point:
    """One reviewed setting: values in the units of the file, verdict, and what blocks it."""

    values: tuple[float, ...]
    verdict: str
    blockers: tuple[Blocker, ...]
    margin: float
    """Least distance of any decided finding to its band edge, as a share of the edge; NaN: none."""
    graded: Mapping[Same, tuple[str, float, float]] = field(
        default_factory=dict, compare=False, repr=False
    )
    """By criterion, place and subject the worst grade, the value, and the edge next to it."""
    unmet: tuple[str, ...] = ()
    """What the user wants and has not there."""

    @property
    def allowed(self) -> bool:
        """Whether the run may proceed there, perhaps with conditions."""
        return self.verdict in ALLOWED


class Points:
    """Reviews of one file at any values of the numbers that are turned; each setting once.

    `read` reads a changed file, with the words of plugins where there are some.
    """

    together = 1
    """How many settings `several` takes at once."""

    def __init__(
        self, text: str, name: str, turned: Sequence[Turned], review: Reviewer,
        read: Reader = loads,
    ) -> None:  # fmt: skip
        self._data = plain(text, name, read)
        self._name, self.turned, self._review, self._read = name, tuple(turned), review, read
        self.seen: dict[tuple[float, ...], Point] = {}

    def at(self, *values: float) -> Point:
        """The review at these values, in the order of `turned`."""
        if values not in self.seen:
            self.seen[values] = self._reviewed(values)
        return self.seen[values]

    def several(self, settings: Sequence[tuple[float, ...]]) -> list[Point]:
        """Many settings, in their order."""
        return [self.at(*values) for values in settings]

    def text(self, *values: float) -> str:
        """The changed file."""
        import yaml

        data = copy.deepcopy(self._data)
        for turned, value in zip(self.turned, values, strict=True):
            turned.set_to(data, value)
        return yaml.safe_dump(data, sort_keys=False, allow_unicode=True)

    def _reviewed(self, values: tuple[float, ...]) -> Point:
        try:
            scenario = self._read(self.text(*values), self._name)
            review = self._review(scenario)
        except InputError as error:
            return Point(values, NO_FILE, (refused(error),), float("nan"))
        return Point(
            values, review.verdict, blockers(review), margin(review.findings),
            _graded(review.findings), unmet(scenario, review),
        )  # fmt: skip


def refused(error: InputError) -> Blocker:
    """What refuses a file as wrong input; its place is one of the file as it would be."""
    return Blocker("input", error.problems[0].message, "", "", "", "", "", "undetermined")


def blockers(review: Review) -> tuple[Blocker, ...]:
    """What stands against the run, in the order of the review."""
    runs = {run.id: run for run in review.trials.runs}
    return tuple(
        Blocker(
            f.criterion,
            f.title,
            f.at,
            f.of,
            f.case,
            f.trial,
            f.step,
            f.grade,
            f"if {runs[f.trial].title}"
            if f.case == "upset" and f.trial in runs
            else "within the accuracies"
            if f.case == "sample"
            else "as planned",
        )
        for f in review.findings
        if verdict([f]) not in ALLOWED
    )


def _graded(findings: Iterable[Finding]) -> dict[Same, tuple[str, float, float]]:
    found: dict[Same, tuple[str, float, float]] = {}
    for f in findings:
        key = f.criterion, f.at, f.of
        before = found.get(key)
        if before is None or GRADES.index(f.grade) < GRADES.index(before[0]):
            limit = float("nan") if f.limit is None else f.limit
            found[key] = f.grade, f.value, limit
    return found


def margin(findings: Iterable[Finding]) -> float:
    """How near the nearest finding is to its edge: |value - limit| / |limit|; NaN where none is."""
    found = [
        abs(f.value - f.limit) / abs(f.limit)
        for f in findings
        if f.limit is not None and f.limit != 0 and f.value == f.value
    ]
    return min(found, default=float("nan"))


def plain(text: str, name: str, read: Reader = loads) -> Any:
    """The file as plain data whose scalars are text, as a scenario is read."""
    import yaml

    read(text, name)  # every error of the file first
    return yaml.load(text, Loader=yaml.BaseLoader)


def turned(scenario: Scenario, data: Any, asked: str) -> Turned:
    """What a path names; `PATH=LOW..HIGH` also says how far to look.

    `ratio of A to B` turns two flows at constant total, `total of A and B` both at constant ratio.
    Raises RangeError for an unknown path, a word in place of a number, and a wrong or empty range.
    """
    path, told, limits = (part.strip() for part in asked.partition("="))
    given = scenario.given(path)
    if given is not None and path not in numbers(scenario):
        raise RangeError(f"{path!r} is {given!r} in the file, which is no number")
    mixture = re.fullmatch(r"(ratio|total) of (.+?) (?:to|and) (.+)", path)
    if mixture is not None:
        found = _mixture(data, path, *mixture.groups())
    else:
        keys = located(scenario, path)
        number, unit = written(data, keys, path)
        setter = _setter([(keys, 1.0)], unit)
        found = Turned(path, unit, number, *_around(number, unit), setter, (keys,))
    return _within(found, limits) if told else found


def located(scenario: Scenario, path: str) -> tuple[str | int, ...]:
    """A dotted path as keys and indices of the file; items and steps by their names."""
    known = numbers(scenario)
    if path not in known:
        near = difflib.get_close_matches(path, known, 3, 0.5)
        hint = f"nearest: {', '.join(near)}" if near else "`benchgate range FILE` lists them"
        raise RangeError(f"no number of this file is called {path!r}; {hint}")
    parts: list[str | int] = list(path_parts(path))
    names = {
        "train": [item.id for item in scenario.train],
        "procedure": [step.step for step in scenario.procedure],
    }.get(str(parts[0]), [])
    if len(parts) > 1 and parts[1] in names:
        parts[1] = names.index(str(parts[1]))
    if len(parts) > 3 and parts[2] == "reactions":
        parts[3] = int(parts[3])
    return tuple(parts)


def written(data: Any, keys: Sequence[str | int], path: str) -> tuple[float, str]:
    """The number and unit that stand in the file; RangeError where none does."""
    at = data
    for key in keys:
        try:
            at = at[key]
        except (KeyError, IndexError, TypeError):
            raise RangeError(f"{path!r} is not written in the file; write it there first") from None
    match = _NUMBER.match(at) if isinstance(at, str) else None
    if match is None:
        raise RangeError(f"{path!r} is {at!r} in the file, which is no number")
    return float(match[1]), match[2].strip()


def _mixture(data: Any, path: str, what: str, one: str, other: str) -> Turned:
    places: list[tuple[tuple[str | int, ...], float]] = []
    units = set()
    for flow in (one, other):
        if flow not in data.get("flows", {}):
            raise RangeError(f"{path!r}: no flow of this file is called {flow!r}")
        keys: tuple[str | int, ...] = ("flows", flow, "rate")
        number, unit = written(data, keys, path)
        places.append((keys, number))
        units.add(unit)
    if len(units) > 1:
        raise RangeError(f"{path!r}: write both flows in one unit")
    (unit,) = units
    a, b = (number for _, number in places)
    if b <= 0 or a <= 0:
        raise RangeError(f"{path!r}: both flows must be above zero")
    where = tuple(keys for keys, _ in places)
    if what == "total":
        return Turned(
            path, unit, a + b, (a + b) / 5, (a + b) * 5,
            _setter([(places[0][0], a / (a + b)), (places[1][0], b / (a + b))], unit), where,
        )  # fmt: skip

    def set_ratio(changed: Any, ratio: float) -> None:
        share = ratio / (1.0 + ratio)
        put(changed, places[0][0], f"{share * (a + b):.9g} {unit}")
        put(changed, places[1][0], f"{(1.0 - share) * (a + b):.9g} {unit}")

    return Turned(path, "", a / b, a / b / 5, a / b * 5, set_ratio, where)


def _around(value: float, unit: str) -> tuple[float, float]:
    """Where to look when nobody says: a fifth to five times; of a temperature, 200 K each way."""
    if unit in ("degC", "K", "degF"):
        return max(value - 200.0, {"degC": -270.0, "K": 1.0, "degF": -450.0}[unit]), value + 200.0
    if value == 0:
        raise RangeError("a number that is 0 needs limits: write PATH=LOW..HIGH")
    return min(value / 5, value * 5), max(value / 5, value * 5)


def _within(found: Turned, limits: str) -> Turned:
    low_text, dots, high_text = limits.partition("..")
    ends = []
    for text in (low_text, high_text):
        match = _NUMBER.match(text)
        if not dots or match is None:
            raise RangeError(f"{limits!r} is no range: write for example {found.path}=LOW..HIGH")
        ends.append((float(match[1]), match[2].strip()))
    for _, unit in ends:
        if unit not in ("", found.unit):
            raise RangeError(f"{limits!r}: the file has {found.path} in {found.unit or 'no unit'}")
    low, high = ends[0][0], ends[1][0]
    if not low < high:
        raise RangeError(f"{limits!r}: the lower end must be below the upper end")
    return replace(found, low=low, high=high)


def apart(scenario: Scenario, data: Any, chosen: Sequence[Turned]) -> None:
    """Raises RangeError where a number asked for is another one asked for, or of the file, too."""
    owner: dict[tuple[str | int, ...], str] = {}
    for turned in chosen:
        for place in turned.places:
            if place in owner:
                raise RangeError(f"{owner[place]!r} and {turned.path!r} turn the same number")
            owner[place] = turned.path
            home = _home(data, place)
            for path in numbers(scenario):
                other = located(scenario, path)
                if other != place and other[-1] == place[-1] and _home(data, other) == home:
                    raise RangeError(
                        f"{turned.path!r} and {path!r} are one entry of the file (an alias): "
                        "write it out for each"
                    )


def _home(data: Any, keys: Sequence[str | int]) -> int | None:
    """What holds an entry, as one object; None where the entry is not written there."""
    try:
        for key in keys[:-1]:
            data = data[key]
    except (LookupError, TypeError):
        return None
    return id(data)


def _setter(
    places: Sequence[tuple[tuple[str | int, ...], float]], unit: str
) -> Callable[[Any, float], None]:
    def set_to(data: Any, value: float) -> None:
        for keys, share in places:
            put(data, keys, f"{value * share:.9g} {unit}".strip())

    return set_to


def put(data: Any, keys: Sequence[str | int], text: str) -> None:
    """Write a text into the data of a file."""
    for key in keys[:-1]:
        data = data[key]
    data[keys[-1]] = text
