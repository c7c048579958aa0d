"""A gauge reads from the pressure of the room that it stands in, be that on a mountain or not."""

from __future__ import annotations

import re

import numpy as np
import pytest

from review import Engine, Review

TEXT = """
title: Air into a flask
ambient: {pressure: ROOM mbar absolute}
reagents: {air: {state: gas, composition: {air: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 100 bar gauge, regulator: 0.15 bar gauge}}}
flows: {feed: {reagent: air, into: flask, rate: 1 L/min, reference: ambient, at_most: 5 L/min,
  shut_off_pressure: 0.2 bar gauge, instrument: {kind: rotameter, calibration_gas: air,
  gas_pressure: 0.2 bar gauge, gas_temperature: 20 degC}}}
train:
  - {id: flask, kind: vessel, gas_volume: 200 mL, rating: 0.4 bar gauge, joint: rubber stopper,
     joint_rating: 0.25 bar gauge, vacuum_rating: -0.5 bar gauge, home_made: no,
     relief: {opens_at: 0.1 bar gauge, bore: 6 mm, length: 300 mm}}
  - {id: check, kind: check valve, gas_volume: 1 mL, cracking_pressure: 0.03 bar gauge,
     rating: 10 bar gauge, joint: none}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
safeguards: [{kind: pressure alarm, at: flask, alarm: 0.12 bar gauge, response_time: 5 s}]
"""


def absolute(text: str, room: float) -> str:
    """Each gauge pressure written as the absolute one that it is: p = p_gauge + p_room."""
    return re.sub(
        r"([-\d.]+) bar gauge",
        lambda said: f"{(float(said[1]) + room / 1000) * 100!r} kPa absolute",
        text,
    )


def review(engine: Engine, text: str) -> Review:
    return engine.review(engine.loads(text, "x.yaml"))


@pytest.mark.parametrize("room", [850.0, 1013.25, 1060.0])
def test_gauge_and_absolute_are_one_set_up(engine: Engine, room: float) -> None:
    text = TEXT.replace("ROOM", str(room))
    gauge, plain = review(engine, text), review(engine, absolute(text, room))
    assert gauge.verdict == plain.verdict
    graded = [{(f.criterion, f.at, f.trial, f.grade) for f in r.findings} for r in (gauge, plain)]
    assert graded[0] == graded[1]
    assert len(gauge.measures) == len(plain.measures)
    for a, b in zip(gauge.measures, plain.measures, strict=True):
        assert (a.kind, a.at, a.of) == (b.kind, b.at, b.of)
        np.testing.assert_allclose(a.value, b.value, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("room", [850.0, 1060.0])
def test_what_a_gauge_reads_is_what_presses_from_inside(engine: Engine, room: float) -> None:
    """Plugged, the supply stands at 0.2 bar over the room, and the flask holds 0.4 bar over it:
    half, whatever the barometer reads. Counted from 1 atm they would be 0.36 and 0.56 bar."""
    text = TEXT.replace("ROOM", str(room)).replace(
        ",\n     relief: {opens_at: 0.1 bar gauge, bore: 6 mm, length: 300 mm}", ""
    )
    stopper = "joint: rubber stopper,\n     joint_rating: 0.25 bar gauge"
    assert stopper in text
    text = text.replace(stopper, "joint: none")
    found = review(engine, text)
    (share,) = [
        m for m in found.measures if m.kind == "pressure.working_over_rating" and m.at == "flask"
    ]
    assert np.nanmax(share.value) == pytest.approx(0.5, rel=1e-6)
