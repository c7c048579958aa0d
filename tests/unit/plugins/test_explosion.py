"""What an explosion would press, in which items it counts, and when it may detonate."""

from __future__ import annotations

import pytest

from review import loads
from tests.support import shared_engine
from tests.unit.plugins.test_cold_train import TEXT


def measured(text: str, kind: str, at: str) -> float:
    review = shared_engine().review(loads(text, "hydrogen.yaml"), upsets=False)
    (measure,) = [m for m in review.measures if m.kind == kind and m.at == at]
    return float(measure.value[1, 0])


def test_hydrogen_with_the_air_of_its_flask() -> None:
    """10.7 times 1 atm by the bound: 9.8 bar over what holds 0.3 bar, 3.1 kJ in 80 mL."""
    over = measured(TEXT, "explosion.over_rating", "flask")
    assert over == pytest.approx(9.7 * 1.01325 / 0.3, rel=0.03)
    energy = measured(TEXT, "explosion.energy", "flask")
    assert energy == pytest.approx(9.7 * 101325 * 80e-6 / 0.25, rel=0.03)


def test_a_mixture_that_is_refused_has_its_energy_told_and_no_rating() -> None:
    lit = TEXT.replace("none in the room", "{lamp: {kind: flame, in: room}}")
    assert measured(lit, "explosion.over_rating", "flask") == 0.0
    assert measured(lit, "explosion.energy", "flask") > 3e2


def test_a_long_hose_of_hydrogen_may_detonate() -> None:
    """An explosion of 10.7 times becomes a wave of 21 and 54 where it strikes an end."""
    hose = (
        "  - {id: hose, kind: line, material: borosilicate glass 3.3, rating: 1 bar gauge,"
        " joint: none, inner_diameter: 5 mm, length: LENGTH}\n  - {id: mouth"
    )
    long, short = (
        TEXT.replace("  - {id: mouth", hose.replace("LENGTH", each)) for each in ("1 m", "100 mm")
    )
    slow = measured(short, "explosion.over_rating", "hose")
    fast = measured(long, "explosion.over_rating", "hose")
    assert fast + 1.01325 == pytest.approx(5 * (slow + 1.01325), rel=0.01)
