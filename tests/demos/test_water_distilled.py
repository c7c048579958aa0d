"""The distilled water, worked by hand.

Figures: water boils at 99.974 degC (IAPWS); borosilicate glass 3.3 has 63 GPa, 3.3e-6/K, Poisson's
ratio 0.2 and a lasting strength of 7 MPa (ISO 3585, EN 1595); bare metal burns within 1 s from
65 degC (ISO 13732-1, from memory).
"""

from __future__ import annotations

import pytest

NAME = "water_distilled"
MILD = (
    "set_temperature: 102 degC, hottest: 250 degC",
    "set_temperature: 60 degC, hottest: 60 degC",
)


def test_it_may_proceed_with_conditions_that_are_all_heat(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert review.all_graded("tolerable") == {
        "heat.boiling_point",
        "heat.cold_splash",
        "heat.hot_part",
    }
    assert not review.all_graded("unacceptable") | review.all_graded("undetermined")


def test_it_boils(demo) -> None:
    found = demo(NAME).finding("heat.boiling_point", "flask", "plan", of="water")
    assert found.value == pytest.approx(99.974 - 102, rel=0.01)
    assert found.grade == "tolerable"


def test_the_mantle_is_hot(demo) -> None:
    found = demo(NAME).finding("heat.hot_part", "flask", "plan", of="mantle")
    assert found.value == pytest.approx(102 - 65)


def test_a_flask_boiled_dry_breaks_from_a_cold_splash(demo) -> None:
    # E alpha dT / (1 - nu) over the lasting strength; 100 K (3.7) is what makers allow.
    per_kelvin = 63e9 * 3.3e-6 / 0.8 / 7e6
    assert 100 * per_kelvin == pytest.approx(3.7, rel=0.01)
    glass = "borosilicate glass 3.3"
    found = demo(NAME).finding("heat.cold_splash", "flask", "upset", of=glass)
    assert found.trial.startswith("heat at its most:mantle")
    assert found.value == pytest.approx(per_kelvin * (250 - 20), rel=0.01)
    assert found.grade == "tolerable"
    # While there is water in it, 82 K stay below that.
    found = demo(NAME).finding("heat.cold_splash", "flask", "plan", of=glass)
    assert found.value == pytest.approx(per_kelvin * (102 - 20), rel=0.01)
    assert found.grade == "acceptable"


def test_water_merely_warmed_needs_no_condition(demo) -> None:
    review = demo(NAME, MILD)
    assert review.verdict == "may proceed"
