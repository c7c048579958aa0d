"""What would clear a refusal: the nearest single change, then pair, and one that clears all.

Numbers are looked at by the hundred as overlays, judged run by run; what looks good there is typed
into the file and reviewed in full, with every failure, before anybody is told. A change counts only
where the cause is gone and nothing new stands against the run. None makes the gas richer:
what then lies outside the flammable range was inside it on the way there from cold and inert.
"""

from __future__ import annotations

import copy
import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

import numpy as np

from review.explore.accuracy import weighed
from review.explore.changes import Change, changes
from review.explore.knobs import Knob, knobs
from review.explore.points import ALLOWED, plain
from review.explore.rounding import rounded
from review.interface.plugin import Overlay
from review.interface.result import Cause, Finding, Review
from review.judge.each import Refused
from review.judge.verdict import verdict
from review.scenario import InputError, Scenario

T = TypeVar("T")
Key = tuple[str, str, str]
#: Failures played at every setting of the quick look; a full review plays all of them.
PLAYED = 4
#: Suggestions told for each cause, and how many full reviews are spent on finding them.
TOLD, TRIES = 3, 12
#: Numbers and changes taken into pairs, and values of each number there.
PAIRED, PAIR_VALUES = 9, 7
#: Places looked at between a value that clears and its neighbour that does not.
FINER = 12
#: Runs walked together in a quick look, so that the time left can be told.
BATCH = 1500

FUEL = "flammability.fuel_to_lower_limit"
#: Below this share of the lower limit more fuel does no harm on the way.
LEAN = 0.25


@dataclass(frozen=True, slots=True)
class Turn:
    """One number set to a value."""

    knob: Knob
    value: float

    @property
    def says(self) -> str:
        return self.knob.sentence(self.value)

    @property
    def far(self) -> float:
        return self.knob.far(self.value)

    def make(self, data: Any) -> None:
        """Write it into the data of the file."""
        self.knob.turned.set_to(data, self.value)


