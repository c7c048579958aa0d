"""Reviews of the demo scenarios, and of the same files with single settings changed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cache
from importlib.resources import files
from typing import NamedTuple

import pytest

from review import Engine, Finding, Review, loads
from review.result import Outcome

#: Criteria of the hazards that the tests here work out by hand; others are tested elsewhere.
WORKED = ("flammability.", "ignition.", "pressure.")


class Reviewed:
    """One review, asked for single findings and for measures in one run and step."""

    def __init__(self, review: Review) -> None:
        self.review = review
        self.verdict = review.verdict

    def finding(self, criterion: str, at: str, case: str, of: str = "") -> Finding:
        (found,) = [
            f
            for f in self.review.findings
            if (f.criterion, f.at, f.of, f.case) == (criterion, at, of, case)
        ]
        return found

    def value(self, kind: str, at: str, step: str, run: str = "plan") -> float:
        """A measure in one run and step, in SI."""
        (measure,) = [m for m in self.review.measures if (m.kind, m.at) == (kind, at)]
        trials = self.review.trials
        cells = [trials.cell_name(cell) for cell in range(len(trials.steps) + 1)]
        runs = [r.id for r in trials.runs]
        return float(measure.value[cells.index(step), runs.index(run)])

    def graded(self, grade: str) -> set[str]:
        """Which of the worked criteria have a finding of this grade."""
        return {
            f.criterion
            for f in self.review.findings
            if f.grade == grade and f.criterion.startswith(WORKED)
        }

    def all_graded(self, grade: str) -> set[str]:
        """Which criteria, of any hazard, have a finding of this grade."""
        return {f.criterion for f in self.review.findings if f.grade == grade}


class Row(NamedTuple):
    """Upsets whose ids match a pattern as a whole come to this grade, by this criterion.

    Of what is acceptable no criterion decides, so none is expected.
    """

    pattern: str
    grade: str
    criterion: str = ""

    def expects(self, outcome: Outcome) -> bool:
        same = outcome.grade == self.grade
        return same and (self.grade == "acceptable" or outcome.criterion == self.criterion)


def compare(rows: Iterable[Row], outcomes: Iterable[Outcome]) -> list[str]:
    """Where a table worked by hand and a review differ; each upset needs exactly one row."""
    rows, wrong, used = list(rows), [], set()
    for outcome in outcomes:
        hits = [row for row in rows if re.fullmatch(row.pattern, outcome.run)]
        used.update(hits)
        if len(hits) != 1:
            wrong.append(f"{outcome.run}: {len(hits)} rows match")
        elif not hits[0].expects(outcome):
            wrong.append(f"{outcome.run}: {outcome.grade} by {outcome.criterion}, not {hits[0]}")
    return wrong + [f"{row.pattern}: matches no upset" for row in rows if row not in used]


@pytest.fixture(scope="session")
def engine() -> Engine:
    return Engine()


@pytest.fixture(scope="session")
def demo(engine: Engine) -> Callable[..., Reviewed]:
    """`demo(name, (old, new), ...)`: the named demo, each old text replaced by the new one."""

    @cache
    def reviewed(name: str, *changes: tuple[str, str]) -> Reviewed:
        text = (files("review.scenarios") / f"{name}.yaml").read_text(encoding="utf-8")
        for old, new in changes:
            assert text.count(old) == 1, f"{name} has not exactly one {old!r}"
            text = text.replace(old, new)
        return Reviewed(engine.review(loads(text, name)))

    return reviewed
