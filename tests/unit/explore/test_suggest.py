"""What clears a refusal is reviewed again here, and so is what stands just short of it."""

from __future__ import annotations

import copy
from importlib.resources import files
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from review import Engine, InputError, loads
from review.cli import group
from review.explore.acts import Suggested, Turn, keys_of
from review.explore.changes import changes
from review.explore.knobs import Knob, knobs
from review.explore.points import plain
from review.explore.rounding import rounded
from review.explore.suggest import Search, suggest

DEMOS = files("review.scenarios")
NO_PURGE = (DEMOS / "copper_oxide_hydrogen_no_purge.yaml").read_text("utf-8")
ETHER = (DEMOS / "diethyl_ether_on_a_hot_plate.yaml").read_text("utf-8")
TIPS = (DEMOS / "bare_frame.yaml").read_text("utf-8").replace(
    "push_height: 600 mm", "push_height: 1500 mm"
)  # fmt: skip
ALLOWED = ("may proceed", "may proceed with conditions")


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine()


@pytest.fixture(scope="module")
def no_purge(engine: Engine) -> Suggested:
    return suggest(engine, NO_PURGE, "file")


@pytest.fixture(scope="module")
def ether(engine: Engine) -> Suggested:
    return suggest(engine, ETHER, "file")


@pytest.fixture(scope="module")
def tips(engine: Engine) -> Suggested:
    return suggest(engine, TIPS, "file")


def test_a_missing_purge_is_what_clears_both_causes(engine: Engine, no_purge: Suggested) -> None:
    assert {c.cause.id for c in no_purge.causes} == {"burns", "order"}
    assert no_purge.allowed is not None
    again = engine.review(loads(no_purge.allowed.text))
    assert again.verdict in ALLOWED
    assert [step.step for step in loads(no_purge.allowed.text).procedure][0] == "purge"


def test_every_suggestion_reviewed_again_is_rid_of_its_cause(
    engine: Engine, no_purge: Suggested, ether: Suggested, tips: Suggested
) -> None:
    told = [(done, c, s) for done in (no_purge, ether, tips) for c in done.causes for s in c.found]
    assert len(told) >= 4
    for done, cause, suggestion in told:
        review = engine.review(loads(suggestion.text))
        gone = {(f.criterion, f.at, f.of) for f in (done.review.findings[n] for n in
                cause.cause.findings) if f.grade == "unacceptable"}  # fmt: skip
        stands = {(f.criterion, f.at, f.of) for f in review.findings if f.grade == "unacceptable"}
        stood = {(f.criterion, f.at, f.of) for f in done.review.findings
                 if f.grade == "unacceptable"}  # fmt: skip
        assert not gone & stands
        assert stands < stood


def test_nothing_that_protects_is_taken_away(no_purge: Suggested, ether: Suggested) -> None:
    for text, done in ((NO_PURGE, no_purge), (ETHER, ether)):
        before = {tuple(sorted(s.items())) for s in plain(text, "file")["safeguards"]}
        for suggestion in (s for c in done.causes for s in c.found):
            data = yaml.load(suggestion.text, Loader=yaml.BaseLoader)
            assert before <= {tuple(sorted(s.items())) for s in data["safeguards"]}


def test_the_nearest_number_fails_when_it_is_a_tenth_nearer(
    engine: Engine, tips: Suggested
) -> None:
    """The push tips at a tenth of the weight: 1000 mm high on feet as they stand, so that feet
    1.5 times as far apart bear a push at 1500 mm."""
    turns = [s.acts[0] for c in tips.causes for s in c.found]
    feet = next(t for t in turns if isinstance(t, Turn) and t.knob.turned.path == "frame.feet")
    assert 1.5 <= feet.value <= 1.6
    search = Search(engine, TIPS, "file")
    nearer = search.reviewed([Turn(feet.knob, 1 + 0.9 * (feet.value - 1))])
    assert nearer is not None and nearer.verdict == "must not proceed"


