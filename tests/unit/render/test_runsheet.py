"""What stands on the operator's page: least times worked by hand, and what is left out."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path
from typing import Any

import pytest

from review import Engine, Overlay, Review, Scenario, load, loads
from review.cautions import CAUTIONS
from review.render.runsheet import (
    IN_DOUBT,
    Answer,
    Condition,
    Confirmation,
    RunSheet,
    SignOff,
    run_sheet,
)
from review.render.runsheet_failures import FailureLine, failure_lines
from review.render.runsheet_html import to_html
from review.render.runsheet_markdown import to_markdown
from review.render.runsheet_room import failures_that_fit
from review.render.runsheet_settings import at_hand, settings, watched
from review.render.runsheet_steps import step_lines

READY = Path(__file__).parents[2] / "checks" / "scenarios" / "ready.yaml"
TEXT = READY.read_text("utf-8")
#: Without the bottle, which counts as poured into the vessel.
LYE = TEXT[TEXT.index("  lye:\n") : TEXT.index("flows:\n")]
DRY = ((LYE, ""), (", holds: lye", ""))
SIGNED = SignOff(
    number=7,
    sha256="0123456789abcdef" * 4,
    signed_at="2031-05-06 07:08 UTC",
    valid_until="2031-06-01",
    runs=3,
    preparer="lab technician",
    reviewer="second teacher",
)


def ready(*changes: tuple[str, str]) -> Scenario:
    """The set-up of the readiness check's tests: 1 L/min of nitrogen through 1 L."""
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return loads(text, "ready")


def holds(engine: Engine, scenario: Scenario) -> dict[str, str]:
    review = engine.review(scenario, upsets=False)
    return {line.name: line.hold for line in step_lines(review, scenario)}


# Least times


def test_the_least_time_of_a_purge_is_what_the_criterion_asks_for(engine: Engine) -> None:
    """0.1 L at 1 L/min: 6 s / 0.25 = 24 s for a factor e (NFPA 69, mixing factor, from memory).

    Oxygen falls from 20.95 % to the 6 % that NFPA 69 allows beside methane (see the example of
    the purge itself) in 24 ln(20.95/6) = 30.0 s. The criterion wants that to be at most 80 % of
    the step: 30.0 s / 0.8 = 37.5 s.
    """
    small = ready(("gas_volume: 1 L", "gas_volume: 100 mL"))
    needed = 24 * math.log(20.95 / 6) / 0.8
    assert holds(engine, small)["flush"] == f"{math.ceil(needed)} s (purge)" == "38 s (purge)"


def test_it_does_not_depend_on_the_time_that_is_planned(engine: Engine) -> None:
    for planned in ("2 min", "10 min", "3 h"):
        longer = ready(
            ("gas_volume: 1 L", "gas_volume: 100 mL"),
            ("step: flush, duration: 10 min", f"step: flush, duration: {planned}"),
        )
        assert holds(engine, longer)["flush"] == "38 s (purge)"


def test_the_least_time_of_cooling(engine: Engine) -> None:
    """From 100 to 60 degC in a room of 20 degC with a time constant of 1 min: 60 ln(80/40) s."""
    quick = ready(("cooling_time: 10 min", "cooling_time: 1 min"))
    needed = 60 * math.log((100 - 20) / (60 - 20))
    assert math.ceil(needed) == 42
    assert holds(engine, quick)["cool"].startswith("42 s (plate must cool)")


def test_a_least_time_is_rounded_up_and_one_that_is_longer_than_planned_says_so(
    engine: Engine,
) -> None:
    """600 ln(80/40) = 415.9 s, so 7 min and not 6.9; 5 min are planned."""
    short = ready(("step: cool, duration: 20 min", "step: cool, duration: 5 min"))
    assert "7 min (plate must cool), MORE than planned" in holds(engine, short)["cool"]


def test_a_cooling_time_that_nobody_knows_is_not_made_up(engine: Engine) -> None:
    silent = ready((",\n          cooling_time: 10 min", ""))
    assert "not known (plate must cool): measure before going on" in holds(engine, silent)["cool"]


