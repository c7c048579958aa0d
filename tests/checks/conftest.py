"""Shared by the tests of checks: one engine, and scenarios by name."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from review import Scenario, loads

HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def text_of() -> Callable[[str], str]:
    """The text of one of the small scenarios here."""

    @cache
    def read(name: str) -> str:
        return (HERE / "scenarios" / f"{name}.yaml").read_text(encoding="utf-8")

    return read


@pytest.fixture(scope="session")
def scenario_of(text_of: Callable[[str], str]) -> Callable[[str], Scenario]:
    """One of the small scenarios here, loaded."""
    return cache(lambda name: loads(text_of(name), name))
