"""From findings to the verdict of the whole review."""

from __future__ import annotations

from collections.abc import Iterable

from review.interface.result import Finding, Verdict


def verdict(findings: Iterable[Finding]) -> Verdict:
    """The first row that fits decides; a review without any finding has reviewed nothing.

    ==============================================  ===========================
    findings                                        verdict
    ==============================================  ===========================
    none at all                                     cannot be judged
    any unacceptable                                must not proceed
    any undetermined that blocks                    cannot be judged
    any tolerable, or undetermined as a condition   may proceed with conditions
    all acceptable                                  may proceed
    ==============================================  ===========================

    >>> verdict([])
    'cannot be judged'
    """
    told = {(f.grade, f.blocks if f.grade == "undetermined" else False) for f in findings}
    if not told:
        return "cannot be judged"
    if ("unacceptable", False) in told:
        return "must not proceed"
    if ("undetermined", True) in told:
        return "cannot be judged"
    if told == {("acceptable", False)}:
        return "may proceed"
    return "may proceed with conditions"
