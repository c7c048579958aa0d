"""Judging: status before value, the worst trial, and nothing unknown that reads as a pass.

The expected grades follow the project's own rules of judging; all measures are invented.
"""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from review.interface.measure import ESTIMATED, MISSING, OK, OUTSIDE, Measure
from review.interface.plugin import Kind, worst_first
from review.interface.result import Run, Trials
from review.judge.conditions import Vocabulary
from review.judge.judging import judge
from review.judge.layers import load_layer
from review.judge.merging import merge
from review.judge.stored import measures_from_json, measures_to_json

NAN, INF = math.nan, math.inf
KINDS = {
    "demo.ratio": Kind("demo.ratio", "A ratio", "higher", "Pa", "bar", "m", "invented", "all"),
    "demo.time": Kind("demo.time", "A time", "lower", "s", "min", "m", "invented", "all"),
}
VOCABULARY = Vocabulary({"flows": "bool"}, KINDS)
FACTS = {"flows": True}
TRIALS = Trials(
    ("heat", "run"),
    (
        Run("plan", "The plan", "plan"),
        Run("plugged", "Outlet plugged", "upset", 2),
        Run("dark", "Power lost", "upset"),
    ),
)
PLAN = Trials((), (Run("plan", "The plan", "plan"),))
SERIOUS = ["acceptable", "tolerable", "undetermined", "unacceptable"]


def rules(**extra):
    """One criterion on demo.ratio: acceptable to 0.5, tolerable to 0.9."""
    fields = {
        "id": "demo.ratio",
        "title": "A ratio",
        "kind": "demo.ratio",
        "bands": {"acceptable": 0.5, "tolerable": 0.9},
        "action": "Lower it.",
        "basis": {"document": "invented", "how": "read"},
    }
    fields.update(extra)
    fields = {key: value for key, value in fields.items() if value is not None}
    text = json.dumps({"criteria": [fields]})
    return merge([load_layer(text, "base", "built-in")], VOCABULARY, KINDS)


PRESENCE = {"kind": None, "bands": None}


def measure(value, status=OK, *, kind="demo.ratio", at="tube", of="", note=""):
    value = np.atleast_2d(np.asarray(value, dtype=float))
    status = np.broadcast_to(np.asarray(status, dtype=np.uint8), value.shape)
    return Measure(kind, at, of, KINDS[kind].unit, value, status, "m", note)


def judged(measures, trials=PLAN, ruleset=None, facts=FACTS, **more):
    return judge(measures, facts, ruleset or rules(), KINDS, trials, **more)


def only(measures, trials=PLAN, ruleset=None, **more):
    (finding,) = judged(measures, trials, ruleset, **more).findings
    return finding


@pytest.mark.parametrize(
    ("value", "status", "grade", "shown", "limit"),
    [
        (0.3, OK, "acceptable", "ok", 0.5),
        (0.5, OK, "acceptable", "ok", 0.5),
        (0.6, OK, "tolerable", "ok", 0.5),
        (0.9, OK, "tolerable", "ok", 0.5),
        (0.91, OK, "unacceptable", "ok", 0.9),
        (INF, OK, "unacceptable", "ok", 0.9),
        (-INF, OK, "acceptable", "ok", 0.5),
        (0.16, ESTIMATED, "acceptable", "estimated", 0.5),
        (0.3, ESTIMATED, "tolerable", "estimated", 0.5),
        (0.31, ESTIMATED, "unacceptable", "estimated", 0.5),
        (0.6, ESTIMATED, "unacceptable", "estimated", 0.5),
        (1.0, ESTIMATED, "unacceptable", "estimated", 0.9),
        (0.3, OUTSIDE, "undetermined", "outside range", 0.5),
        (0.6, OUTSIDE, "undetermined", "outside range", 0.5),
        (1.0, OUTSIDE, "unacceptable", "outside range", 0.9),
        (INF, OUTSIDE, "unacceptable", "outside range", 0.9),
        (0.3, MISSING, "undetermined", "missing", 0.5),
        (2.0, MISSING, "undetermined", "missing", 0.5),
        (NAN, OK, "undetermined", "missing", 0.5),
        (NAN, ESTIMATED, "undetermined", "missing", 0.5),
        (NAN, OUTSIDE, "undetermined", "missing", 0.5),
        (NAN, MISSING, "undetermined", "missing", 0.5),
        (0.3, 7, "undetermined", "missing", 0.5),
    ],
)
def test_status_before_value(value, status, grade, shown, limit):
    finding = only([measure(value, status)])
    assert (finding.grade, finding.status, finding.limit) == (grade, shown, limit)
    assert math.isnan(finding.value) == (shown == "missing")
    assert (finding.unit, finding.display, finding.blocks) == ("Pa", "bar", True)


