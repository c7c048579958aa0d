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
    # Nothing is above 100 degC while there is water in it, so no splash breaks the flask.
    assert "heat.cold_splash" not in review.all_graded("tolerable")
    assert {"heat.boiling_point", "heat.hot_part"} <= review.all_graded("tolerable")
    assert not review.all_graded("unacceptable")
    assert review.all_graded("undetermined") <= {"corrosion.wetted"}  # glass in steam: a condition


def test_it_boils(demo) -> None:
    found = demo(NAME).finding("heat.boiling_point", "flask", "plan", of="water")
    # The liquid is no hotter than it boils, whatever its mantle is set to.
    assert found.value == pytest.approx(0, abs=0.2)
    assert found.grade == "tolerable"


def test_the_mantle_is_hot(demo) -> None:
    found = demo(NAME).finding("heat.hot_part", "flask", "plan", of="mantle")
    assert found.value == pytest.approx(100 - 65, abs=0.2)


def test_a_flask_that_boils_stays_at_100_degc(demo) -> None:
    # E alpha dT / (1 - nu) over the lasting strength; 100 K (3.7) is what makers allow, and 80 K
    # stay below that, be the mantle at its hottest; 82 K behind a plug, where it cannot boil.
    per_kelvin = 63e9 * 3.3e-6 / 0.8 / 7e6
    assert 100 * per_kelvin == pytest.approx(3.7, rel=0.01)
    glass = "borosilicate glass 3.3"
    for case, hot in (("plan", 100), ("upset", 102)):
        found = demo(NAME).finding("heat.cold_splash", "flask", case, of=glass)
        assert found.value == pytest.approx(per_kelvin * (hot - 20), rel=0.01)
        assert found.grade == "acceptable"


def test_water_merely_warmed_needs_no_condition(demo) -> None:
    review = demo(NAME, MILD)
    assert review.verdict == "may proceed"
