"""Ether on a hot plate, worked by hand.

Figures: flash point -45 degC, 1.7 to 39.2 % in air, autoignition 160 degC (IEC 60079-20-1:2010);
limiting oxygen 10.5 % in a tube, lowered by 2 % (NFPA 69, TIA 1211); limits fall to nothing at
1517 K, the flame at its limit in air (energy balance).
"""

from __future__ import annotations

import pytest

NAME = "diethyl_ether_on_a_hot_plate"
ETHER = "diethyl ether"
BATH = (
    "kind: hot plate, set_temperature: 32 degC, hottest: 300 degC",
    "kind: water bath, set_temperature: 32 degC, hottest: 60 degC",
)
WATER = ("composition: {diethyl ether: 100 %}", "composition: {water: 100 %}")
ON_FIRE = "heat.ignition_under_liquid"


def test_it_must_not_proceed(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "must not proceed"
    assert {ON_FIRE, "flammability.envelope"} <= review.all_graded("unacceptable")
    # 100 mL boiled into the room within half an hour is also more than people may breathe.
    assert "exposure.idlh" in review.all_graded("unacceptable")


def test_warm_ether_is_far_above_its_flash_point(demo) -> None:
    found = demo(NAME).finding(ON_FIRE, "flask", "plan", of=ETHER)
    assert found.value == pytest.approx(-45 - 32)
    # No more than at its boiling point, 34.4 degC, where the plate runs away.
    found = demo(NAME).finding(ON_FIRE, "flask", "upset", of=ETHER)
    assert found.value == pytest.approx(-45 - 34.4, abs=0.3)


def test_margin_in_the_flask(demo) -> None:
    # Ether boils at 34.6 degC: at 32 degC its vapour displaces nine tenths of the air, so every
    # mixture on the way occurs. Lean F / L and inert 0.2095 (1 - F) / LOC are equal at F = 4 %,
    # ten times below the upper limit.
    fall = 1 - (32 - 25) / (1517 - 298)
    lower, loc = 0.017 * fall, 0.085 * fall
    fuel = 0.2095 * lower / (loc + 0.2095 * lower)
    assert fuel == pytest.approx(0.040, rel=0.01)
    found = demo(NAME).finding("flammability.envelope", "flask", "step")
    assert found.grade == "unacceptable"
    assert found.value == pytest.approx(1 - fuel / lower, rel=0.01)  # -1.38


def test_a_bath_takes_the_plate_away_but_not_the_vapour(demo) -> None:
    review = demo(NAME, BATH)
    assert review.verdict == "must not proceed"
    assert ON_FIRE not in review.all_graded("unacceptable")
    assert "exposure.idlh" in review.all_graded("unacceptable")
    # Nobody says what flames and sparks there are in the room.
    found = review.finding("flammability.envelope", "flask", "plan")
    assert found.grade == "undetermined" and "ignition_sources" in found.reason
    found = review.finding("heat.flash_point", "flask", "plan", of=ETHER)
    assert (found.grade, found.value) == ("tolerable", pytest.approx(-45 - 32))


def test_water_in_its_place_is_not_refused(demo) -> None:
    assert demo(NAME, WATER).verdict == "may proceed with conditions"
