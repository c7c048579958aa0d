"""A detector earns credit where people have left in time, and only with all of its figures."""

from __future__ import annotations

import math
from functools import cache

import pytest

from review import loads
from tests.support import shared_engine

LOST, WARNS = "ventilation lost:run", "detector 1 warns"
STATED = ("at: room, response_time: 30 s, takes: 20 s", ", takes: 30 s")


def text(detector: str, way: str, gas: str, rate: str) -> str:
    return f"""
title: carbon monoxide into a hood that may fail
ambient: {{temperature: 20 degC, pressure: 1 atm}}
reagents:
  gas: {{state: gas, composition: {{{gas}}},
    held: {{as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.1 bar gauge}}}}
flows: {{gas: {{reagent: gas, into: hose, rate: {rate}, reference: ambient, on_power_loss: closes,
  instrument: {{kind: mass flow controller, calibration_gas: carbon monoxide}}, at_most: {rate}}}}}
train:
  - {{id: hose, kind: line, in: hood, material: PTFE, inner_diameter: 4 mm, length: 1 m,
     joint: none}}
  - {{id: out, kind: outlet, to: hood, inner_diameter: 4 mm}}
ventilation: {{room_volume: 60 m3, air_changes: 3 / hour, hood: {{opening_width: 1.2 m,
  opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes, heat_inside: no}}}}
safeguards:
  - {{kind: detector, senses: carbon monoxide, alarm: 25 ppm, {detector}}}
  - {{kind: free way out{way}}}
procedure: [{{step: run, duration: 4 h, flows: {{gas: on}}}}]
"""


@cache
def grade(
    detector: str = STATED[0],
    way: str = STATED[1],
    gas: str = "carbon monoxide: 100 %",
    rate: str = "40 mL/min",
) -> str:
    """Of what the lost ventilation comes to against AEGL-2 and IDLH."""
    review = shared_engine().review(loads(text(detector, way, gas, rate)))
    grades = {f.grade for f in review.findings if f.criterion == "exposure.failure"}
    graver = {o.criterion for o in review.outcomes if o.run == LOST and o.grade == "unacceptable"}
    return "refused" if "unacceptable" in grades or graver else "not refused"


def test_with_every_figure_a_slow_failure_is_left_in_time() -> None:
    """40 mL/min: 17 ppm beside the hood and 0.67 ppm more a minute; 33 ppm is AEGL-2 for four
    hours, 83 ppm for one. After an hour at most the room has 25 ppm and everybody leaves."""
    assert grade() == "not refused"


@pytest.mark.parametrize(
    "detector, way",
    [
        ("at: room, takes: 20 s", ", takes: 30 s"),
        ("at: room, response_time: 30 s", ", takes: 30 s"),
        ("at: room, response_time: 30 s, takes: 20 s", ""),
        ("at: hood, response_time: 30 s, takes: 20 s", ", takes: 30 s"),
        ("at: room, response_time: 2 h, takes: 20 s", ", takes: 2 h"),
    ],
    ids=["no delay", "no notice", "no way out", "in a duct without draught", "too slow"],
)
def test_without_one_of_them_it_is_refused(detector: str, way: str) -> None:
    assert grade(detector, way) == "refused"


def test_only_who_is_warned_leaves() -> None:
    """40 mL/min over 0.03927 m3/s beside the hood, and over 60 m3 for the four hours of the step;
    who is warned at 25 ppm in the room breathes it 80 s longer. What fills the air beside the hood
    is not in the room: 0.26 m3 of 60."""
    review = shared_engine().review(loads(text(*STATED, "carbon monoxide: 100 %", "40 mL/min")))
    runs = [run.id for run in review.trials.runs]
    asked = "exposure.concentration", "carbon monoxide"
    (found,) = [m for m in review.measures if (m.kind, m.of) == asked]
    rate = 40e-6 / 60
    beside = rate / (math.pi * 0.5**2 * 0.05)
    stays, leaves = (found.value[1, runs.index(run)] for run in (LOST, f"{LOST} | {WARNS}"))
    assert stays == pytest.approx(beside + rate * 4 * 3600 / 60, rel=1e-3)
    assert leaves == pytest.approx(beside + 25e-6 + rate * 80 / 60, rel=3e-3)


def test_nobody_leaves_who_is_overcome() -> None:
    """4 L/min are 1700 ppm beside the hood within seconds, above AEGL-2 and IDLH."""
    assert grade(rate="4 L/min") == "refused"


def test_a_detector_for_another_gas_warns_of_nothing() -> None:
    assert grade(gas="hydrogen sulfide: 10 %, nitrogen: 90 %", rate="400 mL/min") == "refused"
