"""Supplies press on all they are connected with, and valves on one regulator fail together."""

from __future__ import annotations

import math

import pytest
from review.plugins.standard_items.upsets import upsets

from review import loads
from review.interface.measure import OK

LOW = "{as: cylinder, volume: 10 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}"
HIGH = LOW.replace("0.2 bar", "5 bar")
TEXT = f"""
title: Two supplies on one tee
reagents:
  low: {{state: gas, composition: {{argon: 100 %}}, held: {LOW}}}
  high: {{state: gas, composition: {{hydrogen: 100 %}}, held: {HIGH}}}
flows:
  a: {{reagent: low, into: hose a, rate: 100 mL/min, reference: standard}}
  b: {{reagent: high, into: hose b, rate: 100 mL/min, reference: standard}}
train:
- {{id: hose a, kind: line, from: [], inner_diameter: 4 mm, length: 1 m}}
- {{id: hose b, kind: line, from: [], inner_diameter: 4 mm, length: 1 m}}
- {{id: tee, kind: junction, from: [hose a, hose b], gas_volume: 5 mL}}
- {{id: out, kind: outlet, to: hood, inner_diameter: 4 mm, open: no}}
procedure:
- {{step: run, duration: 10 min, flows: {{a: on, b: on}}}}
"""


def pressure(walked, text: str, item: str) -> float:
    setup = walked(text)
    place = next(p for p in setup.places if p.id == item)
    return float(place.pressure.value[1])


@pytest.mark.parametrize("item", ["hose a", "hose b", "tee"])
def test_what_cannot_leave_presses_upstream_too(walked, item) -> None:
    assert pressure(walked, TEXT, item) == pytest.approx(101325.0 + 5e5, rel=1e-6)


def test_a_shut_valve_holds_it_back(walked) -> None:
    valve = "- {id: hose a, kind: line, from: [], inner_diameter: 4 mm, length: 1 m}\n"
    shut = valve + ("- {id: valve, kind: junction, from: [hose a], gas_volume: 1 mL, open: no}\n")
    text = TEXT.replace(valve, shut).replace("from: [hose a, hose b]", "from: [valve, hose b]")
    assert pressure(walked, text, "hose a") == pytest.approx(101325.0 + 0.2e5, rel=1e-6)
    assert pressure(walked, text, "tee") == pytest.approx(101325.0 + 5e5, rel=1e-6)


def regulators(text: str, reference) -> list:
    """Failed regulators; the same once more, heard in time by somebody there, is left out."""
    found = upsets(loads(text), reference)
    return [o for o in found if o.id.startswith("regulator failed") and not o.in_time_for]


@pytest.mark.parametrize("held", ["cylinder", "bottle", "generator"])
def test_valves_on_one_regulator_fail_together(reference, held) -> None:
    text = TEXT.replace("reagent: high", "reagent: low").replace("as: cylinder", f"as: {held}")
    (failed,) = regulators(text, reference)
    assert set(failed.changes) == {"flows.a.regulator_failed", "flows.b.regulator_failed"}


def test_two_regulators_fail_one_at_a_time(reference) -> None:
    failed = regulators(TEXT, reference)
    assert [len(o.changes) for o in failed] == [1, 1]


BRANCHES = """
title: Two ways out
reagents: {gas: {state: gas, composition: {argon: 100 %}}}
flows: {feed: {reagent: gas, into: tee, rate: 500 mL/min, reference: standard}}
train:
- {id: tee, kind: junction, gas_volume: 5 mL}
- {id: one, kind: line, from: [tee], inner_diameter: 4 mm, length: 1 m}
- {id: two, kind: line, from: [tee], inner_diameter: SECOND}
- {id: out one, kind: outlet, from: [one], to: hood, inner_diameter: 4 mm}
- {id: out two, kind: outlet, from: [two], to: hood, inner_diameter: 4 mm}
"""


@pytest.mark.parametrize(
    ("second", "known"),
    [
        ("4 mm, length: 1 m", True),
        ("4 mm, length: 1.2 m", True),
        ("2 mm, length: 1 m", True),  # then they follow the losses
        ("2 mm, length: 1 m, share: {tee: 50 %}", False),  # by Poiseuille 16 times the loss
        ("2 mm, length: 1 m, open: no", True),  # nothing is shared
        ("4 mm, length: 5 m, share: {tee: 50 %}", False),
    ],
)
def test_shares_that_the_losses_contradict_are_not_known(walked, second, known) -> None:
    setup = walked(BRANCHES.replace("SECOND", second))
    assert bool(setup.engine_status[0] == OK) == known


STOPPERED = """
title: Gas made in a stoppered flask
reagents:
  gas: {state: gas, composition: {carbon dioxide: 100 %}, held: {as: generator}}
flows:
  a: {reagent: gas, into: flask, rate: 20 mL/min, reference: ambient, at_most: 60 mL/min}
train:
- {id: flask, kind: vessel, gas_volume: 100 mL, rating: 1 bar gauge, joint: rubber stopper}
- {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m, rating: 1 bar gauge, joint: none}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
procedure:
- {step: make, duration: 10 min, flows: {a: on}}
"""


def supplied(walked, text: str) -> float:
    return float(walked(text).places[0].supply.value[1])


def test_a_slow_generator_lifts_its_own_stopper(walked) -> None:
    """A stopper that is said to hold 0.1 bar is lifted by 0.2 bar at the latest."""
    assert supplied(walked, STOPPERED) == pytest.approx(101325.0 + 0.2e5, rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("joint: rubber stopper", "joint: screw-thread connector"),  # torn, not lifted
        ("joint: rubber stopper", "joint: wired stopper"),
        (", at_most: 60 mL/min", ""),
        ("at_most: 60 mL/min", "at_most: 2 L/min"),
        ("as: generator", "as: cylinder, volume: 1 L, pressure: 50 bar gauge"),
        ("inner_diameter: 4 mm}\nprocedure", "inner_diameter: 4 mm, open: no}\nprocedure"),
    ],
)
def test_nothing_else_is_bounded_by_a_stopper(walked, old: str, new: str) -> None:
    assert STOPPERED.count(old) == 1
    assert math.isnan(supplied(walked, STOPPERED.replace(old, new)))


@pytest.mark.parametrize(
    "stated", ["", ", joint_rating: 0.1 bar gauge", ", joint_rating: 0.4 bar gauge"]
)
def test_a_stopper_pushed_in_lifts_whatever_is_said_of_it(walked, stated: str) -> None:
    """It says of a joint only pushed together no more than its kind does: left out is no better."""
    text = STOPPERED.replace("joint: rubber stopper", f"joint: rubber stopper{stated}")
    assert supplied(walked, text) == pytest.approx(101325.0 + 0.2e5, rel=1e-6)


def test_a_relief_bounds_a_supply_that_nobody_knows(walked) -> None:
    relief = "relief: {opens_at: 0.02 bar gauge, bore: 6 mm, length: 0.3 m}"
    text = STOPPERED.replace("rubber stopper", "screw-thread connector, " + relief)
    found = supplied(walked, text)
    assert found == pytest.approx(101325.0 + 0.02e5, rel=1e-3)
