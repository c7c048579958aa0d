"""Looks at many settings at once as overlays, and reviews a few of them in full.

A quick look goes by stages, and only what leaves hope comes to the next: what the cause is measured
by, in the one run that it is worst in; then everything, as planned; then the failures that it
names. The last word is a review of the changed file with all of its failures.
"""

from __future__ import annotations

import copy
import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np

from review.engine.wishes import unmet
from review.explore.accuracy import weighed
from review.explore.acts import Act, Key, Suggestion, Turn, blocking, fuel, hazards, keys_of
from review.explore.points import ALLOWED, plain
from review.explore.renewed import Change
from review.explore.ways import thinning
from review.interface.measure import FloatArray
from review.interface.plugin import Overlay
from review.interface.result import Cause, Review
from review.judge.each import Refused
from review.scenario import InputError, Scenario, numbers

T = TypeVar("T")
#: Failures played for a cause in a quick look; a full review plays all of them.
PLAYED = 4
#: Runs walked together in a quick look, so that the time left can be told.
BATCH = 1500
#: Below this share of the lower limit more fuel does no harm on the way.
LEAN = 0.25
_PLAN = Overlay("plan", "the plan", "plan")
Setting = Mapping[str, float]
#: What tells that gas burns, and the shares of the rates looked at on the way.
ENVELOPE = frozenset({"flammability.margin", "flammability.margin_elsewhere"})
RAMP = (0.1, 0.25, 0.5, 0.75, 0.9)
#: A hazard that grows by less than this share is the same.
SAME = 1e-3


@dataclass(frozen=True, slots=True)
class Seen:
    """What stands against one setting, and the most hazardous value of each measure judged."""

    keys: set[Key]
    worst: dict[Key, float]


