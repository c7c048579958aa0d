"""A few hundred of the lean mixtures; the whole 4,000 are run by hand as `lean_mixtures` says."""

from __future__ import annotations

import pytest

from tests.judges.lean_mixtures import judged


def test_nothing_that_burns_is_called_outside_and_little_that_does_not_inside() -> None:
    pytest.importorskip("cantera")
    found = judged(300, 20)
    assert found.burn > 50
    assert found.missed == []
    assert found.cold > 20
    assert found.inside <= 0.05 * found.cold
