"""A run is the same alone, in a batch and across chunk boundaries."""

from pathlib import Path

import numpy as np
import pytest

import review.engine.measuring as engine_module
from review import Overlay, load
from review.engine.reviewing import Engine

DEMOS = Path(__file__).parents[2] / "scenarios"
SAME = {"rtol": 1e-12, "atol": 0.0, "equal_nan": True}


def assert_same_run(kinds, one, column_one, other, column_other):
    for key in one.keys() | other.keys():
        if key not in one.keys() & other.keys():
            ((m, n),) = [
                (x[key], c) for x, c in ((one, column_one), (other, column_other)) if key in x
            ]
            assert (m.value[:, n] == kinds[m.kind].absent).all(), key
            continue
        a, b = one[key], other[key]
        np.testing.assert_array_equal(
            a.status[:, column_one], b.status[:, column_other], err_msg=str(key)
        )
        np.testing.assert_allclose(
            a.value[:, column_one], b.value[:, column_other], err_msg=str(key), **SAME
        )


def columns(batch, wanted):
    return [i for i, run in enumerate(batch.trials.runs) if wanted(run)]


def test_the_batch_has_variety(batch, graded, engine):
    """Else the tests below would compare one and the same run."""
    grades = {f.grade for i in range(2, 40) for f in graded(engine, batch, [0, i])}
    assert grades == {"acceptable", "tolerable", "unacceptable", "undetermined"}
    seen = {s for m in batch.measures for s in np.unique(m.status).tolist()}
    assert {0, 1, 3} <= seen
    moved = [m for m in batch.measures if np.unique(m.value[~np.isnan(m.value)]).size > 50]
    assert len(moved) > len(batch.measures) / 3


def test_the_plan_alone_equals_the_plan_in_a_batch(engine, scenario, batch, keyed):
    alone = engine.review(scenario, upsets=False)
    assert [r.case for r in alone.trials.runs] == ["plan"]
    assert_same_run(engine.kinds, keyed(alone.measures), 0, keyed(batch.measures), 0)


@pytest.mark.parametrize(
    "demo", ["carbon_monoxide_detector_in_the_duct", "methane_arrester_of_beads"]
)
def test_what_the_plan_pushes_out_does_not_depend_on_joints_that_open_in_failures(
    demo, engine, keyed
):
    scenario = load(DEMOS / f"{demo}.yaml")
    alone, played = engine.review(scenario, upsets=False), engine.review(scenario)
    assert_same_run(engine.kinds, keyed(alone.measures), 0, keyed(played.measures), 0)


@pytest.mark.parametrize("demo", ["carbon_dioxide_methanated_over_nickel", "bare_frame"])
def test_a_sample_that_changes_nothing_is_the_plan(demo, engine, keyed):
    """No failure has begun in it, so nothing that only a failure excuses may be excused."""
    sample = Overlay(id="sample:1", title="sample 1", case="sample", changes={})
    found = keyed(engine.review(load(DEMOS / f"{demo}.yaml"), extra=[sample]).measures)
    assert_same_run(engine.kinds, found, 0, found, -1)


@pytest.mark.parametrize("which", [1, 2, 19, 64, 65, 129, 130, 272, 273])
def test_a_run_alone_equals_the_run_in_a_batch(
    which, engine, scenario, overlays, batch, keyed, graded, gist
):
    overlay = overlays[which - 1]
    assert batch.trials.runs[which].id == overlay.id
    alone = engine.review(scenario, extra=[overlay], upsets=False)
    assert_same_run(engine.kinds, keyed(alone.measures), 1, keyed(batch.measures), which)
    there = {key for key in keyed(alone.measures)}
    in_batch = [
        f
        for f in graded(engine, batch, [0, which])
        # What only other runs of the batch have is told of this one as absent.
        if not f.kind or (f.kind, f.at, f.of) in there or f.value != engine.kinds[f.kind].absent
    ]
    # A failed check would add findings that `graded` does not know of.
    assert not alone.failures
    assert [gist(f) for f in alone.findings] == [gist(f) for f in in_batch]


@pytest.mark.parametrize(
    ("limit", "value", "pieces"),
    [("CHUNK_RUNS", 100, 3), ("CHUNK_BYTES", 1, 5)],
)
def test_chunks_change_nothing(
    limit, value, pieces, engine, scenario, overlays, batch, gist, monkeypatch
):
    """274 runs in pieces of at least 64: 274 / 64 = 4.3, 274 / 100 = 2.7."""
    sizes = []
    whole = Engine._measure_chunk

    def counted(self, resolved, runs, *more):
        sizes.append(runs.size)
        return whole(self, resolved, runs, *more)

    monkeypatch.setattr(engine_module, limit, value)
    monkeypatch.setattr(Engine, "_measure_chunk", counted)
    again = engine.review(scenario, extra=overlays, upsets=False)
    assert len(sizes) == pieces and sum(sizes) == 274
    assert [(m.kind, m.at, m.of, m.unit, m.method) for m in again.measures] == [
        (m.kind, m.at, m.of, m.unit, m.method) for m in batch.measures
    ]
    for a, b in zip(again.measures, batch.measures, strict=True):
        np.testing.assert_array_equal(a.status, b.status, err_msg=f"{a.kind} at {a.at}")
        np.testing.assert_allclose(a.value, b.value, err_msg=f"{a.kind} at {a.at}", **SAME)
    assert [gist(f) for f in again.findings] == [gist(f) for f in batch.findings]


def test_the_order_of_runs_changes_nothing(engine, scenario, overlays, batch, keyed):
    turned = engine.review(scenario, extra=overlays[::-1], upsets=False)
    back = slice(None, 0, -1)
    before, after = keyed(batch.measures), keyed(turned.measures)
    assert_same_run(engine.kinds, after, slice(1, None, None), before, back)


def test_missing_exactly_where_nan(batch, plain):
    for review in (batch, plain):
        for m in review.measures:
            np.testing.assert_array_equal(np.isnan(m.value), m.status == 3, err_msg=m.kind)
            assert np.isin(m.status, (0, 1, 2, 3)).all()
            assert m.value.dtype == np.float64
