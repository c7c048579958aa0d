"""The warmed flask, worked by hand. Thresholds: ISO 13732-1 (from memory)."""

from __future__ import annotations

import pytest

NAME = "water_warmed_in_a_bath"
METAL = 65  # degC, bare metal, 1 s: nobody says what the bath is made of


def test_it_may_proceed(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed"
    assert {f.grade for f in review.review.findings} == {"acceptable"}


def test_what_comes_nearest_is_the_bath_at_its_hottest(demo) -> None:
    found = demo(NAME).finding("heat.hot_part", "flask", "upset", of="bath")
    assert found.trial.startswith("heat at its most:bath")
    assert found.value == pytest.approx(60 - METAL)


def test_a_bath_that_can_reach_70_degrees_is_a_condition(demo) -> None:
    review = demo(NAME, ("hottest: 60 degC", "hottest: 70 degC"))
    assert review.verdict == "may proceed with conditions"
    assert review.all_graded("tolerable") == {"heat.hot_part"}
    found = review.finding("heat.hot_part", "flask", "upset", of="bath")
    assert found.value == pytest.approx(70 - METAL)


def test_water_stays_40_kelvin_below_boiling(demo) -> None:
    found = demo(NAME).finding("heat.boiling_point", "flask", "upset", of="water")
    assert found.value == pytest.approx(99.97 - 60, rel=0.01)
