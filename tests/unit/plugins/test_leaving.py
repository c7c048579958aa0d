"""A detector earns credit where people have left in time, and only with all of its figures."""

from __future__ import annotations

from functools import cache

import pytest

from review import Engine, loads

LOST = "ventilation lost:run"


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
    detector: str = "at: room, response_time: 30 s, takes: 20 s",
    way: str = ", takes: 30 s",
    gas: str = "carbon monoxide: 100 %",
    rate: str = "40 mL/min",
) -> str:
    """Of what the lost ventilation comes to against AEGL-2 and IDLH."""
    review = Engine().review(loads(text(detector, way, gas, rate)))
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


def test_nobody_leaves_who_is_overcome() -> None:
    """4 L/min are 1700 ppm beside the hood within seconds, above AEGL-2 and IDLH."""
    assert grade(rate="4 L/min") == "refused"


def test_a_detector_for_another_gas_warns_of_nothing() -> None:
    assert grade(gas="hydrogen sulfide: 10 %, nitrogen: 90 %", rate="400 mL/min") == "refused"
