"""Where nothing worse happens than that a stopper or hose comes off; what freezes, what condenses.

Verdicts by what the gas and the liquid are, written from `slides_off`'s own promise: harmless gas
at hand warmth, and no more than water behind it.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from review.plugins.pressure_buildup.cold import _airy
from review.plugins.pressure_buildup.frozen import _depression
from review.plugins.shared.relief import slides_off

from review import Reference

REFERENCE = Reference()
ROWS = {"nitrogen": 0, "oxygen": 1, "hydrogen": 2}
SETUP: Any = SimpleNamespace(reference=REFERENCE, rows=ROWS, trials=1)


def comes_off(joint: str = "rubber stopper", **what: Any) -> bool:
    """Whether the stopper of a glass vessel with nitrogen slides off, but for what is changed."""
    gas = {"nitrogen": 1.0, **what.get("gas", {})}
    shares = np.array([[gas.get(name, 0.0)] for name in ROWS])
    nitrogen = np.array([[1.0], [0.0], [0.0]])
    place: Any = SimpleNamespace(
        model=SimpleNamespace(joint=joint),
        material=REFERENCE.material(what.get("material", "borosilicate glass 3.3")),
        kind=SimpleNamespace(id=what.get("kind", "vessel")),
        liquid=what.get("liquid", {}),
        composition=lambda point: shares if point == what.get("point", point) else nitrogen,
        hottest=SimpleNamespace(value=np.array([what.get("hot", 293.15)])),
    )  # fmt: skip
    (found,) = slides_off(SETUP, place)
    return bool(found)


SOFT = {"material": "silicone rubber", "kind": "line"}


@pytest.mark.parametrize(
    ("joint", "what"),
    [
        ("rubber stopper", {}),
        ("clipped hose", SOFT),
        ("rubber stopper", {"gas": {"nitrogen": 0.79, "oxygen": 0.21}}),
        ("rubber stopper", {"liquid": {"water": 1.0}}),
        ("rubber stopper", {"liquid": {"water": 0.998, "calcium hydroxide": 0.002}}),
        ("rubber stopper", {"hot": 333.0}),
    ],
)
def test_it_only_comes_off(joint: str, what: dict[str, Any]) -> None:
    assert comes_off(joint, **what)


@pytest.mark.parametrize(
    ("joint", "what"),
    [
        ("screw-thread connector", {}),  # it holds, and the glass does not
        ("clipped hose", {}),  # a nozzle of glass does not slide off itself
        ("clipped hose", {"material": "silicone rubber"}),  # a bag is no hose
        ("rubber stopper", {"gas": {"hydrogen": 0.01}}),
        *(("rubber stopper", {"gas": {"hydrogen": 0.01}, "point": p})
          for p in ("old", "inlet", "outlet")),
        ("rubber stopper", {"gas": {"nitrogen": 0.7, "oxygen": 0.3}}),
        ("rubber stopper", {"liquid": {"water": 0.5, "sulfuric acid": 0.5}}),
        ("rubber stopper", {"liquid": {"ethanol": 1.0}}),
        ("rubber stopper", {"hot": 340.0}),
        ("rubber stopper", {"hot": np.nan}),
    ],
)  # fmt: skip
def test_it_is_judged_as_a_part_that_bursts(joint: str, what: dict[str, Any]) -> None:
    assert not comes_off(joint, **what)


def test_oxygen_condenses_with_nitrogen_only_where_both_come() -> None:
    setup: Any = SimpleNamespace(rows={"oxygen": 1, "nitrogen": 2})
    share = np.array([[0.0, 0.5, 0.5], [0.2, 0.5, 0.0], [0.8, 0.0, 0.5]])
    np.testing.assert_array_equal(_airy(setup, share), [[0, 0, 0], [1, 0, 0], [1, 0, 0]])


def test_only_a_solution_in_water_is_said_to_freeze_lower() -> None:
    """Table salt, 58.44 g/mol, 10 %: 0.1 / 0.05844 mol over 0.9 kg of water, 1.86 K per mol/kg;
    the ions lower it more. Cyclohexane's own point counts whatever is dissolved in it."""
    brine: Any = SimpleNamespace(liquid={"water": 0.9, "sodium chloride": 0.1})
    other: Any = SimpleNamespace(liquid={"cyclohexane": 0.9, "toluene": 0.1})
    assert _depression(SETUP, brine, "water") == pytest.approx(1.86 * 0.1 / 0.05844 / 0.9, rel=1e-3)
    assert _depression(SETUP, other, "cyclohexane") == 0.0
