"""Boundaries by hand, regions that are not connected, and what is no range."""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from review import Engine, Review, Scenario, load, loads
from review.cli import group
from review.explore.one import FINE, along
from review.explore.points import Points, RangeError, Turned, apart, plain, turned
from review.explore.three import slices
from review.explore.two import over
from review.judge.verdict import verdict
from review.scenario import numbers
from tests.support import shared_engine

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
    return shared_engine()


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
    found = over(points, quartered=2, edges=False)
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
        ("flows.one.rate=", "no range"),
        ("train.line.material", "'PTFE' in the file, which is no number"),
        ("title", "no number"),
        ("train.line", "nearest: train.line"),
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
    listed = CliRunner().invoke(group, ["range", str(path)])
    assert listed.exit_code == 2
    assert {line.split(":")[0].strip() for line in listed.output.splitlines()[1:]} <= {
        *numbers(load(path))
    }
    assert "frame.push_height" in listed.output


LEAN = """
title: Methane thinned with air
reagents:
  gas: {state: gas, composition: {methane: 100 %}}
  air: {state: gas, composition: {nitrogen: 79.05 %, oxygen: 20.95 %}}
flows:
  gas: {reagent: gas, into: line, rate: 3 mL/min, reference: standard}
  air: {reagent: air, into: line, rate: 97 mL/min, reference: standard}
train:
  - {id: line, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m}
  - {id: outlet, kind: outlet, to: outdoors}
"""


def test_two_gases_worked_by_hand(engine: Engine) -> None:
    """What is left to methane's 4.4 % must be a tenth of it: 3.96 %, or 0.0396 to 0.9604."""

    def envelope(scenario: Scenario) -> Review:
        review = engine.review(scenario, upsets=False)
        asked_of = ("flammability.envelope", "line", "plan")
        kept = tuple(f for f in review.findings if (f.criterion, f.at, f.case) == asked_of)
        return replace(review, findings=kept, verdict=verdict(kept))

    path = asked(LEAN, "ratio of gas to air=0.03..0.06")
    found = along(Points(LEAN, "file", [path], envelope))
    low = next(i for i in found.intervals if not i.allowed)
    allowed = [i for i in found.intervals if i.allowed][-1]
    assert allowed.high.value <= 0.0396 / 0.9604 <= low.low.value
    assert low.low.value - allowed.high.value <= FINE * 0.03
    assert {b.criterion for b in allowed.high.against} == {"flammability.envelope"}


def drawn(start: int) -> tuple[object, list[float]]:
    """A rule with up to three regions along `one`, two-sided, apart or unknown, and its edges."""
    numbers = random.Random(start)
    edges = sorted(numbers.sample(range(60, 440, 25), numbers.randint(1, 3)))
    words = ["may proceed", "must not proceed", "cannot be judged", "may proceed with conditions"]
    numbers.shuffle(words)

    def rule(one: float, two: float) -> str:
        tilted = one + 0.1 * (two - 300)
        return words[sum(tilted > edge + 0.5 for edge in edges)]

    return rule, [edge + 0.5 for edge in edges]


@pytest.mark.parametrize("start", range(30))
def test_both_sides_of_every_boundary_differ(template: Review, start: int) -> None:
    rule, edges = drawn(start)
    points = Points(MIXED, "file", [asked(MIXED, "flows.one.rate=50..450")], told(template, rule))
    found = along(points)
    assert len(found.intervals) == len(edges) + 1
    for edge, one, other in zip(edges, found.intervals, found.intervals[1:], strict=False):
        assert one.verdict != other.verdict
        assert one.high.value <= edge <= other.low.value <= one.high.value + 0.4
        assert points.at(one.high.value).verdict != points.at(other.low.value).verdict


def test_a_map_costs_fewer_reviews_than_it_has_points(template: Review) -> None:
    """A boundary across the whole map, found on every line to a thousandth; where a review tells
    no value that crosses, each edge is halved five times."""

    def rule(one: float, two: float) -> str:
        return "may proceed" if one + two < 500 else "must not proceed"

    paths = [asked(MIXED, "flows.one.rate=0.5..400"), asked(MIXED, "flows.two.rate=0.5..400")]
    points = Points(MIXED, "file", paths, told(template, rule))
    found = over(points)
    assert len(found.edges) >= 12 and len(points.seen) == found.reviewed <= 240
    nothing = Points(MIXED, "file", paths, told(template, lambda one, two: "must not proceed"))
    assert over(nothing).reviewed == 82