@pytest.mark.parametrize(
    ("bands", "value", "grade", "limit"),
    [
        ({"acceptable": 60, "tolerable": 30}, 60, "acceptable", 60),
        ({"acceptable": 60, "tolerable": 30}, 59, "tolerable", 60),
        ({"acceptable": 60, "tolerable": 30}, 29, "unacceptable", 30),
        ({"acceptable": 60, "tolerable": 30}, INF, "acceptable", 60),
        ({"acceptable": 60, "tolerable": 30}, -INF, "unacceptable", 30),
        ({"tolerable": 30}, INF, "tolerable", 30),
        ({"tolerable": 30}, 29, "unacceptable", 30),
        ({"acceptable": 60}, 60, "acceptable", 60),
        ({"acceptable": 60}, 59, "unacceptable", 60),
    ],
)
def test_lower_is_worse_and_edges_left_out(bands, value, grade, limit):
    finding = only([measure(value, kind="demo.time")], PLAN, rules(kind="demo.time", bands=bands))
    assert (finding.grade, finding.limit) == (grade, limit)


@pytest.mark.parametrize(
    ("value", "status", "grade"),
    [
        (0.3, OK, "tolerable"),
        (0.3, ESTIMATED, "tolerable"),
        (0.6, ESTIMATED, "unacceptable"),
        (1.0, OK, "unacceptable"),
        (NAN, OK, "undetermined"),
    ],
)
def test_the_floor_is_the_best_grade(value, status, grade):
    assert only([measure(value, status)], PLAN, rules(floor="tolerable")).grade == grade


@pytest.mark.parametrize(
    ("value", "status", "says"),
    [
        (0.3, ESTIMATED, "estimated, so graded at its hazardous bound (no data)"),
        (1.0, ESTIMATED, ""),
        (0.3, OUTSIDE, "outside the range of its method (no data)"),
        (NAN, MISSING, "no value (no data)"),
        (NAN, OK, "no value, although its status says ok (no data)"),
        (0.3, OK, ""),
    ],
)
def test_reasons(value, status, says):
    assert only([measure(value, status, note="no data")]).reason == says


def test_one_finding_per_case_at_its_worst_trial():
    #                    plan  plugged  dark
    value = np.array([[0.10, 9.00, 0.20], [0.60, 9.00, 0.95], [0.40, 0.99, 0.99]])
    findings = judged([measure(value)], TRIALS).findings
    assert [(f.case, f.grade, f.trial, f.step, f.value) for f in findings] == [
        ("upset", "unacceptable", "plugged", "run", 0.99),
        ("step", "tolerable", "plan", "heat", 0.6),
        ("plan", "acceptable", "plan", "stated settings", 0.1),
    ]


def test_an_upset_without_a_first_step_holds_everywhere():
    value = np.full((3, 3), 0.1)
    value[0, 2] = 0.95
    upset = judged([measure(value)], TRIALS).findings[0]
    assert (upset.trial, upset.step) == ("dark", "stated settings")


