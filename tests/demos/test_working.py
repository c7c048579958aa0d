"""The printed working of both demos: whoever puts the printed numbers into the printed formulas
gets the printed results."""

from __future__ import annotations

import math
from importlib.resources import files
from typing import Any

import pytest

from review import Engine, load
from review.render.explain import working_steps

NAMES = {
    "sqrt": math.sqrt, "exp": math.exp, "log": math.log, "sum": sum, "min": min, "max": max,
    "pi": math.pi, "inf": math.inf, "zip": zip, "where": lambda holds, a, b: a if holds else b,
}  # fmt: skip
KINDS = {
    "flammability.margin": "tube",
    "flammability.allowance_used": "tube",
    "ignition.surface_to_autoignition": "tube",
    "flammability.outlet_in_air": "outlet",
    "flammability.air_to_lower_limit": "hood",
    "pressure.working_over_rating": "tube",
    "pressure.plugged_seconds": "tube",
    "train.contact_time": "tube",
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", ["copper_oxide_forming_gas", "copper_oxide_hydrogen_no_purge"])
def test_formulas_give_the_printed_results(engine: Engine, name: str, kind: str) -> None:
    path = files("review.scenarios") / f"{name}.yaml"
    explained = engine.explain(load(str(path)), kind, KINDS[kind])
    steps = working_steps(explained.quantity, explained.index)
    assert steps
    for step in steps:
        numbers: dict[str, Any] = {k: eval(v, dict(NAMES)) for k, v in step.printed.items()}
        again = eval(step.formula, {"__builtins__": {}} | NAMES | numbers)
        assert again == pytest.approx(step.result, rel=1e-3), step.method.id
