"""What a search for a way out finds: acts, and what a review of the file with them says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from review.explore.knobs import Knob
from review.explore.points import ALLOWED
from review.explore.renewed import Change
from review.interface.plugin import worst_first
from review.interface.result import Cause, Finding, Review
from review.judge.verdict import verdict

#: Criterion, place and subject of what blocks.
Key = tuple[str, str, str]
FUEL = "flammability.fuel_to_lower_limit"
#: An act this far from the plan, twenty times or 300 K, makes another experiment of it.
ANOTHER = 3.0


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
    unmet: tuple[str, ...] = ()
    """What the user wants and would not get then, a sentence each."""
    lacks: tuple[str, ...] = ()
    """What is still not known of the cause, where only its refusal goes."""

    @property
    def far(self) -> float:
        return sum(act.far for act in self.acts) + 2.0 * len(self.unmet)

    @property
    def another(self) -> bool:
        """Whether it is so far from what was planned that it is another experiment."""
        return any(isinstance(act, Turn) and act.far > ANOTHER for act in self.acts)


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


def keys_of(review: Review, cause: Cause | None = None) -> set[Key]:
    """Criterion, place and subject of what blocks, of the whole review or of one cause."""
    return {(f.criterion, f.at, f.of) for f in blocking(review, cause)}


def blocking(review: Review, cause: Cause | None = None) -> list[Finding]:
    """The findings that block, of the whole review or of one cause, its leading one first."""
    findings = review.findings
    chosen: Iterable[Finding] = findings
    if cause is not None:
        chosen = (findings[n] for n in dict.fromkeys((cause.leading, *cause.findings)))
    return [f for f in chosen if verdict([f]) not in ALLOWED]


def hazards(review: Review) -> dict[Key, float]:
    """Of all that blocks the most hazardous value, infinite where it is not known."""
    found: dict[Key, float] = {}
    for f in blocking(review):
        if f.kind in review.kinds:
            value = float(np.nan_to_num(worst_first(review.kinds[f.kind], f.value), nan=np.inf))
            key = f.criterion, f.at, f.of
            found[key] = max(value, found.get(key, -np.inf))
    return found


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


def united(chosen: Sequence[Suggestion]) -> tuple[Act, ...]:
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
