"""The printed working: whoever works it out again from the page gets the printed result."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from review.interface.measure import ESTIMATED, Input, Method, Quantity, recording
from review.interface.plugin import Kind
from review.render.explain import render_explain, working_steps

NAMES = {
    "sqrt": math.sqrt,
    "exp": math.exp,
    "log": math.log,
    "sum": sum,
    "min": min,
    "max": max,
    "pi": math.pi,
}


def method(id: str, formula: str, function: Any, *names: str) -> Method:
    return Method(
        id,
        f"Method {id}",
        f"{id}_result",
        "Pa",
        formula,
        tuple(Input(n, n[0].upper(), "Pa", f"what {n} means") for n in names),
        function,
        f"Handbook of {id}",
        f"range of {id}",
    )


AREA = method(
    "area", "pi * diameter**2 / 4", lambda diameter: math.pi * diameter**2 / 4, "diameter"
)
DIFFERENCE = method(
    "difference", "upper - lower", lambda upper, lower: upper - lower, "upper", "lower"
)
LEAN = method(
    "lean",
    "1 / sum(x / l for x, l in zip(shares, limits))",
    lambda shares, limits: 1 / sum(x / y for x, y in zip(shares, limits, strict=True)),
    "shares",
    "limits",
)


def given(value: Any, name: str = "given", status: int = 0) -> Quantity:
    return Quantity.of(value, status, name=name, unit="Pa", source=f"scenario: {name}")


def worked_out(step: Any) -> float:
    """The formula on the printed numbers."""
    names = NAMES | {"zip": zip} | {k: eval(v, {}) for k, v in step.printed.items()}
    return float(eval(step.formula, {"__builtins__": {}} | names))


def lean() -> Quantity:
    with recording():
        return LEAN(
            shares=[given(x, f"share {x}") for x in (0.80, 0.15, 0.04, 0.01)],
            limits=[given(x, f"limit {x}") for x in (0.053, 0.0322, 0.0237, 0.0186)],
        )


def test_a_list_of_inputs_reads_back() -> None:
    # Natural gas by Le Chatelier's rule, 4.55 %: Coward and Jones, Limits of Flammability of Gases
    # and Vapors, US Bureau of Mines Bulletin 503 (1952), worked example (from memory).
    (step,) = working_steps(lean(), 0)
    assert step.printed["shares"] == "[0.8, 0.15, 0.04, 0.01]"
    assert step.values["shares"] == (0.80, 0.15, 0.04, 0.01)
    assert float(step.printed_result) == pytest.approx(0.0455, rel=1e-3)
    assert worked_out(step) == pytest.approx(float(step.printed_result), rel=1e-3)


@pytest.mark.parametrize("gap", [1.0, 1e-3, 1e-7])
def test_digits_grow_where_a_difference_loses_them(gap: float) -> None:
    with recording():
        found = DIFFERENCE(upper=given(101325.0 + gap), lower=given(101325.0))
    (step,) = working_steps(found, 0)
    assert float(step.printed_result) == pytest.approx(gap, rel=1e-3)
    assert worked_out(step) == pytest.approx(float(step.printed_result), rel=1e-3)


def chain() -> Quantity:
    with recording():
        shared = AREA(diameter=given([0.02, 0.03], "bore"))
        return DIFFERENCE(upper=DIFFERENCE(upper=shared, lower=given(1e-5)), lower=shared)


def test_inputs_come_before_what_uses_them_and_once_each() -> None:
    steps = working_steps(chain(), 0)
    assert [s.method.id for s in steps] == ["area", "difference", "difference"]
    assert [s.number for s in steps] == [1, 2, 3]
    assert [g.source for g in steps[2].given] == ["from (2)", "from (1)"]
    assert steps[0].given[0].source == "scenario: bore"


def test_the_index_picks_the_trial_and_single_values_hold_for_all() -> None:
    steps = working_steps(chain(), 1)
    assert steps[0].values["diameter"] == 0.03
    assert steps[0].result == pytest.approx(math.pi * 0.03**2 / 4)
    assert steps[1].values["lower"] == 1e-5


def test_the_formula_is_shown_with_symbols_and_with_numbers() -> None:
    step = working_steps(chain(), 0)[0]
    assert step.symbolic == "pi * D^2 / 4"
    assert step.substituted == "pi * 0.02^2 / 4"


def test_a_negative_number_goes_in_brackets() -> None:
    with recording():
        found = DIFFERENCE(upper=given(1.0), lower=given(-2.0))
    assert working_steps(found, 0)[0].substituted == "1 - (-2)"


def test_a_missing_number_stays_visibly_missing() -> None:
    with recording():
        found = DIFFERENCE(upper=given(math.nan), lower=given(math.inf))
    (step,) = working_steps(found, 0)
    assert step.printed == {"upper": "nan", "lower": "inf"}
    assert step.status == "missing"


def test_a_long_chain_is_no_problem() -> None:
    with recording():
        found = given(1.0)
        for _ in range(3000):
            found = DIFFERENCE(upper=found, lower=given(0.0))
    assert len(working_steps(found, 0)) == 3000


@dataclass(frozen=True)
class Explained:
    quantity: Quantity
    index: int = 0
    at: str = "tube"
    of: str = "hydrogen"
    trial: str = "the plan"
    step: str = "heat"
    measure_kind: Kind = Kind(
        "demo.gap", "Gap of pressure", "lower", "Pa", "kPa", "difference", "Book", "everywhere"
    )


def page(explained: Explained, width: int = 80) -> str:
    text = io.StringIO()
    render_explain(explained, Console(file=text, width=width))
    return text.getvalue()


def test_the_page_shows_all_there_is_to_a_step() -> None:
    text = " ".join(page(Explained(chain())).split())
    for part in (
        "Gap of pressure: tube, of hydrogen",
        "Run: the plan Step: heat",
        "(1) Method area",
        "area_result = pi * D^2 / 4",
        "D = 0.02 Pa: what diameter means (scenario: bore)",
        "area_result = pi * 0.02^2 / 4",
        "area_result = 0.000314159 Pa",
        "Source: Handbook of area",
        "Holds: range of area",
        "-1e-5 Pa",
        "authority having jurisdiction",
    ):
        assert part in text, part


def test_the_result_is_in_the_unit_of_the_bench() -> None:
    with recording():
        found = DIFFERENCE(upper=given(3000.0, status=ESTIMATED), lower=given(500.0))
    assert "2.5 kPa (status: estimated)" in page(Explained(found))


@pytest.mark.parametrize("width", [30, 80])
def test_the_page_fits(width: int) -> None:
    for line in page(Explained(lean()), width).splitlines():
        assert len(line) <= width


def test_a_figure_that_was_given_names_its_source() -> None:
    text = page(Explained(given(np.array([1200.0]), "tube rating")))
    assert "From: scenario: tube rating. No formula was used." in text
    assert "1.2 kPa" in text
