"""Carbon dioxide in lime water, worked by hand: the head of the dip tube, what the room holds."""

from __future__ import annotations

import pytest

NAME = "carbon_dioxide_in_lime_water"


def test_it_may_proceed(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed"
    assert not review.all_graded("unacceptable") | review.all_graded("undetermined")


def test_the_gas_pushes_30_mm_of_water_aside(demo) -> None:
    """1000 kg/m3 x 9.81 m/s2 x 30 mm = 294 Pa; 50 mL/min cost nothing in 6 mm."""
    assert demo(NAME).value("train.pressure", "bottle", "flow") == pytest.approx(
        101325 + 294, abs=3
    )


def test_the_room_does_not_notice(demo) -> None:
    """50 mL/min over 0.0393 m3/s beside it are 21 ppm, 0.5 L in 150 m3 are 3 ppm; of 30000 ppm."""
    found = demo(NAME).finding("exposure.short_term", "breathing zone", "plan", of="carbon dioxide")
    assert found.value * 30000 == pytest.approx(24.5, abs=1.5)
    low = demo(NAME).finding("oxygen.low", "breathing zone", "plan")
    assert low.value == pytest.approx(0.2095, abs=1e-4)


def test_chlorine_into_too_little_lye_is_refused(demo) -> None:
    review = demo(
        NAME,
        ("composition: {carbon dioxide: 100 %}", "composition: {chlorine: 100 %}"),
        ("pressure: 20 bar gauge", "pressure: 5 bar gauge"),
    )
    assert review.verdict == "must not proceed"
