"""Hold points: which failures a step that waits for a flow reveals, and when it earns no credit."""

from __future__ import annotations

from functools import cache

import pytest
from review.plugins.shared.inert import followers
from review.plugins.standard_items import upsets as plugin_upsets

from review import Overlay, Reference, Review, loads
from tests.support import shared_engine

TRAIN = """
title: t
duration: 1 h
reagents:
  fuel: {state: gas, composition: {hydrogen: 100 %}}
  inert: {state: gas, composition: {nitrogen: 100 %}}
flows:
  feed: {reagent: fuel, into: tube, rate: 100 mL/min, reference: standard}
  purge: {reagent: inert, into: tube, rate: 500 mL/min, reference: standard, INSTRUMENT}
train:
- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm, material: fused quartz,
  joint: none, home_made: no}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 700 degC}}
procedure:
- {step: fill, duration: 20 min, flows: {purge: on}}
- {step: heat, duration: 30 min, heat: {furnace: on}, HOLD}
- {step: run, duration: 30 min, flows: {purge: off, feed: on}, HOLD}
- {step: sweep, duration: 20 min, flows: {purge: on, feed: off}, HOLD}
- {step: cool, duration: 60 min, heat: {furnace: off}}
"""
METER = "instrument: {kind: mass flow controller, calibration_gas: nitrogen}"


def text(hold: str = "hold: purge", instrument: str = METER) -> str:
    said = TRAIN.replace("HOLD", hold).replace("INSTRUMENT", instrument)
    return said.replace(", }", "}")


@cache
def overlays(hold: str = "hold: purge") -> dict[str, Overlay]:
    found = plugin_upsets(loads(text(hold)), Reference())
    return {each.counters: each for each in found if "proven before" in each.title}


@pytest.mark.parametrize(
    ("failure", "until"),
    [
        ("flow lost:purge:fill", 2),
        ("flow lost:purge:heat:midway", 3),
        ("flow lost:purge:sweep", 4),
        ("blocked:tube:fill", 2),
        ("blocked:out:sweep", 4),
        ("skipped:fill", 2),
        ("swapped:fill:heat", 1),
    ],
)
def test_what_a_hold_reveals(failure, until):
    found = overlays()[failure]
    assert (found.until_step, found.adequacy[0]) == (until, "readiness.hold_shown")


@pytest.mark.parametrize(
    "failure",
    [
        "flow lost:purge:sweep:midway",
        "flow lost:feed:run",
        "joint open inward:tube:fill",
        "flow at its most:feed:run",
        "skipped:sweep",
        "swapped:run:sweep",
    ],
)
def test_what_it_does_not_reveal(failure):
    """What comes after the look, another flow, a leak, a step after the hold."""
    assert failure not in overlays()


BUBBLER = """
- {id: bubbler, kind: wash bottle, liquid: water, liquid_volume: 50 mL, dip_depth: 20 mm,
   joint: none}
- {id: out,"""


def test_only_what_leaks_before_a_bubbler_is_seen_there():
    """Of gas that is let out before the liquid nothing bubbles; behind it all still does."""
    leaks = [f"{how}:{item}:fill" for how in ("joint open outward", "broken")
             for item in ("tube", "bubbler")]  # fmt: skip
    assert not set(leaks) & set(overlays())
    said = text().replace("\n- {id: out,", BUBBLER)
    seen = {each.counters for each in plugin_upsets(loads(said), Reference())}
    assert set(leaks) & seen == {"joint open outward:tube:fill", "broken:tube:fill"}


def test_without_a_hold_nothing_is_revealed():
    assert not overlays("note: nothing is looked at")


@cache
def review(hold: str, instrument: str) -> Review:
    return shared_engine().review(loads(text(hold, instrument)))


def _grade(hold: str, instrument: str, failure: str) -> str:
    (found,) = [o for o in review(hold, instrument).outcomes if o.run == failure]
    return found.grade


def test_it_counters_a_purge_left_out_where_the_flow_can_be_seen():
    """Neat hydrogen into a tube of air at 700 degC: refused; with the stop at best a condition."""
    assert _grade("note: none", METER, "skipped:fill") == "unacceptable"
    assert _grade("hold: purge", METER, "skipped:fill") == "tolerable"
    assert _grade("hold: purge", "accuracy: 2 %", "skipped:fill") == "unacceptable"


def test_a_train_that_begins_anew_follows_no_other() -> None:
    """A bubbler in another train shows nothing of a flow that never comes there."""
    apart = loads(
        "title: t\ntrain:\n- {id: a, kind: line}\n- {id: out, kind: outlet, to: hood}\n"
        "- {id: b, kind: line, from: []}\n- {id: end, kind: outlet, to: hood}\n"
    )
    assert followers(apart)("a") == {"a", "out"}
    assert followers(apart)("b") == {"b", "end"}
