"""What an engine has loaded: plugins with their hooks, data, words and rules."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pluggy

from review.engine.discovery import FAULTS, discover
from review.engine.facts import fact_types
from review.engine.limited import seconds_allowed, within
from review.engine.vocabulary import Entry, vocabulary
from review.interface import hookspecs
from review.interface.items import ItemKind
from review.interface.plugin import PROJECT, Check, Kind, PluginError
from review.interface.result import Failure, Loosened
from review.interface.setup import Computation
from review.judge.conditions import Vocabulary
from review.judge.layers import Layer, load_layer
from review.judge.loosening import differences
from review.judge.merging import merge
from review.judge.ruleset import Ruleset
from review.reference.finding import DATA_FILES, Reference, UnknownName, built_in_folder
from review.reference.milder import milder_files
from review.scenario.words import WordsError, folded

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Plugin:
    """One plugin as it was loaded."""

    name: str
    module: Any
    check: Check | None
    built_in: bool


class Loaded:
    """Plugins, data, words and rules. A plugin that fails costs only its own findings."""

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

    def _load(self, files: Sequence[Path]) -> list[Plugin]:
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
            plugin = Plugin(each.name, each.module, None, each.built_in)
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

    def _called(self, plugin: Plugin, work: Callable[[], T]) -> T:
        """What a plugin's code gives; with a limit on its time unless it is built in.

        What a plugin prints is no part of the review. NaN says what is missing or has no bound;
        a warning of numpy adds nothing.
        """

        def quiet() -> T:
            with np.errstate(all="ignore"):
                return work()

        if plugin.built_in:
            return quiet()
        with redirect_stdout(sys.stderr):
            return within(self._seconds, quiet)

    def _failed(self, name: str, error: BaseException, what: str) -> None:
        self.failures.append(Failure(name, f"{what}: {type(error).__name__}: {error}"))

    def _each(
        self, hook: str, of: type[T], *, failures: list[Failure] | None = None, **given_to: Any
    ) -> list[tuple[Plugin, list[T]]]:
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
                given = self._called(plugin, partial(listed, function, **arguments))
                wrong = [x for x in given if not isinstance(x, of)]
                if wrong:
                    raise TypeError(f"{wrong[0]!r} is no {of.__name__}")
                out.append((plugin, given))
            except FAULTS as error:
                why = f"its hook {hook} failed: {type(error).__name__}: {error}"
                (self.failures if failures is None else failures).append(Failure(plugin.name, why))
        return out

    def _collect_computations(self) -> list[tuple[Plugin, Computation]]:
        found: list[tuple[Plugin, Computation]] = []
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

    def vocabulary(self) -> Mapping[str, tuple[Entry, ...]]:
        """All words a scenario may use, list by list."""
        return vocabulary(self.reference, self._item_kinds.values())

    @property
    def item_kinds(self) -> Mapping[str, ItemKind]:
        """Kinds of items by levelled name and synonym."""
        return self._item_kinds


def listed(function: Callable[..., Iterable[T]], *given: Any, **named: Any) -> list[T]:
    """All that a plugin's function gives, taken where its time is limited."""
    return list(function(*given, **named))


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


def _in_order_of_needs(
    found: list[tuple[Plugin, Computation]],
) -> list[tuple[Plugin, Computation]]:
    """Computations so that needs come first; a cycle is an error that names the kinds."""
    waiting = sorted(found, key=lambda pair: pair[1].kinds[0].id)
    known = {kind.id for _, c in found for kind in c.kinds}
    done: set[str] = set()
    order: list[tuple[Plugin, Computation]] = []
    while waiting:
        ready = [p for p in waiting if all(n in done or n not in known for n in p[1].needs)]
        if not ready:
            stuck = ", ".join(kind.id for _, c in waiting for kind in c.kinds)
            raise PluginError(f"measure kinds need each other in a circle: {stuck}")
        order.append(ready[0])
        waiting.remove(ready[0])
        done |= {kind.id for kind in ready[0][1].kinds}
    return order
