"""Every method, kind and check says what it is, where it comes from and where it holds."""

from __future__ import annotations

import ast
import dis
import importlib
import pkgutil
from collections.abc import Callable, Iterator
from importlib.metadata import entry_points
from typing import Any

import pytest

from review import Check, Engine, Kind, Method
from review.interface.plugin import PROJECT

#: What several checks compute with.
SHARED = "review.plugins.shared"
#: What a printed formula may use besides its inputs.
FUNCTIONS = {"sqrt", "exp", "log", "atan", "sum", "min", "max", "where", "zip", "pi", "inf"}


def methods() -> Iterator[Method]:
    """Every method that the modules of a registered check and of what checks share hold, once."""
    seen: dict[int, Method] = {}
    for top in (SHARED, *(point.module for point in entry_points(group=PROJECT))):
        package = importlib.import_module(top)
        inside = pkgutil.walk_packages(getattr(package, "__path__", []), f"{top}.")
        for name in (top, *(m.name for m in inside)):
            for value in vars(importlib.import_module(name)).values():
                if isinstance(value, Method):
                    seen[id(value)] = value
    yield from seen.values()


METHODS = sorted(methods(), key=lambda m: m.id)


def names_in(formula: str) -> set[str]:
    """Free names of a formula: without functions and what a comprehension binds."""
    tree = ast.parse(formula, mode="eval")
    nodes = [n for n in ast.walk(tree) if isinstance(n, ast.Name)]
    bound = {n.id for n in nodes if isinstance(n.ctx, ast.Store)}
    return {n.id for n in nodes if isinstance(n.ctx, ast.Load)} - bound - FUNCTIONS


def used_by(function: Callable[..., Any] | None) -> set[str]:
    """Arguments that a function really reads."""
    if function is None:
        return set()
    loads = (i for i in dis.get_instructions(function) if i.opname.startswith("LOAD_FAST"))
    # From Python 3.13 on one instruction may read two.
    return {
        name for i in loads for name in ((i.argval,) if isinstance(i.argval, str) else i.argval)
    }


def blank(texts: tuple[str, ...] | list[str]) -> list[int]:
    return [n for n, text in enumerate(texts) if not text.strip()]


def test_names_in_a_formula() -> None:
    # By hand: zip and sum are functions, a and t are bound, what is left is given.
    assert names_in("sum([a / t for a, t in zip(A, Tc)]) * k") == {"A", "Tc", "k"}


def test_methods_are_found_and_have_one_id_each() -> None:
    ids = [m.id for m in METHODS]
    assert "pressure.wall_rating" in ids
    assert sorted({i for i in ids if ids.count(i) > 1}) == []


@pytest.mark.parametrize("method", METHODS, ids=lambda m: m.id)
def test_a_method_is_a_full_data_sheet(method: Method) -> None:
    assert blank([method.title, method.result, method.source, method.validity]) == []
    for given in method.inputs:
        assert blank([given.name, given.symbol, given.unit, given.meaning]) == [], given.name


@pytest.mark.parametrize("method", METHODS, ids=lambda m: m.id)
def test_a_formula_speaks_of_its_inputs_and_of_nothing_else(method: Method) -> None:
    declared = {given.name for given in method.inputs}
    in_formula = names_in(method.formula)
    assert in_formula <= declared
    # An input may serve only to tell where the formula holds.
    assert declared - in_formula <= used_by(method.valid)


def test_every_kind_is_a_full_data_sheet(engine: Engine) -> None:
    def gaps(kind: Kind) -> list[int]:
        return blank([kind.title, kind.method, kind.source, kind.validity, kind.unit])

    assert sorted(k.id for k in engine.kinds.values() if gaps(k)) == []


def test_every_check_says_what_it_covers_and_what_not(engine: Engine) -> None:
    def gaps(check: Check) -> bool:
        lists = (check.covers, check.not_covered, check.sources)
        return any(not part or blank(part) for part in lists)

    assert not engine.failures
    assert sorted(c.id for c in engine.checks if gaps(c)) == []
