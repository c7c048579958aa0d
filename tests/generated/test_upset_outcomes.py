"""What each upset comes to: never better for being noticed later, credited only as far as shown.

Only judging happens here, on the measures of generated scenarios; the rules are the project's own
design.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from review import Engine, Measure, Review
from review.interface.measure import ESTIMATED, OK
from review.interface.result import Run, Trials
from review.judge.judging import Judgement, judge

RANK = {"acceptable": 0, "tolerable": 1, "undetermined": 2, "unacceptable": 3}
POOL = (0, 3, 5, 10)
Reviewed = Callable[[int], Review]


def _judged(
    engine: Engine, review: Review, runs: list[Run], more: tuple[Measure, ...] = ()
) -> Judgement:
    """The review's measures judged once more, with the runs and measures named instead."""
    replaced = {m.kind for m in more}
    measures = [m for m in review.measures if m.kind not in replaced]
    trials = Trials(review.trials.steps, tuple(runs))
    return judge([*measures, *more], review.facts, engine.ruleset, engine.kinds, trials)


def _grades(judged: Judgement | Review) -> Mapping[str, int]:
    return {outcome.run: RANK[outcome.grade] for outcome in judged.outcomes}


def _alone(review: Review) -> list[Run]:
    """The runs, with no safeguard ever adequate."""
    return [replace(run, adequacy=None) for run in review.trials.runs]


def _only(review: Review, kind: str, at: str) -> list[Run]:
    """The runs, all other safeguards left out: they may be adequate against the same upset."""
    return [
        run if run.adequacy in (None, (kind, at)) else replace(run, adequacy=None)
        for run in review.trials.runs
    ]


def _noticed(review: Review, cell: int) -> list[Run]:
    """The runs, every upset that has begun noticed before this cell."""
    return [
        replace(run, until_step=cell)
        if run.case == "upset" and not run.counters and (run.from_step or 0) < cell
        else run
        for run in _alone(review)
    ]


@pytest.mark.parametrize("start", POOL)
def test_every_upset_has_one_outcome(reviewed: Reviewed, start: int) -> None:
    review = reviewed(start)
    upsets = [run for run in review.trials.runs if run.case == "upset" and not run.counters]
    assert [outcome.run for outcome in review.outcomes] == [run.id for run in upsets]
    cells = [review.trials.cell_name(n) for n in range(1 + len(review.trials.steps))]
    for run, outcome in zip(upsets, review.outcomes, strict=True):
        assert outcome.title == run.title
        assert cells.index(outcome.step) in run.cells(len(cells))
    worst = max(_grades(review).values())
    findings = [f for f in review.findings if f.case == "upset"]
    assert worst == max(RANK[f.grade] for f in findings)
    for finding in findings:
        if finding.trial:
            assert _grades(review)[finding.trial] >= RANK[finding.grade], finding


@pytest.mark.parametrize("start", POOL)
def test_an_outcome_is_the_gravest_of_its_own_findings(
    engine: Engine, reviewed: Reviewed, start: int
) -> None:
    """Judged alone beside the plan, an upset has exactly the grade of its gravest finding."""
    review = reviewed(start)
    runs = _alone(review)
    plan = [run.case for run in runs].index("plan")
    chosen = [n for n, run in enumerate(runs) if run.case == "upset" and not run.counters][::11]
    together = _grades(_judged(engine, review, runs))
    for n in chosen:
        pair = [
            replace(m, value=m.value[:, [plan, n]], status=m.status[:, [plan, n]], working=None)
            for m in review.measures
        ]
        trials = Trials(review.trials.steps, (runs[plan], runs[n]))
        judged = judge(pair, review.facts, engine.ruleset, engine.kinds, trials)
        gravest = max(RANK[f.grade] for f in judged.findings if f.case == "upset")
        assert _grades(judged)[runs[n].id] == gravest == together[runs[n].id]


@pytest.mark.parametrize("start", POOL)
def test_no_upset_is_better_for_being_noticed_later(
    engine: Engine, reviewed: Reviewed, start: int
) -> None:
    review = reviewed(start)
    never = _grades(_judged(engine, review, _alone(review)))
    last: Mapping[str, int] = {}
    for cell in range(2, 1 + len(review.trials.steps)):
        now = _grades(_judged(engine, review, _noticed(review, cell)))
        assert all(now[run] >= grade for run, grade in last.items() if run in now)
        begun = {r.id for r in review.trials.runs if (r.from_step or 0) < cell}
        assert all(never[run] >= grade for run, grade in now.items() if run in begun)
        last = {run: grade for run, grade in now.items() if run in begun}
    assert last