@pytest.mark.parametrize(
    ("values", "statuses", "grade", "step"),
    [
        ([0.1, 0.95, NAN], [OK, OK, MISSING], "unacceptable", "heat"),
        ([0.1, 0.6, NAN], [OK, OK, MISSING], "undetermined", "run"),
        ([0.1, 0.3, 0.8], [OK, OUTSIDE, OUTSIDE], "undetermined", "run"),
        ([0.1, NAN, 0.8], [OK, OK, OUTSIDE], "undetermined", "heat"),
        ([0.1, 0.3, 0.6], [OK, ESTIMATED, OK], "tolerable", "run"),
        ([0.1, 0.4, 0.4], [OK, OK, OK], "acceptable", "heat"),
        ([0.1, -INF, -INF], [OK, OK, OK], "acceptable", "heat"),
        ([0.1, 0.8, -INF], [OK, OK, OUTSIDE], "undetermined", "run"),
    ],
)
def test_grades_go_before_values(values, statuses, grade, step):
    trials = Trials(("heat", "run"), (Run("plan", "", "plan"),))
    column = (np.array([values]).T, np.array([statuses]).T)
    finding = only([measure(*column)], trials, rules(cases=["step"]))
    assert (finding.grade, finding.step) == (grade, step)


def test_bands_of_the_case_are_used():
    ruleset = rules(bands_in={"upset": {"acceptable": 1, "tolerable": 2}})
    findings = judged([measure(np.full((3, 3), 0.95))], TRIALS, ruleset).findings
    assert {f.case: f.grade for f in findings} == {
        "plan": "unacceptable",
        "step": "unacceptable",
        "upset": "acceptable",
    }


def sample_grade(values, statuses=OK, runs=None):
    """Grade of samples with two cells each, the second one harmless."""
    values = np.atleast_1d(np.asarray(values, dtype=float))
    statuses = np.broadcast_to(np.asarray(statuses, dtype=np.uint8), values.shape)
    trials = Trials(
        ("run",),
        tuple(Run(f"s{n:03}", "", "sample" if n % 2 else "window") for n in range(values.size)),
    )
    value = np.vstack([np.full_like(values, 0.01), values])
    status = np.vstack([np.full_like(statuses, OK), statuses])
    return only([measure(value, status)], trials, rules(cases=["sample"]))


@pytest.mark.parametrize(
    ("size", "index"), [(1, 0), (10, 9), (19, 18), (20, 18), (40, 37), (100, 94), (101, 95)]
)
def test_samples_take_the_95_percent_order_statistic(size, index):
    # The p quantile as the ceil(n p)-th smallest value (inverse of the empirical distribution;
    # definition 1 of Hyndman and Fan, The American Statistician 50 (1996) 361).
    values = np.linspace(0.1, 0.4, size)
    shuffled = np.random.default_rng(1).permutation(values)
    finding = sample_grade(shuffled)
    assert finding.value == values[index]
    assert finding.value == np.quantile(values, 0.95, method="inverted_cdf")
    assert (finding.case, finding.step) == ("sample", "run")
    assert shuffled[int(finding.trial[1:])] == finding.value


@pytest.mark.parametrize(
    ("bad", "unknown", "grade"),
    [
        (0, 0, "acceptable"),
        (5, 0, "acceptable"),
        (6, 0, "unacceptable"),
        (0, 5, "acceptable"),
        (0, 6, "undetermined"),
        (3, 3, "unacceptable"),
        (5, 1, "unacceptable"),
        (10, 6, "unacceptable"),
        (5, 6, "undetermined"),
    ],
)
def test_undetermined_samples_count_as_the_most_hazardous(bad, unknown, grade):
    values = [NAN] * unknown + [2.0] * bad + [0.1] * (100 - bad - unknown)
    assert sample_grade(values).grade == grade


def test_a_criterion_without_measure_is_undetermined():
    finding = only([])
    assert (finding.grade, finding.reason) == ("undetermined", "no measure of kind demo.ratio")
    assert (finding.case, finding.status, math.isnan(finding.value)) == ("plan", "missing", True)


