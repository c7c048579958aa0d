"""The working of every measure kind, worked out again from nothing but the printed page.

Of all small scenarios here and all demos each kind is explained in the one where it is worst and in
the one where it is least bad, each time at its worst trial.
"""

from __future__ import annotations

import io
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from review import Engine, Explanation, Measure, Quantity, Review, load
from review.interface.plugin import worst_first
from review.render.explain import WorkingStep, render_explain, working_steps
from tests.support import shared_engine

HERE = Path(__file__).parent
FILES = {
    path.stem: path
    for folder in (HERE / "scenarios", HERE.parents[1] / "scenarios")
    for path in sorted(folder.glob("*.yaml"))
}
#: Printed numbers must give the printed result back this closely.
AGREES = 1e-3


def kinds() -> list[str]:
    return sorted(shared_engine().kinds)


def same(a: float, b: float) -> bool:
    return a == b or math.isclose(a, b, rel_tol=AGREES) or (math.isnan(a) and math.isnan(b))


def worked_out(step: WorkingStep) -> float:
    """The formula on the printed numbers."""
    functions: dict[str, Any] = {
        "sqrt": np.sqrt, "exp": np.exp, "log": np.log, "atan": np.arctan,
        "sum": sum, "min": min, "max": max, "zip": zip, "pi": math.pi, "inf": math.inf,
        "where": lambda when, then, otherwise: then if when else otherwise,
    }  # fmt: skip
    values = {name: eval(text, {"nan": math.nan, "inf": math.inf}) for name, text in
              step.printed.items()}  # fmt: skip
    numbers = {
        name: [np.float64(v) for v in value] if isinstance(value, list) else np.float64(value)
        for name, value in values.items()
    }
    with np.errstate(all="ignore"):
        return float(eval(step.formula, {"__builtins__": {}} | functions | numbers))


def leaves(quantity: Quantity) -> list[Quantity]:
    """What was put in: quantities that no method computed."""
    found: dict[int, Quantity] = {}
    waiting = [quantity]
    seen: set[int] = set()
    while waiting:
        current = waiting.pop()
        if id(current) in seen:
            continue
        seen.add(id(current))
        if current.origin is None:
            found[id(current)] = current
            continue
        for argument in current.origin.arguments.values():
            waiting += [argument] if isinstance(argument, Quantity) else list(argument)
    return list(found.values())


@pytest.fixture(scope="module", params=kinds())
def kind(request: pytest.FixtureRequest) -> str:
    """All that is asked of a kind is asked in turn, so that one worker explains it once."""
    return str(request.param)


@pytest.fixture(scope="module")
def scenario() -> Any:
    return cache(lambda name: load(FILES[name]))


@pytest.fixture(scope="module")
def review(engine: Engine, scenario: Any) -> Any:
    return cache(lambda name: engine.review(scenario(name)))


@pytest.fixture(scope="module")
def explained(engine: Engine, scenario: Any, review: Any) -> Any:
    """Explanations of a kind, each with the value of the batch review."""

    def find(kind: str) -> list[tuple[str, Explanation, float]]:
        worst: dict[str, float] = {}
        for name in FILES:
            found = [m.value for m in review(name).measures if m.kind == kind]
            hazard = worst_first(engine.kinds[kind], np.array(found))
            if np.isfinite(hazard).any():
                worst[name] = float(np.max(hazard[np.isfinite(hazard)]))
        ranked = sorted(worst, key=lambda name: (worst[name], name))
        out = []
        for name in dict.fromkeys([*ranked[-1:], *ranked[:1]]):
            explanation = engine.explain(scenario(name), kind)
            measures = [m for m in review(name).measures if m.kind == kind]
            out.append((name, explanation, in_batch(review(name), measures, explanation)))
        return out

    return cache(find)


def in_batch(review: Review, measures: list[Measure], shown: Explanation) -> float:
    (measure,) = [m for m in measures if (m.at, m.of) == (shown.at, shown.of)]
    (column,) = [n for n, run in enumerate(review.trials.runs) if run.title == shown.trial]
    return float(measure.value[shown.index, column])


def test_a_kind_is_explained_somewhere(explained: Any, kind: str) -> None:
    assert explained(kind)


def test_each_step_follows_from_its_printed_numbers(explained: Any, kind: str) -> None:
    for name, shown, _ in explained(kind):
        for step in working_steps(shown.quantity, shown.index):
            again = worked_out(step)
            place = f"{name}: {shown.at}, {shown.trial}, {shown.step}: {step.method.id}"
            assert same(again, step.result), f"{place}: {again:g} from the page, {step.result:g}"
            assert same(again, float(step.printed_result)), place


def test_the_last_step_is_the_measure_of_the_batch(explained: Any, kind: str) -> None:
    for name, shown, value in explained(kind):
        place = f"{name}: {shown.at}, {shown.trial}, {shown.step}"
        steps = working_steps(shown.quantity, shown.index)
        last = steps[-1].result if steps else float(np.ravel(shown.quantity.value)[shown.index])
        assert same(last, value), f"{place}: {last:g} explained, {value:g} in the batch"


def test_what_goes_in_has_a_name_and_a_source(explained: Any, kind: str) -> None:
    for name, shown, _ in explained(kind):
        for leaf in leaves(shown.quantity):
            assert leaf.name.strip(), f"{name}: a nameless {leaf.value} from {leaf.source!r}"
            assert leaf.source.strip(), f"{name}: {leaf.name} has no source"


def test_the_page_fits_80_columns(explained: Any, kind: str) -> None:
    for _, shown, _ in explained(kind):
        text = io.StringIO()
        render_explain(shown, Console(file=text, width=80))
        lines = text.getvalue().splitlines()
        assert len(lines) > 5
        assert [line for line in lines if len(line) > 80] == []
