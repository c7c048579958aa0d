"""The engine: load plugins and rules, resolve, walk, measure, judge.

It holds no hazard knowledge. Each engine has its own plugin manager, so that what one review loads
no other sees; results come in a fixed order, whatever loads first. A check that fails to load or
raises costs its own findings, which become `undetermined`, and nothing else.
"""

from __future__ import annotations

import inspect
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, get_args

import numpy as np
import pluggy

from review.engine import stated
from review.engine.alone import Budget, side_by_side
from review.engine.discovery import FAULTS, discover
from review.engine.facts import fact_types, facts_of
from review.engine.integrity import EngineChanged, check_unchanged, findings_of
from review.engine.limited import TookTooLong, seconds_allowed, within
from review.engine.vocabulary import Entry, vocabulary
from review.interface import hookspecs
from review.interface.items import ItemKind
from review.interface.measure import MISSING, Measure, Quantity, recording, together
from review.interface.plugin import PROJECT, Check, Computation, Kind, Overlay, PluginError, Section
from review.interface.result import (
    STATED_PLAN,
    Basis,
    Failure,
    Finding,
    Loosened,
    Review,
    Run,
    Trials,
    Verdict,
)
from review.judge.causes import causes
from review.judge.conditions import Vocabulary, nearest
from review.judge.each import Refused, refused, sampled
from review.judge.judging import judge
from review.judge.layers import Layer, load_layer
from review.judge.loosening import differences
from review.judge.merging import merge
from review.judge.ruleset import Ruleset
from review.judge.verdict import verdict
from review.reference.finding import DATA_FILES, Reference, UnknownName, built_in_folder
from review.reference.milder import milder_files
from review.scenario import Problem, Scenario, load, loads
from review.scenario.words import WordsError, folded
from review.walk.names import Resolver
from review.walk.resolve import Resolved, resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup

T = TypeVar("T")

#: Runs walked together; fewer where a set-up is so large that its arrays would not stay small.
CHUNK_RUNS = 4000
CHUNK_BYTES = 400_000_000


@dataclass(frozen=True, slots=True)
class Explanation:
    """The working of one measure in one trial."""

    measure_kind: Kind
    at: str
    of: str
    trial: str
    step: str
    quantity: Quantity
    index: int


@dataclass(frozen=True, slots=True)
class _Plugin:
    name: str
    module: Any
    check: Check | None
    built_in: bool


@dataclass(frozen=True, slots=True)
class _Kept:
    """What the chunks of one review share, by computation: who was too slow, what is computed."""

    overdue: dict[int, TookTooLong]
    budgets: dict[int, Budget]


