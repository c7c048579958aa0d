"""What an audit keeps of a review judges as the whole of it does, whatever the bands."""

import random
from dataclasses import replace
from types import MappingProxyType
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from review.engine.reviewing import Engine
from review.interface.measure import MISSING, Measure
from review.interface.plugin import Kind
from review.interface.result import Basis, Run, Trials
from review.judge.conditions import Place
from review.judge.credit import MARGIN
from review.judge.judging import judge
from review.judge.packed import pack, unpack
from review.judge.ruleset import Bands, Criterion, Limit, Ruleset
from review.scenario import load

CASES = ("plan", "step", "upset")


def kind(id, worse, clock=False):
    return Kind(id, id, worse, "1", "", "m", "invented", "everywhere", clock=clock)


KINDS = {k.id: k for k in (kind("demo.high", "higher"), kind("demo.low", "lower"),
                           kind("demo.time", "lower", clock=True))}  # fmt: skip


def criterion(kind_id, acceptable, tolerable, floor="acceptable"):
    return Criterion(
        id=f"rule.{kind_id}", title="t", kind=kind_id, cases=CASES,
        bands=MappingProxyType(dict.fromkeys((*CASES, "sample"), Bands(acceptable, tolerable))),
        floor=floor, require=None, otherwise="unacceptable", applies=None, applies_reason="",
        action="do", basis=Basis("d", "", "invented"), blocks=True, condition="", disabled=False,
        disabled_reason="", layer="built-in", place=Place("x", 1),
    )  # fmt: skip


def rules(*criteria):
    return Ruleset(tuple(sorted(criteria, key=lambda c: c.id)), MappingProxyType({}), ())


def told(judgement):
    return [repr(f) for f in judgement.findings], [repr(o) for o in judgement.outcomes]


NUMBERS = st.sampled_from([-2.0, 0.0, 0.5, 1.0, 1.0 + 1e-9, 3.0, np.inf, -np.inf, np.nan])


@st.composite
def judged(draw):
    """Invented trials, measures and bands; few distinct numbers, so that ties are common."""
    steps = draw(st.integers(0, 4))
    runs = [Run("plan", "plan", "plan")]
    for n in range(draw(st.integers(0, 4))):
        begins = draw(st.integers(0, steps))
        runs.append(Run(f"u{n}", f"upset {n}", "upset", begins or None))
        if draw(st.booleans()):
            until = draw(st.none() | st.integers(begins, steps + 1))
            runs.append(
                Run(f"u{n} countered", "safeguard", "upset", begins or None, until, f"u{n}",
                    draw(st.sampled_from([("demo.high", "a"), ("demo.low", "a")])))
            )  # fmt: skip
    trials = Trials(tuple(f"s{n}" for n in range(steps)), tuple(runs))
    size = (1 + steps) * len(runs)
    measures = []
    for id in KINDS:
        for at in ("a", "b")[: draw(st.integers(1, 2))]:
            value = np.array(draw(st.lists(NUMBERS, min_size=size, max_size=size)))
            if id == "demo.time":  # a time is never below nothing
                value = np.abs(value)
            doubt = st.sampled_from([0, 0, 0, 1, 2]) if draw(st.booleans()) else st.just(0)
            status = np.array(draw(st.lists(doubt, min_size=size, max_size=size)))
            status = np.where(np.isnan(value), MISSING, status).astype(np.uint8)
            shape = (1 + steps, len(runs))
            measures.append(
                Measure(kind=id, at=at, of="", unit="1", value=value.reshape(shape),
                        status=status.reshape(shape), method="m", note="n")
            )  # fmt: skip
    criteria = []
    for id in KINDS:
        low, high = sorted(draw(st.tuples(*[st.sampled_from([-3.0, 0.2, 0.7, 1.0, 2.0])] * 2)))
        edges = (low, high) if KINDS[id].worse == "higher" else (high, low)
        edges = draw(st.sampled_from([edges, (None, edges[1]), (edges[0], None)]))
        criteria.append(criterion(id, *edges, floor=draw(st.sampled_from(CASES_OF_FLOOR))))
    return trials, measures, rules(*criteria)


CASES_OF_FLOOR = ("acceptable", "tolerable")


@settings(max_examples=120, deadline=None)
@given(judged())
def test_every_ruleset_judges_the_same(given):
    trials, measures, ruleset = given
    with patch("review.judge.packed._BLOCK", 8):  # some of the measures at a time
        kept, kept_trials = unpack(pack(measures, trials, KINDS))
    assert kept_trials == trials
    whole = judge(measures, {}, ruleset, KINDS, trials)
    assert told(judge(kept, {}, ruleset, KINDS, kept_trials)) == told(whole)


