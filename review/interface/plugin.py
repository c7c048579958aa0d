"""The public plugin interface: what a check declares.

A check module implements the hooks of `hookspecs` with `hookimpl`. Everything here is frozen
data; the engine does the calling.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pluggy

if TYPE_CHECKING:
    from review.interface.measure import Method

PROJECT = "benchgate"
hookimpl = pluggy.HookimplMarker(PROJECT)

#: How far an estimated temperature difference may be off where its kind states nothing (common
#: practice, no source): about the spread of published flash points and of what a hand-held
#: thermometer reads on a hot tube.
ESTIMATED_KELVIN = 20.0

_KIND_ID = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+")


class PluginError(Exception):
    """A plugin's declaration is wrong; the message names the place."""


class Gap(str):
    """Something a check does not cover, with the facts under which a set-up could have it.

    It reads as its text. The letter names it where every fact of `needs` holds (is true, or not
    empty); one that begins with ``not`` where that fact does not. Plain text stands in the full
    review only.

    >>> gap = Gap("sparks near the outlet", "has_combustible", "not has_hood")
    >>> gap.concerns({"has_combustible": True, "has_hood": False}), str(gap)
    (True, 'sparks near the outlet')
    """

    needs: tuple[str, ...]

    def __new__(cls, text: str, *needs: str) -> Gap:
        made = super().__new__(cls, text)
        made.needs = needs
        return made

    def concerns(self, facts: Mapping[str, Any]) -> bool:
        """Whether a set-up with these facts could have the gap; an unknown fact counts as so."""
        return all(
            not facts.get(need.removeprefix("not "), False)
            if need.startswith("not ")
            else bool(facts.get(need, True))
            for need in self.needs
        )


@dataclass(frozen=True, slots=True)
class Check:
    """What a check says of itself; the report prints both lists."""

    id: str
    title: str
    version: str
    covers: tuple[str, ...]
    not_covered: tuple[str, ...]
    sources: tuple[str, ...]
    scalar: bool = False

    def __post_init__(self) -> None:
        for blank in ("id", "title", "version"):
            if not getattr(self, blank).strip():
                raise PluginError(f"check {self.id!r}: {blank} is blank")
        if not self.covers or not self.not_covered or not self.sources:
            raise PluginError(f"check {self.id!r}: covers, not_covered and sources must be filled")


