"""All measures over all runs: chunk by chunk, each check in its time, each measure checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from review.engine.alone import Budget, side_by_side
from review.engine.discovery import FAULTS
from review.engine.limited import TookTooLong
from review.engine.loading import Loaded, Plugin, listed
from review.interface.folded import folded
from review.interface.measure import MISSING, OK, Measure, recording, together
from review.interface.plugin import Kind, Overlay, PluginError
from review.interface.result import Failure
from review.interface.setup import Computation
from review.scenario import Scenario
from review.walk.readings import planned
from review.walk.resolve import Resolved, resolve
from review.walk.runs import Runs
from review.walk.setup import Setup

#: Runs walked together; fewer where a set-up is so large that its arrays would not stay small. What
#: a chunk costs beside its runs grows with the items, and their number must not grow much as well.
CHUNK_RUNS = 2048
CHUNK_BYTES = 480_000_000
#: Of a review with so many trials, runs that are alike are kept once; fewer take little memory.
MANY_TRIALS = 10_000


@dataclass(frozen=True, slots=True)
class _Kept:
    """What the chunks of one review share, by computation: who was too slow, what is computed."""

    overdue: dict[int, TookTooLong]
    budgets: dict[int, Budget]
    only: list[tuple[Plugin, Computation]] | None
    """The computations that are wanted; None: all."""
    keep: Callable[[Measure], Measure]
    """A measure as the review keeps it."""


class Measuring(Loaded):
    """An engine that walks runs and lets every check compute its measures of them."""

    def overlays(self, scenario: Scenario) -> tuple[Overlay, ...]:
        """The plan, also as it can be read otherwise, and every upset the plugins see."""
        resolved = resolve(scenario, self.reference, self._item_kinds)
        return (*planned(resolved), *self._upsets(resolved, []))

    def _upsets(self, resolved: Resolved, failures: list[Failure]) -> list[Overlay]:
        """Every upset once, in a fixed order; one that cannot be run becomes a failure."""
        seen: dict[str, Overlay] = {}
        scenario = resolved.scenario.as_filed
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

    def _measure(
        self,
        resolved: Resolved,
        overlays: Sequence[Overlay],
        failures: list[Failure],
        kinds: frozenset[str] | None = None,
    ) -> tuple[list[Measure], dict[str, str]]:
        """Every measure over all runs, chunk by chunk, and the kinds whose check failed.

        With `kinds` only these and what they need.
        """
        runs = Runs(resolved.base, overlays)
        pieces = list(runs.chunks(_size(resolved)))
        many = runs.size * (1 + len(resolved.steps)) >= MANY_TRIALS
        only = None if kinds is None else self._needed_for(set(kinds))
        kept = _Kept({}, {}, only, folded if many else lambda measure: measure)
        chunks = [self._measure_chunk(resolved, piece, failures, kept) for piece in pieces]
        broken = {kind: why for _, part in chunks for kind, why in part.items()}
        shapes = [(1 + len(resolved.steps), piece.size) for piece in pieces]
        return _joined([measures for measures, _ in chunks], shapes, self.kinds), broken

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
        computations = self._computations if kept.only is None else kept.only
        read_again = {kind for _, computation in computations for kind in computation.needs}
        for number, (plugin, computation) in enumerate(computations):
            lost = [n for n in computation.needs if n in broken or n not in self.kinds]
            try:
                if lost:
                    raise PluginError(f"it needs {', '.join(lost)}, which could not be computed")
                if number in kept.overdue:
                    raise kept.overdue[number]
                for measure in self._computed(plugin, computation, setup, kept, number):
                    measure.value.flags.writeable = measure.status.flags.writeable = False
                    told = measure if measure.kind in read_again else kept.keep(measure)
                    by_kind.setdefault(measure.kind, []).append(told)
            except FAULTS as error:
                if isinstance(error, TookTooLong):
                    kept.overdue[number] = error
                why = f"check {plugin.name} failed: {type(error).__name__}: {error}"
                broken |= {kind.id: why for kind in computation.kinds}
                failure = Failure(plugin.name, why)
                if failure not in failures:
                    failures.append(failure)
        setup.let_go()
        return [kept.keep(m) for kind in sorted(by_kind) for m in by_kind[kind]], broken

    def _computed(
        self, plugin: Plugin, computation: Computation, setup: Setup, kept: _Kept, number: int
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

    def _recorded(
        self, resolved: Resolved, overlays: Sequence[Overlay], kinds: set[str]
    ) -> dict[str, list[Measure]]:
        """The measures of some kinds, and of those that they need, in few runs, with working."""
        by_kind: dict[str, list[Measure]] = {}
        with recording():
            runs = Runs(resolved.base, overlays)
            setup = self._setup(resolved, runs, lambda k: by_kind.get(k, []))
            for plugin, computation in self._needed_for(kinds):
                for m in self._called(plugin, partial(listed, computation.compute, setup)):
                    by_kind.setdefault(m.kind, []).append(m)
        return by_kind

    def _needed_for(self, kinds: set[str]) -> list[tuple[Plugin, Computation]]:
        """The computations of some kinds and those they need, in order."""
        wanted, out = set(kinds), []
        for pair in reversed(self._computations):
            if any(k.id in wanted for k in pair[1].kinds):
                wanted |= set(pair[1].needs)
                out.append(pair)
        return out[::-1]


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


def _size(resolved: Resolved) -> int:
    """Runs per chunk: as many as keep small what the walk remembers of them.

    Of each item 12 arrays over species and 25 of single numbers, of the room 12 over species.
    """
    items, species = resolved.graph.size, len(resolved.species)
    per_cell = items * (12 * species + 25) + 12 * species
    per_run = 8 * per_cell * (len(resolved.steps) + 1)
    return int(max(64, min(CHUNK_RUNS, CHUNK_BYTES // max(per_run, 1))))


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
    if not np.count_nonzero(nan) and measure.status.max(initial=OK) < MISSING:
        return measure
    lost = measure.status >= MISSING
    if np.array_equal(nan, measure.status == MISSING) and np.array_equal(nan, lost):
        return measure
    return replace(
        measure,
        value=np.where(lost, np.nan, measure.value),
        status=np.where(nan | lost, np.uint8(MISSING), measure.status),
    )


def _joined(
    chunks: list[list[Measure]], shapes: Sequence[tuple[int, int]], kinds: Mapping[str, Kind]
) -> list[Measure]:
    """Measures of all chunks side by side; one that a chunk lacks is its kind's `absent` there.

    `shapes` are the chunks' (cells, runs). The order is that of one chunk: by kind, then as the
    check yielded them.
    """
    if len(chunks) == 1:
        return chunks[0]
    keyed = [{(m.kind, m.at, m.of): m for m in chunk} for chunk in chunks]
    for chunk in chunks:
        chunk.clear()  # each measure is let go as soon as it is joined
    keys = sorted(dict.fromkeys(key for part in keyed for key in part), key=lambda key: key[0])
    out = []
    for key in keys:
        found = [part.pop(key, None) for part in keyed]
        known = [m for m in found if m is not None]
        first, pairs = known[0], [m.compared for m in known]
        values, statuses = [], []
        absent = kinds[first.kind].absent
        lacks = (np.nan, MISSING) if absent is None else (absent, OK)
        for m, shape in zip(found, shapes, strict=True):
            values.append(np.full(shape, lacks[0]) if m is None else m.value)
            lost = np.full(shape, lacks[1], dtype=np.uint8)
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
