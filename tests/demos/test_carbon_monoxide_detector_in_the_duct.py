"""The same carbon monoxide with the detector in the duct: it is silent when the hood fails."""

from __future__ import annotations

import math

NAME = "carbon_monoxide_detector_in_the_duct"
FAILED = "exposure.failure", "breathing zone", "upset", "carbon monoxide"


def test_it_must_not_proceed(demo) -> None:
    """After four hours 160 ppm in the room and 17 ppm beside the hood; AEGL-2 for so long: 27 ppm,
    for 8 h, since it stays."""
    review = demo(NAME)
    assert review.verdict == "must not proceed"
    assert math.isclose(review.finding(*FAILED).value, (160 + 17) / 27, rel_tol=0.02)


def test_no_alarm_comes_from_a_duct_without_draught(demo) -> None:
    lost = demo(NAME).value(
        "exposure.leaving_margin", "detector 10", "run", "ventilation lost:run"
    )
    assert not lost > 0
