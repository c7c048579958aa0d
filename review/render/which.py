"""What `explain` was asked for where it is no kind of measure: a criterion or an item."""

from __future__ import annotations

from collections.abc import Iterable

from review.interface.result import GRADES, Finding, Review
from review.judge.ruleset import Criterion


def worst_of(review: Review, name: str, criteria: Iterable[Criterion]) -> Finding | None:
    """The gravest finding of a criterion, or else at an item; None where there is neither.

    Of equal ones what stands as planned comes before what takes a failure.
    """
    if any(c.id == name for c in criteria):
        found = [f for f in review.findings if f.criterion == name and f.kind]
    else:
        found = [f for f in review.findings if f.at == name and f.kind]

    def rank(finding: Finding) -> tuple[int, bool]:
        return GRADES.index(finding.grade), finding.case not in ("plan", "step")

    return min(found, key=rank, default=None)
