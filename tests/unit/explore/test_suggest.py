"""What clears a refusal is reviewed again here, and so is what stands just short of it."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from review import Engine, InputError, loads
from review.cli import group
from review.explore.acts import Act, Suggested, Suggestion, Turn, keys_of
from review.explore.changes import changes
from review.explore.knobs import Knob, knobs
from review.explore.points import plain
from review.explore.renewed import Change, _seal
from review.explore.rounding import rounded
from review.explore.singles import _onwards
from review.explore.suggest import Search, suggest
from review.interface.result import Cause
from tests.practice.setups import set_ups
from tests.support import shared_engine

DEMOS = files("review.scenarios")
# Over an oxide that lights nothing: over copper oxide no purge makes neat hydrogen allowed.
NO_PURGE = (DEMOS / "copper_oxide_hydrogen_no_purge.yaml").read_text("utf-8").replace(
    "CuO(s) + H2 -> Cu(s)", "ZnO(s) + H2 -> Zn(s)"
).replace("copper oxide: 100 %", "zinc oxide: 100 %")  # fmt: skip
ETHER = (DEMOS / "diethyl_ether_on_a_hot_plate.yaml").read_text("utf-8")
TIPS = (DEMOS / "bare_frame.yaml").read_text("utf-8").replace(
    "push_height: 600 mm", "push_height: 1500 mm"
)  # fmt: skip
ALLOWED = ("may proceed", "may proceed with conditions")


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


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


def part(id: str, kind: str, joint: str = "screw-thread connector", more: str = "") -> str:
    return (
        f"  - {{id: {id}, kind: {kind}, joint: {joint}, joint_material: PTFE, in: hood,"
        f" joint_rating: 0.5 bar gauge, home_made: no, {more}}}\n"
    )


TWELVE = (
    """
title: Hydrogen of twelve percent through a hot tube
operators: 1
frame: stands by itself on the bench
ignition_sources: none in the room
reagents:
  mix: {state: gas, composition: {hydrogen: 12 %, nitrogen: 88 %}, held: &held {as: cylinder,
    volume: 10 L, pressure: 150 bar gauge, regulator: 0.3 bar gauge}}
  inert: {state: gas, composition: {nitrogen: 100 %}, held: *held}
flows:
  feed: {reagent: mix, into: hose, rate: 100 mL/min, reference: standard, at_most: 1 L/min}
  purge: {reagent: inert, into: hose, rate: 500 mL/min, reference: standard, at_most: 2 L/min}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 350 degC, hottest: 370 degC,
  cooling_time: 30 min, distance: 500 mm}}
ventilation: {room_volume: 100 m3, air_changes: 4 / hour, hood: {opening_width: 1.2 m,
  opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes, heat_inside: yes}}
safeguards: [{kind: second person}, {kind: spectacles}, {kind: gloves}, {kind: cylinder restraint},
  {kind: extinguisher, agent: carbon dioxide}, {kind: residual-current device},
  {kind: earthed frame}]
procedure:
  - {step: purge, duration: 3 min, flows: {purge: on}}
  - {step: heat, duration: 30 min, heat: {furnace: on}}
  - {step: reduce, duration: 60 min, flows: {purge: off, feed: on}}
  - {step: sweep, duration: 10 min, flows: {feed: off, purge: on}}
  - {step: cool, duration: 120 min, heat: {furnace: off}}
