"""The bare stand, worked by hand from levers about its feet."""

from __future__ import annotations

import pytest

NAME = "bare_frame"
MASSES = {"base plate": (3.2, 157), "rod": (0.7, 40), "flask": (1.9, 180)}  # kg, y in mm
EMPTY = {**MASSES, "flask": (1.9 - 1.2, 180)}  # without its liquid


@pytest.mark.parametrize("state", ["frame with its liquids", "frame without its liquids"])
def test_a_push_at_the_top_tips_it(demo, state: str) -> None:
    # Everything stands at x = 100 mm, midway between feet 200 mm apart: the lever is 100 mm to
    # either side. Front and back it is longer: 147 or 150 mm from the nearer pair of feet.
    masses = MASSES if state == "frame with its liquids" else EMPTY
    total = sum(m for m, _ in masses.values())
    middle = sum(m * y for m, y in masses.values()) / total
    assert min(middle, 315 - middle) > 100
    # A push of this share of the weight, 600 mm up, balances the weight's moment.
    found = demo(NAME).finding("stability.push", state, "plan")
    assert found.value == pytest.approx(100 / 600, rel=0.01)
    assert found.grade == "tolerable"


def test_it_may_proceed_with_that_one_condition(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert review.all_graded("tolerable") == {"stability.push"}
    assert not review.all_graded("unacceptable") | review.all_graded("undetermined")


def test_a_push_lower_down_leaves_it_standing(demo) -> None:
    review = demo(NAME, ("push_height: 600 mm", "push_height: 450 mm"))
    assert review.verdict == "may proceed"
    found = review.finding("stability.push", "frame with its liquids", "plan")
    assert found.value == pytest.approx(100 / 450, rel=0.01)


def test_a_push_higher_up_refuses_it(demo) -> None:
    # 100 / 1100: 9 % of its weight is enough, less than half of what is asked for.
    review = demo(NAME, ("push_height: 600 mm", "push_height: 1100 mm"))
    assert review.verdict == "must not proceed"
    assert review.all_graded("unacceptable") == {"stability.push"}


def test_the_clamp_holds(demo) -> None:
    # 1.9 kg at 140 mm against 8 N m.
    found = demo(NAME).finding("stability.clamp", "flask clamp", "plan")
    assert found.value == pytest.approx(1.9 * 9.81 * 0.140 / 8, rel=0.01)
    assert found.grade == "acceptable"
