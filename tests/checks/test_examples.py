"""A good, a bad and an unknown example for each criterion.

`examples/` holds one file per criterion: a small scenario (`in`), a place (`at`, `of`, `case`) and
for each grade the texts that are changed in the scenario (`change`: old, new), text put after it
(`add`) and the value that decides, worked by hand in the comment beside it. What stands outside
the grades holds for all of them; a grade with a scenario of its own takes no other changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from review import Engine, loads
from review.interface.result import GRADES, Finding
from review.judge.ruleset import Criterion

HERE = Path(__file__).parent
#: Hand-worked values agree this closely; some are rounded to three digits.
CLOSE = 2e-3
#: An edge beyond this bounds nothing.
NO_EDGE = 1e9


@dataclass(frozen=True)
class Example:
    """One changed scenario and the grade it must get."""

    criterion: str
    name: str
    scenario: str
    change: tuple[tuple[str, str], ...]
    add: str
    at: str
    of: str
    case: str
    value: float | None

    @property
    def grade(self) -> str:
        return self.name.partition(",")[0]

    def text(self, base: str) -> str:
        """The scenario's text; each old text must stand in it exactly once."""
        base += self.add
        for old, new in self.change:
            assert base.count(old) == 1, f"{old!r} stands {base.count(old)} times"
            base = base.replace(old, new)
        return base


def tables() -> dict[str, dict[str, Any]]:
    files = sorted((HERE / "examples").glob("*.yaml"))
    return {file.stem: yaml.safe_load(file.read_text(encoding="utf-8")) for file in files}


TABLES = tables()


def examples() -> list[Example]:
    out = []
    for criterion, table in TABLES.items():
        for name, given in table.items():
            if name.partition(",")[0] not in GRADES:
                continue
            common = [] if "in" in given else table.get("change", [])
            changes = [*common, *given["change"]]
            out.append(
                Example(
                    criterion,
                    name,
                    given.get("in", table["in"]),
                    tuple((old, new) for old, new in changes),
                    given.get("add", table.get("add", "")),
                    given.get("at", table.get("at")),
                    given.get("of", table.get("of", "")),
                    given.get("case", table.get("case", "plan")),
                    given.get("value"),
                )
            )
    return out


EXAMPLES = examples()


@pytest.fixture(scope="session")
def finding_of(engine: Engine, text_of: Callable[[str], str]) -> Callable[[Example], Finding]:
    def find(example: Example) -> Finding:
        scenario = loads(example.text(text_of(example.scenario)), example.name)
        review = engine.review(scenario, upsets=example.case == "upset")
        wanted = (example.criterion, example.at, example.of, example.case)
        found = [f for f in review.findings if (f.criterion, f.at, f.of, f.case) == wanted]
        places = [(f.at, f.of, f.case) for f in review.findings if f.criterion == wanted[0]]
        assert len(found) == 1, f"{wanted[1:]} is not one of {places}"
        return found[0]

    return find


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: f"{e.criterion}: {e.name}")
def test_the_example_gets_its_grade(finding_of: Any, example: Example) -> None:
    finding = finding_of(example)
    assert finding.grade == example.grade, f"{finding.value:g} {finding.status} {finding.reason}"
    if example.value is not None:
        assert finding.value == example.value or math.isclose(
            finding.value, example.value, rel_tol=CLOSE
        ), f"{finding.value:g}, by hand {example.value:g}"
    if example.grade == "undetermined":
        assert finding.status in ("missing", "outside range")


def worst_grade(criterion: Criterion) -> str:
    """The worst grade a criterion can give to a number."""
    if criterion.require is not None:
        return criterion.otherwise
    bounded = any(
        (b.acceptable if b.tolerable is None else abs(b.tolerable)) < NO_EDGE
        for b in criterion.bands.values()
    )
    return "unacceptable" if bounded else "tolerable"


def test_every_criterion_has_a_good_a_bad_and_an_unknown_example(engine: Engine) -> None:
    missing = []
    for criterion in engine.ruleset.criteria:
        table = TABLES.get(criterion.id, {})
        grades = {name.partition(",")[0] for name in table}
        grades |= {name.removeprefix("never ") for name in table if name.startswith("never ")}
        wanted = {"acceptable", worst_grade(criterion), "undetermined"}
        if criterion.require is not None:
            wanted.discard("undetermined")
        missing += [f"{criterion.id}: {grade}" for grade in sorted(wanted - grades)]
    assert missing == []


def test_every_table_is_of_a_criterion(engine: Engine) -> None:
    assert sorted(set(TABLES) - {c.id for c in engine.ruleset.criteria}) == []
