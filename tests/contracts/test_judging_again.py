"""Judging stored measures again: the same findings, whatever ruleset, without a set-up."""

import copy
import json
import subprocess
import sys

import numpy as np
import pytest

from review.engine.reviewing import Engine
from review.judge.judging import judge
from review.judge.stored import measures_from_json, measures_to_json
from review.scenario import loads

PLAIN = """
title: hydrogen through a hose
reagents:
  gas: {state: gas, composition: {hydrogen: 100 %},
        held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.5 bar gauge}}
flows: {feed: {reagent: gas, into: hose, rate: 1 L/min, reference: standard, at_most: 2 L/min}}
train:
  - {id: hose, kind: line, inner_diameter: 6 mm, wall: 1 mm, length: 1 m, material: PTFE,
     rating: 2 bar gauge, joint: none}
  - {id: outlet, kind: outlet, to: outdoors}
duration: 10 min
"""


def stored(review):
    """Measures and trials as they come back from a text of JSON."""
    text = json.dumps(measures_to_json(review.measures, review.trials), allow_nan=False)
    return measures_from_json(json.loads(text))


def again(review, engine, measures=None, trials=None):
    return judge(
        review.measures if measures is None else measures, review.facts, engine.ruleset,
        engine.kinds, review.trials if trials is None else trials, {},
    )  # fmt: skip


@pytest.mark.parametrize("which", ["plain", "batch"])
def test_measures_that_went_through_json_give_the_same_findings(which, engine, request):
    review = request.getfixturevalue(which)
    measures, trials = stored(review)
    for old, new in zip(review.measures, measures, strict=True):
        assert (old.kind, old.at, old.of, old.unit, old.method, old.note) == (
            new.kind, new.at, new.of, new.unit, new.method, new.note,
        )  # fmt: skip
        assert old.limits_hash == new.limits_hash
        np.testing.assert_array_equal(old.value, new.value)
        np.testing.assert_array_equal(old.status, new.status)
    assert trials == review.trials
    judged = again(review, engine, measures, trials)
    assert not review.failures
    assert [repr(f) for f in judged.findings] == [repr(f) for f in review.findings]
    assert judged.not_applicable == review.not_applicable


def test_an_active_safeguard_is_still_one_after_json():
    text = """
title: a plugged outlet and a switch
reagents:
  gas: {state: gas, composition: {nitrogen: 100 %},
        held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.5 bar gauge}}
flows: {feed: {reagent: gas, into: pot, rate: 1 L/min, reference: standard, at_most: 2 L/min}}
train:
  - {id: pot, kind: vessel, gas_volume: 1 L, rating: 0.2 bar gauge, joint: none,
     material: stainless steel 316}
  - {id: outlet, kind: outlet, to: outdoors}
safeguards:
  - {kind: pressure switch, senses: pressure, alarm: 50 mbar gauge, closes: feed,
     response_time: 1 s}
duration: 10 min
"""
    engine = Engine()
    review = engine.review(loads(text))
    measures, trials = stored(review)
    assert any(run.counters and run.adequacy for run in trials.runs)
    judged = again(review, engine, measures, trials)
    assert [repr(o) for o in judged.outcomes] == [repr(o) for o in review.outcomes]


def test_a_measure_knows_which_limits_it_read(tmp_path, batch, engine):
    """Another limit, another hash: that measure must be computed again, the others need not."""
    site = tmp_path / "site.yaml"
    site.write_text(
        "name: site\nlimits:\n  flammability.lean_share: {value: 0.2, source: ours, how: read}\n"
    )
    other = Engine(rules_files=[site])
    mine = {m.kind: m.limits_hash for m in engine.review(loads(PLAIN), upsets=False).measures}
    theirs = {m.kind: m.limits_hash for m in other.review(loads(PLAIN), upsets=False).measures}
    assert {kind for kind in mine if mine[kind] != theirs[kind]} == {
        "flammability.after_burn", "flammability.allowance_elsewhere",
        "flammability.cold_train_margin",
        "flammability.allowance_used", "flammability.cold_vapour",
        "flammability.fuel_to_lower_limit", "flammability.headspace_margin",
        "flammability.margin", "flammability.margin_elsewhere",
        "flammability.near_burning", "flammability.oxygen_to_limiting",
        "flammability.upper_limit_to_fuel",
        "readiness.left_in_train", "readiness.order", "readiness.purge_ratio",
    }  # fmt: skip


