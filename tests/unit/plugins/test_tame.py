"""Dilute gas in a hot tube that air reaches after a failure: when the tube holds what it does."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: Dilute propane over a hot bed
reagents:
  gas: {state: gas, composition: {propane: 2 %, nitrogen: 98 %}, held: {as: cylinder, volume: 2 L,
    pressure: 50 bar gauge, regulator: 0.1 bar gauge}}
flows:
  gas: {reagent: gas, into: tube, rate: 100 mL/min, reference: standard, at_most: 200 mL/min,
    instrument: {kind: mass flow controller, calibration_gas: nitrogen}}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
   length: 700 mm, heated_length: 200 mm, ends: open, joint: none, home_made: no}
- {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 550 degC, hottest: 560 degC}}
procedure:
- {step: fill, duration: 20 min, flows: {gas: on}}
- {step: run, duration: 60 min, heat: {furnace: on}}
"""


def after_a_failure(text: str) -> str:
    """The grade of the hot surface in the tube in the worst failure."""
    review = shared_engine().review(loads(text, "dilute.yaml"))
    (found,) = [
        f for f in review.findings
        if (f.criterion, f.at, f.case) == ("ignition.hot_surface", "tube", "upset")
    ]  # fmt: skip
    return found.grade


def test_two_percent_of_propane_in_a_narrow_tube() -> None:
    """140 mL, of which 64 % are hot enough: some 120 J, of 2.5 bar, which 16 mm of quartz hold."""
    assert after_a_failure(TEXT) == "tolerable"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("propane: 2 %, nitrogen: 98 %", "propane: 4 %, nitrogen: 96 %"),  # burns in cold air
        ("inner_diameter: 16 mm, wall: 2 mm", "inner_diameter: 40 mm, wall: 3 mm"),  # 800 J
        (", wall: 2 mm", ""),  # nobody knows what it holds
        ("wall: 2 mm", "wall: 2 mm, rating: 1 bar gauge"),
    ],
)
def test_what_is_not_tame(old: str, new: str) -> None:
    assert TEXT.count(old) == 1
    assert after_a_failure(TEXT.replace(old, new)) == "unacceptable"