class Engine:
    """Reviews scenarios with one set of plugins and rules.

    `plugin_files` are Python files with hooks; `rules_files` are site rulesets. A plugin that is
    not built in fails where one of its hooks, or one of its computations over one chunk of runs,
    takes longer than `plugin_seconds` (else BENCHGATE_PLUGIN_SECONDS, else 20 s). Raises
    `PluginError` for a plugin whose declarations clash and `RulesetError` for a malformed ruleset.
    """

    def __init__(
        self,
        plugin_files: Sequence[Path] = (),
        rules_files: Sequence[Path] = (),
        plugin_seconds: float | None = None,
    ) -> None:
        self.failures: list[Failure] = []
        self._seconds = seconds_allowed(plugin_seconds)
        self._manager = pluggy.PluginManager(PROJECT)
        self._manager.add_hookspecs(hookspecs)
        self._plugins = self._load(plugin_files)
        self._foreign = not all(plugin.built_in for plugin in self._plugins)
        self.checks: tuple[Check, ...] = tuple(p.check for p in self._plugins if p.check)
        self._computations = self._collect_computations()
        self.kinds: Mapping[str, Kind] = {
            kind.id: kind for _, c in self._computations for kind in c.kinds
        }
        self.owners: Mapping[str, str] = {
            kind.id: p.check.id for p, c in self._computations if p.check for kind in c.kinds
        }
        self._item_kinds = self._collect_item_kinds()
        self.reference = Reference(self._reference_folders())
        try:
            self.words = self.reference.words
        except WordsError as error:
            raise PluginError(str(error)) from error
        self._shipped = Reference()
        self.ruleset = self._rules(rules_files)

    # Loading

    def _load(self, files: Sequence[Path]) -> list[_Plugin]:
        found = discover(files, self._seconds)
        self.failures += found.failures
        self.plugins = found.hashes
        plugins = []
        for each in found.loaded:
            try:
                self._manager.register(each.module, each.name)
                self._manager.check_pending()
            except (ValueError, pluggy.PluginValidationError) as error:
                raise PluginError(f"plugin {each.name!r}: {error}") from error
            plugin = _Plugin(each.name, each.module, None, each.built_in)
            try:
                described = self._called(plugin, getattr(each.module, "check", lambda: None))
                if not isinstance(described, Check | None):
                    raise TypeError(f"{described!r} is no Check")
                plugins.append(replace(plugin, check=described))
            except FAULTS as error:
                self._failed(each.name, error, "could not describe itself")
        ids: dict[str, str] = {}
        for plugin in plugins:
            if plugin.check and ids.setdefault(plugin.check.id, plugin.name) != plugin.name:
                raise PluginError(
                    f"check id {plugin.check.id!r} is declared by plugin {ids[plugin.check.id]!r} "
                    f"and by plugin {plugin.name!r}"
                )
        return plugins

    def _called(self, plugin: _Plugin, work: Callable[[], T]) -> T:
        """What a plugin's code gives; with a limit on its time unless it is built in.

        What a plugin prints is no part of the review.
        """
        if plugin.built_in:
            return work()
        with redirect_stdout(sys.stderr):
            return within(self._seconds, work)

    def _failed(self, name: str, error: BaseException, what: str) -> None:
        self.failures.append(Failure(name, f"{what}: {type(error).__name__}: {error}"))

    def _each(
        self, hook: str, of: type[T], *, failures: list[Failure] | None = None, **given_to: Any
    ) -> list[tuple[_Plugin, list[T]]]:
        """What one hook of every plugin gives; a plugin that raises becomes a failure.

        A plugin's function takes what it names of the hook's arguments, as pluggy has it.
        """
        out = []
        for plugin in self._plugins:
            function = getattr(plugin.module, hook, None)
            if function is None or not hasattr(function, f"{PROJECT}_impl"):
                continue
            try:
                taken = inspect.signature(function).parameters
                arguments = {name: value for name, value in given_to.items() if name in taken}
                given = self._called(plugin, partial(_listed, function, **arguments))
                wrong = [x for x in given if not isinstance(x, of)]
                if wrong:
                    raise TypeError(f"{wrong[0]!r} is no {of.__name__}")
                out.append((plugin, given))
            except FAULTS as error:
                why = f"its hook {hook} failed: {type(error).__name__}: {error}"
                (self.failures if failures is None else failures).append(Failure(plugin.name, why))
        return out

    def _collect_computations(self) -> list[tuple[_Plugin, Computation]]:
        found: list[tuple[_Plugin, Computation]] = []
        owner: dict[str, str] = {}
        for plugin, computations in self._each("measures", Computation):
            for computation in computations:
                for kind in computation.kinds:
                    if kind.id in owner:
                        raise PluginError(
                            f"measure kind {kind.id!r} is declared by plugin {owner[kind.id]!r} "
                            f"and by plugin {plugin.name!r}"
                        )
                    owner[kind.id] = plugin.name
                found.append((plugin, computation))
        return _in_order_of_needs(found)

    def _collect_item_kinds(self) -> dict[str, ItemKind]:
        kinds: dict[str, ItemKind] = {}
        owner: dict[str, str] = {}
        for plugin, given in self._each("item_kinds", ItemKind):
            for kind in given:
                for name in dict.fromkeys(map(folded, (kind.id, *kind.synonyms))):
                    if name in kinds:
                        raise PluginError(
                            f"item kind {name!r} is declared by plugin {owner[name]!r} "
                            f"and by plugin {plugin.name!r}"
                        )
                    kinds[name], owner[name] = kind, plugin.name
        return kinds

    def _reference_folders(self) -> list[Path]:
        folders = [built_in_folder()]
        owner: dict[str, str] = {}
        self._data_of: dict[Path, str] = {}
        for hook in ("substances", "materials"):
            for plugin, given in self._each(hook, Path):
                for folder in given:
                    if folder not in folders:
                        _claim_files(folder, plugin.name, owner)
                        folders.append(folder)
                        self._data_of[folder] = plugin.name
        return folders

    def _rules(self, files: Sequence[Path]) -> Ruleset:
        layers: list[Layer] = [
            load_layer(path, path.stem, "built-in") for path in built_in_rules(built_in_folder())
        ]
        for plugin, paths in self._each("criteria", Path):
            layers += [load_layer(path, plugin.name, "plugin") for path in paths]
        layers += [load_layer(path, path.stem, "site") for path in files]
        if self.failures:
            layers = [_without_lost_kinds(layer, self.kinds) for layer in layers]
        self._layers = tuple(layers)
        ruleset = self._merged(layers)
        return replace(ruleset, loosened=(*ruleset.loosened, *self._milder_data()))

    def _merged(self, layers: Sequence[Layer]) -> Ruleset:
        read = {name for _, computation in self._computations for name in computation.limits}
        if self.failures:  # what the lost plugin reads is not known; its failure is told already
            read |= {entry.id for layer in layers for entry in layer.limits}
        vocabulary = Vocabulary(fact_types(), self.kinds)
        return merge(layers, vocabulary, self.kinds, read, self._published)

    def _published(self, property_: str, name: str) -> float | None:
        """What the shipped file of a substance gives; of one that is not shipped, its own file."""
        try:
            found = self._shipped.substance(name)
        except UnknownName:
            found = self.reference.substance(name)
        if found.name != name:
            raise LookupError(f"write its own name, {found.name!r}")
        return found.datum(property_).value

    def _milder_data(self) -> Iterator[Loosened]:
        """Where files of plugins are milder than the shipped ones that they override."""
        for folder, plugin in self._data_of.items():
            for file, what, reason in milder_files(folder, built_in_folder()):
                yield Loosened(file, plugin, what, reason)

    @property
    def differences(self) -> tuple[str, ...]:
        """What plugins' and the site's rules add to the built-in ones or change, a line each."""
        plain = self._merged([layer for layer in self._layers if layer.rank == "built-in"])
        return tuple(differences(plain, self.ruleset))

    @property
    def foreign_sections(self) -> tuple[str, ...]:
        """Names of plugins that are not built in and add to the report.

        That they could add it to one report says nothing about a report with other findings.
        """
        return tuple(
            plugin.name
            for plugin in self._plugins
            if not plugin.built_in
            and hasattr(getattr(plugin.module, "report_sections", None), f"{PROJECT}_impl")
        )

    # Reviewing

    def vocabulary(self) -> Mapping[str, tuple[Entry, ...]]:
        """All words a scenario may use, list by list."""
        return vocabulary(self.reference, self._item_kinds.values())

    @property
    def item_kinds(self) -> Mapping[str, ItemKind]:
        """Kinds of items by levelled name and synonym."""
        return self._item_kinds

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
        return tuple(names.problems)

    def overlays(self, scenario: Scenario) -> tuple[Overlay, ...]:
        """The plan and every upset the plugins see in this scenario."""
        return (PLAN, *self._upsets(resolve(scenario, self.reference, self._item_kinds), []))

    def _upsets(self, resolved: Resolved, failures: list[Failure]) -> list[Overlay]:
        """Every upset once, in a fixed order; one that cannot be run becomes a failure."""
        seen: dict[str, Overlay] = {}
        scenario = resolved.scenario
        for plugin, given in self._each(
            "upsets", Overlay, scenario=scenario, reference=self.reference, failures=failures
        ):
            for overlay in given:
                wrong = _not_runnable(overlay, resolved)
                if overlay.id in seen:
                    wrong = "declared twice"
                if wrong:
                    failures.append(Failure(plugin.name, f"its upset {overlay.id!r}: {wrong}"))
                else:
                    seen[overlay.id] = overlay
        return list(seen.values())

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
        overlays = [PLAN, *found, *extra]
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
            causes=causes(findings, self.ruleset.letters, self.kinds),
        )
        late: list[Failure] = []
        sections = (*stated.sections(scenario), *self._sections(draft, late))
        draft = replace(draft, sections=sections)
        if not late:
            return draft
        findings = (*draft.findings, *(_failure_finding(f) for f in late))
        return replace(
            draft,
            findings=findings,
            verdict=verdict(findings),
            failures=(*draft.failures, *late),
            causes=causes(findings, self.ruleset.letters, self.kinds),
        )

    def refused(self, scenario: Scenario, overlays: Sequence[Overlay]) -> Refused:
        """What stands against each of many runs, judged apart: quick, for a search.

        An overlay of case "upset" is judged as one, every other as a plan with its steps. Only
        criteria on measures count, and no safeguard earns credit: what is found is reviewed again.
        """
        return refused(*self._alone(scenario, overlays))

    def sampled(
        self, scenario: Scenario, overlays: Sequence[Overlay]
    ) -> tuple[tuple[Finding, ...], Sequence[Measure], Trials]:
        """Plan and steps at many points, judged at the hazardous 95 % order statistic.

        What was found, and the measures and trials that it was found in.
        """
        given = self._alone(scenario, overlays)
        return sampled(*given), given[0], given[4]

    def _alone(
        self, scenario: Scenario, overlays: Sequence[Overlay]
    ) -> tuple[list[Measure], dict[str, Any], Ruleset, Mapping[str, Kind], Trials, dict[str, str]]:
        """What runs are judged by that are no failures of the scenario as it stands."""
        resolved = resolve(scenario, self.reference, self._item_kinds)
        measures, broken = self._measure(resolved, overlays, [])
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

    def _measure(
        self, resolved: Resolved, overlays: Sequence[Overlay], failures: list[Failure]
    ) -> tuple[list[Measure], dict[str, str]]:
        """Every measure over all runs, chunk by chunk, and the kinds whose check failed."""
        runs = Runs(resolved.base, overlays)
        pieces = list(runs.chunks(_size(resolved)))
        kept = _Kept({}, {})
        chunks = [self._measure_chunk(resolved, piece, failures, kept) for piece in pieces]
        broken = {kind: why for _, part in chunks for kind, why in part.items()}
        shapes = [(1 + len(resolved.steps), piece.size) for piece in pieces]
        return _joined([measures for measures, _ in chunks], shapes), broken

    def _measure_chunk(
        self, resolved: Resolved, runs: Runs, failures: list[Failure], kept: _Kept
    ) -> tuple[list[Measure], dict[str, str]]:
        by_kind: dict[str, list[Measure]] = {}
        try:
            setup = self._setup(resolved, runs, lambda kind: by_kind.get(kind, []))
        except Exception as error:  # an item kind of a plugin, or a fault of ours: nothing is known
            used = ", ".join(sorted({kind.id for kind in resolved.graph.kinds}))
            why = f"the walk failed, with items of kind {used}: {type(error).__name__}: {error}"
            if (failure := Failure("walk", why)) not in failures:
                failures.append(failure)
            return [], dict.fromkeys(self.kinds, why)
        broken: dict[str, str] = {}
        for number, (plugin, computation) in enumerate(self._computations):
            lost = [n for n in computation.needs if n in broken or n not in self.kinds]
            try:
                if lost:
                    raise PluginError(f"it needs {', '.join(lost)}, which could not be computed")
                if number in kept.overdue:
                    raise kept.overdue[number]
                for measure in self._computed(plugin, computation, setup, kept, number):
                    measure.value.flags.writeable = measure.status.flags.writeable = False
                    by_kind.setdefault(measure.kind, []).append(measure)
            except FAULTS as error:
                if isinstance(error, TookTooLong):
                    kept.overdue[number] = error
                why = f"check {plugin.name} failed: {type(error).__name__}: {error}"
                broken |= {kind.id: why for kind in computation.kinds}
                failure = Failure(plugin.name, why)
                if failure not in failures:
                    failures.append(failure)
        return [m for kind in sorted(by_kind) for m in by_kind[kind]], broken

    def _computed(
        self, plugin: _Plugin, computation: Computation, setup: Setup, kept: _Kept, number: int
    ) -> list[Measure]:
        """The measures of one computation, checked; run by run where the check says so."""

        def compute(setup: Setup) -> list[Measure]:
            return list(_yielded(computation, setup))

        if plugin.check is None or not plugin.check.scalar:
            found = self._called(plugin, lambda: compute(setup))
        else:
            budget = kept.budgets.setdefault(number, Budget())
            parts = self._called(plugin, lambda: budget.run_by_run(setup, compute))
            found = list(side_by_side(parts, setup.shape[0]))
        if not computation.limits:
            return found
        used = self.ruleset.limits_hash(computation.limits)
        return [replace(measure, limits_hash=used) for measure in found]

    def _setup(
        self, resolved: Resolved, runs: Runs, contact: Callable[[str], Sequence[Measure]]
    ) -> Setup:
        limits = {name: limit.value for name, limit in self.ruleset.limits.items()}
        return Setup(resolved, runs, limits, contact)

    # Explaining

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

        The one run is walked again with recording on; alone or in a batch the numbers are the
        same. Raises `LookupError` that names the nearest kind, place, run or step.
        """
        if kind not in self.kinds:
            raise _unknown("measure kind", kind, self.kinds)
        resolved = resolve(scenario, self.reference, self._item_kinds)
        overlays = (PLAN, *self._upsets(resolved, []))
        measures, broken = self._measure(resolved, overlays, [])
        if kind in broken:
            raise _unknown("measure", kind, (), broken[kind])
        chosen = [m for m in measures if m.kind == kind]
        if not chosen:
            raise _unknown("measure", kind, (), "nothing of this kind was computed here")
        for name, wanted, of_measure in (("place", at, "at"), ("subject", of, "of")):
            if wanted is not None:
                known = [getattr(m, of_measure) for m in chosen]
                chosen = [m for m in chosen if getattr(m, of_measure) == wanted]
                if not chosen:
                    raise _unknown(name, wanted, known)
        ids = [o.id for o in overlays]
        if run is not None and run not in ids:
            raise _unknown("run", run, ids)
        cells = [STATED_PLAN, *(s.name for s in resolved.steps)]
        if step == PLAN.id and step not in cells:  # as the case is called in every output
            step = STATED_PLAN
        if step is not None and step not in cells:
            raise _unknown("step", step, cells)
        measure, cell, column = _worst(
            chosen,
            self.kinds[kind],
            overlays,
            None if run is None else ids.index(run),
            None if step is None else cells.index(step),
        )
        by_kind = self._recorded(resolved, overlays[column], {kind})
        again = next(m for m in by_kind[kind] if (m.at, m.of) == (measure.at, measure.of))
        if again.working is None:
            raise _unknown("working of", kind, (), "the check recorded none")
        return Explanation(
            measure_kind=self.kinds[kind],
            at=again.at,
            of=again.of,
            trial=overlays[column].title,
            step=cells[cell],
            quantity=again.working,
            index=cell,
        )

    def workings(
        self, scenario: Scenario, review: Review, positions: Iterable[int]
    ) -> dict[int, Explanation]:
        """The working behind findings of a review of this scenario, by their positions.

        What has no measure or whose check records no working is left out. Each run is walked
        once more, with recording on.
        """
        resolved = resolve(scenario, self.reference, self._item_kinds)
        overlays = {o.id: o for o in (PLAN, *self._upsets(resolved, []))}
        cells = [STATED_PLAN, *(s.name for s in resolved.steps)]
        by_run: dict[str, list[int]] = {}
        for n in positions:
            finding = review.findings[n]
            if finding.kind in self.kinds and finding.trial in overlays and finding.step in cells:
                by_run.setdefault(finding.trial, []).append(n)
        found = {}
        for run, several in by_run.items():
            kinds = {review.findings[n].kind for n in several}
            by_kind = self._recorded(resolved, overlays[run], kinds)
            for n in several:
                f = review.findings[n]
                same = (m for m in by_kind.get(f.kind, ()) if (m.at, m.of) == (f.at, f.of))
                measure = next(same, None)
                if measure is not None and measure.working is not None:
                    found[n] = Explanation(
                        self.kinds[f.kind], f.at, f.of, overlays[run].title, f.step,
                        measure.working, cells.index(f.step),
                    )  # fmt: skip
        return found

    def played(self, scenario: Scenario) -> Setup:
        """The plan alone, walked once more: what a picture shows of it and no measure holds."""
        resolved = resolve(scenario, self.reference, self._item_kinds)
        return self._setup(resolved, Runs(resolved.base, [PLAN]), lambda kind: ())

    def _recorded(
        self, resolved: Resolved, overlay: Overlay, kinds: set[str]
    ) -> dict[str, list[Measure]]:
        """The measures of some kinds, and of those that they need, in one run, with working."""
        by_kind: dict[str, list[Measure]] = {}
        with recording():
            alone = Runs(resolved.base, [overlay])
            setup = self._setup(resolved, alone, lambda k: by_kind.get(k, []))
            for plugin, computation in self._needed_for(kinds):
                for m in self._called(plugin, partial(_listed, computation.compute, setup)):
                    by_kind.setdefault(m.kind, []).append(m)
        return by_kind

    def _needed_for(self, kinds: set[str]) -> list[tuple[_Plugin, Computation]]:
        """The computations of some kinds and those they need, in order."""
        wanted, out = set(kinds), []
        for pair in reversed(self._computations):
            if any(k.id in wanted for k in pair[1].kinds):
                wanted |= set(pair[1].needs)
                out.append(pair)
        return out[::-1]


def _claim_files(folder: Path, plugin: str, owner: dict[str, str]) -> None:
    """A file may override a built-in one; of two plugins that give it, neither may win unseen."""
    for file in sorted(folder.glob("*/*.yaml")):
        id, here = f"{file.parent.name}/{file.stem}", f"plugin {plugin!r} ({file})"
        if owner.setdefault(id, here) != here:
            raise PluginError(f"data file {id} is given by {owner[id]} and by {here}")


def built_in_rules(folder: Path) -> list[Path]:
    """The ruleset files shipped with benchgate: every YAML file there that is no data file."""
    return sorted(p for p in folder.glob("*.yaml") if p.name not in DATA_FILES)


def _without_lost_kinds(layer: Layer, kinds: Mapping[str, Kind]) -> Layer:
    """A layer without criteria of kinds that went with a plugin that did not load.

    The plugin's own failure is a finding already; a ruleset error here would hide all others.
    """
    kept = tuple(
        entry
        for entry in layer.criteria
        if "kind" not in entry.fields or entry.fields["kind"].value in kinds
    )
    return replace(layer, criteria=kept)


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


def _unknown(what: str, text: str, known: Any, why: str = "") -> LookupError:
    return LookupError(f"no {what} {text!r}{nearest(text, known)}" + (f": {why}" if why else ""))


def _not_runnable(overlay: Overlay, resolved: Resolved) -> str:
    """Why an upset would not be run and judged as one; '' where it would."""
    unknown = [path for path in overlay.changes if path not in resolved.base]
    if unknown:
        return f"the scenario has no number {unknown[0]!r}"
    if overlay.case != "upset":
        return f"its case is {overlay.case!r}"
    if not 0 <= (overlay.from_step or 0) <= len(resolved.steps):
        return f"there is no step {overlay.from_step}"
    if not (isinstance(overlay.sign, str) and isinstance(overlay.response, str)):
        return "its sign and its response must be text"
    return ""


def _in_order_of_needs(
    found: list[tuple[_Plugin, Computation]],
) -> list[tuple[_Plugin, Computation]]:
    """Computations so that needs come first; a cycle is an error that names the kinds."""
    waiting = sorted(found, key=lambda pair: pair[1].kinds[0].id)
    known = {kind.id for _, c in found for kind in c.kinds}
    done: set[str] = set()
    order: list[tuple[_Plugin, Computation]] = []
    while waiting:
        ready = [p for p in waiting if all(n in done or n not in known for n in p[1].needs)]
        if not ready:
            stuck = ", ".join(kind.id for _, c in waiting for kind in c.kinds)
            raise PluginError(f"measure kinds need each other in a circle: {stuck}")
        order.append(ready[0])
        waiting.remove(ready[0])
        done |= {kind.id for kind in ready[0][1].kinds}
    return order


def _size(resolved: Resolved) -> int:
    """Runs per chunk: as many as keep the composition arrays small."""
    per_run = resolved.graph.size * len(resolved.species) * (len(resolved.steps) + 1) * 8 * 12
    return int(max(64, min(CHUNK_RUNS, CHUNK_BYTES // max(per_run, 1))))


def _listed(function: Callable[..., Iterable[T]], *given: Any, **named: Any) -> list[T]:
    """All that a plugin's function gives, taken where its time is limited."""
    return list(function(*given, **named))


