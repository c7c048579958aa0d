"""Gas that only current makes of one substance has no charge that could come at once."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: A generator
reagents:
  gas: {state: gas, composition: {GAS}, held: {as: generator, equation: EQUATION, rate: 20 mL/min,
    limited_by: current}}
flows: {gas: {reagent: gas, into: hose, rate: 20 mL/min, reference: standard, at_most: 50 mL/min}}
train:
- {id: hose, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m, joint: none}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
"""


@pytest.mark.parametrize(
    ("gas", "equation", "none"),
    [
        ("ozone: 1 %, oxygen: 99 %", "3 O2 -> 2 O3", True),
        ("hydrogen: 67 %, oxygen: 33 %", "2 H2O -> 2 H2 + O2", True),
        ("hydrogen: 100 %", "Zn(s) + 2 HCl -> ZnCl2 + H2", False),  # whatever is said to limit it
    ],
)
def test_what_only_current_makes_has_no_charge(gas: str, equation: str, none: bool) -> None:
    text = TEXT.replace("GAS", gas).replace("EQUATION", equation)
    review = shared_engine().review(loads(text, "x.yaml"))
    (lasts,) = [m for m in review.measures if m.kind == "readiness.charge"]
    assert (lasts.value[0, 0] == 0) == none