def test_no_such_change_is_an_answer(engine: Engine, ether: Suggested) -> None:
    """Ether's own vapour burns in a flask with air: no number in the file keeps it from that."""
    burns = next(c for c in ether.causes if c.cause.id == "burns")
    assert burns.found == ()
    search = Search(engine, ETHER, "file")
    tried = 0
    for knob in search.knobs:
        for value in (knob.values[0], knob.values[len(knob.values) // 2], knob.values[-1]):
            review = search.reviewed([Turn(knob, value)])
            tried += review is not None
            assert review is None or search.keys(burns.cause) & keys_of(review)
    assert tried >= 12


LEAKY = """
title: A mixture that burns
reagents:
  gas: {state: gas, composition: {methane: 100 %}}
  air: {state: gas, composition: {nitrogen: 79.05 %, oxygen: 20.95 %}}
  nitrogen: {state: gas, composition: {nitrogen: 100 %}}
flows:
  gas: {reagent: gas, into: line, rate: 12 mL/min, reference: standard, at_most: 500 mL/min}
  air: {reagent: air, into: line, rate: 88 mL/min, reference: standard, at_most: 88 mL/min}
  purge: {reagent: nitrogen, into: line, rate: 1 L/min, reference: standard, at_most: 1 L/min}
train:
  - {id: line, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m}
  - {id: outlet, kind: outlet, to: outdoors}
procedure:
  - {step: purge, duration: 30 min, flows: {purge: on}}
  - {step: run, duration: 10 min, flows: {purge: off, gas: on, air: on}}
  - {step: sweep, duration: 30 min, flows: {purge: on, gas: off, air: off}}
"""


def test_more_fuel_is_never_the_way(engine: Engine) -> None:
    """80 % methane in air is outside the range of burning, but on the way there it burns."""
    search = Search(engine, LEAKY, "file")
    cause = next(c for c in search.against if "burns" in c.id)
    gas = next(k for k in search.knobs if k.turned.path == "flows.gas.rate")
    richer = search.reviewed([Turn(gas, 352.0)])
    assert richer is not None
    burns = {f.grade for f in richer.findings
             if (f.criterion, f.case) == ("flammability.envelope", "plan")}  # fmt: skip
    assert burns and "unacceptable" not in burns
    assert search.richer(richer)
    assert search.verified([Turn(gas, 352.0)], cause) is None
    less_air = next(k for k in search.knobs if k.turned.path == "flows.air.rate")
    assert search.verified([Turn(less_air, 3.0)], cause) is None
    leaner = search.reviewed([Turn(gas, 0.5)])
    assert leaner is not None and not search.richer(leaner)


def test_what_a_supply_or_maker_says_is_no_setting(engine: Engine) -> None:
    text = NO_PURGE.replace(
        "accuracy: 5 %\n", "accuracy: 5 %\n    shut_off_pressure: 1 bar gauge\n"
    )
    found = knobs(loads(text), plain(text, "file"))
    fields = {k.turned.path.split(".")[-1] for k in found}
    facts = {"rating", "joint_rating", "accuracy", "conversion", "shut_off_pressure", "air_changes"}
    assert not fields & facts
    assert {"rate", "set_temperature", "duration", "length"} <= fields
    for knob in found:
        if knob.turned.path.endswith(("regulator", "at_most", "amount")):
            assert max(knob.values) < knob.turned.value


def test_an_overlay_is_what_the_file_would_be(engine: Engine) -> None:
    """Every number turned as an overlay comes to what it is when typed into the file."""
    from review.scenario import numbers

    data, checked = plain(NO_PURGE, "file"), 0
    for knob in knobs(loads(NO_PURGE), data):
        value = min(knob.values, key=knob.far)
        changed = copy.deepcopy(data)
        knob.turned.set_to(changed, value)
        try:
            typed = numbers(loads(yaml.safe_dump(changed)))
        except InputError:  # a limit below its setting
            continue
        checked += 1
        for path, si in knob.overlay(value).items():
            assert typed[path] == pytest.approx(si, rel=1e-6), path
    assert checked > 15


@pytest.mark.parametrize(("good", "bad"), [(0.01234, 0.02), (571.3, 560.0), (0.00271, 0.0027)])
def test_rounding_goes_to_the_good_side(good: float, bad: float) -> None:
    found = rounded(good, bad)
    assert (found <= good) if good < bad else (found >= good)
    assert found == pytest.approx(good, rel=0.05)


def test_changes_are_made_to_a_copy_and_are_no_wrong_input(
    engine: Engine, no_purge: Suggested
) -> None:
    scenario, data = loads(NO_PURGE), plain(NO_PURGE, "file")
    for change in changes(scenario, data, no_purge.review):
        changed = copy.deepcopy(data)
        change.make(changed)
        assert changed != data, change.says
        loads(yaml.safe_dump(changed, sort_keys=False))
    assert data == plain(NO_PURGE, "file")


def test_the_command_writes_a_new_file_only(tmp_path: Path, engine: Engine) -> None:
    given, out = tmp_path / "tips.yaml", tmp_path / "out.yaml"
    given.write_text(TIPS, "utf-8")
    done = CliRunner().invoke(group, ["suggest", str(given), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert engine.review(engine.load(out)).verdict in ALLOWED
    written = out.read_text("utf-8")
    again = CliRunner().invoke(group, ["suggest", str(given), "--out", str(out)])
    assert again.exit_code == 2 and out.read_text("utf-8") == written
    onto = CliRunner().invoke(group, ["suggest", str(given), "--out", str(given)])
    assert onto.exit_code == 2 and given.read_text("utf-8") == TIPS


def test_an_interrupted_search_keeps_what_is_known(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(self: Search) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Search, "several", stop)
    done = suggest(engine, TIPS, "file")
    assert not done.whole
    assert any(c.found for c in done.causes)


def test_a_quick_look_agrees_with_the_review(engine: Engine) -> None:
    """What stands against the plan in a quick look is what a full review finds there."""
    search = Search(engine, TIPS, "file")
    some: list[tuple[Knob, float]] = [(k, k.values[-1]) for k in search.knobs[:6]]
    looked = search.planned([k.overlay(v) for k, v in some], search.scenario)
    for (knob, value), keys in zip(some, looked, strict=True):
        review = search.reviewed([Turn(knob, value)])
        if review is not None:
            presence = {f.criterion for f in review.findings if not f.kind}
            full = {key for key in keys_of(review) if key[0] not in presence}
            assert keys == full, knob.turned.path


WEAK = """
title: Three lines behind one regulator, each joined too weakly
reagents:
  gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
    pressure: 100 bar gauge, regulator: 2 bar gauge}}
flows:
  gas: {reagent: gas, into: first, rate: 1 L/min, reference: standard, at_most: 2 L/min}
train:
  - {id: first, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
    rating: 9 bar gauge, joint: screw-thread connector, joint_material: PTFE,
    joint_rating: 0.3 bar gauge}
  - {id: second, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
    rating: 9 bar gauge, joint: screw-thread connector, joint_material: PTFE,
    joint_rating: 0.3 bar gauge}
  - {id: last, kind: line, material: PTFE, inner_diameter: 1 mm, wall: 1 mm, length: 3 m,
    rating: 9 bar gauge, joint: screw-thread connector, joint_material: PTFE,
    joint_rating: 0.3 bar gauge}
  - {id: outlet, kind: outlet, to: outdoors}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: flush, duration: 10 min, flows: {gas: on}}
"""


def test_weak_parts_are_changed_all_at_once(engine: Engine) -> None:
    found = suggest(engine, WEAK, "file")
    told = [act.says for c in found.causes for s in c.found for act in s.acts]
    assert 'Join "first", "second" and "last" by twin-ferrule tube fittings' in told


def test_an_arrester_is_not_resized(engine: Engine) -> None:
    text = WEAK.replace("id: second, kind: line", "id: second, kind: arrester")
    paths = {k.turned.path for k in knobs(loads(text), plain(text, "file"))}
    assert "train.first.length" in paths
    assert not any(path.startswith("train.second") for path in paths)
