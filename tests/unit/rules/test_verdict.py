"""The verdict table of the ruleset documentation, every combination of findings."""

import dataclasses
import itertools

import pytest

from review.interface.result import Basis, Finding
from review.judge.verdict import verdict

SORTS = {
    "acceptable": ("acceptable", True),
    "tolerable": ("tolerable", True),
    "unacceptable": ("unacceptable", True),
    "undetermined": ("undetermined", True),
    "condition": ("undetermined", False),
}


def finding(sort):
    grade, blocks = SORTS[sort]
    return Finding(
        criterion="demo.one",
        title="",
        kind="demo.ratio",
        at="",
        of="",
        grade=grade,
        status="ok",
        case="plan",
        trial="",
        step="",
        value=0.0,
        unit="",
        display="",
        limit=None,
        action="",
        basis=Basis("", "", ""),
        layer="",
        blocks=blocks,
    )


#: In the order (unacceptable, blocking undetermined, tolerable or condition, acceptable) present.
TABLE = {
    (0, 0, 0, 0): "cannot be judged",
    (0, 0, 0, 1): "may proceed",
    (0, 0, 1, 0): "may proceed with conditions",
    (0, 0, 1, 1): "may proceed with conditions",
    (0, 1, 0, 0): "cannot be judged",
    (0, 1, 0, 1): "cannot be judged",
    (0, 1, 1, 0): "cannot be judged",
    (0, 1, 1, 1): "cannot be judged",
    (1, 0, 0, 0): "must not proceed",
    (1, 0, 0, 1): "must not proceed",
    (1, 0, 1, 0): "must not proceed",
    (1, 0, 1, 1): "must not proceed",
    (1, 1, 0, 0): "must not proceed",
    (1, 1, 0, 1): "must not proceed",
    (1, 1, 1, 0): "must not proceed",
    (1, 1, 1, 1): "must not proceed",
}
SETS = [set(c) for n in range(len(SORTS) + 1) for c in itertools.combinations(SORTS, n)]


@pytest.mark.parametrize("present", SETS, ids=lambda s: "+".join(sorted(s)) or "nothing")
def test_every_combination(present):
    row = (
        int("unacceptable" in present),
        int("undetermined" in present),
        int(bool(present & {"tolerable", "condition"})),
        int("acceptable" in present),
    )
    findings = [finding(sort) for sort in sorted(present)]
    assert verdict(findings) == TABLE[row]
    assert verdict(findings[::-1] * 2) == TABLE[row]


@pytest.mark.parametrize("sort", ["acceptable", "tolerable", "unacceptable"])
def test_blocks_speaks_only_of_undetermined(sort):
    one = finding(sort)
    assert verdict([dataclasses.replace(one, blocks=False)]) == verdict([one])
