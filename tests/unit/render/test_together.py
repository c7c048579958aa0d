"""Conditions on one thing are one line of the letter, each still a cause of its own."""

from __future__ import annotations

from review import loads
from review.render.telling import contents
from tests.support import shared_engine

TEXT = """
title: Carbon dioxide through a tube
reagents:
  gas: {state: gas, composition: {carbon dioxide: 100 %}, held: {as: cylinder, volume: 10 L,
    pressure: 57 bar gauge, regulator: 0.1 bar gauge}}
flows: {gas: {reagent: gas, into: tube, rate: 500 mL/min, reference: standard, at_most: 2 L/min}}
train:
- {id: tube, kind: line, material: PTFE, inner_diameter: 6 mm, wall: 1 mm, length: 1 m,
   joint: clipped hose, rating: 5 bar gauge}
- {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
ventilation: {room_volume: 50 m3, air_changes: 6 / hour}
procedure: [{step: flow, duration: 10 min, flows: {gas: on}}]
"""


def test_cylinder_and_detector_are_one_line() -> None:
    review = shared_engine().review(loads(TEXT, "together.yaml"))
    on = [c for c in review.causes if c.grade == "condition" and c.letter.together == "cylinder"]
    assert len(on) == 2
    (line,) = [act for act in contents(review).acts if on[0] in act.causes]
    assert [c.id for c in line.causes] == [c.id for c in on]


def test_one_condition_alone_keeps_its_words() -> None:
    alarm = "safeguards: [{kind: detector, senses: carbon dioxide, alarm: 5000 ppm, at: room}]\n"
    review = shared_engine().review(loads(TEXT + alarm, "alone.yaml"))
    (on,) = [c for c in review.causes if c.grade == "condition" and c.letter.together == "cylinder"]
    (line,) = [act for act in contents(review).acts if on in act.causes]
    assert line.causes == (on,)
