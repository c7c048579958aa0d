"""What the file calls assumed counts as estimated."""

from __future__ import annotations

import pytest

from review.interface.measure import ESTIMATED, OK

BENCH = """
title: a line
train:
  - {id: tube, kind: line, inner_diameter: 6 mm, length: 1 m}
  - {id: outlet, kind: outlet, to: hood}
"""


@pytest.mark.parametrize(
    ("assumed", "status"),
    [("", OK), ("assumed: [train.tube.length]\n", ESTIMATED), ("assumed: [train]\n", ESTIMATED),
     ("assumed: [train.tube.inner_diameter]\n", OK)],
)  # fmt: skip
def test_an_assumed_value_counts_as_estimated(walked, assumed, status):
    length = walked(BENCH + assumed).number("train.tube.length")
    assert set(length.status) == {status}