def _yielded(computation: Computation, setup: Setup) -> Iterator[Measure]:
    """What a computation yields, each measure declared, of the right shape and only once."""
    ids = [kind.id for kind in computation.kinds]
    seen: set[tuple[str, str, str]] = set()
    for measure in computation.compute(setup):
        if measure.kind not in ids:
            raise PluginError(f"it yields {measure.kind!r}, which it does not declare")
        key = measure.kind, measure.at, measure.of
        if key in seen:
            raise PluginError(f"it yields {measure.kind} at {measure.at!r} twice")
        seen.add(key)
        yield _checked(measure, setup.shape)


def _checked(measure: Measure, shape: tuple[int, int]) -> Measure:
    """The measure with `missing` exactly where its value is NaN, whatever the check said."""
    if measure.value.shape != shape or measure.status.shape != shape:
        raise PluginError(f"{measure.kind} at {measure.at}: its shape is not {shape}")
    nan = np.isnan(measure.value)
    lost = measure.status >= MISSING
    if np.array_equal(nan, measure.status == MISSING) and np.array_equal(nan, lost):
        return measure
    return replace(
        measure,
        value=np.where(lost, np.nan, measure.value),
        status=np.where(nan | lost, np.uint8(MISSING), measure.status),
    )


def _joined(chunks: list[list[Measure]], shapes: Sequence[tuple[int, int]]) -> list[Measure]:
    """Measures of all chunks side by side; one that a chunk lacks is missing there.

    `shapes` are the chunks' (cells, runs). The order is that of one chunk: by kind, then as the
    check yielded them.
    """
    if len(chunks) == 1:
        return chunks[0]
    keyed = [{(m.kind, m.at, m.of): m for m in chunk} for chunk in chunks]
    keys = sorted(dict.fromkeys(key for chunk in keyed for key in chunk), key=lambda key: key[0])
    out = []
    for key in keys:
        first = next(chunk[key] for chunk in keyed if key in chunk)
        values, statuses, pairs = [], [], [chunk[key].compared for chunk in keyed if key in chunk]
        for chunk, shape in zip(keyed, shapes, strict=True):
            m = chunk.get(key)
            values.append(np.full(shape, np.nan) if m is None else m.value)
            lost = np.full(shape, MISSING, dtype=np.uint8)
            statuses.append(lost if m is None else m.status)
        out.append(
            replace(
                first,
                value=np.concatenate(values, axis=1),
                status=np.concatenate(statuses, axis=1),
                working=None,
                compared=together(pairs) if len(pairs) == len(chunks) else None,
            )
        )
    return out


