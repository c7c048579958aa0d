"""A measure whose alike runs are kept once reads as if all were kept."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from review.interface.folded import folded
from review.interface.measure import MISSING, Compared, Measure
from review.interface.result import Run, Trials
from review.judge.stacks import Stacks

RUNS = 40


def bits(array):
    return np.ascontiguousarray(array).tobytes()


def measure(value, status):
    told = Compared(value * 2, value + 1, "Pa", warmth=None)
    return Measure("k", "tube", "", "1", value, status, "m", "a note", compared=told)


def few(rng):
    """Three kinds of run; in one a value is not known, in another zero has its other sign."""
    kinds = np.array([[0.0, 1.0], [-0.0, 1.0], [np.nan, 2.0]]).T
    return kinds[:, rng.integers(0, 3, RUNS)]


@pytest.mark.parametrize(
    "drawn", [few, lambda rng: np.ones((2, RUNS)), lambda rng: rng.random((2, RUNS))]
)
def test_nothing_is_lost(drawn):
    value = drawn(np.random.default_rng(5))
    whole = measure(value, np.where(np.isnan(value), 3, 0).astype(np.uint8))
    kept = folded(whole)
    again = pickle.loads(pickle.dumps(kept))
    for each in (kept, folded(kept), again, replace(kept, note="a note")):
        assert bits(each.value) == bits(whole.value)
        assert bits(each.status) == bits(whole.status)
        assert bits(each.compared.value) == bits(whole.compared.value)
        assert bits(each.compared.edge) == bits(whole.compared.edge)
        assert (each.kind, each.at, each.note) == ("k", "tube", "a note")


@pytest.mark.parametrize("differs", [False, True])
def test_a_status_is_told_apart_as_the_values_are_only_where_that_loses_nothing(differs):
    rng = np.random.default_rng(7)
    value = few(rng)
    status = np.where(np.isnan(value), 3, 0).astype(np.uint8)
    if differs:  # one run of many whose values are alike
        status[1, int(np.flatnonzero(value[1] == 1.0)[2])] = 1
    kept = folded(measure(value, status))
    assert bits(kept.status) == bits(status)
    assert (kept._status.of_run is kept._value.of_run) != differs


def test_alike_runs_are_kept_once_and_cannot_be_written_to():
    kept = folded(measure(few(np.random.default_rng(5)), np.zeros((2, RUNS), dtype=np.uint8)))
    assert kept._value.columns.shape == (2, 3)
    assert kept._status.columns.shape == (2, 1)
    for array in (kept.value, kept.status):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 1


@pytest.mark.parametrize("code", [256, 257, -1, MISSING])
def test_a_status_that_is_none_is_missing_however_wide_it_is(code):
    trials = Trials(("run",), (Run("plan", "plan", "plan"),))
    told = measure(np.ones((2, 1)), np.array([[0], [code]]))
    stack = Stacks([told], {}, trials).of("k")
    assert stack is not None
    assert stack.status.tolist() == [[0, MISSING]]
    assert np.isnan(stack.value).tolist() == [[False, True]]
