"""Trials that differ at an item: what was not told apart cannot be read as if it were."""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine, Setup, load
from review.interface.measure import recording
from review.physics.columns import alike
from review.walk.resolve import resolve
from review.walk.runs import Runs
from tests.support import ROOT

ITEM = 2


@pytest.fixture(scope="module")
def whole(engine: Engine) -> Setup:
    scenario = load(ROOT / "scenarios" / "nitrogen_dried.yaml")
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    return engine._setup(resolved, Runs(resolved.base, engine.overlays(scenario)), lambda kind: ())


def test_what_differs_is_told_apart_and_spreads_back(whole: Setup) -> None:
    place = whole.places[ITEM]
    some, here = whole.distinct(place, ("pressure", "hot"))
    assert 1 < some.trials < whole.trials
    for field in ("pressure", "hottest"):
        back = some.over_all(getattr(here, field).value)
        np.testing.assert_array_equal(back, getattr(place, field).value)
    there = some.spread(here.pressure)
    np.testing.assert_array_equal(there.status, place.pressure.status)


@pytest.mark.parametrize(
    "read",
    [
        lambda some, here: here.flow,
        lambda some, here: some.stacked("old")[here.index],
        lambda some, here: some.failed,
        lambda some, here: some.number(next(iter(some.runs._columns))),
        lambda some, here: some.measures("any"),
    ],
)
def test_what_was_not_told_apart_is_refused(whole: Setup, read) -> None:
    some, here = whole.distinct(whole.places[ITEM], ("cold",))
    assert some.trials < whole.trials
    with pytest.raises(LookupError):
        read(some, here)


def test_where_the_working_is_kept_every_trial_is_looked_at(whole: Setup) -> None:
    with recording():
        assert whole.distinct(whole.places[ITEM], ("cold",)) == (whole, whole.places[ITEM])


def test_columns_of_one_mark_that_differ_are_kept_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = np.array([[1.0, 2.0, 1.0]])
    assert sorted(alike(rows)[0].tolist()) == [0, 1]
    monkeypatch.setattr("review.physics.columns.marks", lambda bits: bits[0] * np.uint64(0))
    first, kind = alike(rows)
    np.testing.assert_array_equal(rows[:, first[kind]], rows)


def test_what_is_found_once_is_found_once(whole: Setup) -> None:
    asked: list[Setup] = []

    def work(setup: Setup) -> list[Setup]:
        asked.append(setup)
        return [setup]

    assert whole.once(work) is whole.once(work)
    assert asked == [whole]


@pytest.mark.parametrize("read", ["number", "flow"])
def test_what_is_handed_out_again_cannot_be_written_to(whole: Setup, read: str) -> None:
    place = whole.places[ITEM]
    given = whole.number("ambient.pressure") if read == "number" else place.flow
    for array in (given.value, given.status):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