def test_facts_go_through_json_too(plain, engine):
    facts = json.loads(json.dumps(plain.facts))
    judged = judge(plain.measures, facts, engine.ruleset, engine.kinds, plain.trials, {})
    assert [repr(f) for f in judged.findings] == [repr(f) for f in plain.findings]


def test_judging_changes_nothing_it_is_given(batch, engine):
    measures, trials = stored(batch)
    before = [(m.value.tobytes(), m.status.tobytes()) for m in measures]
    facts, listed = copy.deepcopy(batch.facts), list(measures)
    for m in measures:
        m.value.setflags(write=False)
        m.status.setflags(write=False)
    first = judge(listed, facts, engine.ruleset, engine.kinds, trials, {})
    second = judge(listed, facts, engine.ruleset, engine.kinds, trials, {})
    assert [repr(f) for f in first.findings] == [repr(f) for f in second.findings]
    assert [(m.value.tobytes(), m.status.tobytes()) for m in measures] == before
    assert facts == batch.facts and all(a is b for a, b in zip(listed, measures, strict=True))


def test_the_order_of_measures_does_not_matter(batch, engine):
    turned = again(batch, engine, batch.measures[::-1])
    assert [repr(f) for f in turned.findings] == [repr(f) for f in batch.findings]


def test_judging_needs_no_setup():
    """The judge loads neither engine nor walk; nothing of theirs can leak into a finding."""
    code = (
        "import sys, review.judge.judging\n"
        "print(sorted(m for m in sys.modules if m.startswith(('review.walk', 'review.engine'))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"


HALVED = """
name: site
criteria:
  - id: pressure.suckback
    bands: {acceptable: 0.25, tolerable: 0.45}
"""


@pytest.fixture(scope="module")
def stricter(tmp_path_factory):
    file = tmp_path_factory.mktemp("site") / "site.yaml"
    file.write_text(HALVED, encoding="utf-8")
    return Engine(rules_files=[file])


def test_a_stricter_site_layer_changes_only_its_findings(stricter, scenario, plain):
    """Built in are 0.62 and 0.9; the suck-back of the fixture lies between the two.

    So much is known of its failures; one of them lies outside the range of its method, which
    leaves open what is no worse than tolerable. What is unacceptable does not wait for it.
    """
    review = stricter.review(scenario)

    def rest(found):
        return [repr(f) for f in found.findings if f.criterion != "pressure.suckback"]

    def own(found):
        return {
            (f.at, f.case): (f.grade, f.limit)
            for f in found.findings
            if f.criterion == "pressure.suckback"
        }

    assert rest(review) == rest(plain)
    [failed] = [
        f for f in plain.findings if (f.criterion, f.case) == ("pressure.suckback", "upset")
    ]
    assert failed.at == "absorber" and 0.62 < failed.known < 0.9
    assert own(plain)["absorber", "upset"] == ("undetermined", 0.62)
    assert own(review)["absorber", "upset"] == ("unacceptable", 0.45)
    assert own(plain)["absorber", "plan"] == ("acceptable", 0.62)
    assert own(review)["absorber", "plan"] == ("acceptable", 0.25)
    assert review.not_applicable == plain.not_applicable
    assert not review.loosened
    assert [layer.name for layer in review.layers][-1] == "site"


def test_stored_measures_judged_by_other_rules_equal_a_fresh_review(stricter, scenario, plain):
    measures, trials = stored(plain)
    fresh = stricter.review(scenario)
    judged = again(plain, stricter, measures, trials)
    assert [repr(f) for f in judged.findings] == [repr(f) for f in fresh.findings]
    assert [repr(f) for f in judged.findings] != [repr(f) for f in plain.findings]
