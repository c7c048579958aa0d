"""A detector that closes the supply earns credit where it has closed before harm is done.

The demo of carbon monoxide, its ventilation lost: 40 mL/min into 60 m3 are 0.667 ppm more a minute,
and 17 ppm more beside the hood (0.0393 m3/s). The day's limit of 20 ppm is reached once the near
field's 17 ppm and what the room keeps add up to 20 ppm over eight hours, after 1709 s: 6.67e-7
(1/60 + 1/(0.0393 x 28800)) is 1.17e-8 a second. The train holds 213 mL, which flow on for 26 s.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from review import Review, loads
from tests.support import shared_engine

TEXT = Path("scenarios/carbon_monoxide_detector_in_the_room.yaml").read_text("utf-8")
LOST = "ventilation lost:run"
DETECTOR = "alarm: 25 ppm, at: room, response_time: 30 s, takes: 30 s"
CLOSES = "alarm: 10 ppm, at: room, closes: mixture, response_time: 30 s"


@cache
def reviewed(*changes: tuple[str, str]) -> Review:
    text = TEXT.replace("way out, takes: 60 s", "way out").replace(DETECTOR, CLOSES)
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return shared_engine().review(loads(text, "closing.yaml"))


def margin(review: Review) -> float:
    (found,) = [m for m in review.measures if m.kind == "readiness.closing_margin"]
    trials = review.trials
    run = [r.id for r in trials.runs].index(LOST)
    return float(found.value[trials.steps.index("run") + 1, run])


def test_in_the_room_it_closes_in_time() -> None:
    review = reviewed()
    assert margin(review) == pytest.approx(1709 / (10 / 0.667 * 60 + 30 + 26), rel=0.01)
    assert review.verdict == "may proceed with conditions"
    (act,) = [c.letter.act for c in review.causes if "closes" in c.letter.act]
    assert act.endswith("Counted on: detector closes mixture.")


def test_beside_the_source_it_is_far_quicker() -> None:
    """There the air has 17 ppm within half a minute: the alarm comes in less."""
    near = reviewed(("at: room, closes", "at: bench, distance: 300 mm, closes"))
    assert margin(near) > 1709 / (30 + 30 + 26)


@pytest.mark.parametrize(
    "old, new",
    [
        ("at: room, closes", "at: hood, closes"),  # nothing is drawn through the duct
        ("alarm: 10 ppm", "alarm: 20 ppm"),  # half an hour and more
        ("response_time: 30 s", "response_time: 20 min"),
        (", response_time: 30 s", ""),
        ("closes: mixture", "closes: nitrogen"),
        ("gas_volume: 200 mL", "gas_volume: 9 L"),  # flows on for eighteen minutes
    ],
    ids=["duct", "late alarm", "slow valve", "not stated", "another flow", "much still flows"],
)
def test_otherwise_it_earns_nothing(old: str, new: str) -> None:
    assert reviewed((old, new)).verdict == "must not proceed"
