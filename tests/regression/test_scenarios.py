"""Verdict and grades of every demo as they were when last regenerated; see README.md here."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

import pytest

from review import Engine, loads

HERE = Path(__file__).parent
SCENARIOS = sorted(
    f.name.removesuffix(".yaml")
    for f in files("review.scenarios").iterdir()
    if f.name.endswith(".yaml")
)


def snapshot(engine: Engine, name: str) -> str:
    text = (files("review.scenarios") / f"{name}.yaml").read_text(encoding="utf-8")
    review = engine.review(loads(text, name))
    lines = sorted(
        " | ".join((f.criterion, f.at or "-", f.of or "-", f.case, f.grade))
        for f in review.findings
    )
    return "\n".join([f"verdict: {review.verdict}", *lines, ""])


@pytest.mark.parametrize("name", SCENARIOS)
def test_scenario_is_judged_as_before(engine: Engine, name: str) -> None:
    kept = HERE / f"{name}.txt"
    found = snapshot(engine, name)
    if os.environ.get("REGENERATE"):
        kept.write_text(found, encoding="utf-8")
    assert kept.read_text(encoding="utf-8").splitlines() == found.splitlines()


def test_no_snapshot_outlives_its_scenario() -> None:
    assert {f.stem for f in HERE.glob("*.txt")} == set(SCENARIOS)