@pytest.mark.parametrize("start", range(3))
def test_the_edges_of_a_map_against_brute_force(template: Review, start: int) -> None:
    """Every edge encloses the boundary to a thousandth, and no line of the grid lacks one."""
    rule, edges = drawn(start)
    paths = [asked(MIXED, "flows.one.rate=50..450"), asked(MIXED, "flows.two.rate=100..500")]
    found = over(Points(MIXED, "file", paths, told(template, rule)))
    for one, other in found.edges:
        assert one.verdict != other.verdict
        assert math.dist(one.values, other.values) <= 0.4001
    crossed = {one.values[1] for one, other in found.edges if one.values[1] == other.values[1]}
    for two in found.up:
        brute = [rule(50 + n * 0.5, two) for n in range(801)]  # type: ignore[operator]
        changes = sum(a != b for a, b in zip(brute, brute[1:], strict=False))
        assert (two in crossed) == (changes > 0)


def test_far_fewer_reviews_than_a_fine_grid(engine: Engine) -> None:
    """Values that cross their edges tell where to look: two boundaries cost some ten reviews."""
    points = Points(BARE, "file", [asked(BARE, "frame.push_height=300..1500")],
                    lambda s: engine.review(s, upsets=False))  # fmt: skip
    along(points, coarse=9)
    assert len(points.seen) <= 10 + 2 * 4


def test_slices_of_a_third_number(template: Review) -> None:
    def rule(one: float, two: float) -> str:
        return "may proceed" if one + two < 500 else "must not proceed"

    paths = [
        asked(MIXED, path)
        for path in (
            "flows.one.rate=50..250",
            "flows.two.rate=50..350",
            "train.line.length=0.5..1.5",
        )
    ]
    found = slices(Points(MIXED, "file", paths, told(template, rule)), many=3)
    assert [value for value, _ in found.slices] == [0.5, 1.0, 1.5]
    for _, part in found.slices:
        assert part.rectangle is not None and part.rectangle[1] + part.rectangle[3] < 500


def test_one_number_is_not_asked_for_twice() -> None:
    same = [asked(MIXED, "flows.one.rate"), asked(MIXED, "ratio of one to two")]
    with pytest.raises(RangeError, match="turn the same number"):
        apart(loads(MIXED), plain(MIXED, "file"), same)
    shared = (
        MIXED.replace("reagents:\n  a: {", "reagents:\n  a: &a {")
        .replace("b: {state: gas, composition: {argon: 100 %}}", "b: *a")
        .replace("nitrogen: 100 %}}", "nitrogen: 100 %}, amount: 3 g}")
    )
    one = turned(loads(shared), plain(shared, "file"), "reagents.a.amount")
    with pytest.raises(RangeError, match="one entry of the file"):
        apart(loads(shared), plain(shared, "file"), [one])


def test_what_is_wanted_and_allowed_overlaps(engine: Engine) -> None:
    text = MIXED + "intent: {ratio: {of: one, to: two, least: 0.5, most: 1}}\n"

    def review(scenario: Scenario) -> Review:
        found = engine.review(scenario, upsets=False)
        good = scenario.flows["one"].rate.value * 6e7 < 250
        return replace(found, verdict="may proceed" if good else "must not proceed", findings=())

    points = Points(text, "file", [asked(text, "flows.one.rate=50..450")], review)
    ((low, high),) = along(points, coarse=5).wanted
    assert low == pytest.approx(150, abs=0.4) and high == pytest.approx(250, abs=0.4)


@pytest.mark.parametrize(("form", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_a_picture_goes_to_a_file(tmp_path: Path, form: str, begins: bytes) -> None:
    pytest.importorskip("matplotlib")
    path, out = tmp_path / "bare.yaml", tmp_path / f"map.{form}"
    path.write_text(BARE, "utf-8")
    args = ["range", str(path), "frame.push_height=450..550", "--plan-only", "--format", form]
    assert CliRunner().invoke(group, args).exit_code == 2  # it needs --out
    done = CliRunner().invoke(group, [*args, "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert out.read_bytes().startswith(begins)
