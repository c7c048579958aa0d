"""The test kit for authors of plugins: reviews in one line, and what every check must keep.

>>> review = review_with(scenario=SCENARIO)
>>> assert_grade(review, "readiness.exit", "acceptable")
>>> float(measure(review, "pressure.working_over_rating", "hose").value[0, 0]) < 1
True

Use it from pytest or from any other runner: what is wrong is an `AssertionError` that says so.
`conformance` is the whole suite for one plugin.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from review.engine.reviewing import Engine
from review.interface.measure import Measure
from review.interface.plugin import PluginError
from review.interface.result import GRADES, Case, Grade, Review
from review.judge.conditions import RulesetError, nearest
from review.scenario import Scenario
from review.testing.conforming import Bench, matches, of_check, of_directions, of_kind

__all__ = ["SCENARIO", "assert_grade", "conformance", "matches", "measure", "review_with"]

#: The scenario that `benchgate new scenario` writes; used where none is given.
SCENARIO = Path(__file__).parents[1] / "scaffold" / "scenario.yaml"


def review_with(
    *,
    plugin_files: Sequence[str | Path] = (),
    rules: Sequence[str | Path] = (),
    scenario: str | Path | Scenario = SCENARIO,
    upsets: bool = True,
) -> Review:
    """Review a scenario with plugins and site rulesets.

    `plugin_files` and `rules` are paths; plugins that are installed are there anyway. `scenario`
    is a path, or the text of one (text has more than one line). Raises what the engine raises:
    `InputError`, `RulesetError`, `PluginError`.

    >>> text = "title: A pipe\\ntrain: [{id: pipe, kind: outlet, to: hood}]"
    >>> review_with(scenario=text).title
    'A pipe'
    """
    engine = Engine([Path(p) for p in plugin_files], [Path(r) for r in rules])
    return engine.review(_scenario(scenario, engine), upsets=upsets)


def assert_grade(
    review: Review,
    criterion: str,
    grade: Grade,
    at: str | None = None,
    case: Case | None = None,
) -> None:
    """The gravest grade that a criterion gives: everywhere, or at one place, or in one case.

    Undetermined counts as graver than tolerable, as in the verdict.

    >>> review = review_with(scenario=SCENARIO)
    >>> assert_grade(
    ...     review, "pressure.working", "unacceptable", at="hose", case="plan"
    ... )  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    AssertionError: pressure.working at 'hose' in case plan is acceptable, not unacceptable...
    """
    of_criterion = [f for f in review.findings if f.criterion == criterion]
    if not of_criterion:
        why = [n.reason for n in review.not_applicable if n.criterion == criterion]
        known = {f.criterion for f in review.findings}
        reason = f"it does not apply: {why[0]}" if why else f"no finding{nearest(criterion, known)}"
        raise AssertionError(f"{criterion}: {reason}{_failures(review)}")
    found = [f for f in of_criterion if at in (None, f.at) and case in (None, f.case)]
    where = criterion + ("" if at is None else f" at {at!r}") + (f" in case {case}" if case else "")
    if not found:
        seen = sorted({(f.at, f.case) for f in of_criterion})
        raise AssertionError(f"{where} has no finding; there are some for {seen}")
    worst = min(found, key=lambda f: GRADES.index(f.grade))
    if worst.grade != grade:
        reason = f": {worst.reason}" if worst.reason else ""
        raise AssertionError(f"{where} is {worst.grade}, not {grade}{reason}")


def measure(review: Review, kind: str, at: str, of: str = "") -> Measure:
    """The one measure of a kind at a place; `value` and `status` have shape (cells, runs).

    Cell 0 of run 0 is the stated plan. Values are in the kind's SI unit.

    >>> measure(review_with(scenario=SCENARIO), "train.contact_time", "hoes")
    Traceback (most recent call last):
    AssertionError: no train.contact_time at 'hoes'; did you mean 'hose'?
    """
    of_kind = [m for m in review.measures if m.kind == kind]
    if not of_kind:
        known = {m.kind for m in review.measures}
        raise AssertionError(f"no measure {kind!r}{nearest(kind, known)}{_failures(review)}")
    for found in of_kind:
        if (found.at, found.of) == (at, of):
            return found
    if at not in {m.at for m in of_kind}:
        raise AssertionError(f"no {kind} at {at!r}{nearest(at, {m.at for m in of_kind})}")
    subjects = sorted({m.of for m in of_kind if m.at == at})
    raise AssertionError(f"no {kind} at {at!r} of {of!r}; there it is of {subjects}")


def conformance(plugin: str | Path, *scenarios: str | Path | Scenario) -> None:
    """What every check must keep; raises `AssertionError` that says what it does not.

    `plugin` is a plugin file (a path), or the entry-point name of one that is installed. It is
    looked at in each of the scenarios (paths or texts; else the one of `benchgate new scenario`).
    Together they must let every direction show that its kinds declare.

    1. It loads, describes itself, and its criteria are sound rules on kinds that exist.
    2. Its check says what it covers, what not, and its sources; no entry is blank.
    3. Each kind is a full data sheet with an SI unit, a display unit of the same dimension, and
       numbers that move it.
    4. Every measure is of a declared kind and of its unit, and has shape (cells, runs).
    5. A value is NaN exactly where its status is `missing`.
    6. A run gives the same alone and among others to 1e-12, in whatever order the runs come and
       however often it is computed. A check declared `scalar` is computed one run at a time.
    7. Each number named in `moves` moves its kind the way it says, and never far the other way.

    >>> conformance("mechanical_stabilty")
    Traceback (most recent call last):
    AssertionError: no plugin 'mechanical_stabilty'; did you mean 'mechanical_stability'?
    """
    name = plugin if isinstance(plugin, str) else plugin.stem
    engine = _engine_of(plugin, name)
    given = [_scenario(s, engine) for s in scenarios or (SCENARIO,)]
    found = [p for p in engine._plugins if p.name == name]
    if not found:
        known = [p.name for p in engine._plugins]
        raise AssertionError(f"no plugin {name!r}{nearest(name, known)}")
    check = found[0].check
    own = [(p, c) for p, c in engine._computations if p.name == name]
    kinds = {kind.id: kind for _, c in own for kind in c.kinds}
    problems = [*of_check(name, check), *(line for k in kinds.values() for line in of_kind(k))]
    if own and check:
        benches = [Bench(engine, found[0], [c for _, c in own], each) for each in given]
        problems += [line for bench in benches for line in bench.problems()]
        if not problems:
            problems += of_directions(kinds, benches)
    if problems:
        raise AssertionError(f"plugin {name!r}:\n" + "\n".join(f"- {line}" for line in problems))


def _scenario(given: str | Path | Scenario, engine: Engine) -> Scenario:
    if isinstance(given, Scenario):
        return given
    text = isinstance(given, str) and "\n" in given
    return engine.loads(str(given)) if text else engine.load(given)


def _failures(review: Review) -> str:
    return "".join(f"\n{f.check}: {f.reason}" for f in review.failures)


def _engine_of(plugin: str | Path, name: str) -> Engine:
    try:
        engine = Engine([] if isinstance(plugin, str) else [plugin])
    except (PluginError, RulesetError) as error:
        raise AssertionError(f"plugin {name!r} cannot be used: {error}") from error
    for failure in engine.failures:
        if failure.check == name:
            raise AssertionError(f"plugin {name!r}: {failure.reason}")
    return engine
