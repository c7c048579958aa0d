"""Room air drawn through butanol and charcoal by a water jet, worked by hand."""

from __future__ import annotations

import math

import pytest

NAME = "room_air_over_butanol_and_charcoal"
#: The pump reaches 25 mbar once its inlet is shut; the room has 1013.25 mbar.
LEFT = 25 / 1013.25
#: Gas volumes, m3: bottle, bed of 20 mm bore and 150 mm with 40 % voids, safety bottle.
BOTTLE, BED, SAFETY = 200e-6, math.pi / 4 * 0.02**2 * 0.15 * 0.4, 1e-3


def test_it_may_proceed_with_conditions(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert not review.all_graded("unacceptable") | review.all_graded("undetermined")


def test_water_fills_all_that_was_evacuated(demo) -> None:
    value = demo(NAME).value("pressure.drive_back", "jet", "draw", "flow lost:air:draw")
    # No air comes: the jet empties everything before it.
    sucked = (BOTTLE + BED + SAFETY) * (1 - LEFT)
    assert value == pytest.approx(sucked / SAFETY, rel=1e-3)  # 1.19


def test_the_vacuum_is_what_the_maker_allows(demo) -> None:
    found = demo(NAME).finding("pressure.vacuum", "bottle", "upset")
    assert found.value == pytest.approx(1 - LEFT, rel=1e-3)
    assert found.grade == "acceptable"


def test_as_planned_the_bottle_stands_near_the_pressure_of_the_room(demo) -> None:
    # Only the loss of the dip tube comes before it: next to nothing; the head of 20 mm comes after.
    value = demo(NAME).value("train.pressure", "bed", "draw")
    assert value == pytest.approx(101325 - 810 * 9.81 * 0.02, rel=1e-3)


@pytest.mark.parametrize(
    "change",
    [
        # Ethanol at 20 degC: 5.8 % in air, twice what burns.
        ("composition: {1-butanol: 100 %}", "composition: {ethanol: 100 %}"),
        # No safety bottle worth the name: water comes to the charcoal.
        ("gas_volume: 1 L", "gas_volume: 20 mL"),
        # A bottle that nobody rates for vacuum.
        (
            "    vacuum_rating: full vacuum\n    home_made: no\n    joint: clipped taper joint",
            "    home_made: no\n    joint: clipped taper joint",
        ),
    ],
)
def test_neighbours_are_refused(demo, change: tuple[str, str]) -> None:
    assert demo(NAME, change).verdict in ("must not proceed", "cannot be judged")
