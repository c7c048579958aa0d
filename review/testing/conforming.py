"""What every check must keep, looked at in one scenario after the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.engine.alone import OneRun, side_by_side
from review.engine.reviewing import Engine
from review.interface.measure import MISSING, OK, OUTSIDE, Measure
from review.interface.plugin import Check, Kind, Overlay
from review.interface.result import Failure
from review.interface.setup import Computation
from review.scenario import Scenario
from review.scenario.errors import path_parts
from review.scenario.numbers import numbers
from review.scenario.units import convert
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs

#: Alone and in a batch the numbers agree this closely, as a share.
SAME = 1e-12


#: How far a number may take a measure against its declaration, as a share of it or of 1: some
#: numbers do a little of something else as well.
ASIDE = 5e-3


#: Numbers are changed by this share, temperatures by so many kelvin.
SHARE, KELVIN = 0.03, 5.0


#: So many runs are computed by themselves and compared with the batch.
ALONE = 8


def matches(pattern: str, path: str, named: Mapping[str, Callable[[str], bool]]) -> bool:
    """Whether a pattern of `Kind.moves` speaks of a path: `*` stands for any one name.

    `named` says what `<fuel>` and `<inert>` stand for.

    >>> matches("train.*.length", "train.wash bottle.length", {})
    True
    >>> matches("a.<fuel>", "a.hydrogen", {"<fuel>": lambda name: name == "hydrogen"})
    True
    """
    wanted, parts = pattern.split("."), path_parts(path)
    return len(wanted) == len(parts) and all(
        named[want](part) if want in named else want in ("*", part)
        for want, part in zip(wanted, parts, strict=True)
    )


def of_check(name: str, check: Check | None) -> Iterator[str]:
    if check is None:
        yield "it has no hook check: a plugin says what it covers and what not"
        return
    for listed in ("covers", "not_covered", "sources"):
        if any(not text.strip() for text in getattr(check, listed)):
            yield f"an entry of {listed} is blank"


def of_kind(kind: Kind) -> Iterator[str]:
    if not kind.unit.strip():
        yield f"{kind.id}: its unit is blank; write 1 for a ratio"
    elif not kind.labels:
        try:
            if not math.isclose(convert(1.0, kind.unit), 1.0):
                yield f"{kind.id}: its unit {kind.unit!r} is not the SI unit; that goes to display"
            if _dimension(kind.unit) != _dimension(kind.display or kind.unit):
                yield f"{kind.id}: {kind.display!r} is no unit of what {kind.unit!r} measures"
            convert(1.0, kind.display)
        except (ValueError, TypeError, AttributeError) as error:
            yield f"{kind.id}: unit {kind.unit!r}, display {kind.display!r}: {error}"
    if not kind.moves:
        yield f"{kind.id}: moves names no number of the scenario that moves it"


def _dimension(unit: str) -> Any:
    """Dimensions of a unit; a share has none."""
    if unit in ("", "1", "%", "ppm"):
        return _registry().dimensionless.dimensionality
    plain = unit.removesuffix(" gauge").removesuffix(" absolute")
    return _registry().parse_units(plain).dimensionality


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


Key = tuple[str, str, str]


class Bench:
    """One scenario in which the computations of one plugin are called, and what they gave."""

    def __init__(
        self, engine: Engine, plugin: Any, own: Sequence[Computation], scenario: Scenario
    ) -> None:
        self.engine, self.own, self.scenario = engine, own, scenario
        self.plugin: str = plugin.name
        self.scalar: bool = plugin.check.scalar
        self.resolved = resolve(scenario, engine.reference, engine._item_kinds)
        self.title = repr(scenario.title)
        wanted = [pair for c in own for pair in engine._needed_for({c.kinds[0].id})]
        self.needed = list({id(c): c for _, c in wanted}.values())
        reference = engine.reference
        named = {
            "<fuel>": lambda name: bool(reference.substance(name).combustible),
            "<inert>": lambda name: bool(reference.substance(name).inert),
        }
        self.given = numbers(scenario)
        patterns = {p for c in own for kind in c.kinds for p in kind.moves}
        self.paths = {p: [path for path in self.given if matches(p, path, named)] for p in patterns}
        self.overlays = [PLAN, *self._changed()]
        self.failures: list[Failure] = []
        self.overlays += engine._upsets(self.resolved, self.failures)
        self.columns = {o.id: n for n, o in enumerate(self.overlays)}
        self.batch: dict[Key, Measure] = {}

    def _changed(self) -> Iterator[Overlay]:
        """Each number that should move something, raised and lowered by itself."""
        for path in sorted({path for paths in self.paths.values() for path in paths}):
            value = self.given[path]
            last = path.rsplit(".", 1)[-1]
            warm = "temperature" in last or last in ("hottest", "light_off") or ".heat." in path
            by = KELVIN if warm else SHARE * value
            yield Overlay(f"raise {path}", path, "window", {path: value + by})
            yield Overlay(f"lower {path}", path, "window", {path: value - by})

    def compute(self, overlays: Sequence[Overlay]) -> dict[Key, Measure]:
        """What the plugin's computations give, as they give it."""
        by_kind: dict[str, list[Measure]] = {}
        runs = Runs(self.resolved.base, overlays)
        setup = self.engine._setup(self.resolved, runs, lambda kind: by_kind.get(kind, []))
        for computation in self.needed:
            if computation in self.own and self.scalar:
                parts = [list(computation.compute(OneRun(setup, n))) for n in range(runs.size)]
                given: Iterable[Measure] = side_by_side(parts, setup.shape[0])
            else:
                given = computation.compute(setup)
            for each in given:
                by_kind.setdefault(each.kind, []).append(each)
        own = {kind.id for c in self.own for kind in c.kinds}
        found = [m for kind in own for m in by_kind.get(kind, [])]
        return {(m.kind, m.at, m.of): m for m in found}

    def problems(self) -> list[str]:
        """What is wrong with the measures; an error in one scenario is told once."""
        for failure in self.failures:
            if failure.check == self.plugin:
                return [f"in {self.title}: {failure.reason}"]
        try:
            self.batch = self.compute(self.overlays)
        except Exception as error:
            hint = "" if self.scalar else "; it must take arrays over runs, or be scalar"
            return [f"in {self.title} it raises {type(error).__name__}: {error}{hint}"]
        review = self.engine.review(self.scenario, upsets=False)
        for failure in review.failures:
            if failure.check == self.plugin:
                return [f"in {self.title}: {failure.reason}"]
        return [*self._of_measures(), *self._of_batches()]

    def _of_measures(self) -> Iterator[str]:
        shape = 1 + len(self.resolved.steps), len(self.overlays)
        kinds = {kind.id: kind for c in self.own for kind in c.kinds}
        for (kind, at, _), m in self.batch.items():
            where = f"{kind} at {at!r} in {self.title}"
            if m.value.shape != shape or m.status.shape != shape:
                yield f"{where}: its shape is {m.value.shape}, not (cells, runs) = {shape}"
            elif not np.array_equal(np.isnan(m.value), m.status == MISSING):
                yield f"{where}: a value must be NaN exactly where its status is missing"
            elif not np.isin(m.status, (OK, 1, OUTSIDE, MISSING)).all():
                yield f"{where}: it has a status that there is not"
            if m.unit != kinds[kind].unit:
                yield f"{where}: it is in {m.unit!r}, the kind in {kinds[kind].unit!r}"

    def _of_batches(self) -> list[str]:
        every = max(1, len(self.overlays) // ALONE)
        picked = list(range(0, len(self.overlays), every))
        backwards = self.compute(self.overlays[::-1])
        again = self.compute(self.overlays)
        last = len(self.overlays) - 1
        out = []
        for n in range(len(self.overlays)):
            for other, words in ((backwards, "in another order"), (again, "a second time")):
                column = last - n if other is backwards else n
                out += self._differ(n, other, column, words)
            if n in picked:
                out += self._differ(n, self.compute([self.overlays[n]]), 0, "alone")
            if out:
                return out[:1]  # the same fault shows in many runs
        return []

    def _differ(self, run: int, other: Mapping[Key, Measure], column: int, how: str) -> list[str]:
        """How a run of the batch differs from the same run computed in another way."""
        name = self.overlays[run].title
        for key in {**self.batch, **other}:
            one, two = self.batch.get(key), other.get(key)
            lacking = one if two is None else two if one is None else None
            if lacking is not None:
                if np.isnan(lacking.value).all():
                    continue
                return [f"{key[0]} at {key[1]!r} is computed only in some sets of runs"]
            assert one is not None and two is not None
            same = np.allclose(
                one.value[:, run], two.value[:, column], rtol=SAME, atol=0, equal_nan=True
            )
            if not same or not np.array_equal(one.status[:, run], two.status[:, column]):
                return [
                    f"{key[0]} at {key[1]!r} in {self.title}: the run {name!r} gives "
                    f"{_first(one, run)} among others and {_first(two, column)} {how}; a run must "
                    "not see the others, or the check be declared scalar"
                ]
        return []

    def moved(self, kind: Kind, pattern: str) -> tuple[bool, list[str]]:
        """Whether numbers of a pattern move the kind as declared somewhere, and where otherwise."""
        right, wrong = False, []
        way = 1.0 if kind.moves[pattern] == "up" else -1.0
        for path in self.paths[pattern]:
            for change, sign in (("raise", 1.0), ("lower", -1.0)):
                column = self.columns[f"{change} {path}"]
                for (id, at, _), m in self.batch.items():
                    if id != kind.id:
                        continue
                    rise = _rise(m, column) * way * sign
                    right |= bool((rise > 0).any())
                    if (rise < -np.maximum(ASIDE * _size(m), SAME)).any():
                        wrong.append(
                            f"{kind.id} at {at!r} in {self.title}: moves says that {pattern} takes "
                            f"it {kind.moves[pattern]}, but to {change} {path} does the opposite"
                        )
        return right, wrong


def of_directions(kinds: Mapping[str, Kind], benches: Sequence[Bench]) -> Iterator[str]:
    for kind in kinds.values():
        for pattern in kind.moves:
            seen = [bench.moved(kind, pattern) for bench in benches]
            wrong = [line for _, lines in seen for line in lines]
            if wrong:
                yield wrong[0]
            elif not any(right for right, _ in seen):
                there = any(bench.paths[pattern] for bench in benches)
                why = "nothing moved" if there else "no scenario given has such a number"
                yield f"{kind.id}: moves names {pattern}, but {why}; give a scenario that shows it"


def _rise(m: Measure, column: int) -> NDArray[np.float64]:
    """By how much the value of a run lies above the plan's, where both are known."""
    known = (m.status[:, 0] < OUTSIDE) & (m.status[:, column] < OUTSIDE)
    known &= np.isfinite(m.value[:, 0]) & np.isfinite(m.value[:, column])
    with np.errstate(invalid="ignore"):
        return np.where(known, m.value[:, column] - m.value[:, 0], 0.0)


def _size(m: Measure) -> NDArray[np.float64]:
    """The plan's values without their sign; 0 where there is none."""
    return np.where(np.isfinite(m.value[:, 0]), np.abs(m.value[:, 0]), 0.0)


def _first(m: Measure, column: int) -> str:
    return ", ".join(f"{value:.6g}" for value in m.value[:, column][:3])
