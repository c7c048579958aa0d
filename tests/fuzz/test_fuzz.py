"""Damaged files are refused in words or reviewed; some of them, always the same ones."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from tests.fuzz.__main__ import MEGABYTES, _wrong
from tests.fuzz.mutants import WRITERS
from tests.support import ROOT

START, CASES = 1, 120


def test_nothing_damaged_does_what_it_must_not() -> None:
    """In a process of its own, for what it keeps in memory and which warnings were given before."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "--start", str(START), "--cases", str(CASES)],
        cwd=ROOT, capture_output=True, text=True, timeout=500, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["faults"] == []
    assert told["cases"] == CASES
    assert set(WRITERS) <= set(told)
    assert told["to_the_end"] >= CASES / 10
    assert told["megabytes"] < MEGABYTES


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"verdict": ""}, "verdict"),
        ({"findings": []}, "verdict"),
        ({"findings": [{"grade": "acceptable", "value": None}]}, "acceptable without a value"),
        ({"findings": [{"criterion": "check.failed"}]}, "a built-in check failed"),
    ],
)
def test_what_a_review_must_not_say_is_noticed(change: dict[str, object], said: str) -> None:
    sound = {"criterion": "a.b", "grade": "acceptable", "value": 1.0, "at": "x", "title": "A"}
    told = {"verdict": "may proceed", "findings": [{}], **change}
    told["findings"] = [{**sound, "reason": "", **found} for found in told["findings"]]
    assert [fault for fault in _wrong(told, "set-up") if fault.startswith(said)]
    assert not list(_wrong({"verdict": "may proceed", "findings": [sound]}, "set-up"))
