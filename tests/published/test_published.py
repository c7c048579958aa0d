"""Physics against values from outside the project: one row per value in the YAML files here.

A row names the function, its inputs in SI units, what it must give and where that figure stands.
`how` is honest about the figure: `published` (read in the named text), `reference library`
(computed by the named library when the test runs), `closed form` (worked by hand from a law),
`common practice` or `from memory`. `allowed_error` is the side that errs towards the hazard: there
two tolerances are let pass, on the other one; `both` lets one pass on either. Each row must be able
to fail: its result, moved by three tolerances to a wrong side, must not pass.
A function ``adapters.NAME`` stands beside this file and asks a whole set-up.
"""

from __future__ import annotations

import importlib
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

HERE = Path(__file__).parent
HOW = {"published", "reference library", "closed form", "common practice", "from memory"}
REQUIRED = {"id", "function", "inputs", "source", "how", "allowed_error"}
OPTIONAL = {
    "expected",
    "index",
    "tolerance_rel",
    "tolerance_abs",
    "reference",
    "reference_inputs",
    "reference_factor",
    "note",
}


def load_rows() -> list[dict[str, Any]]:
    rows = []
    for path in sorted(HERE.glob("*.yaml")):
        rows += yaml.safe_load(path.read_text(encoding="utf-8"))
    return rows


ROWS = load_rows()


def resolve(dotted: str) -> Any:
    module, _, name = dotted.rpartition(".")
    return getattr(importlib.import_module(module), name)


def expected_value(row: dict[str, Any]) -> float:
    if row["how"] == "reference library":
        value = resolve(row["reference"])(**row["reference_inputs"])
        return float(value) * row.get("reference_factor", 1.0)
    return float(row["expected"])


def tolerance(row: dict[str, Any], expected: float) -> float:
    if "tolerance_abs" in row:
        return float(row["tolerance_abs"])
    return float(row["tolerance_rel"]) * abs(expected)


def passes(result: float, expected: float, width: float, allowed: str) -> bool:
    below = 2 * width if allowed == "low" else width
    above = 2 * width if allowed == "high" else width
    return expected - below <= result <= expected + above


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row(row: dict[str, Any]) -> None:
    result = resolve(row["function"])(**row["inputs"])
    result = float(result[row["index"]] if "index" in row else result)
    expected = expected_value(row)
    width = tolerance(row, expected)
    allowed = row["allowed_error"]
    assert passes(result, expected, width, allowed), f"{result!r} is not {expected!r} ± {width!r}"
    if allowed != "low":
        assert not passes(result - 3 * width, expected, width, allowed), "cannot fail when low"
    if allowed != "high":
        assert not passes(result + 3 * width, expected, width, allowed), "cannot fail when high"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row_is_complete(row: dict[str, Any]) -> None:
    keys = set(row)
    assert REQUIRED <= keys <= REQUIRED | OPTIONAL
    assert row["how"] in HOW
    assert row["allowed_error"] in {"high", "low", "both"}
    assert str(row["source"]).strip()
    assert ("tolerance_rel" in row) != ("tolerance_abs" in row)
    assert ("reference" in row) == (row["how"] == "reference library")
    assert ("expected" in row) != ("reference" in row)
    assert tolerance(row, expected_value(row)) > 0


def test_the_set_is_broad_and_holds_no_row_twice() -> None:
    ids = [row["id"] for row in ROWS]
    questions = [
        (row["function"], row.get("index"), repr(sorted(row["inputs"].items()))) for row in ROWS
    ]
    assert len(ROWS) >= 40
    assert len({row["function"] for row in ROWS}) >= 20
    assert len(set(ids)) == len(ids)
    assert len(set(questions)) == len(questions)


def test_nan_never_passes() -> None:
    assert not passes(np.nan, 1.0, 1.0, "both")


def test_every_row_asks_a_function_that_the_engine_or_a_check_calls() -> None:
    files = [p for f in ("review", "plugins") for p in (HERE.parents[1] / f).rglob("*.py")]
    code = "\n".join(path.read_text("utf-8") for path in files)
    # Once where it is defined, once more where it is called or handed on; examples do not count.
    code = re.sub(r"^\s*>>> .*$", "", code, flags=re.MULTILINE)
    asked = {row["function"] for row in ROWS if row["function"].startswith("review.physics.")}
    names = {function.rpartition(".")[2] for function in asked}
    assert {name for name in names if len(re.findall(rf"\b{name}\b(?!`)", code)) < 2} == set()