def _worst(
    measures: Sequence[Measure],
    kind: Kind,
    overlays: Sequence[Overlay],
    run: int | None,
    cell: int | None,
) -> tuple[Measure, int, int]:
    """The measure, cell and run with the most hazardous known value among those asked for."""
    best: tuple[float, int, int, int] | None = None
    for n, measure in enumerate(measures):
        hazard = np.where(kind.worse == "higher", measure.value, -measure.value)
        hazard = np.where(np.isnan(hazard), -np.inf, hazard)
        asked = np.zeros(hazard.shape, dtype=bool)
        for column, overlay in enumerate(overlays):
            start = 0 if overlay.from_step is None else overlay.from_step
            asked[start:, column] = run is None or column == run
        if cell is not None:
            asked[np.arange(hazard.shape[0]) != cell] = False
        if not asked.any():
            continue
        hazard = np.where(asked, hazard, -np.inf)
        at = int(np.argmax(np.where(asked, hazard, -np.inf)))
        c, r = np.unravel_index(at, hazard.shape)
        if not asked[c, r]:
            c, r = np.argwhere(asked)[0]
        entry = (float(hazard[c, r]), n, int(c), int(r))
        if best is None or entry[0] > best[0]:
            best = entry
    if best is None:
        raise LookupError("no such trial: the upset begins after the step named")
    return measures[best[1]], best[2], best[3]
