"""The numbers of a letter: what it says would pass does, and a little more does not."""

from __future__ import annotations

import re

import pytest

from review import Engine, loads
from review.render.telling import contents

HEAD = """
title: A gas through a tube
operators: 1
reagents:
  gas: {state: gas, composition: {GAS}, held: {as: cylinder, volume: 10 L, pressure: 150 bar gauge,
    regulator: REGULATOR}}
flows: {feed: {reagent: gas, into: tube, rate: 200 mL/min, reference: standard, at_most: 1 L/min}}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
   length: 600 mm, heated_length: HEATED, ends: open, home_made: no, reactions: none,
   rating: 0.1 bar gauge, joint: screw-thread connector, joint_material: PTFE}
- {id: outlet, kind: outlet, to: hood}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: HOT, hottest: HOT}}
ventilation:
  room_volume: 60 m3
  air_changes: 4 / hour
  hood: {opening_width: 1.2 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes}
procedure:
- {step: run, duration: 30 min, flows: {feed: on}, heat: {furnace: on}}
"""
USUAL = {
    "GAS": "nitrogen: 100 %", "REGULATOR": "0.05 bar gauge", "HEATED": "200 mm", "HOT": "60 degC",
}  # fmt: skip

#: What is changed, the cause, how the passing number is told, the change with it, and how many
#: times as much is refused again: what passes may be far below what is refused.
CASES = [
    ({"REGULATOR": "0.5 bar gauge"}, "bursts", r"at most ([\d.]+) bar over",
     {"REGULATOR": "{} bar gauge"}, 9),
    ({"GAS": "methane: 8 %, nitrogen: 72 %, oxygen: 20 %"}, "burns", r"t most ([\d.]+) % methane",
     {"GAS": "methane: {} %, oxygen: 20 %, nitrogen: rest"}, 5),
    ({"HOT": "400 degC", "HEATED": "560 mm"}, "heat.joint", r"At most (\d+) degC would",
     {"HOT": "{} degC", "HEATED": "560 mm"}, 1.5),
]  # fmt: skip


def told(engine: Engine, changes: dict[str, str]) -> dict[str, str]:
    """What the letter says of each thing that stands against the run, by its cause."""
    text = HEAD
    for key, value in (USUAL | changes).items():
        text = text.replace(key, value)
    said = contents(engine.review(loads(text)))
    return {each.cause.id: " ".join(line.text for line in each.lines) for each in said.causes}


@pytest.mark.parametrize(
    ("bad", "cause", "says", "good", "times"), CASES, ids=[c[1] for c in CASES]
)
def test_what_would_pass_does(
    engine: Engine,
    bad: dict[str, str],
    cause: str,
    says: str,
    good: dict[str, str],
    times: float,
) -> None:
    found = re.search(says, told(engine, bad)[cause])
    assert found is not None
    most = float(found[1])
    assert cause not in told(engine, {key: text.format(most) for key, text in good.items()})
    assert cause in told(engine, {key: text.format(times * most) for key, text in good.items()})
