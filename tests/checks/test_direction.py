"""Every measure moves the way its data sheet says when a number of the scenario is raised.

The tables in `direction/` hold one file per check; a row raises or lowers one number in one small
scenario by an overlay and looks at one place and step. The expected way is the kind's own `moves`;
that it is the right way follows from the physics that each kind states as its method and source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from review import Engine, Overlay, Review, Scenario
from review.interface.measure import OK
from review.interface.result import STATED_PLAN
from review.scenario.numbers import numbers

HERE = Path(__file__).parent
NAMES = sorted(file.stem for file in (HERE / "scenarios").glob("*.yaml"))

#: How far a number may take a measure the wrong way, as a share of it or, below 1, of 1 (a pressure
#: by 1 Pa): a thicker wall of a hot tube carries a little heat to the next line, a gas within 1 K
#: of the room is not cooled any further.
ASIDE = 5e-3
#: Kinds of what a file says or does not say, which no number moves.
SAID = {
    "readiness.declared": "a fact is stated or is not",
    "readiness.heard": "somebody is there or is not",
    "readiness.hold_shown": "an instrument shows the flow or does not",
    "readiness.lift_margin": "endless where the way back holds all that is drawn",
    "explosion.energy": "more of a gas may be richer than burns",
    "explosion.over_rating": "more of a gas may be richer than burns",
    "ignition.lit_leak": "a flame reaches what leaks or does not",
    "ignition.arrester": "a figure of it is stated and small enough, or is not",
    "flammability.cold_vapour": "nothing near lights it or something does",
    "flammability.cold_train_margin": "more of a gas may be richer than burns",
    "flammability.headspace_margin": "a warmer solvent's vapour may be richer or leaner than burns",
    "reactive.apart": "the grade of a pair in the table, whatever the amounts in a waste bottle",
}
#: Kinds whose values are always estimates.
ESTIMATES = {
    "ignition.cloud_to_flame": "the length of a free jet",
    "heat.cold_glass_margin": "the lowest temperature of glass",
    "exposure.through_hoses": "the permeability of a polymer",
    "permeation.let_in": "the permeability of a polymer",
}
#: Ways that hold for a given mixture only: a hotter liquid gives off more vapour.
OF_ONE_MIXTURE = {("flammability.upper_limit_to_fuel", "heat.*.set_temperature")}


@dataclass(frozen=True)
class Row:
    """One kind at one place, seen before and after one number is changed."""

    kind: str
    scenario: str
    at: str
    path: str
    step: str = STATED_PLAN
    of: str = ""
    times: float = 1.0
    add: float = 0.0
    fixed: dict[str, float] = field(default_factory=dict)

    @property
    def id(self) -> str:
        return f"{self.kind}@{self.at} {self.step}: {self.path}"

    def overlays(self, scenario: Scenario) -> tuple[Overlay, Overlay]:
        """The scenario as it is and with the number changed."""
        base = self.fixed.get(self.path, numbers(scenario)[self.path])
        changed = self.fixed | {self.path: base * self.times + self.add}
        return (
            Overlay(f"before {self.id}", "before", "window", self.fixed),
            Overlay(f"after {self.id}", "after", "window", changed),
        )

    @property
    def raised(self) -> bool:
        return self.times > 1 or self.add > 0


def rows() -> Iterator[Row]:
    for file in sorted((HERE / "direction").glob("*.yaml")):
        for group in yaml.safe_load(file.read_text(encoding="utf-8")):
            for given in group["rows"]:
                fixed = group.get("with", {}) | given.get("with", {})
                for kind in group["kinds"]:
                    row = {k: v for k, v in given.items() if k != "with"}
                    for name in ("at", "of"):
                        if isinstance(row.get(name), dict):
                            row[name] = row[name].get(kind, "")
                    yield Row(kind, group["in"], fixed=fixed, **row)


ROWS = list(rows())


@pytest.fixture(scope="session")
def reviews(
    engine: Engine, scenario_of: Callable[[str], Scenario]
) -> Callable[[str], tuple[Review, dict[str, int]]]:
    """All rows of one scenario in one review, and the column of each overlay."""

    @cache
    def review(name: str) -> tuple[Review, dict[str, int]]:
        scenario = scenario_of(name)
        overlays = [o for r in ROWS if r.scenario == name for o in r.overlays(scenario)]
        unique = list({o.id: o for o in overlays}.values())
        done = engine.review(scenario, extra=unique, upsets=False)
        return done, {run.id: column for column, run in enumerate(done.trials.runs)}

    return review


@pytest.fixture(scope="session")
def seen(reviews: Any) -> Callable[[Row], tuple[float, float, int]]:
    """Value before, value after, and the worse of both statuses."""

    def look(row: Row) -> tuple[float, float, int]:
        review, columns = reviews(row.scenario)
        (measure,) = [
            m for m in review.measures if (m.kind, m.at, m.of) == (row.kind, row.at, row.of)
        ]
        cell = (STATED_PLAN, *review.trials.steps).index(row.step)
        pair = [columns[f"{when} {row.id}"] for when in ("before", "after")]
        before, after = (float(v) for v in measure.value[cell, pair])
        return before, after, int(measure.status[cell, pair].max())

    return look


def matches(engine: Engine, pattern: str, path: str) -> bool:
    """Whether a path is one that a pattern of `moves` speaks of."""
    wanted, parts = pattern.split("."), path.split(".")
    if len(wanted) != len(parts):
        return False
    for want, part in zip(wanted, parts, strict=True):
        if want == "<fuel>":
            if not engine.reference.substance(part).combustible:
                return False
        elif want == "<inert>":
            if not engine.reference.substance(part).inert:
                return False
        elif want not in ("*", part):
            return False
    return True


def declared(engine: Engine, row: Row) -> list[str]:
    return [p for p in engine.kinds[row.kind].moves if matches(engine, p, row.path)]


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.id)
def test_it_moves_as_declared(engine: Engine, seen: Any, row: Row) -> None:
    (pattern,) = declared(engine, row)
    before, after, _ = seen(row)
    assert not math.isnan(before) and not math.isnan(after)
    up = (engine.kinds[row.kind].moves[pattern] == "up") == row.raised
    assert (after > before) if up else (after < before), f"{before:g} became {after:g}"


def test_each_row_stands_once() -> None:
    ids = [(row.scenario, row.id) for row in ROWS]
    assert sorted({i for i in ids if ids.count(i) > 1}) == []


def test_every_kind_says_what_moves_it(engine: Engine) -> None:
    assert sorted(k.id for k in engine.kinds.values() if not k.moves) == sorted(SAID)


def test_every_declared_direction_has_a_row(engine: Engine) -> None:
    wanted = {(kind.id, pattern) for kind in engine.kinds.values() for pattern in kind.moves}
    found = {(row.kind, pattern) for row in ROWS for pattern in declared(engine, row)}
    assert sorted(wanted - found) == []


def test_every_kind_moves_between_good_numbers_somewhere(engine: Engine, seen: Any) -> None:
    good = set()
    for row in ROWS:
        before, after, status = seen(row)
        if status == OK and np.isfinite([before, after]).all():
            good.add(row.kind)
    assert sorted(set(engine.kinds) - good - set(SAID) - set(ESTIMATES)) == []


def raised(path: str, value: float) -> float:
    """A little more of a number; a temperature by 5 K."""
    last = path.rsplit(".", 1)[-1]
    warm = "temperature" in last or last in ("hottest", "light_off") or ".heat." in path
    return value + 5.0 if warm else value * 1.03


@pytest.mark.parametrize("name", NAMES)
def test_nothing_moves_far_against_its_declaration(
    engine: Engine, scenario_of: Callable[[str], Scenario], name: str
) -> None:
    """Every number of every scenario here, raised by itself, at the stated settings."""
    given = numbers(scenario_of(name))
    patterns = {p for kind in engine.kinds.values() for p in kind.moves}
    paths = [path for path in given if any(matches(engine, p, path) for p in patterns)]
    overlays = [Overlay(p, p, "window", {p: raised(p, given[p])}) for p in paths]
    review = engine.review(scenario_of(name), extra=overlays, upsets=False)
    wrong = []
    for measure in review.measures:
        if name == "sucked" and measure.kind == "train.pressure":
            continue  # what costs pressure lowers it before a pump
        moves = engine.kinds[measure.kind].moves
        value, status = measure.value[0], measure.status[0]
        for column, path in enumerate(paths, 1):
            for pattern in (p for p in moves if matches(engine, p, path)):
                good = status[0] == status[column] == OK and np.isfinite(value[[0, column]]).all()
                if not good or (measure.kind, pattern) in OF_ONE_MIXTURE:
                    continue
                rise = value[column] - value[0]
                against = -rise if moves[pattern] == "up" else rise
                aside = 1.0 if measure.unit == "Pa" else ASIDE * max(abs(value[0]), 1.0)
                if against > aside:
                    wrong.append((measure.kind, measure.at, measure.of, path, float(rise)))
    assert wrong == []
