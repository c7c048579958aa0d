"""Boundaries by hand, regions that are not connected, and what is no range."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from review import Engine, Review, Scenario, loads
from review.cli import group
from review.explore.one import FINE, along
from review.explore.points import Points, RangeError, Turned, plain, turned
from review.explore.two import over

BARE = (files("review.scenarios") / "bare_frame.yaml").read_text("utf-8")
MIXED = """
title: Two gases
reagents:
  a: {state: gas, composition: {nitrogen: 100 %}}
  b: {state: gas, composition: {argon: 100 %}}
flows:
  one: {reagent: a, into: line, rate: 100 mL/min, reference: standard}
  two: {reagent: b, into: line, rate: 300 mL/min, reference: standard}
train:
  - {id: line, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m}
  - {id: outlet, kind: outlet, to: room}
"""


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine()


@pytest.fixture(scope="module")
def template(engine: Engine) -> Review:
    """A review to lend its form; the verdict is put in by hand."""
    return engine.review(loads(BARE))


def asked(text: str, path: str) -> Turned:
    return turned(loads(text), plain(text, "file"), path)


def test_a_boundary_worked_by_hand(engine: Engine) -> None:
    """A push tips the frame at 100 mm / height of its weight: 20 % at 500 mm, 10 % at 1 m."""
    points = Points(BARE, "file", [asked(BARE, "frame.push_height=300 mm..1500 mm")], engine.review)
    found = along(points)
    assert [i.verdict for i in found.intervals] == [
        "may proceed", "may proceed with conditions", "must not proceed",
    ]  # fmt: skip
    ends = [(i.low.value, i.high.value) for i in found.intervals]
    fine = FINE * 1200
    assert ends[0][1] <= 500 <= ends[1][0] <= ends[0][1] + fine
    assert ends[1][1] <= 1000 <= ends[2][0] <= ends[1][1] + fine
    against = {(b.criterion, b.case) for b in found.intervals[1].high.against}
    assert against == {("stability.push", "plan")}
    assert found.plan.verdict == "may proceed with conditions"


def told(template: Review, rule: object) -> object:
    """A reviewer whose verdict follows from the two rates of MIXED by a rule."""

    def review(scenario: Scenario) -> Review:
        one, two = (scenario.flows[name].rate.value * 6e7 for name in ("one", "two"))
        verdict = rule(one, two)  # type: ignore[operator]
        return replace(template, verdict=verdict, findings=())

    return review


def test_regions_that_are_not_connected_are_all_found(template: Review) -> None:
    def rule(one: float, two: float) -> str:
        return "may proceed" if one < 150 or one > 350 else "must not proceed"

    points = Points(MIXED, "file", [asked(MIXED, "flows.one.rate=50..450")], told(template, rule))
    found = along(points)
    assert [i.allowed for i in found.intervals] == [True, False, True]
    assert found.intervals[0].high.value == pytest.approx(150, abs=0.4)
    assert found.intervals[2].low.value == pytest.approx(350, abs=0.4)
    for left, right in zip(found.intervals, found.intervals[1:], strict=False):
        assert points.at(left.high.value).verdict != points.at(right.low.value).verdict


def test_nothing_cures_what_stands_everywhere(engine: Engine) -> None:
    text = BARE.replace("push_height: 600 mm", "push_height: 2 m")
    path = "frame.clamps.flask clamp.holding_torque=6..12"
    found = along(Points(text, "file", [asked(text, path)], engine.review), coarse=5)
    assert not any(interval.allowed for interval in found.intervals)
    assert "stability.push" in {blocker.criterion for blocker in found.uncured}


def test_a_ratio_keeps_the_total_and_a_total_the_ratio(template: Review) -> None:
    seen: list[tuple[float, float]] = []

    def rule(one: float, two: float) -> str:
        seen.append((one, two))
        return "may proceed"

    Points(MIXED, "file", [asked(MIXED, "ratio of one to two")], told(template, rule)).at(1.0)
    Points(MIXED, "file", [asked(MIXED, "total of one and two")], told(template, rule)).at(800.0)
    assert seen == [pytest.approx((200, 200)), pytest.approx((200, 600))]


def test_the_map_against_every_point(template: Review) -> None:
    """A map refined at its boundary says what a review of every point of the grid says."""

    def rule(one: float, two: float) -> str:
        return "may proceed" if one + two < 500 else "must not proceed"

    paths = [asked(MIXED, "flows.one.rate=0.5..400"), asked(MIXED, "flows.two.rate=0.5..400")]
    points = Points(MIXED, "file", paths, told(template, rule))
    found = over(points)
    looked = len(points.seen)
    for j, two in enumerate(found.up):
        for i, one in enumerate(found.across):
            point = found.rows[j][i]
            assert point is not None
            assert point.allowed == (one + two < 500), (one, two)
    assert looked < len(found.up) * len(found.across) / 2
    assert found.rectangle is not None
    left, right, low, high = found.rectangle
    assert left <= 100 <= right and low <= 300 <= high and right + high < 500


def test_an_interrupted_search_keeps_what_is_known(template: Review) -> None:
    calls = 0

    def rule(one: float, two: float) -> str:
        nonlocal calls
        calls += 1
        if calls == 6:
            raise KeyboardInterrupt
        return "may proceed"

    points = Points(MIXED, "file", [asked(MIXED, "flows.one.rate")], told(template, rule))
    found = along(points)
    assert not found.whole
    assert found.intervals


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("flows.one.rat", "flows.one.rate"),
        ("flows.one.rate=400..50", "lower end"),
        ("flows.one.rate=50..50", "lower end"),
        ("flows.one.rate=50", "no range"),
        ("flows.one.rate=50 L/min..60 L/min", "mL/min"),
        ("ambient.temperature", "not written"),
        ("ratio of one to three", "three"),
    ],
)
def test_what_is_no_range_is_named(path: str, said: str) -> None:
    with pytest.raises(RangeError, match=said):
        asked(MIXED, path)


def test_the_command_tells_the_ends_and_exits_by_the_plan(tmp_path: Path) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text(BARE, "utf-8")
    args = ["range", str(path), "frame.push_height=450..550", "--format", "json"]
    done = CliRunner().invoke(group, args)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert {p["verdict"] for p in told["points"]} == {"may proceed", "may proceed with conditions"}
    assert told["cautions"]
    wrong = CliRunner().invoke(group, ["range", str(path), "frame.push_hight"])
    assert wrong.exit_code == 2
