"""The benchmarked work runs and does what its table says; `table.py` measures and compares.

Timed with ``pytest tests/benchmarks --benchmark-enable``, run once without. Nothing here asserts a
time: machines differ, and a slow one must not fail the suite.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import workloads


@pytest.fixture(scope="module")
def warm() -> workloads.Warm:
    return workloads.Warm()


def test_cold_check(benchmark: Any) -> None:
    assert "MUST NOT PROCEED" in benchmark(workloads.cold_check)


def test_cold_libraries(benchmark: Any) -> None:
    assert benchmark(workloads.cold_libraries) == ""


def test_the_yardstick_is_what_a_check_loads() -> None:
    """A library that a check of a demo does not load would flatter the tool."""
    loaded = set(workloads.libraries())
    assert {"numpy", "pydantic", "rich.console", "yaml"} <= loaded
    assert not loaded & {"pint", "scipy", "chemicals", "matplotlib", "jinja2"}


@pytest.mark.parametrize("what", ["load", "review"])
def test_in_a_fresh_process(benchmark: Any, what: str) -> None:
    assert benchmark(workloads.seconds_of, what) > 0


def test_one_run(benchmark: Any, warm: workloads.Warm) -> None:
    review = benchmark(warm.one_run)
    assert len(warm.scenario.train) == 12
    assert {step.step for step in warm.scenario.procedure} <= set(review.trials.steps)
    assert len(review.trials.runs) == 1


def test_with_upsets(benchmark: Any, warm: workloads.Warm) -> None:
    review = benchmark(warm.with_upsets)
    runs = review.trials.runs
    assert len(warm.scenario.procedure) == 6
    assert len(runs) > 200 and {run.case for run in runs} == {"plan", "upset"}
    # A failure that somebody hears in time is played again.
    assert len(review.outcomes) == sum(not run.in_time_for for run in runs) - 1


def test_many_runs(benchmark: Any, warm: workloads.Warm) -> None:
    """Every number that varies reaches some measure, so that no run is a copy of another."""
    count = 200 if benchmark.disabled else workloads.SAMPLES
    overlays = workloads.samples(count)
    review = benchmark(warm.many_runs, overlays)
    assert len(review.trials.runs) == count + 1
    pressure = next(m for m in review.measures if (m.kind, m.at) == ("train.pressure", "inlet"))
    assert np.unique(pressure.value[0, 1:]).size == count


def test_longer_trains(warm: workloads.Warm) -> None:
    scenario = workloads.longer(14)
    assert len({item.id for item in scenario.train}) == 14
    review = warm.engine.review(scenario, upsets=False)
    assert {m.at for m in review.measures if m.kind == "train.pressure"} == {
        item.id for item in scenario.train
    }


def test_exp(benchmark: Any) -> None:
    values = np.linspace(0.0, 1.0, 100_000)
    assert benchmark(np.exp, values).size == values.size


def test_sampled(benchmark: Any, warm: workloads.Warm) -> None:
    benchmark(warm.sampled)


def test_points_one_by_one(benchmark: Any, warm: workloads.Warm) -> None:
    benchmark(warm.one_by_one, 1)