@pytest.mark.parametrize(
    "upset, countered, state",
    [
        ([3.0, 3.0, 1.5], [0.0, 1.5, 0.0], 2),  # its worst is in doubt with the safeguard
        ([np.inf, np.inf, 1.5], [1.5, 1.5, 1.5], 0),  # its worst is tolerable, and no number
    ],
)
def test_a_milder_cell_of_a_countered_run_is_not_told(upset, countered, state):
    runs = (Run("plan", "plan", "plan"), Run("u", "upset", "upset", 0),
            Run("u countered", "safeguard", "upset", 0, None, "u", ("demo.low", "a")),
            Run("other", "upset", "upset", 0))  # fmt: skip
    trials = Trials(("s0", "s1"), runs)
    status = np.zeros((3, 4), np.uint8)
    status[1, 2] = state
    value = np.array([[0.0] * 3, upset, countered, [0.0, np.nan, 0.0]]).T
    status[np.isnan(value)] = MISSING
    measures = [Measure(kind="demo.high", at="a", of="", unit="1", value=value, status=status,
                        method="m", note="n"),
                Measure(kind="demo.low", at="a", of="", unit="1", value=np.full((3, 4), 9.0),
                        status=np.zeros((3, 4), np.uint8), method="m")]  # fmt: skip
    ruleset = rules(criterion("demo.high", 1.0, 2.0))
    ruleset = replace(ruleset, limits={MARGIN: Limit(1.5, "invented", "stated", "demo")})
    whole = judge(measures, {}, ruleset, KINDS, trials)
    (found,) = (f for f in whole.findings if f.case == "upset")
    assert found.grade == "undetermined" and np.isnan(found.known)
    kept, kept_trials = unpack(pack(measures, trials, KINDS))
    assert told(judge(kept, {}, ruleset, KINDS, kept_trials)) == told(whole)


@pytest.mark.parametrize(
    "name", ["copper_oxide_hydrogen_no_purge", "methanol_over_silver", "nitrogen_dried"]
)
def test_demos_judged_by_other_bands(name):
    engine = Engine()
    review = engine.review(load(f"scenarios/{name}.yaml"))
    kept, trials = unpack(pack(review.measures, review.trials, review.kinds))
    draw = random.Random(name)
    for _ in range(3):
        other = replace(
            engine.ruleset, criteria=tuple(_moved(c, draw) for c in engine.ruleset.criteria)
        )
        whole = judge(review.measures, review.facts, other, engine.kinds, review.trials)
        again = judge(kept, review.facts, other, engine.kinds, trials)
        assert told(again) == told(whole)
        assert again.not_applicable == whole.not_applicable


def _moved(criterion, draw):
    """The criterion with its bands moved by the same factor, stricter or milder."""
    factor = draw.choice([0.1, 0.5, 0.9, 1.0, 2.0, 10.0])
    bands = {
        case: Bands(*(None if e is None else e * factor for e in (b.acceptable, b.tolerable)))
        for case, b in criterion.bands.items()
    }
    return replace(criterion, bands=MappingProxyType(bands))


def test_most_of_an_upset_is_left_out():
    engine = Engine()
    review = engine.review(load("scenarios/copper_oxide_forming_gas.yaml"))
    kept, _ = unpack(pack(review.measures, review.trials, review.kinds))
    upsets = [n for n, run in enumerate(review.trials.runs) if run.case == "upset"]
    finite = [np.isfinite(m.value[:, upsets]).sum() for m in kept]
    whole = [np.isfinite(m.value[:, upsets]).sum() for m in review.measures]
    assert sum(finite) < 0.6 * sum(whole)


@pytest.mark.parametrize("data", [b"", b"nothing", pack([], Trials((), ()), {})[:-4]])
def test_other_bytes_are_refused(data):
    with pytest.raises(ValueError, match="stored measures cannot be read"):
        unpack(data)


def test_a_measure_of_another_shape_is_refused():
    odd = Measure(kind="demo.high", at="a", of="", unit="1", value=np.zeros((2, 2)),
                  status=np.zeros((2, 2), np.uint8), method="m")  # fmt: skip
    with pytest.raises(ValueError, match="its shape is not"):
        pack([odd], Trials((), (Run("plan", "plan", "plan"),)), KINDS)