@dataclass(frozen=True, slots=True)
class Kind:
    """The data sheet of one measure kind.

    `worse` says which way is hazardous. `moves` lists the scenario numbers it depends on, each
    with the direction in which raising that number moves the value ('up' or 'down').
    `display` is the unit a bench user reads. `labels` is the ordered list (best first) where the
    value is a rating, stored as the index. `clock` marks a time in s until harm is done.
    `factor`, or `offset` in the kind's unit, says how far an estimate may lie on the milder side
    of the truth, counted from `about`: see `bound`. `absent` is the value of a run for which the
    check yields none of this kind while it does for others; without it such a run is not known.
    """

    id: str
    title: str
    worse: Literal["higher", "lower"]
    unit: str
    display: str
    method: str
    source: str
    validity: str
    moves: Mapping[str, Literal["up", "down"]] = field(default_factory=dict)
    labels: tuple[str, ...] = ()
    clock: bool = False
    factor: float = 3.0
    offset: float | None = None
    about: float = 0.0
    absent: float | None = None

    def bound(self, value: Any) -> Any:
        """The hazardous bound of an estimated value, in the kind's unit.

        value - about is multiplied by `factor` where it points to the hazard and divided by it
        where it points away, so that the bound is never milder than the value. With `offset`, a
        temperature difference of 20 K and a rating of one label unless stated, that much is added
        towards the hazard instead: a factor on a signed margin would mean nothing.

        >>> share = Kind("a.b", "Share", "higher", "1", "%", "m", "s", "v")
        >>> float(share.bound(0.2)), float(share.bound(0.0))
        (0.6000000000000001, 0.0)
        >>> time = Kind("a.b", "Time", "lower", "s", "s", "m", "s", "v")
        >>> float(time.bound(90.0)), float(time.bound(float("inf")))
        (30.0, inf)
        >>> margin = Kind("a.b", "Margin", "lower", "K", "K", "m", "s", "v")
        >>> float(margin.bound(15.0))
        -5.0
        """
        up = 1.0 if self.worse == "higher" else -1.0
        if self._offset is not None:
            return value + up * self._offset
        with np.errstate(invalid="ignore", over="ignore"):
            apart = value - self.about
            towards = up * apart > 0
            return self.about + np.where(towards, apart * self.factor, apart / self.factor)

    @property
    def _offset(self) -> float | None:
        if self.offset is not None:
            return self.offset
        if self.labels:
            return 1.0
        return ESTIMATED_KELVIN if self.unit == "K" else None

    @classmethod
    def of(
        cls,
        method: Method,
        worse: Literal["higher", "lower"],
        display: str = "",
        moves: Mapping[str, Literal["up", "down"]] | None = None,
        **other: Any,
    ) -> Kind:
        """The data sheet of what one method computes; `other` replaces what it takes from it."""
        taken: dict[str, Any] = {
            "id": method.id, "title": method.title, "worse": worse, "unit": method.unit,
            "display": display, "method": method.id, "source": method.source,
            "validity": method.validity, "moves": moves or {},
        }  # fmt: skip
        return cls(**{**taken, **other})

    def __post_init__(self) -> None:
        if not _KIND_ID.fullmatch(self.id):
            raise PluginError(f"measure kind {self.id!r}: dotted lower-case name expected")
        for blank in ("title", "method", "source", "validity"):
            if not getattr(self, blank).strip():
                raise PluginError(f"measure kind {self.id!r}: {blank} is blank")
        if not (self.factor >= 1 and (self.offset is None or self.offset >= 0)):
            raise PluginError(f"measure kind {self.id!r}: factor is below 1 or offset below 0")


@dataclass(frozen=True, slots=True)
class Overlay:
    """A set of changes to numbers of the scenario, each addressed by its path.

    `changes` maps a path to its new SI value; `from_step` is the 1-based step it applies from
    (None: everywhere, the stated steady plan included). A `late` overlay begins only after that
    step has settled under its own settings (a flow lost in mid-run), the others at its start
    (a flow that never came). From `until_step` on, where something named in the scenario reveals
    it, the run is no longer judged. Upsets, samples, window points and suggestions are all
    overlays.

    An upset that `counters` another is that upset played again with an active safeguard; it is
    judged only as credit for the other, and only if the measure that `adequacy` names by kind and
    place is trusted and at least 1 there. It counts for criteria whose ids begin with one of
    `in_time_for` alone, where that is given: for all else the safeguard comes too late.

    `under` are numbers that hold from the beginning, before `from_step` too, as if the file had
    them: a failure of a set-up with other settings.

    `sign` says what the operator sees when an upset happens, `response` what to do at once: a line
    each. Whoever prints them adds that the site's own emergency procedure comes first.
    """

    id: str
    title: str
    case: Literal["plan", "upset", "sample", "window"]
    changes: Mapping[str, float] = field(default_factory=dict)
    from_step: int | None = None
    late: bool = False
    until_step: int | None = None
    counters: str = ""
    adequacy: tuple[str, str] | None = None
    in_time_for: tuple[str, ...] = ()
    sign: str = ""
    response: str = ""
    under: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Section:
    """A report section a plugin contributes: a title and lines of text.

    `plugin` is filled in by the engine, so that each section says whose it is. What stands in the
    `letter` too is short.
    """

    title: str
    lines: tuple[str, ...]
    plugin: str = ""
    letter: bool = False

    def __post_init__(self) -> None:
        if isinstance(self.lines, str) or not all(isinstance(line, str) for line in self.lines):
            raise PluginError(f"section {self.title!r}: lines must be a list of texts, not a text")


def worst_first(kind: Kind, values: Any) -> Any:
    """Values signed so that larger is more hazardous."""
    return values if kind.worse == "higher" else -values
