"""The examples in docstrings run, outside `review.physics` too."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

PACKAGES = [importlib.import_module(name) for name in ("review", "review.plugins")]
MODULES = {
    info.name
    for package in PACKAGES
    for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
}


def test_examples_run() -> None:
    attempted, failed = 0, []
    for name in sorted(MODULES):
        outcome = doctest.testmod(importlib.import_module(name))
        attempted += outcome.attempted
        failed += [name] * outcome.failed
    assert not failed
    assert attempted > 50
