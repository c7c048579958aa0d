"""The examples in the data sheets run, and every public function has one."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil

import pytest

import review.physics

MODULES = [
    importlib.import_module(f"review.physics.{info.name}")
    for info in pkgutil.iter_modules(review.physics.__path__)
    if not info.name.startswith("_")
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_run(module: object) -> None:
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_every_function_has_a_data_sheet(module: object) -> None:
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if name.startswith("_") or function.__module__ != module.__name__:
            continue
        sheet = inspect.getdoc(function) or ""
        assert ">>>" in sheet, f"{name}: no example"
        assert "Source: [1]" in sheet, f"{name}: no source"
        for argument in inspect.signature(function).parameters:
            spoken = argument.replace("reynolds_number", "Re")
            known = spoken in sheet or argument.split("_")[-1].rstrip("s") in sheet
            assert known, f"{name}: {argument} is not described"


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_imports_numpy_alone(module: object) -> None:
    for line in inspect.getsource(module).splitlines():
        if line.startswith(("import ", "from ")):
            package = line.split()[1]
            assert package.split(".")[0] in {"numpy", "__future__", "collections"} or (
                package.startswith("review.physics")
            ), line
