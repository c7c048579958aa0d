"""A check that takes one run at a time gives what it would give over arrays."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from review import Engine, Measure, Overlay, Review, Scenario

#: The flow through the bulb as a plain number; an array over runs would be refused by float().
SCALAR = """
def compute(setup):
    assert setup.shape[1] == setup.runs.size == 1
    value = [float(setup.places[0].flow.value[c:c + 1].item()) for c in range(setup.shape[0])]
    yield setup.measure(KIND, Quantity.of(value, name="p", unit="mol/s", source="x"), "bulb")
    Path(__file__).with_suffix(".count").open("a").write("x")
"""


def rates(count: int) -> list[Overlay]:
    return [
        Overlay(f"r{n}", f"r{n}", "sample", {"flows.feed.rate": 1e-4 * (1 + n / 1000)})
        for n in range(count)
    ]


def measure(review: Review, kind: str) -> Measure:
    (found,) = [m for m in review.measures if m.kind == kind and m.at == "bulb"]
    return found


def calls(file: Path) -> int:
    counted = file.with_suffix(".count")
    return len(counted.read_text()) if counted.exists() else 0


@pytest.fixture
def pair(plugin: Callable[..., Path]) -> tuple[Path, Path]:
    return plugin("whole"), plugin("single", SCALAR, scalar=True)


def test_it_equals_the_same_over_arrays(bulb: Scenario, pair: tuple[Path, Path]) -> None:
    review = Engine(plugin_files=pair).review(bulb, extra=rates(20))
    whole, single = measure(review, "whole.number"), measure(review, "single.number")
    assert not review.failures
    assert len(np.unique(whole.value)) > 20
    np.testing.assert_array_equal(single.value, whole.value)
    np.testing.assert_array_equal(single.status, np.isnan(whole.value) * np.uint8(3))


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_warning_of_numpy_is_neither_printed_nor_a_failure(
    bulb: Scenario, plugin: Callable[..., Path]
) -> None:
    """What has no bound and what is missing stand in the value."""
    own = SCALAR.replace(
        "    yield", "    np.array([1e308, 1.0, 0.0]) / np.array([1e-9, 0.0, 0.0])\n    yield"
    )
    review = Engine(plugin_files=[plugin("single", own, scalar=True)]).review(bulb)
    assert not review.failures
    assert measure(review, "single.number").value.size


@pytest.mark.parametrize("chunk", [4000, 1])
def test_at_most_500_distinct_runs_are_computed(
    bulb: Scenario, pair: tuple[Path, Path], chunk: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("review.engine.measuring.CHUNK_RUNS", chunk)
    file = pair[1]
    review = Engine(plugin_files=[file]).review(bulb, extra=rates(600), upsets=False)
    assert calls(file) == 500
    found = measure(review, "single.number")
    # The plan is the first run, then 499 rates.
    known = np.arange(601) < 500
    np.testing.assert_array_equal(np.isnan(found.value).all(axis=0), ~known)
    np.testing.assert_array_equal((found.status == 3).any(axis=0), ~known)


def test_equal_runs_are_computed_once(bulb: Scenario, pair: tuple[Path, Path]) -> None:
    file = pair[1]
    again = [Overlay(f"again {o.id}", o.title, o.case, o.changes) for o in rates(5)]
    extra = [*rates(5), *again, Overlay("later", "later", "sample", rates(1)[0].changes, 1)]
    review = Engine(plugin_files=[file]).review(bulb, extra=extra, upsets=False)
    assert calls(file) == 1 + 5 + 1
    found = measure(review, "single.number")
    np.testing.assert_array_equal(found.value[:, 1:6], found.value[:, 6:11])
    # The last one holds from the first step on: there the changed rate, before it the plan's.
    assert found.value[0, 11] == found.value[0, 0]
    assert found.value[1, 11] == found.value[1, 1]


def test_needed_measures_are_those_of_the_run(
    bulb: Scenario, plugin: Callable[..., Path]
) -> None:
    first = plugin("first")
    second = plugin(
        "second",
        """
        @hookimpl
        def measures():
            return [Computation(kinds=(KIND,), compute=double, needs=("first.number",))]

        def double(setup):
            (m,) = setup.measures("first.number")
            assert m.value.shape == setup.shape
            q = Quantity.of(2 * m.value[:, 0], name="p", unit="mol/s", source="x")
            yield setup.measure(KIND, q, "bulb")
        """,
        scalar=True,
    )
    review = Engine(plugin_files=[first, second]).review(bulb, extra=rates(3))
    assert not review.failures
    one, two = measure(review, "first.number"), measure(review, "second.number")
    np.testing.assert_array_equal(two.value, 2 * one.value)


def test_its_working_can_be_explained(bulb: Scenario, pair: tuple[Path, Path]) -> None:
    engine = Engine(plugin_files=[pair[1]])
    shown = engine.explain(bulb, "single.number", run="plan")
    found = measure(engine.review(bulb), "single.number")
    assert shown.quantity.value[shown.index] == found.value[shown.index, 0]
