"""The dried nitrogen, worked by hand: nothing here comes near a limit but the pressure."""

from __future__ import annotations

import math

import pytest

NAME = "nitrogen_dried"
SUPPLY = ("regulator: 0.2 bar gauge", "shut_off_pressure: 0.2 bar gauge")


def supplied(bar: float) -> tuple[tuple[str, str], ...]:
    return tuple((text, text.replace("0.2", f"{bar}")) for text in SUPPLY)


def test_it_may_proceed(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed"
    assert {f.grade for f in review.review.findings} == {"acceptable"}


def test_what_comes_nearest_is_the_column_behind_a_plug(demo) -> None:
    # A plug anywhere: all of the train reaches the supply's 0.2 bar; the weakest part is the
    # column's joint with 0.5 bar. Half is acceptable.
    found = demo(NAME).finding("pressure.working", "column", "upset")
    assert found.trial.startswith("blocked:")
    assert found.value == pytest.approx(0.2 / 0.5, rel=0.01)


def test_a_supply_of_0_3_bar_makes_it_a_condition(demo) -> None:
    review = demo(NAME, *supplied(0.3))
    assert review.verdict == "may proceed with conditions"
    assert review.all_graded("tolerable") == {"pressure.working"}
    found = review.finding("pressure.working", "column", "upset")
    assert found.value == pytest.approx(0.3 / 0.5, rel=0.01)


def test_a_supply_of_0_6_bar_is_refused(demo) -> None:
    review = demo(NAME, *supplied(0.6))
    assert review.verdict == "must not proceed"
    found = review.finding("pressure.working", "column", "upset")
    assert found.value == pytest.approx(0.6 / 0.5, rel=0.01)
    # 500 mL/min at 20 degC into what lies before the plug: dP/dt = P0 Q / V, all at 20 degC.
    # Column: 250 of its 300 mm hold 40 % void.
    hose = math.pi / 4 * 0.004**2 * 1.0
    column = math.pi / 4 * 0.030**2 * (0.300 - 0.250 * 0.6)
    rise = 101325 * 500e-6 / 60 / (2e-6 + hose + column)
    # The pressure that drives the flow, a few Pa, is part of the way; less than 0.1 %.
    seconds = review.value("pressure.plugged_seconds", "column", "dry")
    assert seconds == pytest.approx(50e3 / rise, rel=0.01)  # 7.1 s


def test_a_whole_cylinder_let_go_leaves_air_to_breathe(demo) -> None:
    # 2 L at 101 bar are 199 L in 60 m3: oxygen falls by 0.33 % of itself.
    gas = 2e-3 * (100e5 + 101325) / 101325
    found = demo(NAME).finding("oxygen.whole_cylinder_low", "cylinder of nitrogen", "plan")
    assert found.value == pytest.approx(0.2095 * (1 - gas / 60), rel=1e-4)
    # In a cupboard of 1 m3 it would be 16.8 %: nobody could leave it.
    small = demo(NAME, ("room_volume: 60 m3", "room_volume: 1 m3"))
    assert small.verdict == "must not proceed"
    found = small.finding("oxygen.whole_cylinder_low", "cylinder of nitrogen", "plan")
    assert found.value == pytest.approx(0.2095 * (1 - gas / 1), rel=1e-3)


def test_an_opened_joint_takes_little_oxygen_away(demo) -> None:
    # 500 mL/min on the bench into pi r2 s = 0.0393 m3/s of air around it, and into 60 m3 that
    # 2 changes an hour air: after an hour 1 - exp(-2) of what would settle is there.
    leak = 500e-6 / 60
    far = leak / (60 * 2 / 3600) * (1 - math.exp(-2 * 55 / 60))
    near = leak / (math.pi * 0.5**2 * 0.05)
    found = demo(NAME).finding("oxygen.low", "breathing zone", "upset")
    assert found.value == pytest.approx(0.2095 * (1 - far - near), rel=1e-4)
