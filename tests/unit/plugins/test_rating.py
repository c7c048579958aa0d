"""What a joint is said to hold, against what such a joint can hold."""

from __future__ import annotations

import numpy as np
import pytest
from review.plugins.shared.rating import rating

from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup
from tests.support import shared_engine

BENCH = """
title: a joint
train:
  - {{id: tube, kind: line, inner_diameter: 6 mm, wall: 1 mm, length: 1 m, rating: 9 bar gauge,
     joint: {joint}, {claimed} material: {material}}}
  - {{id: out, kind: outlet, to: outdoors}}
"""


@pytest.mark.parametrize(
    ("joint", "claimed", "material", "holds"),
    [
        ("clipped ground joint", "0.2 bar gauge", "glass", 0.1e5),
        ("clipped ground joint", "0.49 bar gauge", "glass", 0.1e5),
        ("screw-thread connector", "2 bar gauge", "glass", 2e5),
        ("screw-thread connector", "3 bar gauge", "glass", 0.5e5),
        ("none", "3 bar gauge", "glass", 9e5),
        ("compression fitting", "1 bar gauge", "fused quartz", 1e5),
        ("compression fitting", "", "fused quartz", 1e5),
        ("compression fitting", "8 bar gauge", "fused quartz", 1e5),
        ("compression fitting", "", "PTFE", 2e5),
        ("compression fitting", "", "stainless steel 316", 9e5),
    ],
)
def test_a_joint_holds_no_more_than_its_kind_may(
    joint: str, claimed: str, material: str, holds: float
) -> None:
    """The table has 0.1 bar for a clipped ground joint, which is only pushed together, and 0.5 bar
    for a screw thread, of which five times as much is believed. Ferrules bite metal alone."""
    engine = shared_engine()
    scenario = engine.loads(
        BENCH.format(
            joint=joint, claimed=claimed and f"joint_rating: {claimed},", material=material
        )
    )
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    setup = Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])
    found = rating(setup, setup.places[0])
    assert found.value[0] == pytest.approx(holds, rel=1e-6, nan_ok=True)


GLASS = """
title: a bottle
train:
  - {{id: bottle, kind: {kind}, material: {material}, joint: none, {more}}}
  - {{id: out, kind: outlet, to: outdoors}}
"""


@pytest.mark.parametrize(
    ("kind", "material", "more", "holds"),
    [
        ("vessel", "borosilicate glass 3.3", "capacity: 1 L, home_made: no, ends: round", 0.25e5),
        ("vessel", "borosilicate glass 3.3", "capacity: 500 mL, home_made: no", 0.2e5),
        ("trap", "borosilicate glass 3.3", "capacity: 250 mL, home_made: no", 0.5e5),
        ("vessel", "glass", "size: 250 mL conical flask, home_made: no", 0.2e5),
        ("vessel", "borosilicate glass 3.3", "capacity: 500 mL", np.nan),
        ("vessel", "borosilicate glass 3.3", "capacity: 500 mL, home_made: yes", np.nan),
        ("vessel", "borosilicate glass 3.3", "capacity: 5 L, home_made: no", np.nan),
        ("vessel", "borosilicate glass 3.3", "home_made: no, gas_volume: 5 L", np.nan),
        ("vessel", "polypropylene", "capacity: 500 mL, home_made: no", np.nan),
        ("vessel", "borosilicate glass 3.3", "capacity: 500 mL, home_made: no, wall: 1 mm", np.nan),
    ],
)
def test_glass_whose_maker_says_no_more(kind: str, material: str, more: str, holds: float) -> None:
    """A quarter of the bar that flasks mostly bear from outside (common practice), half a bar of
    narrow bottles: 7 MPa (3 mm / 30 mm)^2 / 1.2 = 0.6 bar. A base that may be flat holds less: a
    third of 30 MPa (2 mm / 42.5 mm)^2 / 1.2. A wall or base that is stated decides itself."""
    engine = shared_engine()
    scenario = engine.loads(GLASS.format(kind=kind, material=material, more=more))
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    setup = Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])
    found = rating(setup, setup.places[0])
    assert found.value[0] == pytest.approx(holds, rel=1e-6, nan_ok=True)


def test_a_stated_base_decides_whatever_its_trade_size() -> None:
    more = "size: 250 mL conical flask, flat_end_thickness: 0.8 mm, home_made: no"
    text = GLASS.format(kind="vessel", material="borosilicate glass 3.3", more=more)
    engine = shared_engine()
    resolved = resolve(engine.loads(text), engine.reference, engine._item_kinds)
    setup = Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])
    assert not rating(setup, setup.places[0]).value[0] >= 0.05e5
