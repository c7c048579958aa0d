"""One engine for all tests, and in some folders reviews that are not repeated."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from review import Engine
from tests.support import remembering, shared_engine

# The commands that tests start need not compile the same modules each time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# As the command sets it.
gc.set_threshold(20_000, 20, 20)

HERE = Path(__file__).parent
#: Folders whose tests are about what becomes of a review, not about reviewing.
REMEMBER = ("demos", "docs", "pages", "regression", "unit/cli", "unit/register", "unit/render")


@pytest.fixture(scope="session")
def engine() -> Engine:
    return shared_engine()


#: Folders whose tests call what the engine runs without numpy's warnings.
QUIET = ("docs", "unit/engine", "unit/plugins")


@pytest.fixture(autouse=True)
def as_the_engine_runs_it(request: pytest.FixtureRequest) -> Iterator[None]:
    quiet = any(request.path.is_relative_to(HERE / folder) for folder in QUIET)
    with np.errstate(**({"all": "ignore"} if quiet else {})):
        yield


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Around all of a test, so that fixtures of a module count too."""
    if not item.path.is_relative_to(HERE) or not item.path.relative_to(
        HERE
    ).as_posix().startswith(REMEMBER):
        return (yield)
    with remembering():
        return (yield)
