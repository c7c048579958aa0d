"""Reviews of the demo scenarios, and of the same files with single settings changed."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib.resources import files

import pytest

from review import Engine, Finding, Review, loads

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

    def value(self, kind: str, at: str, step: str, run: str = "plan", of: str = "") -> float:
        """A measure in one run and step, in SI."""
        (measure,) = [m for m in self.review.measures if (m.kind, m.at, m.of) == (kind, at, of)]
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
