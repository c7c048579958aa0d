"""A check written from DEVELOPERS.md alone: it works as the document says it would."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest

from review import Engine, Place, Setup, load
from review.testing import assert_grade, conformance, measure, review_with

HERE = Path(__file__).parent / "newcomer"
PLUGIN = HERE / "gas_velocity.py"
LINE, FAST, UNKNOWN = (HERE / f"{name}.yaml" for name in ("line", "fast", "unknown"))
DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"

CRITERION = "gas_velocity.mean"


def test_velocity_worked_by_hand() -> None:
    """At the reference condition a volume flow is the flow in the line: no gas law is needed.

    200 mL/min = 3.3333e-6 m3/s, through pi / 4 * (6 mm)^2 = 2.8274e-5 m2: 0.11789 m/s.
    """
    review = Engine(plugin_files=[PLUGIN]).review(load(LINE))
    assert measure(review, CRITERION, "hose").value[0, 0] == pytest.approx(0.11789, rel=1e-4)
    assert_grade(review, CRITERION, "acceptable", at="hose", case="plan")


def test_sixty_times_the_flow_is_unacceptable() -> None:
    """12 L/min is 60 times as much: 7.07 m/s, above the edge of 5 m/s."""
    review = review_with(plugin_files=[PLUGIN], scenario=FAST)
    assert measure(review, CRITERION, "hose").value[0, 0] == pytest.approx(7.0736, rel=1e-4)
    assert_grade(review, CRITERION, "unacceptable", at="hose", case="plan")


def test_a_flow_that_nobody_knows_is_undetermined() -> None:
    """The plan is known, 0.0106 m/s in 20 mm; what comes when its control fails is not."""
    review = review_with(plugin_files=[PLUGIN], scenario=UNKNOWN)
    assert_grade(review, CRITERION, "acceptable", at="hose", case="plan")
    assert_grade(review, CRITERION, "undetermined", at="hose", case="upset")


def test_it_keeps_what_every_check_must() -> None:
    conformance(PLUGIN, LINE, FAST, UNKNOWN)


def listed(heading: str) -> set[str]:
    """The names in the first column of a table of DEVELOPERS.md."""
    text = DEVELOPERS.read_text("utf-8")
    table = re.search(rf"^\| {heading} \|.*?(?=^\s*$)", text, re.M | re.S)
    assert table
    return {
        name
        for row in table[0].splitlines()[2:]
        for name in re.findall(r"`(\w+)(?:\(.*?\))?`", row.split("|")[1])
    }


def offered(of: type) -> set[str]:
    return {name for name, _ in inspect.getmembers(of) if not name.startswith("_")}


def test_everything_a_place_offers_is_listed() -> None:
    """What each place holds from its making, `dir` of the class does not know."""
    assert listed("of a place") == offered(Place) | {"id", "index", "kind", "model"}


def test_what_is_listed_of_a_set_up_is_there() -> None:
    assert {"places", "number", "limit"} < listed("of a set-up") <= offered(Setup)
