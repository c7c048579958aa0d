"""Whatever a scenario holds, its review keeps what it promises.

What is expected is the project's own design: nothing raises, what is missing says so, a failure
changes nothing before it begins, and no review depends on another. The scenarios are invented.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from generator import incomplete, scenario, starts
from hypothesis import given, settings

from review import Engine, Finding, Review, Scenario, loads
from review.explore.batched import Batched
from review.explore.one import FINE, along
from review.explore.points import Points, plain, turned
from review.explore.suggest import suggest
from review.interface.result import Cause
from review.judge.causes import causes
from review.judge.verdict import verdict

MISSING = 3
POOL = range(11)
#: The kinds of single failure that `standard_items` plays, by the head of their ids.
KINDS = {
    "absorbent spent", "begun again", "blocked", "broken", "cooling lost", "exchanged",
    "flame out", "flow at its most", "flow lost",
    "flow not stopped", "heat at its most", "heat lost", "joint open inward", "joint open outward",
    "hoses exchanged", "left on", "no reaction", "power back", "power lost", "reaction complete",
    "regulator failed",
    "skipped", "swapped", "ventilation lost", "wind", "wrong scale",
}  # fmt: skip
#: Those of them that begin with the first step.
AT_ONCE = ("exchanged", "hoses exchanged", "wind")
Reviewed = Callable[[int], Review]


def _keeps_its_promises(review: Review) -> None:
    assert not review.failures, review.failures
    assert "check.failed" not in {finding.criterion for finding in review.findings}
    for measure in review.measures:
        where = measure.kind, measure.at, measure.of
        assert np.array_equal(np.isnan(measure.value), measure.status == MISSING), where
        assert set(np.unique(measure.status)) <= {0, 1, 2, 3}, where
        shape = 1 + len(review.trials.steps), len(review.trials.runs)
        assert measure.value.shape == measure.status.shape == shape, where


@settings(max_examples=8, deadline=None, derandomize=True)
@given(start=starts())
def test_a_complete_scenario_is_reviewed(engine: Engine, start: int) -> None:
    _keeps_its_promises(engine.review(loads(scenario(start)), upsets=False))


@settings(max_examples=8, deadline=None, derandomize=True)
@given(start=starts())
def test_a_scenario_with_gaps_is_reviewed(engine: Engine, start: int) -> None:
    _keeps_its_promises(engine.review(loads(incomplete(start)), upsets=False))


@pytest.mark.parametrize("start", POOL)
def test_every_upset_is_reviewed(reviewed: Reviewed, start: int) -> None:
    _keeps_its_promises(reviewed(start))


@pytest.mark.parametrize("start", POOL)
def test_an_upset_changes_nothing_before_it_begins(reviewed: Reviewed, start: int) -> None:
    """Save what asks about the steps to come: whether the gas stops after this one, what is
    breathed on average in the quarter of an hour that begins with it."""
    review = reviewed(start)
    plan = [run.case for run in review.trials.runs].index("plan")
    starts = np.array([run.from_step or 0 for run in review.trials.runs])
    assert (starts > 1).any() or len(review.trials.steps) == 2  # one step and the time after it
    cells = np.arange(1 + len(review.trials.steps))
    before = cells[:, None] < starts[None, :]
    for measure in review.measures:
        where = measure.kind, measure.at, measure.of
        if measure.kind.startswith(("readiness.", "exposure.short_term")):
            continue
        for array in (measure.value, measure.status):
            same = np.broadcast_to(array[:, [plan]], array.shape)
            np.testing.assert_allclose(array[before], same[before], rtol=1e-12, err_msg=str(where))


def test_every_kind_of_upset_occurs(engine: Engine) -> None:
    found = set()
    for start in range(25):
        found |= {o.id.split(":")[0] for o in engine.overlays(loads(scenario(start)))[1:]}
    assert {head for head in found if " | " not in head} == KINDS


@pytest.mark.parametrize("start", POOL)
def test_an_upset_says_what_fails_and_when(engine: Engine, start: int) -> None:
    """A title is a clause that can follow `if`: it names the thing and the step and no path."""
    loaded = loads(scenario(start))
    overlays = engine.overlays(loaded)[1:]
    assert len({o.id for o in overlays}) == len(overlays)
    alone = [o for o in overlays if not o.counters]
    assert len({o.title for o in alone}) == len(alone)
    things = {*loaded.flows, *loaded.heat, *(i.id for i in loaded.train), "ventilation", "power"}
    steps = [step.step for step in loaded.procedure]
    for overlay in alone:
        kind, *names = overlay.id.removesuffix(":midway").split(":")
        named = [name for name in names if name in things or name in steps]
        assert named and (names[-1] in steps or kind in AT_ONCE), overlay.id
        if kind == "left on":
            assert steps[-1] == names[-1] and "last step" in overlay.title
            continue
        for name in named:
            assert re.search(rf"\b{re.escape(name)}\b", overlay.title), overlay
        assert re.fullmatch(r"[^.:_=]+", overlay.title), overlay.title
        verbs = "is|are|does|stops|runs|lets|gives|goes|opens|breaks|blows|fails|starts|stays"
        assert re.search(rf" ({verbs})\b", overlay.title), overlay.title
        if kind not in ("skipped", "swapped", "begun again", *AT_ONCE):
            assert overlay.title.endswith(f"from step {names[-1]} on")
            assert steps[(overlay.from_step or 0) - 1] == names[-1]
    by_id = {o.id: o for o in overlays}
    for overlay in overlays:
        if overlay.counters:
            countered = by_id[overlay.counters]
            assert overlay.from_step == countered.from_step
            assert set(countered.changes.items()) <= set(overlay.changes.items()) or set(
                overlay.changes.values()
            ) == {0.0}


def test_little_is_undetermined_in_complete_scenarios(engine: Engine, reviewed: Reviewed) -> None:
    """A tool that cannot tell about what is fully described would teach people to overrule it."""
    reviews = [reviewed(start) for start in POOL]
    others = range(len(POOL), 36)
    reviews += [engine.review(loads(scenario(start)), upsets=False) for start in others]
    findings = [finding for review in reviews for finding in review.findings]
    lost = [f for f in findings if f.grade == "undetermined" and f.blocks]
    causes = Counter((f.criterion, f.reason) for f in lost).most_common(5)
    assert 0 < len(lost) < 0.09 * len(findings), causes
    graded = {f.grade for f in findings}
    assert graded == {"acceptable", "tolerable", "unacceptable", "undetermined"}


@pytest.mark.parametrize("start", [3])
def test_no_review_depends_on_another(engine: Engine, reviewed: Reviewed, start: int) -> None:
    reviewed(start + 1)
    after = engine.review(loads(scenario(start)))
    alone = Engine().review(loads(scenario(start)))
    assert repr(after.findings) == repr(alone.findings)
    assert repr(after.outcomes) == repr(alone.outcomes)
    assert repr(after.notes) == repr(alone.notes)
    assert after.verdict == alone.verdict and after.facts == alone.facts
    for one, other in zip(after.measures, alone.measures, strict=True):
        assert (one.kind, one.at, one.of, one.note) == (other.kind, other.at, other.of, other.note)
        np.testing.assert_array_equal(one.value, other.value)
        np.testing.assert_array_equal(one.status, other.status)


@pytest.mark.parametrize("start", POOL)
def test_each_finding_not_acceptable_hangs_on_one_cause_whatever_the_order(
    engine: Engine, reviewed: Reviewed, start: int
) -> None:
    review = reviewed(start)
    assert _hanging(review.findings, review.causes) == Counter(
        (f.criterion, f.at, f.of, f.case) for f in review.findings if f.grade != "acceptable"
    )
    ids = {cause.id: _named(review.findings, cause) for cause in review.causes}
    assert len(ids) == len(review.causes)
    drawn = random.Random(start)
    for _ in range(3):
        other = tuple(drawn.sample(review.findings, len(review.findings)))
        again = causes(other, engine.ruleset.letters, engine.kinds, review.trials.runs)
        assert [cause.id for cause in again if cause.grade != "condition"] == [
            cause.id for cause in review.causes if cause.grade != "condition"
        ]
        assert {cause.id: _named(other, cause) for cause in again} == ids


@pytest.mark.parametrize("start", [1, 12])
def test_doing_what_is_suggested_for_the_first_cause_rids_the_run_of_it(
    engine: Engine, start: int
) -> None:
    first = suggest(engine, scenario(start), "drawn").causes[0]
    assert first.found, first.cause.id
    again = engine.review(engine.loads(first.found[0].text))
    assert first.cause.id not in {c.id for c in again.causes if c.grade != "condition"}


def _named(findings: Sequence[Finding], cause: Cause) -> Counter[tuple[str, str, str, str]]:
    hanging = (findings[n] for n in cause.findings)
    return Counter((f.criterion, f.at, f.of, f.case) for f in hanging)


def _hanging(
    findings: Sequence[Finding], found: Sequence[Cause]
) -> Counter[tuple[str, str, str, str]]:
    return sum((_named(findings, cause) for cause in found), Counter())


@settings(max_examples=15, deadline=None, derandomize=True)
@given(start=starts())
def test_the_same_start_draws_the_same_scenario(start: int) -> None:
    assert scenario(start) == scenario(start)
    assert 3 <= scenario(start).count("\n- id:") <= 17


@pytest.mark.parametrize(
    ("start", "path", "family"),
    [
        (2, "train.wide way.inner_diameter", "readiness."),
        (3, "train.wide way.length", "arrester."),
    ],
)
def test_boundaries_against_every_point_of_a_line(
    engine: Engine, start: int, path: str, family: str
) -> None:
    """What one family of criteria says along a number: each region between its neighbours, known
    or not, is found, and each boundary to a thousandth of the range."""
    text = (incomplete if start % 3 == 2 else scenario)(start)

    def review(changed: Scenario) -> Review:
        whole = engine.review(changed, upsets=False)
        kept = tuple(f for f in whole.findings if f.criterion.startswith(family))
        said = verdict(kept)
        return replace(whole, findings=kept, verdict=said)

    chosen = [turned(loads(text), plain(text, "file"), path)]
    batch = Batched.of(Points(text, "file", chosen, lambda s: engine.review(s, upsets=False)),
                       engine, "file")  # fmt: skip
    assert batch is not None
    low, high = chosen[0].low, chosen[0].high
    line = [low + (high - low) * n / 100 for n in range(101)]
    graded = [
        {b.grade for b in point.blockers if b.criterion.startswith(family)}
        for point in batch.several([(value,) for value in line])
    ]
    brute = ["must" if "unacceptable" in g else "cannot" if g else "may" for g in graded]
    changes = [n for n in range(100) if brute[n] != brute[n + 1]]
    found = along(Points(text, "file", chosen, review))
    ends = [
        (one.high.value, other.low.value)
        for one, other in pairwise(found.intervals)
        if one.verdict.split()[0] != other.verdict.split()[0]
    ]
    assert changes and len(ends) == len(changes)
    for n, (last, first) in zip(changes, ends, strict=True):
        assert max(line[n], last) < min(line[n + 1], first)
        assert first - last <= FINE * (high - low) * (1 + 1e-9)
