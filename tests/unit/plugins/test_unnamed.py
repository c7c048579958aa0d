"""A part whose material nobody names is the worst there is for what attacks many."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine

TEXT = """
title: Gas through a hose
duration: 10 min
reagents:
  gas: {state: gas, composition: {GAS: 100 %},
    held: {as: cylinder, volume: 2 L, pressure: 5 bar gauge, regulator: 0.2 bar gauge}}
flows:
  gas: {reagent: gas, into: hose, rate: 60 mL/min, reference: standard}
train:
  - {id: hose, kind: line, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
     joint: screw-thread connectorMATERIAL}
  - {id: outlet, kind: outlet, to: outdoors}
"""


@pytest.mark.parametrize(
    ("gas", "material", "grade"),
    [
        ("chlorine", ", material: natural rubber", "unacceptable"),
        ("chlorine", "", "unacceptable"),
        ("hydrogen chloride", "", "unacceptable"),
        ("hydrogen chloride", ", joint_material: PTFE", "unacceptable"),
        ("acetylene", "", "unacceptable"),
        ("nitrogen", "", "undetermined"),
    ],
)
def test_a_material_left_out_is_no_better_than_the_worst(
    gas: str, material: str, grade: str
) -> None:
    text = TEXT.replace("GAS", gas).replace("MATERIAL", material)
    review = shared_engine().review(loads(text, "x.yaml"), upsets=False)
    found = {f.grade for f in review.findings if f.criterion == "corrosion.wetted"}
    assert grade in found
    assert ("unacceptable" in found) == (grade == "unacceptable")
