"""A metal that burns white in a tube is no run, whether its equation is declared or not.

Magnesium burns at some 3100 K, aluminium and zinc hotter than quartz softens (CRC Handbook, from
memory); quartz is for 1100 degC.
"""

from __future__ import annotations

import pytest

from review import loads
from review.testing import measure
from tests.support import shared_engine

TEXT = """
title: A metal in hot oxygen
reagents:
  gas: {state: gas, composition: {GAS}, held: {as: cylinder,
    volume: 2 L, pressure: 50 bar gauge, regulator: 0.1 bar gauge}}
  metal: {state: solid, composition: {METAL: 100 %}, amount: 10 g}
flows:
  feed: {reagent: gas, into: tube, rate: 100 mL/min, reference: standard, at_most: 200 mL/min}
train:
- {id: tube, kind: reactor, material: fused quartz, inner_diameter: 25 mm, wall: 2 mm,
   length: 900 mm, heated_length: 300 mm, ends: open, joint: none, home_made: no,
   reactions: [{equation: EQUATION, limiting: oxygen, conversion: 90 %}]}
- {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 600 degC, hottest: 630 degC}}
procedure: [{step: burn, duration: 20 min, flows: {feed: on}, heat: {furnace: on}}]
"""


@pytest.mark.parametrize("gas", ["oxygen: 100 %", "oxygen: 21 %, nitrogen: 79 %"])
@pytest.mark.parametrize(
    ("metal", "equation"),
    [
        ("magnesium", "2 Mg(s) + O2 -> 2 MgO(s)"),
        ("aluminium", "4 Al(s) + 3 O2 -> 2 Al2O3(s)"),
        ("zinc", "2 Zn(s) + O2 -> 2 ZnO(s)"),
    ],
)
def test_a_metal_that_burns_white_must_not_meet_hot_oxygen(
    gas: str, metal: str, equation: str
) -> None:
    text = TEXT.replace("GAS", gas).replace("METAL", metal).replace("EQUATION", equation)
    of = " with ".join(sorted(("oxygen", metal)))
    found = measure(shared_engine().review(loads(text), upsets=False), "reactive.pair", "tube", of)
    assert found.value[1, 0] == 2