def test_heat_that_is_on_to_the_end_needs_its_time_after_it_is_off(engine: Engine) -> None:
    """The last step heats: 415.9 s of cooling count from when the heat is off."""
    on = ready((", heat: {plate: off}", ""))
    assert "7 min (plate must cool after it is off)" in holds(engine, on)["cool"]


def test_a_step_without_a_least_time_lasts_as_planned(engine: Engine) -> None:
    assert holds(engine, ready())["feed"] == "as planned"


# Steps


def test_what_is_done_in_each_step(engine: Engine) -> None:
    scenario = ready(
        ("flows: {purge: off, feed: on}", "flows: {purge: off, feed: 500 mL/min}"),
        ("heat: {plate: on}}", "flows: {feed: on}, heat: {plate: 90 degC}}"),
    )
    lines = step_lines(engine.review(scenario, upsets=False), scenario)
    assert [line.does for line in lines] == [
        ("turn on purge 1 L/min",),
        ("first turn on feed 500 mL/min; when its flow is seen, turn off purge",),
        ("turn on plate 90 degC", "change to feed 1 L/min"),
        (
            "first turn on purge 1 L/min; when its flow is seen, turn off feed",
            "turn off plate",
        ),
    ]
    assert [line.planned for line in lines] == ["10 min", "10 min", "20 min", "20 min"]


def test_fuel_and_air_never_overlap(engine: Engine) -> None:
    """Two flows of which none is inert: the one has stopped before the other comes."""
    text = """\
title: Methane, then air
reagents:
  methane: {state: gas, composition: {methane: 100 %}}
  air: {state: gas, composition: {air: 100 %}}
flows:
  fuel: {reagent: methane, into: bulb, rate: 1 mL/min, reference: standard}
  blow: {reagent: air, into: bulb, rate: 1 L/min, reference: standard}
train:
  - {id: bulb, kind: trap, gas_volume: 500 mL, material: borosilicate glass 3.3}
  - {id: outlet, kind: outlet, to: outdoors}
procedure:
  - {step: fill, duration: 10 min, flows: {fuel: on}}
  - {step: clear, duration: 10 min, flows: {fuel: off, blow: on}}
"""
    scenario = loads(text)
    [_, clear] = step_lines(engine.review(scenario, upsets=False), scenario)
    assert clear.does == (
        "first turn off fuel; when its flow is seen to have stopped, turn on blow 1 L/min",
    )


def test_what_is_already_on_goes_on(demo_sheets: dict[str, RunSheet]) -> None:
    does = [step.does for step in demo_sheets["nitrogen_dried"].steps]
    assert does == [
        ("turn on nitrogen 500 mL/min",),
        ("nitrogen 500 mL/min goes on",),
        ("turn off nitrogen", "all is off"),
    ]


def test_what_is_still_on_at_the_end_goes_off_in_order(demo_sheets: dict[str, RunSheet]) -> None:
    """By the file argon alone flows in the last step, and nobody turns it off."""
    said = demo_sheets["copper_oxide_forming_gas"].afterwards[0]
    assert said.startswith("Still on when the last step is over: argon 500 mL/min. Off in this")
    assert said.index("burns") < said.index("heat") < said.index("inert gas last")
    dried = demo_sheets["nitrogen_dried"].afterwards
    assert not any("Still on" in line for line in dried)


# Settings


def test_settings_stand_as_the_file_has_them_with_what_they_must_not_pass(
    demo_sheets: dict[str, RunSheet],
) -> None:
    """The weakest part by the file: the tube's joint, 0.5 bar gauge.

    The rule for the working pressure takes half of it as acceptable: 0.25 bar gauge.
    """
    found = {s.name: (s.planned, s.limit) for s in demo_sheets["copper_oxide_forming_gas"].settings}
    planned, most = found["Argon (purge argon) into inlet"]
    assert planned.startswith("500 mL/min at 20 degC, 1 atm, accuracy 5 %, mass flow controller")
    # What it can give is a failure that was played, never a setting that was allowed.
    assert most == "no other than planned; it can give 2 L/min"
    half = "0.25 bar gauge, 50 % of what tube holds"
    assert found["Regulator of forming gas"] == ("0.1 bar gauge", half)
    assert found["Pressure in the train"][1] == half
    assert found["Furnace (tube furnace) at tube"] == ("300 degC", "315 degC, the hottest reviewed")
    assert "face velocity 0.5 m/s" in found["Hood"][0]