def _adequacy(review: Review, kind: str, at: str, value: float, status: int) -> Measure:
    shape = 1 + len(review.trials.steps), len(review.trials.runs)
    return Measure(
        kind=kind, at=at, of="", unit="1", value=np.full(shape, value),
        status=np.full(shape, status, dtype=np.uint8), method="stated",
    )  # fmt: skip


def _countering(review: Review) -> dict[tuple[str, str], list[Run]]:
    """Runs with a safeguard at work, by the measure that must show it adequate."""
    out: dict[tuple[str, str], list[Run]] = {}
    for run in review.trials.runs:
        if run.counters:
            assert run.adequacy is not None
            out.setdefault(run.adequacy, []).append(run)
    return out


def _with_safeguards(reviewed: Reviewed) -> list[Review]:
    found = [review for review in map(reviewed, POOL) if _countering(review)]
    assert len(found) >= 3
    return found


def test_credit_is_at_best_tolerable_and_never_makes_worse(
    engine: Engine, reviewed: Reviewed
) -> None:
    helped = 0
    for review in _with_safeguards(reviewed):
        alone = _grades(_judged(engine, review, _alone(review)))
        for kind, at in _countering(review):
            shown = _adequacy(review, kind, at, 1.0, OK)
            judged = _judged(engine, review, list(review.trials.runs), (shown,))
            for outcome in judged.outcomes:
                grade = RANK[outcome.grade]
                assert min(alone[outcome.run], 1) <= grade <= alone[outcome.run], outcome
                helped += grade < alone[outcome.run]
    assert helped > 0


@pytest.mark.parametrize(
    ("value", "status", "elsewhere"),
    [(0.0, OK, ""), (0.999, OK, ""), (5.0, ESTIMATED, ""), (5.0, 2, ""), (5.0, OK, "not here")],
)
def test_no_credit_unless_adequacy_is_sure(
    engine: Engine, reviewed: Reviewed, value: float, status: int, elsewhere: str
) -> None:
    for review in _with_safeguards(reviewed):
        alone = _grades(_judged(engine, review, _alone(review)))
        for (kind, at), runs in _countering(review).items():
            doubtful = _adequacy(review, kind, elsewhere or at, value, status)
            judged = _judged(engine, review, _only(review, kind, at), (doubtful,))
            assert _grades(judged) == alone
            refused = {o.run: o.credit for o in judged.outcomes}
            assert all(f"{run.title}: no credit, " in refused[run.counters] for run in runs)
            assert not any("of inf" in said for said in refused.values())


def test_no_credit_where_nothing_measures_it(engine: Engine, reviewed: Reviewed) -> None:
    for review in _with_safeguards(reviewed):
        unmeasured = {kind for kind, _ in _countering(review)}
        less = replace(review, measures=[m for m in review.measures if m.kind not in unmeasured])
        assert _grades(_judged(engine, less, list(review.trials.runs))) == _grades(
            _judged(engine, less, _alone(review))
        )


def test_a_safeguard_that_reveals_helps_only_from_then_on(
    engine: Engine, reviewed: Reviewed
) -> None:
    """What happened before somebody looked stays as grave as it was; afterwards it is tolerable.

    So the outcome is the graver of the steps before the look, judged alone, and of what the whole
    would be if it were at best tolerable.
    """
    compared = later = 0
    for review in _with_safeguards(reviewed):
        alone = _grades(_judged(engine, review, _alone(review)))
        for (kind, at), runs in _countering(review).items():
            reveals = [run for run in runs if run.until_step is not None]
            if not reveals:
                continue
            until = {run.counters: run.until_step for run in reveals}
            early = [replace(r, until_step=until.get(r.id)) for r in _alone(review)]
            before = _grades(_judged(engine, review, early))
            shown = _adequacy(review, kind, at, 1.0, OK)
            credited = _grades(_judged(engine, review, _only(review, kind, at), (shown,)))
            for run in reveals:
                name = run.counters
                # Noticed at its very beginning, it had no time to do harm.
                earlier = before.get(name, 0)
                assert credited[name] == max(earlier, min(alone[name], 1)), run
                compared += 1
                later += earlier < alone[name]
    assert compared > 10 and later > 0
