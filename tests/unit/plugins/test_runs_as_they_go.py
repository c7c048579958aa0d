"""Valves by step, what starts when the power is back, what is left on: which runs are played.

The set-up lets 100 mL/min of 1 % chlorine through a three-way tap: into lye, or into the room.
"""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine

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
    engine = Engine()
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
    engine = Engine()
    stays = TEXT.replace("60 degC}}", "60 degC, on_power_return: stays off}}")
    runs = engine.review(engine.loads(stays, "x.yaml")).trials.runs
    assert [each.id for each in runs if each.id.startswith("power back")] == []
