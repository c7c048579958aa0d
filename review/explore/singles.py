"""For each cause the nearest single change that clears it, seen quickly and reviewed in full."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any

import numpy as np

from review.explore.acts import Act, Key, Suggestion, Turn, blocking
from review.explore.changes import changes
from review.explore.knobs import knobs
from review.explore.looking import Look, Seen
from review.explore.renewed import Change
from review.explore.rounding import rounded
from review.interface.result import Cause
from review.scenario import Scenario

#: Suggestions told for each cause, and how many full reviews are spent on finding them.
TOLD, TRIES = 3, 12
#: Values of a number, to each side, that are looked at closely.
NEAREST = 5
#: Places looked at between a value that clears and its neighbour that does not.
FINER = 12
#: Rounds in which what a review brings up is looked for, or cleared, too.
ROUNDS = 2


class Singles(Look):
    """Searches one file. `seen(what, done, of)` is told how far it is."""

    def __init__(
        self,
        engine: Any,
        text: str,
        name: str,
        seen: Callable[[str, int, int], None] = lambda what, done, of: None,
    ) -> None:
        super().__init__(engine, text, name, seen)
        self.knobs = knobs(self.scenario, self.data)
        self.changes = changes(self.scenario, self.data, self.review)
        self.found: dict[str, list[Suggestion]] = {}
        self.made: dict[str, tuple[Change, Scenario]] = {}
        self._planned: dict[Turn, set[Key]] = {}
        self.firsts: dict[str, dict[Act, Seen]] = {}
        """By cause, single acts and what the cause is measured by then, in its worst run."""

    def singles(self) -> None:
        """For each cause the single changes that clear it."""
        turns = [Turn(knob, value) for knob in self.knobs for value in knob.values]
        made = ((change, self.changed([change])) for change in self.changes)
        self.made = {change.says: (change, s) for change, s in made if s is not None}
        several = self.against
        looked: dict[str, list[Seen]] = {}
        for same in self.led_alike(several):
            found = self.first([over(t) for t in turns], self.scenario, same)
            looked |= {cause.id: list(found) for cause in same}
        for _, scenario in self.made.values():
            (seen,) = self.first([{}], scenario, several)
            for cause in several:
                looked[cause.id].append(seen)
        acts: list[Act] = [*turns, *(change for change, _ in self.made.values())]
        for cause in several:
            self.firsts[cause.id] = dict(zip(acts, looked[cause.id], strict=True))
        for cause in several:
            self.single(cause)

    def single(self, cause: Cause) -> None:
        for _ in range(ROUNDS):
            self.found[cause.id], learned = self._confirmed(self._likely(cause), cause)
            if not learned:
                break
            self.look_again(cause, learned)
        if not self.found[cause.id]:
            self.found[cause.id] = list(self._farther(cause))

    def look_again(self, cause: Cause, trials: Sequence[str]) -> None:
        """Numbers once more, in failures that were learned of."""
        turns = [act for act in self.firsts[cause.id] if isinstance(act, Turn)]
        again = self.first([over(t) for t in turns], self.scenario, [cause], trials)
        for turn, seen in zip(turns, again, strict=True):
            self.firsts[cause.id][turn].keys.update(seen.keys)

    def _likely(self, cause: Cause) -> list[Act]:
        """What clears a cause in a quick look, of each number the nearest value to each side."""
        left = [act for act, seen in self.firsts[cause.id].items() if self._part(act, seen, cause)]
        left.sort(key=lambda act: act.far)
        clears = partial(self.clears, cause=cause)
        likely: list[Act] = []
        for act in left:
            if isinstance(act, Change):
                scenario = self.made[act.says][1]
                (keys,) = self.then([{}], scenario, [cause], clears)
                likely += [act] * clears(keys)
        sides: dict[tuple[str, bool], list[Turn]] = {}
        for act in left:
            if isinstance(act, Turn):
                path, now = act.knob.turned.path, act.knob.turned.value
                sides.setdefault((path, act.value > now), []).append(act)
        turns = [turn for several in sides.values() for turn in several[:NEAREST]]
        found = self._then(turns, cause)
        good = {turn for turn, keys in zip(turns, found, strict=True) if clears(keys)}
        nearest = [next((t for t in several if t in good), None) for several in sides.values()]
        return likely + self._finer([turn for turn in nearest if turn is not None], cause)

    def _farther(self, cause: Cause) -> Iterator[Suggestion]:
        """Numbers turned as far as they are looked at, where full reviews refuse what is nearest
        for what no quick look plays, such as a sample within the accuracies; then as far back as
        reviews allow."""
        sides: dict[tuple[str, bool], list[Turn]] = {}
        for act, seen in self.firsts[cause.id].items():
            if isinstance(act, Turn) and self._part(act, seen, cause):
                now = act.knob.turned.value
                sides.setdefault((act.knob.turned.path, act.value > now), []).append(act)
        several = [sorted(turns, key=lambda turn: turn.far) for turns in sides.values()]
        tried = 0
        for turns in sorted(several, key=lambda turns: turns[0].far):
            if tried >= TRIES:
                return
            for at in dict.fromkeys((len(turns) // 2, len(turns) - 1)):
                tried += 1
                found = self.verified([turns[at]], cause)
                if found is None:
                    continue
                low, high = -1, at
                while high - low > 1:
                    middle = (low + high) // 2
                    nearer = self.verified([turns[middle]], cause)
                    low, high = (low, middle) if nearer else (middle, high)
                    found = nearer or found
                yield found
                break

    def _then(self, turns: Sequence[Turn], cause: Cause) -> list[set[Key]]:
        """Everything that stands against numbers turned; what stands against the plan is kept."""
        new = [turn for turn in turns if turn not in self._planned]
        self._planned |= zip(new, self.planned([over(t) for t in new], self.scenario), strict=True)
        left = [turn for turn in turns if self.clears(self._planned[turn], cause)]
        played = self.played([over(t) for t in left], self.scenario, [cause])
        then = dict(zip(left, played, strict=True))
        return [self._planned[turn] | then.get(turn, set()) for turn in turns]

    def _part(self, act: Act, seen: Seen, cause: Cause) -> bool:
        """Whether a quick look leaves hope. What is not there at all no number puts there."""
        if isinstance(act, Turn) and not all(f.kind for f in blocking(self.review, cause)):
            return False
        return self.clears(seen.keys, cause)

    def _finer(self, nearest: Sequence[Turn], cause: Cause) -> list[Act]:
        """Each value moved towards the present one as far as it still clears the cause."""
        between: list[list[Turn]] = []
        for turn in nearest:
            fine = turn.knob.spread in ("ratio", "kelvin")
            steps = np.linspace(_before(turn), turn.value, FINER + 2)[1:-1] if fine else ()
            between.append([Turn(turn.knob, float(value)) for value in steps])
        flat = [turn for several in between for turn in several]
        clears = partial(self.clears, cause=cause)
        found = self._then(flat, cause)
        good = {t for t, keys in zip(flat, found, strict=True) if clears(keys)}
        out: list[Act] = []
        for turn, several in zip(nearest, between, strict=True):
            bad, best = _before(turn), turn
            for each in several:
                if each in good:
                    best = each
                    break
                bad = each.value
            if several:
                best = Turn(turn.knob, turn.knob.within(rounded(best.value, bad)))
            out.append(best)
        return out

    def _confirmed(self, likely: Sequence[Act], cause: Cause) -> tuple[list[Suggestion], list[str]]:
        """Those that a full review confirms, and the failures learned of where it does not."""
        found: list[Suggestion] = []
        tried, done = 0, set()
        learned: list[str] = []
        for act in sorted(likely, key=lambda act: act.far):
            family = act.family if isinstance(act, Change) else ""
            if len(found) >= TOLD or tried >= TRIES:
                break
            if family and family in done:
                continue
            for nearby in _onwards(act):
                if learned and self.fails([nearby], cause, learned):
                    continue
                tried += 1
                suggestion = self.verified([nearby], cause)
                if suggestion is not None:
                    found.append(suggestion)
                    done.add(family)
                    break
                if self.learn([nearby], cause):
                    learned.append(self.learned[cause.id][-1])
        return sorted(found, key=lambda s: s.far), learned

    def fails(self, acts: Sequence[Act], cause: Cause, trials: Sequence[str]) -> bool:
        """Whether changes leave the cause standing in a failure that was learned of."""
        scenario = self.changed(acts)
        if scenario is None:
            return True
        (seen,) = self.first([{}], scenario, [cause], trials)
        return bool(seen.keys & self.keys(cause))


def over(*turns: Turn) -> dict[str, float]:
    """The overlay of numbers turned."""
    return {path: si for turn in turns for path, si in turn.knob.overlay(turn.value).items()}


def _before(turn: Turn) -> float:
    """The value looked at before this one on the way from the present one."""
    now = turn.knob.turned.value
    nearer = [v for v in turn.knob.values if (v - now) * (turn.value - now) > 0
              and turn.knob.far(v) < turn.far]  # fmt: skip
    return max(nearer, key=turn.knob.far, default=now)


def _onwards(act: Act) -> Iterator[Act]:
    """A change itself; a number also somewhat farther, where a full review asks for more, and
    never past the places that are looked at."""
    yield act
    if isinstance(act, Turn) and act.knob.spread in ("ratio", "kelvin"):
        now = act.knob.turned.value
        for more in (1.25, 2.0):
            value = (
                now + (act.value - now) * more
                if act.knob.spread == "kelvin"
                else now * (act.value / now) ** more
            )
            value = act.knob.within(rounded(value, act.value))
            if act.knob.far(value) > act.far:
                yield Turn(act.knob, value)
