"""An item is as strong as its weakest part, and as well known as what decides that."""

import numpy as np
import pytest

from plugins.shared.rating import _weakest
from review import Quantity

OK, ESTIMATED, MISSING = 0, 1, 3


@pytest.mark.parametrize(
    ("estimated", "known", "status"),
    [
        (36e5, 0.5e5, OK),  # a ceramic tube in a flange: half of its wall still holds 18 bar
        (1.0e5, 0.5e5, OK),
        (0.9e5, 0.5e5, ESTIMATED),  # off by two it would be the weaker
        (0.1e5, 0.5e5, ESTIMATED),
        (np.nan, 0.5e5, MISSING),
    ],
)
def test_an_estimate_counts_where_it_may_decide(estimated, known, status) -> None:
    found = _weakest([Quantity.of(estimated, ESTIMATED), Quantity.of(known)])
    assert found.status.tolist() == [status]
    if status != MISSING:
        assert found.value.tolist() == [min(estimated, known)]


def test_with_nothing_known_beside_it_an_estimate_stays_one() -> None:
    found = _weakest([Quantity.of([1e5, 3e5], ESTIMATED), Quantity.of(2e5, ESTIMATED)])
    assert found.status.tolist() == [ESTIMATED, ESTIMATED]