def test_a_failed_check_is_undetermined_even_beside_its_measures():
    failures = {"demo.ratio": "check demo: ZeroDivisionError"}
    assert only([], failures=failures).reason == failures["demo.ratio"]
    grades = [f.grade for f in judged([measure(0.1)], failures=failures).findings]
    assert grades == ["undetermined", "acceptable"]


def test_a_measure_of_another_shape_is_undetermined():
    finding = only([measure([[0.1, 0.1]])])
    assert (finding.grade, finding.at) == ("undetermined", "tube")
    assert "(1, 2)" in finding.reason


def test_no_trial_is_undetermined():
    empty = Trials((), ())
    assert only([measure(np.zeros((1, 0)))], empty).reason == "no trial was run"


def test_cases_that_did_not_happen_are_listed():
    judgement = judged([measure(0.1)], PLAN, rules(cases=["sample"]))
    assert judgement.findings == ()
    assert [n.reason for n in judgement.not_applicable] == ["no samples were run"]


@pytest.mark.parametrize(
    ("flows", "grade", "reason"),
    [(True, "acceptable", None), (False, None, "nothing flows"), (None, "undetermined", None)],
)
def test_applies(flows, grade, reason):
    ruleset = rules(applies="facts.flows", applies_reason="nothing flows")
    judgement = judged([measure(0.1)], PLAN, ruleset, {"flows": flows})
    assert [f.grade for f in judgement.findings] == ([grade] if grade else [])
    assert [n.reason for n in judgement.not_applicable] == ([reason] if reason else [])


@pytest.mark.parametrize(
    ("times", "statuses", "grade"),
    [
        ([90.0, 50.0], [OK, OK], "acceptable"),
        ([90.0, 70.0], [OK, OK], None),
        ([90.0, 50.0], [OK, ESTIMATED], "acceptable"),
        ([90.0, 50.0], [OUTSIDE, OK], "undetermined"),
        ([NAN, 50.0], [OK, OK], "undetermined"),
        ([], [], "undetermined"),
    ],
)
def test_conditions_over_worst_values(times, statuses, grade):
    ruleset = rules(applies="worst.demo.time < 60.0")
    pairs = zip(times, statuses, strict=True)
    others = [measure(t, s, kind="demo.time", at=f"i{n}") for n, (t, s) in enumerate(pairs)]
    judgement = judged([measure(0.1), *others], PLAN, ruleset)
    assert [f.grade for f in judgement.findings] == ([grade] if grade else [])
    assert len(judgement.not_applicable) == (grade is None)


def test_worst_values_look_only_at_the_cases_of_the_criterion():
    value = np.full((3, 3), 90.0)
    value[2, 1] = 10.0
    time = measure(value, kind="demo.time")
    ratio = measure(np.full((3, 3), 0.1))
    for cases, applies in ((["plan"], False), (["plan", "upset"], True)):
        ruleset = rules(applies="worst.demo.time < 60.0", cases=cases)
        assert bool(judged([ratio, time], TRIALS, ruleset).findings) is applies


@pytest.mark.parametrize(
    ("flows", "grade", "value"),
    [(True, "acceptable", 1.0), (False, "tolerable", 0.0), (None, "undetermined", NAN)],
)
def test_presence(flows, grade, value):
    ruleset = rules(**PRESENCE, require="facts.flows", otherwise="tolerable")
    finding = only([], PLAN, ruleset, facts={"flows": flows})
    assert (finding.grade, finding.case, finding.limit, finding.unit) == (grade, "plan", None, "")
    np.testing.assert_equal(finding.value, value)


def test_a_missing_rule_of_presence_is_unacceptable_unless_said_otherwise():
    ruleset = rules(**PRESENCE, require="facts.flows")
    assert only([], PLAN, ruleset, facts={"flows": False}).grade == "unacceptable"


