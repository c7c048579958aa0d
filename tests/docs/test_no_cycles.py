"""No module imports one that imports it, not even for its types, and none imports upwards."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import ROOT

#: The rooms of the house, each above those that it may import.
FLOORS = [
    {"cli"}, {"audit"}, {"explore", "register", "testing"}, {"render"}, {"engine"},
    {"walk", "judge"}, {"interface"}, {"reference"}, {"scenario"},
    {"physics", "cautions", "provenance", "replacing"},
]  # fmt: skip
FLOOR = {room: n for n, rooms in enumerate(FLOORS) for room in rooms}
FILES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in (ROOT / "review").rglob("*.py")
    if "scaffold" not in path.parts and not any(p.is_symlink() for p in path.parents)
}


def imported(text: str, known: set[str]) -> Iterator[str]:
    """What a module imports of the project, inside functions and for its types too."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom) and node.module:
            assert not node.level, "relative imports are not followed"
            names = (f"{node.module}.{alias.name}" for alias in node.names)
            yield from (name if name in known else node.module for name in names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def graph(texts: dict[str, str]) -> dict[str, set[str]]:
    return {
        name: {each for each in imported(text, set(texts)) if each in texts and each != name}
        for name, text in texts.items()
    }


def upwards(edges: dict[str, set[str]]) -> list[str]:
    rooms = {name: name.split(".")[1] for name in edges if "." in name}
    return [
        f"{name} imports {other}"
        for name, others in edges.items()
        for other in others
        if name in rooms and other in rooms and rooms[name] != rooms[other]
        if FLOOR[rooms[other]] <= FLOOR[rooms[name]]
    ]


def cycles(edges: dict[str, set[str]]) -> list[list[str]]:
    """Modules left once all that import nothing of the rest are taken away, and all that nothing
    of the rest imports."""
    left = {name: set(others) for name, others in edges.items()}
    while True:
        used = set().union(*left.values()) if left else set()
        ends = {name for name, others in left.items() if not others or name not in used}
        if not ends:
            return [sorted(left)] if left else []
        left = {name: others - ends for name, others in left.items() if name not in ends}


def test_nothing_is_imported_upwards_or_in_a_circle() -> None:
    edges = graph({name: path.read_text("utf-8") for name, path in FILES.items()})
    assert len(edges) > 200
    assert upwards(edges) == []
    assert cycles(edges) == []


@pytest.mark.parametrize(
    ("other", "found"),
    [
        ("if TYPE_CHECKING:\n    from review.walk.a import A", True),
        ("def f():\n    from review.walk import a", True),
        ("import numpy", False),
    ],
)
def test_a_circle_is_found(other: str, found: bool) -> None:
    texts = {"review.walk.a": "from review.walk.b import B", "review.walk.b": other}
    assert bool(cycles(graph(texts))) is found


def test_an_import_upwards_is_found() -> None:
    texts = {"review.walk.a": "import review.judge.b", "review.judge.b": ""}
    assert upwards(graph(texts)) == ["review.walk.a imports review.judge.b"]


def test_the_floors_are_those_of_the_import_contract() -> None:
    said = (Path(ROOT) / ".importlinter").read_text("utf-8")
    layers = said.split("layers =\n")[1].split("\n\n")[0].splitlines()
    read = [{room.strip(" ()") for room in line.split("|")} for line in layers]
    assert read == FLOORS
