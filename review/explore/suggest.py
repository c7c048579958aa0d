"""What would clear a refusal: the nearest single change, then several, and one that clears all.

Numbers are looked at by the hundred as overlays, judged run by run; what looks good there is typed
into the file and reviewed in full, with every failure, before anybody is told. A change counts only
where the cause is gone and nothing new stands against the run. None makes the gas richer:
what then lies outside the flammable range was inside it on the way there from cold and inert.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from review.explore.acts import (
    Act,
    ForCause,
    Key,
    Suggested,
    Suggestion,
    Turn,
    blocking,
    keys_of,
    united,
)
from review.explore.knobs import Knob
from review.explore.looking import Seen, Setting
from review.explore.renewed import Change
from review.explore.singles import ROUNDS, TRIES, Singles, over
from review.interface.result import Cause, Review
from review.scenario import Scenario

#: Numbers and changes taken into pairs, and values of each number there.
PAIRED, PAIR_VALUES = 9, 7
#: Acts that together clear one cause.
ACTS = 4
#: What an act counts as at least, so that many small ones are no way out.
LEAST = 0.3


@dataclass(frozen=True, eq=False)
class Pair:
    """Two acts, and how they are looked at: a scenario with the changes, and what is turned."""

    acts: tuple[Act, Act]
    scenario: Scenario
    setting: Setting


class Search(Singles):
    """Searches one file for changes of one and of several acts."""

    # Several acts

    def several(self) -> None:
        """For each cause that no single act clears: a few that each clear a part of it, else
        a pair of which neither does alone. What is not needed is left out again."""
        for cause in self.against:
            if not self.found.get(cause.id):
                self._several(cause)
            if (
                not self.found.get(cause.id)
                and cause.grade == "unacceptable"
                and self.settle(cause)
            ):
                self.single(cause)
                if not self.found[cause.id]:
                    self._several(cause)
            self.found[cause.id] = [self.needed(s, cause) for s in self.found[cause.id]]

    def needed(self, suggestion: Suggestion, cause: Cause | None) -> Suggestion:
        """Only what is needed of a suggestion: each act, and each part of an act, is left out,
        the farthest first, and stays out where a review says that the rest is enough."""
        if not self.commute(suggestion):
            return suggestion
        for act in sorted(suggestion.acts, key=lambda act: -act.far):
            rest = tuple(a for a in suggestion.acts if a is not act)
            if rest and (enough := self.verified(rest, cause)) is not None:
                suggestion = enough
        cut = True
        while cut:
            cut = False
            for act in suggestion.acts:
                for less in act.fewer() if isinstance(act, Change) else ():
                    acts = tuple(less if a is act else a for a in suggestion.acts)
                    if (enough := self.verified(acts, cause)) is not None:
                        suggestion, cut = enough, True
                        break
                if cut:
                    break
        return suggestion

    def commute(self, suggestion: Suggestion) -> bool:
        """Whether its acts make its text of the file as it is; of a later search they may not."""
        try:
            return self.text(suggestion.acts) == suggestion.text
        except LookupError:
            return False

    def _several(self, cause: Cause) -> None:
        covered = self._covered(cause)
        if covered is not None and len(covered.acts) <= 2:
            self.found[cause.id] = [covered]
            return
        pairs = [] if cause.lacks else self._pairs(cause)
        self.found[cause.id] = pairs or ([covered] if covered else [])

    def _covered(self, cause: Cause) -> Suggestion | None:
        """Acts that each clear a part of a cause, those that do most for how far they are first."""
        measured = {(f.criterion, f.at, f.of) for f in blocking(self.review, cause) if f.kind}
        acts: list[Act] = []
        left = self.keys(cause)
        for _ in range(ACTS):
            best, least, cleared = None, math.inf, set[Key]()
            for act, seen in self.firsts[cause.id].items():
                gone = (left & measured) - seen.keys
                if gone and seen.keys <= self.old and not _turned_again(act, acts):
                    cost = max(act.far, LEAST) / len(gone)
                    if cost < least:
                        best, least, cleared = act, cost, gone
            if best is None:
                return None
            acts.append(best)
            left = left - cleared
            if left & measured:
                continue
            suggestion = self.verified(acts, cause)
            if suggestion is not None:
                return suggestion
            review = self.reviewed(acts)
            if review is None:
                return None
            left = keys_of(review) & self.keys(cause)
            if self.learn(acts, cause):
                self.look_again(cause, self.learned[cause.id][-1:])
        return None

    def _pairs(self, cause: Cause) -> list[Suggestion]:
        """The nearest pair of which each helps and neither is enough."""
        left = sorted(self._likely_pairs(cause), key=lambda pair: sum(a.far for a in pair.acts))
        left = left[: 8 * TRIES]
        clears = partial(self.clears, cause=cause)
        good: set[Pair] = set()
        for scenario in {id(p.scenario): p.scenario for p in left}.values():
            same = [p for p in left if p.scenario is scenario]
            found = self.then([p.setting for p in same], scenario, [cause], clears)
            good |= {p for p, keys in zip(same, found, strict=True) if clears(keys)}
        tried = 0
        for pair in (p for p in left if p in good):
            trials = self.learned.get(cause.id, [])
            if trials and self.fails(pair.acts, cause, trials):
                continue
            tried += 1
            suggestion = self.verified(pair.acts, cause)
            if suggestion is not None:
                return [suggestion]
            if tried >= TRIES:
                break
            self.learn(pair.acts, cause)
        return []

    def _likely_pairs(self, cause: Cause) -> Iterator[Pair]:
        """Pairs that clear the cause in the run that it is worst in."""
        (base,) = self.first([{}], self.scenario, [cause])
        keys = self.keys(cause)
        helping = [act for act, seen in self.firsts[cause.id].items() if _helps(seen, base, keys)]
        values: dict[Knob, list[float]] = {}
        for act in helping:
            if isinstance(act, Turn):
                values.setdefault(act.knob, []).append(act.value)
        chosen = sorted(values, key=_promise)[:PAIRED]
        few = {knob: [Turn(knob, v) for v in _thinned(values[knob])] for knob in chosen}
        alone = {act for act in helping if self.clears(self.firsts[cause.id][act].keys, cause)}
        both = [Pair((x, y), self.scenario, over(x, y))
                for a, b in itertools.combinations(chosen, 2) for x in few[a] for y in few[b]
                if not {x, y} & alone]  # fmt: skip
        # What clears it alone, and brings something else up, with whatever might pay for that.
        paying = [Turn(k, v) for k in sorted(self.knobs, key=_promise) for v in _thinned(k.values)]
        for act in sorted((a for a in alone if isinstance(a, Turn)), key=lambda a: a.far)[:2]:
            both += [Pair((act, other), self.scenario, over(act, other))
                     for other in paying if other.knob is not act.knob]  # fmt: skip
        yield from self._good(both, cause)
        others = [act for act in helping if isinstance(act, Change)][:PAIRED]
        for change in others:
            scenario = self.made[change.says][1]
            turned = [Pair((change, t), scenario, over(t)) for knob in chosen for t in few[knob]]
            yield from self._good(turned, cause)
        for one, other in itertools.combinations(others, 2):
            changed = self.changed([one, other])
            if changed is not None:
                yield from self._good([Pair((one, other), changed, {})], cause)

    def _good(self, pairs: Sequence[Pair], cause: Cause) -> Iterator[Pair]:
        """Those that leave hope; all of one scenario."""
        found = self.first([p.setting for p in pairs], pairs[0].scenario, [cause]) if pairs else []
        for pair, seen in zip(pairs, found, strict=True):
            if self.clears(seen.keys, cause):
                yield pair

    # All causes

    def all_together(self, rounds: int = ROUNDS) -> Suggestion | None:
        """The nearest that lets the run proceed: one suggestion for each cause, taken together.

        What stands against the run only then is cleared in a search of the changed file.
        """
        options = [self.found.get(cause.id, []) for cause in self.against]
        alone = [s for some in options for s in some if s.left == 0]
        if alone:
            return min(alone, key=lambda s: s.far)
        if not all(options) or self.partly:
            return None
        together = sorted(
            (united(chosen) for chosen in itertools.product(*options)),
            key=lambda acts: sum(act.far for act in acts),
        )
        for acts in together[:TRIES]:
            suggestion = self.verified(acts, None)
            if suggestion is not None:
                return self.needed(suggestion, None)
        return self._onwards_from(together[0], rounds) if rounds else None

    def _onwards_from(self, acts: Sequence[Act], rounds: int) -> Suggestion | None:
        review = self.reviewed(acts)
        if review is None or self.richer(review):
            return None
        further = Search(self._engine, self.text(acts), self._name, self._seen)
        further.settings = self.settings
        further.singles()
        further.several()
        found = further.all_together(rounds - 1)
        self.settings = further.settings
        self._kept |= further._kept
        if found is None or self._richer_at_last(found):
            return None
        whole = Suggestion((*acts, *found.acts), found.verdict, found.left, found.text, found.unmet)
        return self.needed(whole, None)

    def _richer_at_last(self, found: Suggestion) -> bool:
        review: Review | None = self._kept.get(found.text)
        return review is None or self.richer(review)


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
            search.several()
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
        reviews=search.reviews,
        whole=whole,
    )


def _helps(seen: Seen, base: Seen, keys: set[Key]) -> bool:
    """Whether anything that has to go is gone, or less bad than in the file."""
    return any(
        key not in seen.keys or not seen.worst.get(key, -math.inf) >= base.worst.get(key, math.inf)
        for key in keys & base.keys
    )


def _turned_again(act: Act, acts: Sequence[Act]) -> bool:
    if isinstance(act, Change):
        return act in acts
    paths = [a.knob.turned.path for a in acts if isinstance(a, Turn)]
    return act.knob.turned.path in paths


def _promise(knob: Knob) -> int:
    """What is turned most easily comes first."""
    order = ("flows", "heat", "procedure", "reagents", "train", "frame")
    return order.index(knob.turned.path.split(".")[0])


def _thinned(values: Sequence[float]) -> list[float]:
    step = max(1, len(values) // PAIR_VALUES)
    return list(values[::step])
