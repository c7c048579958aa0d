"""Valves by step, what starts when the power is back, what is left on: which runs are played.

The set-up lets 100 mL/min of 1 % chlorine through a three-way tap: into lye, or into the room.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.support import shared_engine

TEXT = """
title: Chlorine through a tap
reagents: {gas: {state: gas, composition: {chlorine: 1 %, nitrogen: 99 %}}}
flows: {feed: {reagent: gas, into: tap, rate: 6 mL/min, reference: ambient, on_power_loss: closes}}
train:
  - {id: tap, kind: three-way valve, gas_volume: 1 mL}
  - {id: good, kind: outlet, to: outdoors}
  - {id: bad, kind: outlet, from: tap, to: room}
heat: {mantle: {heats: tap, kind: heating mantle, set_temperature: 60 degC}}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: dose, duration: 10 min, flows: {feed: on}, heat: {mantle: on}, valves: {tap: good}}
  - {step: more, duration: 10 min}
"""


@pytest.fixture(scope="module")
def review():
    engine = shared_engine()
    return engine.review(engine.loads(TEXT, "x.yaml"))


def let_out(review, run: str) -> list[float]:
    """Flow at the outlet into the room by cell, mol/s."""
    ids = [each.id for each in review.trials.runs]
    (measure,) = [
        m for m in review.measures if m.kind == "exposure.idlh_ratio" and m.of == "chlorine"
    ]
    return list(measure.value[:, ids.index(run)])


def test_as_planned_nothing_comes_into_the_room(review) -> None:
    assert let_out(review, "plan") == [0.0, 0.0, 0.0, 0.0]


def test_a_tap_that_stands_wrong_lets_it_out_in_every_step_until_it_is_set_again(review) -> None:
    stated, dose, more, after = let_out(review, "wrong position:tap:dose:bad")
    assert stated == 0.0
    assert dose > 0.0
    assert more >= dose
    assert after < more


def test_a_tap_that_is_shut_lets_nothing_out(review) -> None:
    assert let_out(review, "wrong position:tap:dose:closed")[1:3] == [0.0, 0.0]


def test_what_is_left_on_goes_on_after_the_last_step(review) -> None:
    ids = [each.id for each in review.trials.runs]
    (time,) = [m for m in review.measures if m.kind == "train.contact_time" and m.at == "tap"]
    assert np.isinf(time.value[-1, ids.index("plan")])  # nothing flows
    assert np.isfinite(time.value[-1, ids.index("left on:more")])


def test_what_starts_with_the_power_is_played_with_the_feed_closed(review) -> None:
    ids = {each.id: each for each in review.trials.runs}
    assert {"power back:dose", "power back:more"} <= set(ids)


def test_heat_that_stays_off_starts_nothing() -> None:
    engine = shared_engine()
    stays = TEXT.replace("60 degC}}", "60 degC, on_power_return: stays off}}")
    runs = engine.review(engine.loads(stays, "x.yaml")).trials.runs
    assert [each.id for each in runs if each.id.startswith("power back")] == []


def test_a_tap_built_shut_is_played_standing_open() -> None:
    """No step opens the way into the room; once it stands open, gas goes there."""
    engine = shared_engine()
    shut = TEXT.replace(", valves: {tap: good}", "").replace(
        "from: tap, to: room", "from: tap, to: room, open: no"
    )
    review = engine.review(engine.loads(shut, "x.yaml"))
    assert let_out(review, "plan")[1:3] == [0.0, 0.0]
    assert let_out(review, "wrong position:bad:more")[1] == 0.0
    # What two ways without a stated bore let through, nobody knows; but not that it is nothing.
    assert not let_out(review, "wrong position:bad:more")[2] <= 0.0


def test_a_feed_that_comes_back_with_the_power_finds_the_fan_off() -> None:
    engine = shared_engine()
    alone = TEXT.replace("60 degC}}", "60 degC, on_power_return: stays off}}")
    back = alone.replace("on_power_loss: closes", "on_power_loss: closes, on_power_return: starts")
    ids = [
        [r.id for r in engine.review(engine.loads(t, "x.yaml")).trials.runs] for t in (alone, back)
    ]
    assert [("power back:dose" in each) for each in ids] == [False, True]


CYLINDER = "held: {as: cylinder, volume: 10 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}"
TWO = f"""
title: Two cylinders
reagents:
  nitrogen: {{state: gas, composition: {{nitrogen: 100 %}}, {CYLINDER}}}
  other: {{state: gas, composition: {{OTHER}}, {CYLINDER}}}
flows:
  purge: {{reagent: nitrogen, into: pipe, rate: 100 mL/min, reference: ambient}}
  feed: {{reagent: other, into: pipe, rate: 100 mL/min, reference: ambient}}
train:
  - {{id: pipe, kind: line, inner_diameter: 6 mm, length: 300 mm}}
  - {{id: out, kind: outlet, to: room, inner_diameter: 6 mm}}
ventilation: {{room_volume: 60 m3, air_changes: 4 / hour}}
procedure:
  - {{step: purge, duration: 10 min, flows: {{purge: on}}}}
  - {{step: run, duration: 10 min, flows: {{purge: off, feed: on}}}}
"""


@pytest.mark.parametrize(
    ("other", "alike"),
    [("hydrogen: 5 %, nitrogen: 95 %", True), ("argon: 100 %", True), ("hydrogen: 100 %", False),
     ("carbon monoxide: 50 %, nitrogen: 50 %", False), ("oxygen: 100 %", False)],
)  # fmt: skip
def test_cylinders_with_like_outlets_are_exchanged(other: str, alike: bool) -> None:
    """By the outlet of their valve: what burns, oxygen and inert gas do not fit each other."""
    engine = shared_engine()
    review = engine.review(engine.loads(TWO.replace("OTHER", other), "x.yaml"))
    ids = [each.id for each in review.trials.runs]
    assert ("exchanged:purge:feed" in ids) is alike
    if "hydrogen" in other and alike:
        (fuel,) = [
            m for m in review.measures
            if m.kind == "flammability.fuel_to_lower_limit" and m.at == "pipe"
        ]  # fmt: skip
        run = ids.index("exchanged:purge:feed")
        assert fuel.value[1, 0] == 0.0 and fuel.value[1, run] > 0.0


def test_a_run_begun_again_finds_what_the_last_one_left(review) -> None:
    """Twenty minutes of the gas have gone out; the tap is warm, the room is not aired."""
    engine = shared_engine()
    into_room = engine.review(engine.loads(TEXT.replace("{tap: good}", "{tap: bad}"), "x.yaml"))
    first, again = let_out(into_room, "plan"), let_out(into_room, "begun again:more")
    assert again[1] > first[1] > 0.0
    half = let_out(into_room, "begun again:dose")
    assert first[1] < half[1] < again[1]
