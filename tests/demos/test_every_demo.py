"""The demos together: enough of them, every verdict among them, and each worked by hand."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import get_args

from review.interface.result import Verdict

NAMES = sorted(
    f.name.removesuffix(".yaml")
    for f in files("review.scenarios").iterdir()
    if f.name.endswith(".yaml")
)


def test_every_verdict_occurs(demo) -> None:
    assert len(NAMES) >= 8
    assert {demo(name).verdict for name in NAMES} == set(get_args(Verdict))


def test_every_demo_is_worked_by_hand() -> None:
    worked = {p.stem.removeprefix("test_") for p in Path(__file__).parent.glob("test_*.py")}
    assert set(NAMES) <= worked


def test_no_check_fails_on_a_demo(demo) -> None:
    assert [demo(name).review.failures for name in NAMES if demo(name).review.failures] == []
