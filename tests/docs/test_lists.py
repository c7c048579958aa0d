"""Lists in the documents equal what the code has."""

from __future__ import annotations

import ast
import inspect
import json
import os
import re
import textwrap
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import review
from review import Engine, Reference
from review.audit.columns import tables
from review.engine.facts import FACTS
from review.interface import hookspecs
from review.interface.items import ItemKind
from review.interface.plugin import Check, Kind, Overlay
from review.interface.setup import Computation
from review.reference.files import read_material, read_substance
from review.reference.finding import built_in_folder

ROOT = Path(__file__).parents[2]


def _code(text: str) -> set[str]:
    """Words in code type; fenced blocks are no words."""
    return set(re.findall(r"`([^`]+)`", re.sub(r"^```.*?^```$", "", text, flags=re.M | re.S)))


def test_checks(readme: Any) -> None:
    registered = {check.id for check in Engine().checks}
    listed = {row[0].strip("`") for row in readme.rows("check")}
    assert listed == registered, "README.md, table of checks"


def test_json_keys(readme: Any, run: Callable[..., Any]) -> None:
    """Every key of the JSON form, and the keys inside its lists."""
    written = json.loads(run(readme, "benchgate check small.yaml --format json").output)
    rows = {row[0].strip("`"): _code(row[1]) for row in tables()["key"].rows}
    assert rows.keys() == written.keys()
    for key in ("scenario", "findings", "upsets", "measures", "not_covered", "not_applicable"):
        value = written[key][0] if isinstance(written[key], list) else written[key]
        assert rows[key] == value.keys(), key


def test_grades_and_statuses(readme: Any) -> None:
    from review.interface.measure import STATUS_NAMES
    from review.interface.result import CASES, GRADES

    assert all(f"*{grade}*" in readme.text for grade in GRADES)
    told = {word for row in tables()["finding"].rows for word in _code(row[2])}
    assert {*STATUS_NAMES, *CASES} <= told


def test_the_count_of_unknown_reference_values(readme: Any) -> None:
    reference, folder = Reference(), built_in_folder()
    substances = [
        read_substance(folder / "substances" / f"{stem}.yaml")
        for stem in reference.names("substances")
    ]
    materials = [
        read_material(folder / "materials" / f"{stem}.yaml")
        for stem in reference.names("materials")
    ]
    of_substances: Counter[bool] = Counter()
    for each in substances:
        of_substances.update(d.state == "unknown" for d in each.properties.values())
        of_substances.update(c.state == "unknown" for c in each.curves.values())
        flags = (each.combustible, each.oxidiser, each.inert)
        flags += (each.burns_without_oxygen, each.pyrophoric)
        of_substances.update(flag is None for flag in flags)
        of_substances[each.skin_corrosion == "unknown"] += 1
    of_materials = Counter(d.state == "unknown" for m in materials for d in m.properties.values())
    pairs = Counter(m.rating(s) is None for m in materials for s in substances)
    sentence = (
        f"Of {of_substances.total()} figures on {len(substances)} substances,"
        f" {of_substances[True]} are unknown;"
        f" of {of_materials.total()} on {len(materials)} materials, {of_materials[True]};"
        f" of {pairs.total()} pairs of material and substance, {pairs[True]} have no rating."
    )
    if os.environ.get("REGENERATE"):
        page = ROOT / "README.md"
        told = re.compile(r"Of \d+ figures on.*?have no rating\.", re.DOTALL)
        page.write_text(told.sub(textwrap.fill(sentence, 99), page.read_text(encoding="utf-8")),
                        encoding="utf-8")  # fmt: skip
        return
    assert sentence in " ".join(readme.text.split()), "REGENERATE=1 writes it"


def test_hooks_with_their_signatures(developers: Any) -> None:
    hooks = {
        name: function
        for name, function in inspect.getmembers(hookspecs, inspect.isfunction)
        if hasattr(function, "benchgate_spec")
    }
    written = {f"{name}{inspect.signature(f)}".replace("'", "") for name, f in hooks.items()}
    assert {row[0].strip("`") for row in developers.rows("hook")} == written
    assert len(written) <= 8


def test_public_interface(developers: Any) -> None:
    listed = [name for row in developers.rows("for") for name in _code(row[1])]
    assert sorted(listed) == sorted(review.__all__)
    assert all(hasattr(review, name) for name in review.__all__)
    assert len(Path(review.__file__).read_text().splitlines()) < 80


def test_declared_fields(developers: Any) -> None:
    """Every field of what a plugin declares is explained."""
    for row, declared in zip(
        developers.rows("declaration"), (Check, Kind, Computation, Overlay), strict=True
    ):
        assert row[0] == f"`{declared.__name__}`"
        assert _code(row[1]) >= set(declared.__dataclass_fields__), declared


def test_item_kind_methods(developers: Any) -> None:
    methods = {
        name
        for name, _ in inspect.getmembers(ItemKind, inspect.isfunction)
        if not name.startswith("_")
    }
    assert {row[0].strip("`") for row in developers.rows("method")} == methods


def test_facts(developers: Any) -> None:
    listed = {row[0].strip("`"): tuple(row[1:]) for row in developers.rows("fact")}
    assert listed == FACTS


def test_module_map(developers: Any) -> None:
    """Every module and package of `review/` stands in the map, and nothing else."""
    there = {
        path.stem if path.suffix == ".py" else f"{path.name}/"
        for path in (ROOT / "review").iterdir()
        if (path.suffix == ".py" and not path.name.startswith("_"))
        or (path / "__init__.py").exists()
    }
    rows = developers.rows("folder or module")
    assert {name for row in rows for name in _code(row[0])} == there


def test_no_document_names_a_module_of_the_example_wrongly(developers: Any) -> None:
    """Examples import only what a plugin may: `review`, `review.physics` and libraries."""
    for name, text in developers.files.items():
        if not name.endswith(".py"):
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("review"):
                assert node.module == "review" or node.module.startswith("review.physics"), name
