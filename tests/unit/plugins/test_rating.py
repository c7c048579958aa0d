"""What a joint is said to hold, against what such a joint can hold."""

from __future__ import annotations

import numpy as np
import pytest
from review.plugins.shared.rating import rating

from review.engine.reviewing import Engine
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup

BENCH = """
title: a joint
train:
  - {{id: tube, kind: line, inner_diameter: 6 mm, wall: 1 mm, length: 1 m, rating: 9 bar gauge,
     joint: clipped ground joint, joint_rating: {claimed}}}
  - {{id: out, kind: outlet, to: outdoors}}
"""


@pytest.mark.parametrize(
    ("claimed", "holds"),
    [("0.2 bar gauge", 0.2e5), ("0.49 bar gauge", 0.49e5), ("0.6 bar gauge", np.nan)],
)
def test_a_joint_holds_no_more_than_five_times_its_table(claimed: str, holds: float) -> None:
    """The table has 0.1 bar for a clipped ground joint, so that 0.5 bar is the most believed."""
    engine = Engine()
    scenario = engine.loads(BENCH.format(claimed=claimed))
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    setup = Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])
    found = rating(setup, setup.places[0])
    assert found.value[0] == pytest.approx(holds, rel=1e-6, nan_ok=True)