train:
"""
    + part("hose", "line", more="material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m, "
           "rating: 5 bar gauge")
    + part("tube", "reactor", more="material: fused quartz, inner_diameter: 16 mm, wall: 2 mm, "
           "length: 700 mm, heated_length: 200 mm, ends: open, orientation: horizontal, reactions: "
           "none")
    + part("trap", "trap", more="material: borosilicate glass 3.3, gas_volume: 250 mL, wall: 3 mm, "
           "inner_diameter: 60 mm, ends: round, rating: 0.5 bar gauge")
    + "  - {id: outlet, kind: outlet, to: hood, inner_diameter: 4 mm}\n"
)  # fmt: skip


def test_what_only_the_accuracies_refuse_is_turned_farther(engine: Engine) -> None:
    """At 300 degC what is planned passes, and the envelope does not within the accuracies of the
    flows; a colder tube passes with them, so 'no such change' would be false."""
    search = Search(engine, TWELVE, "file")
    (cause,) = search.against
    furnace = next(k for k in search.knobs if k.turned.path == "heat.furnace.set_temperature")
    near = search.reviewed([Turn(furnace, 300.0)])
    assert near is not None and near.verdict == "must not proceed"
    assert {f.case for f in near.findings if f.grade == "unacceptable"} == {"sample"}
    search.singles()
    (found,) = search.found[cause.id]
    assert engine.review(loads(found.text)).verdict in ALLOWED
    assert next(a for a in found.acts if isinstance(a, Turn)).knob is furnace


def test_a_relief_is_fitted_where_a_failed_regulator_bursts_glass(engine: Engine) -> None:
    """50 L/min behind a line of 2 mm: 8 mm at the glass holds them, 1.5 mm there does not."""
    name = "the relief behind the narrow line"
    done = suggest(engine, next(s.text for s in set_ups() if name in s.name), "file")
    (cause,) = done.causes
    fitted = [s for s in cause.found if 'relief on "bottle"' in s.acts[0].says]
    assert len(fitted) == 1 and fitted[0].verdict in ALLOWED
    narrow = fitted[0].text.replace("bore: 8 mm", "bore: 1.5 mm")
    assert narrow != fitted[0].text
    assert engine.review(loads(narrow)).verdict == "must not proceed"


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
    joint_rating: 0.5 bar gauge}
  - {id: second, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
    rating: 9 bar gauge, joint: screw-thread connector, joint_material: PTFE,
    joint_rating: 0.5 bar gauge}
  - {id: last, kind: line, material: PTFE, inner_diameter: 1 mm, wall: 1 mm, length: 3 m,
    rating: 9 bar gauge, joint: screw-thread connector, joint_material: PTFE,
    joint_rating: 0.5 bar gauge}
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


def test_only_what_is_needed_is_told(engine: Engine) -> None:
    """Acts, and parts of an act, that a review says are not needed are left out again."""
    search = Search(engine, TIPS, "file")
    feet = next(k for k in search.knobs if k.turned.path == "frame.feet")
    other = next(k for k in search.knobs if k.turned.path.startswith("train."))
    both = search.verified([Turn(feet, 1.6), Turn(other, 1.01 * other.turned.value)], None)
    assert both is not None
    assert [a.says for a in search.needed(both, None).acts] == [Turn(feet, 1.6).says]


def test_parts_of_a_change_that_are_not_needed_are_left_out(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    search = Search(engine, WEAK, "file")
    change = next(c for c in search.changes if len(c.parts) == 3 and "ferrule" in c.says)

    def verified(acts: Sequence[Act], cause: Cause | None) -> Suggestion | None:
        (only,) = acts
        assert isinstance(only, Change)
        good = {0, 2} <= set(only.parts)
        return Suggestion(tuple(acts), "", 0, search.text(acts)) if good else None

    monkeypatch.setattr(search, "verified", verified)
    whole = verified([change], None)
    assert whole is not None
    (act,) = search.needed(whole, None).acts
    assert act.says == 'Join "first" and "last" by twin-ferrule tube fittings'
    (joined,) = search.needed(Suggestion((act,), "", 0, search.text([act])), None).acts
    assert joined is act


def test_changes_of_one_file_do_not_shift_each_other(engine: Engine) -> None:
    """A trap put in before does not move a joint to its neighbour."""
    text = (DEMOS / "hydrogen_chloride_absorbed.yaml").read_text("utf-8")
    search = Search(engine, text, "file")
    trap = next(c for c in search.changes if "empty trap" in c.says)
    last = search.scenario.train[-2]
    seal = _seal(search.scenario, "FFKM", (len(search.scenario.train) - 2,))
    for acts in ([trap, seal], [seal, trap]):
        changed = search.changed(acts)
        assert changed is not None and len(changed.train) == len(search.scenario.train) + 1
        assert [i.id for i in changed.train if i.joint_material == "FFKM"] == [last.id]


def test_no_number_goes_past_what_may_be_set(engine: Engine) -> None:
    for text in (NO_PURGE, ETHER):
        for knob in knobs(loads(text), plain(text, "file")):
            if knob.spread in ("ratio", "kelvin") and knob.turned.path != "frame.feet":
                for value in (min(knob.values), max(knob.values)):
                    for act in _onwards(Turn(knob, value)):
                        assert isinstance(act, Turn)
                        assert knob.turned.low <= act.value <= knob.turned.high, act.says


DISTILLED = (DEMOS / "methanol_distilled.yaml").read_text("utf-8")


def test_more_of_what_does_harm_is_no_way_out() -> None:
    """No longer on the heat, no more or hotter liquid, no more of a gas but inert gas or air."""
    forming = (DEMOS / "copper_oxide_forming_gas.yaml").read_text("utf-8")
    water = DISTILLED.replace("{methanol: 100 %}", "{water: 100 %}")
    trap = water.replace("heats: flask", "heats: condenser")
    for text, rises, falls in (
        (DISTILLED, {"procedure.cool.duration"},
         {"procedure.boil.duration", "train.flask.liquid_volume", "heat.bath.set_temperature"}),
        (water, set(), {"procedure.boil.duration", "train.flask.liquid_volume"}),
        (trap, {"train.flask.liquid_volume"}, {"procedure.boil.duration"}),
        (forming, {"flows.argon.rate", "procedure.purge.duration", "procedure.sweep.duration",
                   "procedure.cool.duration", "heat.furnace.set_temperature"},
         {"flows.forming gas.rate", "procedure.reduce.duration"}),
        (LEAKY, {"flows.air.rate", "flows.purge.rate", "procedure.sweep.duration"},
         {"flows.gas.rate", "procedure.run.duration"}),
    ):  # fmt: skip
        found = {k.turned.path: k for k in knobs(loads(text), plain(text, "file"))}
        for path in rises:
            assert max(found[path].values) > found[path].turned.value, path
        for path in falls:
            assert max(found[path].values) < found[path].turned.value, path
        for knob in found.values():
            assert knob.within(1e9) == knob.turned.high


def test_the_way_from_cold_and_inert_does_not_burn(engine: Engine) -> None:
    """Methane in air burns between 4.4 % and 17 %: 80 % is reached through that, 1 % is not."""
    search = Search(engine, LEAKY, "file")
    gas = next(k for k in search.knobs if k.turned.path == "flows.gas.rate")
    rich = Search(engine, LEAKY.replace("rate: 12 mL/min", "rate: 0.5 mL/min"), "file")
    assert rich.crosses([Turn(gas, 352.0)])
    assert not search.crosses([Turn(gas, 0.9)])


def test_what_makes_a_refusal_worse_is_none(engine: Engine) -> None:
    search = Search(engine, TIPS, "file")
    for height, worse in ((1600, True), (1500, False), (1400, False)):
        text = TIPS.replace("push_height: 1500 mm", f"push_height: {height} mm")
        assert search.worse(engine.review(loads(text))) is worse
