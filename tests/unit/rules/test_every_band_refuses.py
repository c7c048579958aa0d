"""Every criterion with bands can refuse, in every case, at a value that its quantity can take."""

from __future__ import annotations

import numpy as np
import pytest

from review.judge.grading import UNACCEPTABLE, graded
from review.judge.ruleset import Criterion
from tests.support import shared_engine

RULES = shared_engine()
BANDED = [c for c in RULES.ruleset.criteria if c.kind]

#: From far on the mild side of any edge to far on the other; what no bench reaches is left out.
SWEEP = np.concatenate([-np.logspace(5, -9, 400), [0.0], np.logspace(-9, 5, 400)])


@pytest.mark.parametrize("criterion", BANDED, ids=lambda c: c.id)
def test_a_sweep_finds_a_value_that_is_refused_in_every_case(criterion: Criterion) -> None:
    kind = RULES.kinds[criterion.kind]
    values = np.arange(len(kind.labels), dtype=float) if kind.labels else SWEEP
    status = np.zeros(values.shape, dtype=np.uint8)
    for case in criterion.cases:
        codes = graded(kind, criterion.bands[case], criterion.floor, values, status)
        refused = values[codes == UNACCEPTABLE]
        assert refused.size, case
        assert refused.size < values.size, case


def test_no_edge_is_a_number_that_stands_for_none() -> None:
    edges = [
        edge
        for criterion in BANDED
        for bands in criterion.bands.values()
        for edge in (bands.acceptable, bands.tolerable)
        if edge is not None
    ]
    assert len(edges) > 40
    assert max(abs(edge) for edge in edges) < 1e5