class Look:
    """One file, its review, and what other settings of it come to.

    `seen(what, done, of)` is told how far it is.
    """

    def __init__(
        self, engine: Any, text: str, name: str, seen: Callable[[str, int, int], None]
    ) -> None:
        self._engine, self._name, self._seen = engine, name, seen
        self.scenario: Scenario = engine.loads(text, name)
        self.data = plain(text, name)
        self._kept: dict[str, Review | None] = {}
        self.settings = 0
        self.review = weighed(engine, self.scenario, engine.review(self.scenario))
        self.old = keys_of(self.review)
        self._fuel = fuel(self.review)
        self.partly: set[str] = set()
        self.learned: dict[str, list[str]] = {}
        """By cause, failures in which a full review found what no quick look had."""

    @property
    def against(self) -> tuple[Cause, ...]:
        """The causes that stand against the run."""
        return tuple(c for c in self.review.causes if c.grade != "condition")

    @property
    def reviews(self) -> int:
        """How many changed files were reviewed in full."""
        return len(self._kept)

    def keys(self, cause: Cause) -> set[Key]:
        """What has to go for a cause to be gone; the refused alone where that was settled for."""
        findings = blocking(self.review, cause)
        if cause.id in self.partly:
            findings = [f for f in findings if f.grade == "unacceptable"]
        return {(f.criterion, f.at, f.of) for f in findings}

    def settle(self, cause: Cause) -> bool:
        """Leaves what is not known of a refused cause out, from now on; whether there is any."""
        before = self.keys(cause)
        self.partly.add(cause.id)
        return bool(self.keys(cause)) and self.keys(cause) != before

    # Full reviews

    def text(self, acts: Iterable[Act]) -> str:
        """The file with changes."""
        import yaml

        data = copy.deepcopy(self.data)
        for act in sorted(acts, key=lambda act: isinstance(act, Change)):
            act.make(data)
        return yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)

    def changed(self, acts: Iterable[Act]) -> Scenario | None:
        """The file with changes; None where no such file may be or one undoes the other."""
        try:
            scenario: Scenario = self._engine.loads(self.text(acts), self._name)
        except (InputError, LookupError):
            return None
        return scenario

    def reviewed(self, acts: Sequence[Act]) -> Review | None:
        """The full review of the file with changes; None where no such file may be."""
        text = self.text(acts)
        if text not in self._kept:
            self._seen("reviews", len(self._kept), 0)
            try:
                scenario = self._engine.loads(text, self._name)
                review = self._engine.review(scenario)
                self._kept[text] = weighed(self._engine, scenario, review)
            except InputError:
                self._kept[text] = None
        return self._kept[text]

    def verified(self, acts: Sequence[Act], cause: Cause | None) -> Suggestion | None:
        """The changes as a suggestion, where a full review says that they clear the cause.

        Without a cause: that the run may proceed.
        """
        review = self.reviewed(acts)
        if review is None or self.richer(review):
            return None
        turned = any(isinstance(act, Turn) for act in acts)
        if turned and (self.worse(review) or self.crosses(acts)):
            return None
        keys = keys_of(review)
        if cause is None:
            good = review.verdict in ALLOWED
        else:
            good = not keys & self.keys(cause) and keys <= self.old
        if not good:
            return None
        left = sum(c.grade != "condition" for c in review.causes)
        text = self.text(acts)
        wishes = unmet(self._engine.loads(text, self._name), review)
        lacks = self._lacks(review, cause) if cause is not None and cause.id in self.partly else ()
        return Suggestion(tuple(acts), review.verdict, left, text, wishes, lacks)

    def _lacks(self, review: Review, cause: Cause) -> tuple[str, ...]:
        """What is still not known of a cause after a change."""
        mine = keys_of(self.review, cause)
        left = (f for f in blocking(review) if (f.criterion, f.at, f.of) in mine)
        return tuple(dict.fromkeys(fact for f in left for fact in f.lacking))

    def richer(self, review: Review) -> bool:
        """Whether more fuel stands anywhere than in the file: what then keeps it from burning is
        too much of it, and on the way there from cold and inert it may burn."""
        most = max(self._fuel.values(), default=0.0)
        return any(
            not value <= max(self._fuel.get(at, most), LEAN) * 1.001
            for at, value in fuel(review).items()
        )

    def worse(self, review: Review) -> bool:
        """Whether anything that stands against the file and still does is more hazardous."""
        before, after = hazards(self.review), hazards(review)
        return any(
            not after[key] <= before[key] + SAME * abs(before[key])
            for key in before.keys() & after.keys()
            if before[key] < math.inf
        )

    def crosses(self, acts: Iterable[Act]) -> bool:
        """Whether gas burns on the way from cold and inert, where it does not there nor on the way
        to the file as it is."""
        scenario = self.changed(acts)
        if scenario is None:
            return True
        on_the_way, there = self._ramped(scenario)
        return bool(on_the_way - there - self._ramp)

    @cached_property
    def _ramp(self) -> set[Key]:
        return set.union(*self._ramped(self.scenario))

    def _ramped(self, scenario: Scenario) -> tuple[set[Key], set[Key]]:
        """Where gas burns with inert gas and air at their full rates and all else at shares of
        theirs, and at the full rates."""
        known, kept = numbers(scenario), thinning(scenario)
        paths = [path for name in scenario.flows if name not in kept
                 for path in (f"flows.{name}.rate",
                              *(f"procedure.{s.step}.flows.{name}" for s in scenario.procedure))
                 if path in known]  # fmt: skip
        settings = [{path: share * known[path] for path in paths} for share in RAMP]
        there, *partly = self._runs(scenario, [{}, *settings], [_PLAN], ENVELOPE)
        return set().union(*(seen.keys for seen in partly)), there.keys

    # Quick looks

    def clears(self, keys: set[Key], cause: Cause) -> bool:
        """Whether what stands against a setting leaves the cause out and holds nothing new."""
        return not keys & self.keys(cause) and keys <= self.old

    def first(
        self, settings: Sequence[Setting], scenario: Scenario, causes: Sequence[Cause],
        trials: Sequence[str] = (),
    ) -> list[Seen]:  # fmt: skip
        """What causes are measured by, at each setting, in the run that each is worst in.

        Or in these `trials` alone.
        """
        kinds = frozenset(f.kind for c in causes for f in blocking(self.review, c) if f.kind)
        if not kinds or not settings:
            return [Seen(set(), {})] * len(settings)
        leads = [f.trial for c in causes for f in blocking(self.review, c)[:1] if f.case == "upset"]
        wanted = trials or list(dict.fromkeys(leads))
        plan = [] if trials or len(leads) == len(causes) else [_PLAN]
        return self._runs(scenario, settings, [*plan, *self._overlays(wanted)], kinds)

    def led_alike(self, causes: Sequence[Cause]) -> list[list[Cause]]:
        """Causes in groups that are worst in one and the same run."""
        groups: dict[str, list[Cause]] = {}
        for cause in causes:
            lead = blocking(self.review, cause)[0]
            groups.setdefault(lead.trial if lead.case == "upset" else "", []).append(cause)
        return list(groups.values())

    def then(
        self, settings: Sequence[Setting], scenario: Scenario, causes: Sequence[Cause],
        hopeful: Callable[[set[Key]], bool],
    ) -> list[set[Key]]:  # fmt: skip
        """Everything that is measured: as planned, and with the causes' failures where that
        leaves hope."""
        out = self.planned(settings, scenario)
        left = [n for n, keys in enumerate(out) if hopeful(keys)]
        found = self.played([settings[n] for n in left], scenario, causes)
        for n, keys in zip(left, found, strict=True):
            out[n] = out[n] | keys
        return out

    def planned(self, settings: Sequence[Setting], scenario: Scenario) -> list[set[Key]]:
        """Everything that stands against plan and steps."""
        return [seen.keys for seen in self._runs(scenario, settings, [_PLAN])]

    def played(
        self, settings: Sequence[Setting], scenario: Scenario, causes: Sequence[Cause]
    ) -> list[set[Key]]:
        """Everything that stands against the failures that causes name."""
        played = self._overlays(self._played(causes))
        if not played:
            return [set() for _ in settings]
        return [seen.keys for seen in self._runs(scenario, settings, played)]

    def learn(self, acts: Sequence[Act], cause: Cause) -> bool:
        """Keeps the failure that a full review refused changes for; whether it is a new one."""
        review = self.reviewed(acts)
        if review is None:
            return False
        known = {o.id for o in self.failures}
        for f in blocking(review):
            key = f.criterion, f.at, f.of
            if (
                f.trial in known
                and f.case == "upset"
                and (key in self.keys(cause) or key not in self.old)
            ):
                several = self.learned.setdefault(cause.id, [])
                if f.trial not in several:
                    several.append(f.trial)
                    return True
        return False

    def _played(self, causes: Sequence[Cause]) -> list[str]:
        """The failures that were learned of or that causes name, the worst one of each first."""
        each = [[f.trial for f in blocking(self.review, c) if f.case == "upset"] for c in causes]
        each = [self.learned.get(c.id, []) + trials for c, trials in zip(causes, each, strict=True)]
        turns = itertools.zip_longest(*each)
        found = dict.fromkeys(trial for some in turns for trial in some if trial is not None)
        learned = sum(len(self.learned.get(c.id, [])) for c in causes)
        return list(found)[: PLAYED + learned]

    def _overlays(self, trials: Sequence[str]) -> list[Overlay]:
        known = {o.id: o for o in self.failures}
        return [known[trial] for trial in trials if trial in known]

    @cached_property
    def failures(self) -> Sequence[Overlay]:
        """The failures of the file as it stands, which are played in every quick look."""
        return tuple(self._engine.overlays(self.scenario))

    def _runs(
        self, scenario: Scenario, settings: Sequence[Setting], each: Sequence[Overlay],
        kinds: frozenset[str] | None = None,
    ) -> list[Seen]:  # fmt: skip
        """What stands against each setting in any of some runs."""
        out: list[Seen] = []
        for part in parts(settings, max(1, BATCH // max(1, len(each)))):
            runs = [
                replace(o, id=f"{o.id} #{n}", under=setting)
                for n, setting in enumerate(part)
                for o in each
            ]
            worst: dict[Key, FloatArray] = {}
            try:
                found = self._engine.refused(scenario, runs, kinds, worst)
            except KeyError:  # a change took away what fails or what is turned: nothing is known
                out += [Seen(set(), {}) for _ in part]
                continue
            out += _each(found, worst, len(part), len(each))
            self.settings += len(part) * (kinds is not None)
            self._seen("settings looked at", self.settings, 0)
        return out


def _each(found: Refused, worst: Mapping[Key, FloatArray], settings: int, runs: int) -> list[Seen]:
    """What stands against each setting, whose runs lie one after the other."""
    out = [Seen(set(), {}) for _ in range(settings)]
    for key, bad in found.items():
        for n in map(int, np.flatnonzero(bad.reshape(settings, runs).any(axis=1))):
            out[n].keys.add(key)
    for key, values in worst.items():
        for n, value in enumerate(values.reshape(settings, runs).max(axis=1)):
            out[n].worst[key] = float(value)
    return out


def parts(given: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    """A sequence in pieces."""
    for first in range(0, len(given), size):
        yield given[first : first + size]
