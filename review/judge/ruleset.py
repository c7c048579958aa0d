"""What judges: criteria with their bands, limits, and where all of it comes from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from review.interface.plugin import Kind, worst_first
from review.interface.result import Basis, Case, Grade, LayerInfo, Letter, Loosened
from review.judge.conditions import Condition, Place

#: Ignition, breathing and bursting: what can't be told here always blocks.
MUST_BLOCK = ("flammability.", "ignition.", "exposure.", "oxygen.", "pressure.")


@dataclass(frozen=True, slots=True)
class Bands:
    """The edges of the bands, in the kind's SI unit; both edges belong to the milder grade.

    Without `acceptable` nothing is acceptable; without `tolerable` nothing is tolerable and what
    lies beyond `acceptable` is unacceptable.
    """

    acceptable: float | None
    tolerable: float | None

    def edges(self, kind: Kind) -> tuple[float | None, float]:
        """Both edges signed so that larger is more hazardous; the first None: never acceptable."""
        last = self.acceptable if self.tolerable is None else self.tolerable
        mild = self.acceptable
        return (
            None if mild is None else float(worst_first(kind, mild)),
            float(worst_first(kind, last)),
        )


@dataclass(frozen=True, slots=True)
class Criterion:
    """One effective criterion: either `kind` with `bands` per case, or `require`.

    `floor` is the best grade it may give; `otherwise` the grade when `require` does not hold.
    `blocks` is false where an undetermined finding becomes the condition `condition`. `layer` is
    the last layer that touched it, `place` where that stands.
    """

    id: str
    title: str
    kind: str
    cases: tuple[Case, ...]
    bands: Mapping[Case, Bands]
    floor: Grade
    require: Condition | None
    otherwise: Grade
    applies: Condition | None
    applies_reason: str
    action: str
    basis: Basis
    blocks: bool
    condition: str
    disabled: bool
    disabled_reason: str
    layer: str
    place: Place


@dataclass(frozen=True, slots=True)
class Limit:
    """One figure that checks read, with where it comes from and how it is known."""

    value: float
    source: str
    how: str
    layer: str


@dataclass(frozen=True, slots=True)
class Ruleset:
    """What judges: criteria in the order of their ids, limits, and where all of it comes from."""

    criteria: tuple[Criterion, ...]
    limits: Mapping[str, Limit]
    layers: tuple[LayerInfo, ...]
    loosened: tuple[Loosened, ...] = ()
    contacts: tuple[str, ...] = ()
    letters: Mapping[str, Letter] = field(default_factory=dict)
    reviewers: tuple[str, ...] = ()
    """Fingerprints of the keys with which a second person may sign; none: anybody may."""

    def limits_hash(self, names: Iterable[str]) -> str:
        """SHA-256 over the values of the named limits; a limit nobody gives counts as missing."""
        lines = [
            f"{name}={self.limits[name].value!r}" if name in self.limits else f"{name}=missing"
            for name in sorted(set(names))
        ]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()