def test_the_weakest_part_is_not_named_where_one_is_not_known(engine: Engine) -> None:
    unknown = ready(("     rating: 0.2 bar gauge, home_made: yes", "     home_made: yes"))
    found = {s.name: s.limit for s in settings(engine.review(unknown), unknown)}
    assert found["Regulator of nitrogen"] == "no more than planned"
    assert not any("no limit" in limit for limit in found.values())


@pytest.mark.parametrize(
    ("rating", "said"),
    [
        ("0.2 bar gauge", "0.2 bar gauge, what vessel holds"),  # 0.5 bar is more than it holds
        ("0.8 bar gauge", "no more than planned"),  # and more than half of 0.8 bar
        ("2.03 bar gauge", "1.01 bar gauge, 50 % of what vessel holds"),  # 1.015, rounded down
    ],
)
def test_a_pressure_must_not_pass_what_the_rule_takes_as_acceptable(
    engine: Engine, rating: str, said: str
) -> None:
    vessel = ready(("     rating: 0.2 bar gauge", f"     rating: {rating}"), *DRY)
    known = {s.name: s.limit for s in settings(engine.review(vessel), vessel)}
    assert known["Regulator of nitrogen"] == said


def test_a_site_that_allows_less_of_the_rating_is_heard(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    site.write_text(
        "name: our bench\ncriteria:\n  - id: pressure.working\n"
        "    bands: {acceptable: 0.1, tolerable: 0.15}\n"
        "    bands_in: {upset: {acceptable: 0.1, tolerable: 0.15}}\n"
    )
    strong = ready(("     rating: 0.2 bar gauge", "     rating: 10 bar gauge"), *DRY)
    review = Engine(rules_files=[site]).review(strong)
    known = {s.name: s.limit for s in settings(review, strong)}
    assert known["Regulator of nitrogen"] == "1 bar gauge, 10 % of what vessel holds"


def test_what_gives_an_alarm_is_told_apart_from_what_is_at_hand() -> None:
    scenario = ready(
        (
            "  - {kind: spectacles}",
            "  - {kind: spectacles}\n  - {kind: detector, senses: methane, "
            "alarm: 10 % LFL, at: hood}",
        ),
    )
    flow, switch, detector = watched(scenario)
    assert (flow.shows, flow.then) == ("purge", "look before step feed")
    assert (switch.alarm, switch.shows) == ("50 mbar gauge", "pressure")
    assert switch.then == "closes feed and purge within 1 s: check that it has"
    assert (detector.alarm, detector.where) == ("10 % LFL", "hood")
    assert detector.then.startswith("leave")
    hand = at_hand(scenario)
    assert "extinguisher (carbon dioxide)" in hand and "eyewash (within 10 s)" in hand
    assert not any("detector" in line or "flow check" in line for line in hand)


# Failures


def test_the_same_failure_in_several_steps_is_one_line(
    demo_reviews: dict[str, tuple[Review, Scenario]],
) -> None:
    review_lines = failure_lines(demo_reviews["copper_oxide_forming_gas"][0])
    argon = [line for line in review_lines if line.what.startswith("Argon stops in mid-step")]
    assert len(argon) == 1
    assert argon[0].what == "Argon stops in mid-step, worst if it begins in step purge"
    assert argon[0].response.startswith("If the pressure climbs, it is a blockage: shut every flow")


def test_every_failure_worse_than_acceptable_is_on_a_line(
    demo_reviews: dict[str, tuple[Review, Scenario]],
) -> None:
    for name, (review, _) in demo_reviews.items():
        runs = {run.id: run for run in review.trials.runs}
        told = {(runs[o.run].sign, runs[o.run].response) for o in review.outcomes
                if o.grade != "acceptable"}  # fmt: skip
        lines = failure_lines(review)
        upper = {(s[:1].upper() + s[1:], r) for s, r in told}
        assert {(line.sign, line.response) for line in lines} == upper, name


def played(engine: Engine, *overlays: Overlay) -> Review:
    """The quiet water bath with failures that a site's plugin would bring."""
    bath = load(READY.parents[3] / "scenarios" / "water_warmed_in_a_bath.yaml")
    return engine.review(bath, extra=overlays, upsets=False)


def test_a_failure_of_which_nobody_says_anything_is_to_be_agreed_beforehand(engine: Engine) -> None:
    hot = Overlay(
        "bath boils", "the bath boils", "upset", {"heat.bath.at_hottest": 1.0}, from_step=1
    )
    review = played(engine, hot)
    grave = [dataclasses.replace(o, grade="tolerable", seconds=30.0) for o in review.outcomes]
    (line,) = failure_lines(dataclasses.replace(review, outcomes=tuple(grave)))
    assert line.sign == line.response == "Not described: agree beforehand"
    assert line.soon == "after 30 s"


def test_the_most_serious_comes_first_and_of_those_the_soonest(engine: Engine) -> None:
    names = ("slow", "quick", "grave")
    overlays = [
        Overlay(n, f"{n} thing", "upset", {"heat.bath.at_hottest": 1.0}, from_step=1, sign=n)
        for n in names
    ]
    review = played(engine, *overlays)
    told: dict[str, Any] = {
        "slow": {"grade": "tolerable", "seconds": 600.0},
        "quick": {"grade": "tolerable", "seconds": 5.0},
        "grave": {"grade": "unacceptable", "seconds": math.nan},
    }
    outcomes = tuple(dataclasses.replace(o, **told[o.run]) for o in review.outcomes)
    lines = failure_lines(dataclasses.replace(review, outcomes=outcomes))
    assert [line.sign for line in lines] == ["Grave", "Quick", "Slow"]
    assert [line.soon for line in lines] == ["", "after 5 s", "after 10 min"]


def test_failures_are_left_out_for_want_of_room_and_counted(
    demo_reviews: dict[str, tuple[Review, Scenario]], demo_sheets: dict[str, RunSheet]
) -> None:
    for name, sheet in demo_sheets.items():
        total = len(failure_lines(demo_reviews[name][0]))
        assert len(sheet.failures) <= 12
        left = total - len(sheet.failures)
        said = re.match(r"(\d+) further failure", sheet.more_failures)
        assert (int(said[1]) if said else 0) == left
        assert left == 0 or "benchgate check" in sheet.more_failures


def test_the_fuller_the_page_the_fewer_failures_and_never_less_than_three() -> None:
    line = FailureLine("x" * 60, "y" * 40, "at once", "s" * 60, "r" * 120)
    lines = [line] * 40
    shown = [
        len(failures_that_fit(lines, signed=True, texts=["t" * 200] * n, settings=(), steps=()))
        for n in (0, 20, 30, 100)
    ]
    assert shown[0] == 12 and shown[-1] == 3
    assert shown == sorted(shown, reverse=True) and len(set(shown)) > 2


# Conditions and the record


def test_each_criterion_is_one_condition(
    demo_reviews: dict[str, tuple[Review, Scenario]], demo_sheets: dict[str, RunSheet]
) -> None:
    sheet = demo_sheets["ethanol_dehydrated_over_alumina"]
    review, _ = demo_reviews["ethanol_dehydrated_over_alumina"]
    titles = [title for c in sheet.conditions for title in c.title.split("; ")]
    assert len(titles) == len(set(titles))
    graded = {f.title for f in review.findings if f.grade == "tolerable"}
    unknown = {f.title for f in review.findings if f.grade == "undetermined"}
    assert graded <= set(titles) <= graded | unknown
    assert all(c.action for c in sheet.conditions)
    outlet = next(c for c in sheet.conditions if c.title.startswith("Outlet gas"))
    assert outlet.where == "outlet"


def test_a_record_brings_what_was_confirmed_and_answered(
    demo_reviews: dict[str, tuple[Review, Scenario]],
) -> None:
    review, scenario = demo_reviews["water_distilled"]
    signed = dataclasses.replace(
        SIGNED,
        confirmed=(
            Confirmation("heat.hot_part", "Hot", "flask", "Guard it.", "guard is on"),
            Confirmation("site.key", "Key in the door", "room", "Leave the key in.", "it is in"),
        ),
        answers=(Answer("Odd question", "flask", "teacher", "looked up and far below"),),
    )
    sheet = run_sheet(review, scenario, signed)
    said = {c.title: c.confirmed for c in sheet.conditions}
    assert said["Heated parts can burn skin"] == "guard is on"
    # What today's rules no longer ask for still stands as it was signed.
    assert Condition("Key in the door", "room", "Leave the key in.", "it is in") in sheet.conditions
    assert sheet.signed is not None and sheet.signed.answers == signed.answers


def test_what_must_not_proceed_has_no_page_signed_or_not(
    demo_reviews: dict[str, tuple[Review, Scenario]],
) -> None:
    review, scenario = demo_reviews["methanol_over_silver"]
    for signed in (None, SIGNED):
        with pytest.raises(ValueError, match="must not proceed"):
            run_sheet(review, scenario, signed)


def test_what_cannot_be_judged_has_a_page_only_once_it_is_signed(
    demo_reviews: dict[str, tuple[Review, Scenario]],
) -> None:
    review, scenario = demo_reviews["carbon_dioxide_methanated_over_nickel"]
    with pytest.raises(ValueError, match="cannot be judged"):
        run_sheet(review, scenario)
    assert run_sheet(review, scenario, SIGNED).verdict == "cannot be judged"


# Every demo


def test_every_demo_that_may_proceed_has_a_page(
    demo_reviews: dict[str, tuple[Review, Scenario]], demo_sheets: dict[str, RunSheet]
) -> None:
    assert len(demo_sheets) >= 7
    for name, sheet in demo_sheets.items():
        review, scenario = demo_reviews[name]
        assert sheet.signed is None
        assert [s.name for s in sheet.steps] == [s.step for s in scenario.procedure] or not (
            scenario.procedure
        )
        asked = {
            f.criterion for f in review.findings
            if f.grade == "tolerable" or (f.grade == "undetermined" and not f.blocks)
        }  # fmt: skip
        assert len([t for c in sheet.conditions for t in c.title.split("; ")]) == len(asked)
        assert sheet.always[0] == IN_DOUBT
        for word in ("oxidises", "not where the pressure climbs"):
            assert word in IN_DOUBT
        page = to_markdown(sheet)
        assert "no limit known" not in page
        assert not sheet.failures or "turn it on if it is off" in page
        assert sheet.cautions == CAUTIONS
        assert sheet.scenario_sha256 == scenario.text_sha256


def test_no_page_ever_calls_anything_safe(demo_sheets: dict[str, RunSheet]) -> None:
    for sheet in demo_sheets.values():
        for text in (to_markdown(sheet), to_html(sheet)):
            assert not re.search(r"\bsafe\b", text, re.I)


def test_hot_parts_and_remains_are_told_for_after_the_run(demo_sheets: dict[str, RunSheet]) -> None:
    lines = demo_sheets["copper_oxide_forming_gas"].afterwards[1:]
    assert lines[0].startswith("How long hot parts must cool")
    assert "after furnace is turned off" in lines[0]
    assert lines[1].startswith("What remains")


def test_the_hash_is_told_in_groups_too() -> None:
    assert SIGNED.hash_groups.replace(" ", "") == SIGNED.sha256
    assert [len(group) for group in SIGNED.hash_groups.split()] == [8] * 8