def test_undetermined_as_a_condition():
    ruleset = rules(if_undetermined={"condition": "measure it first"})
    finding = only([measure(NAN)], PLAN, ruleset)
    assert (finding.grade, finding.blocks) == ("undetermined", False)
    assert "measure it first" in finding.reason
    assert only([measure(2.0)], PLAN, ruleset).blocks is True


def test_disabled_is_listed():
    ruleset = rules(disabled="yes", reason="not used here")
    judgement = judged([measure(2.0)], PLAN, ruleset)
    assert judgement.findings == ()
    assert [n.reason for n in judgement.not_applicable] == ["disabled by base: not used here"]


# Properties.

values = st.one_of(
    st.sampled_from([0.0, 0.5, 0.9, INF, -INF, NAN]), st.floats(-1, 2), st.floats(allow_nan=True)
)
statuses = st.sampled_from([OK, ESTIMATED, OUTSIDE, MISSING])
cells = st.lists(st.tuples(values, statuses), min_size=9, max_size=9)


def grid(pairs):
    return (
        np.array([v for v, _ in pairs]).reshape(3, 3),
        np.array([s for _, s in pairs], dtype=np.uint8).reshape(3, 3),
    )


def by_case(pairs):
    return {f.case: f for f in judged([measure(*grid(pairs))], TRIALS).findings}


@given(cells)
@settings(deadline=None)
def test_what_is_missing_never_passes(pairs):
    lost = [math.isnan(v) or s == MISSING for v, s in pairs]
    found = by_case(pairs)
    seen = {"plan": [0], "step": [3, 6], "upset": [2, 5, 8, 7]}
    for case, indices in seen.items():
        if any(lost[i] for i in indices):
            assert found[case].grade in ("undetermined", "unacceptable")


@given(cells, st.integers(0, 8), st.floats(0, 5))
@settings(deadline=None)
def test_more_hazardous_never_improves(pairs, index, more):
    worse = list(pairs)
    worse[index] = (pairs[index][0] + more, pairs[index][1])
    before, after = by_case(pairs), by_case(worse)
    for case, finding in before.items():
        assert SERIOUS.index(after[case].grade) >= SERIOUS.index(finding.grade)


@given(cells, st.integers(0, 8), statuses)
@settings(deadline=None)
def test_a_worse_status_never_passes_better(pairs, index, status):
    worse = list(pairs)
    worse[index] = (pairs[index][0], max(status, pairs[index][1]))
    before, after = by_case(pairs), by_case(worse)
    # An unacceptable value that is lost becomes undetermined: neither passes.
    passing = {"acceptable": 2, "tolerable": 1, "undetermined": 0, "unacceptable": 0}
    for case, finding in before.items():
        assert passing[after[case].grade] <= passing[finding.grade]


@given(
    st.lists(st.tuples(values, statuses), min_size=1, max_size=45),
    st.integers(0, 44),
    st.floats(0, 5),
)
@settings(deadline=None)
def test_samples_never_improve_with_a_more_hazardous_run(pairs, index, more):
    index %= len(pairs)
    worse = list(pairs)
    worse[index] = (pairs[index][0] + more, pairs[index][1])
    before, after = (sample_grade(*zip(*each, strict=True)) for each in (pairs, worse))
    assert SERIOUS.index(after.grade) >= SERIOUS.index(before.grade)


@given(st.lists(cells, min_size=1, max_size=5), st.randoms(use_true_random=False))
@settings(deadline=None)
def test_the_order_of_measures_does_not_matter(many, random):
    measures = [measure(*grid(pairs), at=f"item {n}") for n, pairs in enumerate(many)]
    shuffled = list(measures)
    random.shuffle(shuffled)
    assert repr(judged(shuffled, TRIALS)) == repr(judged(measures, TRIALS))
    grades = [f.grade for f in judged(measures, TRIALS).findings]
    assert grades == sorted(grades, key=SERIOUS.index, reverse=True)


