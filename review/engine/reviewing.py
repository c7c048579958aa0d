"""The engine: load plugins and rules, resolve, walk, measure, judge.

It holds no hazard knowledge. Each engine has its own plugin manager, so that what one review loads
no other sees; results come in a fixed order, whatever loads first. A check that fails to load or
raises costs its own findings, which become `undetermined`, and nothing else.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from importlib.metadata import version
from typing import Any, get_args

from review.engine import explaining, stated, wishes
from review.engine.explaining import Explanation
from review.engine.facts import facts_of
from review.engine.integrity import EngineChanged, check_unchanged, findings_of
from review.engine.measuring import Measuring
from review.interface.measure import FloatArray, Measure
from review.interface.plugin import Kind, Overlay, Section
from review.interface.result import Basis, Failure, Finding, Review, Run, Trials, Verdict
from review.judge.causes import causes
from review.judge.each import Refused, each_graded, refused, sampled
from review.judge.grading import Codes
from review.judge.judging import judge
from review.judge.ruleset import Criterion, Ruleset
from review.judge.verdict import verdict
from review.scenario import Problem, Scenario, load, loads
from review.scenario.mending import FILLED
from review.walk.names import Resolver
from review.walk.readings import planned
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup


class Engine(Measuring):
    """Reviews scenarios with one set of plugins and rules.

    `plugin_files` are Python files with hooks; `rules_files` are site rulesets. A plugin that is
    not built in fails where one of its hooks, or one of its computations over one chunk of runs,
    takes longer than `plugin_seconds` (else BENCHGATE_PLUGIN_SECONDS, else 20 s). Raises
    `PluginError` for a plugin whose declarations clash and `RulesetError` for a malformed ruleset.
    """

    def load(self, path: str | os.PathLike[str]) -> Scenario:
        """Read a scenario file with the words of all plugins; raises `InputError`."""
        return load(path, self.words, self._further)

    def loads(self, text: str, name: str = "<text>") -> Scenario:
        """Read a scenario from its text with the words of all plugins; raises `InputError`."""
        return loads(text, name, self.words, self._further)

    def _further(self, scenario: Scenario) -> tuple[Problem, ...]:
        """What names and data tell of a scenario; a fault here is met again by the review."""
        try:
            names = Resolver(scenario, self.reference, self._item_kinds)
            names.everything()
        except (LookupError, ValueError, TypeError, ArithmeticError, AttributeError):
            return ()  # a mended scenario may lack what a sound one has
        return tuple(p for p in names.problems if FILLED not in p.message)

    def review(
        self,
        scenario: Scenario,
        *,
        extra: Sequence[Overlay] = (),
        upsets: bool = True,
    ) -> Review:
        """Review one scenario: the plan, its steps, its upsets and any further overlays.

        Raises `InputError` where names or reactions of the scenario cannot be resolved.
        """
        with self.reference.noting() as names:
            self.reference.note_words()
            done = self._reviewed(scenario, extra, upsets)
        data = tuple(self.reference.looked_up(kind, name) for kind, name in sorted(names))
        return replace(done, data=data)

    def _reviewed(self, scenario: Scenario, extra: Sequence[Overlay], upsets: bool) -> Review:
        resolved = resolve(scenario, self.reference, self._item_kinds)
        failures = list(self.failures)
        found = self._upsets(resolved, failures) if upsets else []
        overlays = [*planned(resolved), *found, *extra]
        measures, broken = self._measure(resolved, overlays, failures)
        trials = Trials(
            steps=tuple(step.name for step in resolved.steps),
            runs=tuple(
                Run(
                    o.id,
                    o.title,
                    o.case,
                    o.from_step,
                    o.until_step,
                    o.counters,
                    o.adequacy,
                    o.in_time_for,
                    o.sign,
                    o.response,
                )  # fmt: skip
                for o in overlays
            ),
        )
        facts = facts_of(resolved)
        if self._foreign:
            check_unchanged()
        judged = judge(measures, facts, self.ruleset, self.kinds, trials, broken)
        findings = (*judged.findings, *(_failure_finding(f) for f in failures))
        draft = Review(
            version=version("benchgate"),
            title=scenario.title,
            path=scenario.path,
            scenario_sha256=scenario.text_sha256,
            layers=self.ruleset.layers,
            checks=self.checks,
            verdict=verdict(findings),
            findings=findings,
            measures=tuple(measures),
            kinds=self.kinds,
            owners=self.owners,
            trials=trials,
            facts=facts,
            not_covered=tuple((c.title, text) for c in self.checks for text in c.not_covered),
            not_applicable=judged.not_applicable,
            loosened=self.ruleset.loosened,
            failures=tuple(failures),
            contacts=self.ruleset.contacts,
            notes=resolved.notes,
            outcomes=judged.outcomes,
            plugins=self.plugins,
            causes=causes(findings, self.ruleset.letters, self.kinds, trials.runs),
        )
        late: list[Failure] = []
        said = (*stated.sections(scenario), *wishes.sections(scenario, draft))
        sections = (*said, *self._sections(draft, late))
        draft = replace(draft, sections=sections)
        if not late:
            return draft
        findings = (*draft.findings, *(_failure_finding(f) for f in late))
        return replace(
            draft,
            findings=findings,
            verdict=verdict(findings),
            failures=(*draft.failures, *late),
            causes=causes(findings, self.ruleset.letters, self.kinds, trials.runs),
        )

    def refused(
        self,
        scenario: Scenario,
        overlays: Sequence[Overlay],
        kinds: frozenset[str] | None = None,
        worst: dict[tuple[str, str, str], FloatArray] | None = None,
    ) -> Refused:
        """What stands against each of many runs, judged apart: quick, for a search.

        An overlay of case "upset" is judged as one, every other as a plan with its steps. Only
        criteria on measures count, and no safeguard earns credit: what is found is reviewed again.
        With `kinds` nothing but these, and what they need, is computed and judged. `worst` is
        filled with the most hazardous value of each measure that a criterion judges, by run.
        """
        return refused(*self._alone(scenario, overlays, kinds), worst)

    def graded(
        self, scenario: Scenario, overlays: Sequence[Overlay]
    ) -> list[tuple[tuple[Criterion, str, str], Codes]]:
        """The gravest grade of each criterion on measures, at each place, in each of many runs.

        As `refused`; what hangs on no measure is the same in all of them and not told.
        """
        return list(each_graded(*self._alone(scenario, overlays)))

    def sampled(
        self, scenario: Scenario, overlays: Sequence[Overlay]
    ) -> tuple[tuple[Finding, ...], Sequence[Measure], Trials]:
        """Plan and steps at many points, judged at the hazardous 95 % order statistic.

        What was found, and the measures and trials that it was found in.
        """
        given = self._alone(scenario, overlays)
        return sampled(*given), given[0], given[4]

    def _alone(
        self,
        scenario: Scenario,
        overlays: Sequence[Overlay],
        kinds: frozenset[str] | None = None,
    ) -> tuple[list[Measure], dict[str, Any], Ruleset, Mapping[str, Kind], Trials, dict[str, str]]:
        """What runs are judged by that are no failures of the scenario as it stands."""
        resolved = resolve(scenario, self.reference, self._item_kinds)
        measures, broken = self._measure(resolved, overlays, [], kinds)
        if kinds is not None:
            measures = [m for m in measures if m.kind in kinds]
            broken = {kind: why for kind, why in broken.items() if kind in kinds}
        trials = Trials(
            tuple(step.name for step in resolved.steps),
            tuple(
                Run(o.id, o.title, "upset" if o.case == "upset" else "plan", o.from_step)
                for o in overlays
            ),
        )
        return measures, facts_of(resolved), self.ruleset, self.kinds, trials, broken

    def _sections(self, draft: Review, late: list[Failure]) -> Iterator[Section]:
        """What plugins add to the report; that of one that gives a verdict is a failure instead.

        Raises `EngineChanged` where a plugin changed the review that it was shown.
        """
        before, shown = findings_of(draft), replace(draft)
        given = self._each("report_sections", Section, review=shown, failures=late)
        if self._foreign:
            check_unchanged()
            if not before == findings_of(draft) == findings_of(shown):
                raise EngineChanged("a plugin changed the findings that it was shown")
        for plugin, part in given:
            for section in part:
                text = " ".join((section.title, *section.lines)).casefold()
                said = next((v for v in get_args(Verdict) if v in text), None)
                if plugin.built_in:
                    yield section
                elif said is None:
                    yield replace(section, plugin=plugin.name)
                else:
                    why = f"its section says {said!r}; only the review gives a verdict"
                    late.append(Failure(plugin.name, why))

    def explain(
        self,
        scenario: Scenario,
        kind: str,
        at: str | None = None,
        of: str | None = None,
        run: str | None = None,
        step: str | None = None,
    ) -> Explanation:
        """The working of one measure: at its worst trial, or in the run and step named.

        Raises `LookupError` that names the nearest kind, place, run or step.
        """
        return explaining.explain(self, scenario, kind, at, of, run, step)

    def workings(
        self, scenario: Scenario, review: Review, positions: Iterable[int]
    ) -> dict[int, Explanation]:
        """The working behind findings of a review of this scenario, by their positions."""
        return explaining.workings(self, scenario, review, positions)

    def played(self, scenario: Scenario) -> Setup:
        """The plan alone, walked once more: what a picture shows of it and no measure holds."""
        resolved = resolve(scenario, self.reference, self._item_kinds)
        return self._setup(resolved, Runs(resolved.base, [PLAN]), lambda kind: ())


def _failure_finding(failure: Failure) -> Finding:
    """What a failed check could have found is not known, and that blocks."""
    return Finding(
        criterion="check.failed",
        title=f"The check {failure.check} could not do its work",
        kind="",
        at="",
        of="",
        grade="undetermined",
        status="missing",
        case="plan",
        trial=PLAN.title,
        step="",
        value=float("nan"),
        unit="",
        display="",
        limit=None,
        action="Mend or remove the plugin, then review again.",
        basis=Basis("benchgate", "a check that fails finds nothing acceptable", ""),
        layer="engine",
        reason=failure.reason,
    )
