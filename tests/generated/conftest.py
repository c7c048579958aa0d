"""One engine, and a fixed pool of generated scenarios that is reviewed once for all tests here."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from review import Engine, Review, loads

sys.path.insert(0, str(Path(__file__).parent))

from generator import scenario  # noqa: E402


@pytest.fixture(scope="session")
def reviewed(engine: Engine) -> Callable[[int], Review]:
    """The whole review of the scenario of one start number, upsets included."""
    return cache(lambda start: engine.review(loads(scenario(start))))