@given(st.lists(cells, min_size=0, max_size=4))
@settings(deadline=None)
def test_judging_again_from_json_gives_the_same_findings(many):
    measures = [measure(*grid(pairs), at=f"item {n}", note="n") for n, pairs in enumerate(many)]
    text = json.dumps(measures_to_json(measures, TRIALS), allow_nan=False)
    again, trials = measures_from_json(json.loads(text))
    assert trials == TRIALS
    for one, two in zip(measures, again, strict=True):
        np.testing.assert_array_equal(one.value, two.value)
        np.testing.assert_array_equal(one.status, two.status)
        for name in ("kind", "at", "of", "unit", "method", "note"):
            assert getattr(one, name) == getattr(two, name)
    assert repr(judged(again, trials)) == repr(judged(measures, TRIALS))


def test_large_sets_are_cut_into_blocks_without_a_trace(monkeypatch):
    measures = [measure(np.full((3, 3), n / 10), at=f"item {n:02}") for n in range(12)]
    whole = judged(measures, TRIALS)
    monkeypatch.setattr("review.judge.stacks._BLOCK", 18)
    # By their text: what is not known is unlike itself from Python 3.13 on.
    assert repr(judged(measures, TRIALS)) == repr(whole)
    assert len(whole.findings) == 36


@pytest.mark.parametrize("start", range(5))
def test_which_of_equal_causes_is_named_does_not_depend_on_the_blocks(monkeypatch, start):
    drawn = np.random.default_rng(start).integers(0, 3, (12, 3, 3)) / 2
    measures = [measure(value, at=f"item {n:02}") for n, value in enumerate(drawn)]
    whole = judged(measures, TRIALS)
    for size in (1, 9, 27):
        monkeypatch.setattr("review.judge.stacks._BLOCK", size)
        assert repr(judged(measures, TRIALS)) == repr(whole)


@pytest.mark.parametrize(
    ("change", "value", "bound"),
    [
        ({"worse": "higher", "factor": 2.0}, 0.3, 0.6),
        ({"worse": "lower", "unit": "s"}, 90.0, 30.0),  # three times as soon
        ({"worse": "lower", "about": 0.2095, "factor": 2.0}, 0.2, 0.1905),  # twice the loss
        ({"worse": "higher", "about": 0.2095, "factor": 2.0}, 0.2, 0.20475),
        ({"worse": "lower", "unit": "K"}, 15.0, -5.0),  # 20 K nearer
        ({"worse": "higher", "offset": 0.1}, -0.3, -0.2),
        ({"worse": "higher"}, 0.0, 0.0),
        ({"worse": "lower"}, math.inf, math.inf),
    ],
)
def test_an_estimate_is_graded_at_its_hazardous_bound(change, value, bound):
    kind = replace(KINDS["demo.ratio"], **change)
    assert float(kind.bound(value)) == pytest.approx(bound, abs=1e-12)


@given(
    st.floats(-1e6, 1e6), st.sampled_from(["higher", "lower"]), st.floats(1, 10), st.floats(-1, 1)
)
def test_a_bound_is_never_milder_than_the_value(value, worse, factor, about):
    kind = replace(KINDS["demo.ratio"], worse=worse, factor=factor, about=about)
    assert worst_first(kind, kind.bound(value)) >= worst_first(kind, value) - 1e-9


def test_what_is_known_to_be_bad_is_told_beside_what_is_not_known():
    trials = Trials(("heat", "run", "cool"), PLAN.runs)
    found = judged([measure([[0.1], [0.8], [NAN], [0.6]])], trials).findings
    step = next(f for f in found if f.case == "step")
    assert (step.grade, step.step, step.known) == ("undetermined", "run", 0.8)
    plan = next(f for f in found if f.case == "plan")
    assert plan.grade == "acceptable" and math.isnan(plan.known)
