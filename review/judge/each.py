"""Many runs judged without their failures: each apart, or all of them as samples of one set-up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray, Measure
from review.interface.plugin import Kind, worst_first
from review.interface.result import Finding, Trials
from review.judge.grading import ACCEPTABLE, UNACCEPTABLE, UNDETERMINED, Codes, graded
from review.judge.judging import Desk
from review.judge.ruleset import Criterion, Ruleset
from review.judge.stacks import Stack

#: Criterion, place and subject, and in which runs it refuses or blocks, shape (runs,).
Refused = Mapping[tuple[str, str, str], NDArray[np.bool_]]


def refused(
    measures: Iterable[Measure],
    facts: Mapping[str, Any],
    ruleset: Ruleset,
    kinds: Mapping[str, Kind],
    trials: Trials,
    failures: Mapping[str, str],
    worst: dict[tuple[str, str, str], FloatArray] | None = None,
) -> Refused:
    """By each criterion on a measure, at each place, the runs that it refuses or cannot judge.

    Runs of case "plan" are judged as the plan and its steps, upsets as upsets, without credit. A
    kind whose check failed blocks every run. Where nothing of a kind was measured nothing is told:
    a review of the file itself is what decides. `worst` is filled with the most hazardous value of
    every measure in each run, NaN where one is missing.
    """
    found: dict[tuple[str, str, str], NDArray[np.bool_]] = {}
    given = measures, facts, ruleset, kinds, trials, failures
    for (criterion, at, of), codes in each_graded(*given, worst):
        bad = codes == UNACCEPTABLE
        if criterion.blocks:
            bad |= codes == UNDETERMINED
        if bad.any():
            found[criterion.id, at, of] = bad
    return found


def each_graded(
    measures: Iterable[Measure],
    facts: Mapping[str, Any],
    ruleset: Ruleset,
    kinds: Mapping[str, Kind],
    trials: Trials,
    failures: Mapping[str, str],
    worst: dict[tuple[str, str, str], FloatArray] | None = None,
) -> Iterator[tuple[tuple[Criterion, str, str], Codes]]:
    """By each criterion on a measure, at each place, its gravest grade in each run, shape (runs,).

    Runs are judged, and `worst` is filled, as `refused` has it; grades are places in
    `review.judge.grading`'s order.
    """
    desk = Desk(measures, kinds, trials, facts, ruleset, failures)
    for criterion in ruleset.criteria:
        if criterion.require is not None or desk.why_not(criterion) is not None:
            continue
        stack = desk.stacks.of(criterion.kind)
        if criterion.kind in failures:
            unknown = np.full(len(trials.runs), UNDETERMINED, dtype=np.int8)
            yield (replace(criterion, blocks=True), "", ""), unknown
        elif stack is not None:
            if worst is not None:
                hazard = worst_first(kinds[criterion.kind], stack.value)
                each = hazard.reshape(len(stack.measures), len(trials.runs), -1).max(axis=2)
                for measure, values in zip(stack.measures, each, strict=True):
                    worst[criterion.id, measure.at, measure.of] = values
            for measure, codes in zip(stack.measures, _of(criterion, stack, desk), strict=True):
                yield (criterion, measure.at, measure.of), codes


def sampled(
    measures: Iterable[Measure],
    facts: Mapping[str, Any],
    ruleset: Ruleset,
    kinds: Mapping[str, Kind],
    trials: Trials,
    failures: Mapping[str, str],
) -> tuple[Finding, ...]:
    """Runs of case "plan" judged as samples: each criterion in the cases that it has, plan or step.

    One finding of case "sample" for each of these, at the 95 % order statistic over the runs.
    """
    desk = Desk(measures, kinds, trials, facts, ruleset, failures)
    desk.sampled = True
    return tuple(
        replace(finding, case="sample")
        for criterion in ruleset.criteria
        if criterion.require is None and desk.why_not(criterion) is None
        for finding in desk.findings(criterion)
    )


def _of(criterion: Criterion, stack: Stack, desk: Desk) -> Codes:
    """The gravest grade of a criterion in each run, shape (measures, runs)."""
    stacks = desk.stacks
    out: Codes = np.full((len(stack.measures), len(stacks.trials.runs)), ACCEPTABLE, np.int8)
    for case in criterion.cases:
        columns = stacks.columns[case]
        if not columns.size:
            continue
        codes = graded(
            stacks.kinds[criterion.kind], criterion.bands[case], criterion.floor,
            stack.value[:, columns], stack.status[:, columns],
        )  # fmt: skip
        runs = columns // stacks.cells
        first = np.flatnonzero(np.diff(runs, prepend=-1))
        gravest = np.maximum.reduceat(codes, first, axis=1)
        out[:, runs[first]] = np.maximum(out[:, runs[first]], gravest)
    return out