Act = Turn | Change


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One change or several together, and the verdict of the review of the file with them."""

    acts: tuple[Act, ...]
    verdict: str
    left: int
    """How many causes stand against the run then."""
    text: str
    """The changed file."""

    @property
    def far(self) -> float:
        return sum(act.far for act in self.acts)


@dataclass(frozen=True, slots=True)
class ForCause:
    """A cause and what clears it, nearest first; empty where nothing that was tried does."""

    cause: Cause
    lead: Finding
    found: tuple[Suggestion, ...]


@dataclass(frozen=True, slots=True)
class Suggested:
    """All that was found; `whole` is false where the search was broken off."""

    review: Review
    causes: tuple[ForCause, ...]
    allowed: Suggestion | None
    """What lets the run proceed, where something does."""
    numbers: int
    changes: int
    settings: int
    reviews: int
    whole: bool


class Search:
    """Searches one file. `seen(what, done, of)` is told how far it is."""

    def __init__(
        self,
        engine: Any,
        text: str,
        name: str,
        seen: Callable[[str, int, int], None] = lambda what, done, of: None,
    ) -> None:
        self._engine, self._name, self._seen = engine, name, seen
        self.scenario: Scenario = engine.loads(text, name)
        self._data = plain(text, name)
        self._text = text
        self._kept: dict[str, Review | None] = {}
        self.settings = 0
        self.review = weighed(engine, self.scenario, engine.review(self.scenario))
        self._old = _keys(self.review)
        self._fuel = fuel(self.review)
        self.knobs = knobs(self.scenario, self._data)
        self.changes = changes(self.scenario, self._data, self.review)
        self._overlays = {o.id: o for o in engine.overlays(self.scenario)}
        self.found: dict[str, list[Suggestion]] = {}

    @property
    def against(self) -> tuple[Cause, ...]:
        """The causes that stand against the run."""
        return tuple(c for c in self.review.causes if c.grade != "condition")

    # What a setting comes to

    def text(self, acts: Iterable[Act]) -> str:
        """The file with changes."""
        import yaml

        data = copy.deepcopy(self._data)
        for act in sorted(acts, key=lambda act: isinstance(act, Change)):
            act.make(data)
        return yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)

    def reviewed(self, acts: Sequence[Act]) -> Review | None:
        """The full review of the file with changes; None where no such file may be."""
        text = self.text(acts)
        if text not in self._kept:
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
        keys = _keys(review)
        if cause is None:
            good = review.verdict in ALLOWED
        else:
            good = not keys & self.keys(cause) and keys <= self._old
        if not good:
            return None
        left = sum(c.grade != "condition" for c in review.causes)
        return Suggestion(tuple(acts), review.verdict, left, self.text(acts))

    def richer(self, review: Review) -> bool:
        """Whether more fuel stands anywhere than in the file: what then keeps it from burning is
        too much of it, and on the way there from cold and inert it may burn."""
        most = max(self._fuel.values(), default=0.0)
        return any(
            not value <= max(self._fuel.get(at, most), LEAN) * 1.001
            for at, value in fuel(review).items()
        )

    def keys(self, cause: Cause) -> set[Key]:
        """What has to go for a cause to be gone."""
        return _keys(self.review, cause)

    def looked(
        self,
        settings: Sequence[Mapping[str, float]],
        hopeful: Callable[[set[Key]], bool],
        scenario: Scenario | None = None,
    ) -> list[set[Key]]:
        """What stands against each setting in a quick look.

        The plan first; the worst failures only where the plan leaves hope.
        """
        scenario = scenario or self.scenario
        played = self._played(scenario)
        out: list[set[Key]] = []
        for part in _parts(settings, BATCH):
            out += self._runs(scenario, part, [Overlay("plan", "the plan", "plan")])
        left = [n for n, keys in enumerate(out) if hopeful(keys)] if played else []
        for several in _parts(left, max(1, BATCH // max(1, len(played)))):
            found = self._runs(scenario, [settings[n] for n in several], played)
            for n, keys in zip(several, found, strict=True):
                out[n] = out[n] | keys
        return out

    def _runs(
        self, scenario: Scenario, settings: Sequence[Mapping[str, float]], each: Sequence[Overlay]
    ) -> list[set[Key]]:
        runs = [
            replace(o, id=f"{o.id} #{n}", under=setting)
            for n, setting in enumerate(settings)
            for o in each
        ]
        found = _each(self._engine.refused(scenario, runs), len(settings), len(each))
        self.settings += len(settings) if each[0].case == "plan" else 0
        self._seen("settings looked at", self.settings, 0)
        return found

    def _played(self, scenario: Scenario) -> list[Overlay]:
        """The failures that the causes name, one of each cause first."""
        trials: dict[str, None] = {}
        for findings in itertools.zip_longest(
            *([self.review.findings[n] for n in (c.leading, *c.findings)] for c in self.against)
        ):
            trials |= {f.trial: None for f in findings if f is not None and f.case == "upset"}
        known = self._overlays
        if scenario is not self.scenario:
            known = {o.id: o for o in self._engine.overlays(scenario)}
        return [known[trial] for trial in trials if trial in known][:PLAYED]

    # The search

    def singles(self) -> None:
        """For each cause the single changes that clear it."""
        turns = [Turn(knob, value) for knob in self.knobs for value in knob.values]
        seen = dict(zip(((t.knob.turned.path, t.value) for t in turns),
                        self.looked([t.knob.overlay(t.value) for t in turns], self._hopeful),
                        strict=True))  # fmt: skip
        made = {change.says: self.changed(change) for change in self.changes}
        for cause in self.against:
            likely: list[Act] = [
                turn for knob in self.knobs for turn in self._nearest(knob, cause, seen)
            ]
            likely += [c for c in self.changes if self._clears(made[c.says], cause)]
            self.found[cause.id] = self._confirmed(likely, cause)

    def changed(self, *acts: Act) -> set[Key] | None:
        """What stands against the file with changes in a quick look; None where it is wrong."""
        try:
            scenario = self._engine.loads(self.text(acts), self._name)
            (keys,) = self.looked([{}], self._hopeful, scenario)
        except InputError:
            return None
        return keys

    def _hopeful(self, keys: set[Key]) -> bool:
        return any(self._clears(keys, cause) for cause in self.against)

    def _clears(self, keys: set[Key] | None, cause: Cause) -> bool:
        return keys is not None and not keys & self.keys(cause) and keys <= self._old

    def _nearest(
        self, knob: Knob, cause: Cause, seen: Mapping[tuple[str, float], set[Key]]
    ) -> Iterator[Turn]:
        """The nearest value to each side that clears a cause, refined towards the present one."""
        path, now = knob.turned.path, knob.turned.value
        for side in (-1, 1):
            values = sorted((v for v in knob.values if (v - now) * side > 0), key=knob.far)
            before = now
            for value in values:
                if self._clears(seen[path, value], cause):
                    yield self._finer(knob, before, value, cause)
                    break
                before = value

    def _finer(self, knob: Knob, bad: float, good: float, cause: Cause) -> Turn:
        """The value nearest to the present one between two, rounded to the side that clears."""
        if knob.spread not in ("ratio", "kelvin"):
            return Turn(knob, good)
        between = [float(v) for v in np.linspace(bad, good, FINER + 2)[1:-1]]
        keys = self.looked([knob.overlay(v) for v in between], partial(self._clears, cause=cause))
        for value, found in zip(between, keys, strict=True):
            if self._clears(found, cause):
                good = value
                break
            bad = value
        return Turn(knob, rounded(good, bad))

    def _confirmed(self, likely: Sequence[Act], cause: Cause) -> list[Suggestion]:
        found: list[Suggestion] = []
        tried, done = 0, set()
        for act in sorted(likely, key=lambda act: act.far):
            family = act.family if isinstance(act, Change) else ""
            if len(found) >= TOLD or tried >= TRIES:
                break
            if family and family in done:
                continue
            for nearby in self._onwards(act):
                tried += 1
                self._seen("reviews", len(self._kept), 0)
                suggestion = self.verified([nearby], cause)
                if suggestion is not None:
                    found.append(suggestion)
                    done.add(family)
                    break
        return found

    def _onwards(self, act: Act) -> Iterator[Act]:
        """A change itself; a number also somewhat farther, where a full review asks for more."""
        yield act
        if isinstance(act, Turn) and act.knob.spread in ("ratio", "kelvin"):
            now = act.knob.turned.value
            for more in (1.25, 2.0):
                value = (
                    now + (act.value - now) * more
                    if act.knob.spread == "kelvin"
                    else now * (act.value / now) ** more
                )
                yield Turn(act.knob, rounded(value, act.value))

    def pairs(self) -> None:
        """For each cause that no single change clears, pairs of changes."""
        for cause in self.against:
            if self.found.get(cause.id):
                continue
            likely = sorted(self._likely_pairs(cause), key=lambda acts: sum(a.far for a in acts))
            found: list[Suggestion] = []
            for acts in likely[:TRIES]:
                suggestion = self.verified(acts, cause)
                if suggestion is not None:
                    found.append(suggestion)
                    break
            self.found[cause.id] = found

    def _likely_pairs(self, cause: Cause) -> Iterator[tuple[Act, Act]]:
        chosen = sorted(self.knobs, key=_promise)[:PAIRED]
        few = {k.turned.path: _thinned(k.values) for k in chosen}
        both = [
            (Turn(a, x), Turn(b, y))
            for a, b in itertools.combinations(chosen, 2)
            for x in few[a.turned.path]
            for y in few[b.turned.path]
        ]
        looked = self.looked([{**a.knob.overlay(a.value), **b.knob.overlay(b.value)}
                              for a, b in both], partial(self._clears, cause=cause))  # fmt: skip
        for pair, keys in zip(both, looked, strict=True):
            if self._clears(keys, cause):
                yield pair
        for change in self.changes[:PAIRED]:
            yield from self._with_turns(change, chosen, few, cause)
        for one, other in itertools.combinations(self.changes[:PAIRED], 2):
            if self._clears(self.changed(one, other), cause):
                yield one, other

    def _with_turns(
        self, change: Change, chosen: Sequence[Knob], few: Mapping[str, Sequence[float]],
        cause: Cause,
    ) -> Iterator[tuple[Act, Act]]:  # fmt: skip
        turns = [Turn(knob, value) for knob in chosen for value in few[knob.turned.path]]
        try:
            scenario = self._engine.loads(self.text([change]), self._name)
            looked = self.looked(
                [t.knob.overlay(t.value) for t in turns],
                partial(self._clears, cause=cause),
                scenario,
            )
        except (InputError, KeyError):  # the change took away what is turned
            return
        for turn, keys in zip(turns, looked, strict=True):
            if self._clears(keys, cause):
                yield change, turn

    def all_together(self) -> Suggestion | None:
        """The nearest that lets the run proceed: one suggestion for each cause, taken together."""
        options = [self.found.get(cause.id, []) for cause in self.against]
        alone = [s for some in options for s in some if s.verdict in ALLOWED]
        if alone:
            return min(alone, key=lambda s: s.far)
        if not all(options):
            return None
        together = sorted(
            (_united(chosen) for chosen in itertools.product(*options)),
            key=lambda acts: sum(act.far for act in acts),
        )
        for acts in together[:TRIES]:
            self._seen("reviews", len(self._kept), 0)
            suggestion = self.verified(acts, None)
            if suggestion is not None:
                return suggestion
        return None


def suggest(
    engine: Any,
    text: str,
    name: str,
    seen: Callable[[str, int, int], None] = lambda what, done, of: None,
) -> Suggested:
    """Searches the file; KeyboardInterrupt ends the search with what is known so far."""
    search = Search(engine, text, name, seen)
    whole, allowed = True, None
    if search.against:
        try:
            search.singles()
            search.pairs()
            allowed = search.all_together()
        except KeyboardInterrupt:
            whole = False
    return Suggested(
        review=search.review,
        causes=tuple(
            ForCause(c, search.review.findings[c.leading], tuple(search.found.get(c.id, ())))
            for c in search.against
        ),
        allowed=allowed,
        numbers=len(search.knobs),
        changes=len(search.changes),
        settings=search.settings,
        reviews=len(search._kept),
        whole=whole,
    )


def _keys(review: Review, cause: Cause | None = None) -> set[Key]:
    """Criterion, place and subject of what blocks, of the whole review or of one cause."""
    findings = review.findings
    chosen = findings if cause is None else [findings[n] for n in cause.findings]
    return {(f.criterion, f.at, f.of) for f in chosen if verdict([f]) not in ALLOWED}


def fuel(review: Review) -> dict[str, float]:
    """The most fuel at each place over its lower limit, as planned and in the steps.

    Infinite where it is not known.
    """
    plan = [n for n, run in enumerate(review.trials.runs) if run.case == "plan"]
    return {
        m.at: float(np.nan_to_num(m.value[:, plan], nan=np.inf).max())
        for m in review.measures
        if m.kind == FUEL
    }


def _each(found: Refused, settings: int, runs: int) -> list[set[Key]]:
    """What stands against each setting, whose runs lie one after the other."""
    out: list[set[Key]] = [set() for _ in range(settings)]
    for key, bad in found.items():
        for n in np.flatnonzero(bad.reshape(settings, runs).any(axis=1)):
            out[int(n)].add(key)
    return out


def _parts(given: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    for first in range(0, len(given), size):
        yield given[first : first + size]


def _promise(knob: Knob) -> int:
    """What is turned most easily comes first."""
    order = ("flows", "heat", "procedure", "reagents", "train", "frame")
    return order.index(knob.turned.path.split(".")[0])


def _thinned(values: Sequence[float]) -> list[float]:
    step = max(1, len(values) // PAIR_VALUES)
    return list(values[::step])


def _united(chosen: Sequence[Suggestion]) -> tuple[Act, ...]:
    """The acts of several suggestions; of one number turned twice the farther value."""
    turns: dict[str, Turn] = {}
    others: dict[str, Act] = {}
    for act in (act for suggestion in chosen for act in suggestion.acts):
        if isinstance(act, Turn):
            path = act.knob.turned.path
            if path not in turns or turns[path].far < act.far:
                turns[path] = act
        else:
            others[act.says] = act
    return (*turns.values(), *others.values())
