"""Pairs of reactivity classes that must not meet: read from `pairs.yaml`, asked by name and class.

The table is data: a site's folder with a `pairs.yaml` adds pairs or overrides one by its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, Protocol

from review.reference.data import DataError
from review.reference.properties import HOW
from review.reference.tables import read_table

GRADES = ("must not meet", "with care")
#: Grade of a declared reaction of which all that harms is judged as what it makes.
JUDGED = "nothing known"
HARMS = ("explodes", "ignites", "bursts", "poisons", "heats", "plugs", "attacks")
PHASES = (
    "any", "gas", "liquid", "solid", "wall", "catalyst", "reduced", "drawn", "condensed",
    "moisture",
)  # fmt: skip
#: Partner that stands for any surface; the temperatures of the pair decide.
HOT_SURFACE = "hot surface"
#: Partner, or third one, that stands for an item without an open way out as the plan has it.
CLOSED = "closed vessel"
#: Third partner that stands for a procedure of more than an hour, or none that is stated.
STANDING = "standing"
#: Partner that stands for an item whose liquid its heater may boil away to a tenth or less.
DRY = "boiled dry"
#: Partner that stands for an item whose liquid evaporates to a tenth or less, unheated.
DRIED = "dried up"
#: Where a pair does not count: what is kept under a liquid, oil or water, meets no air.
UNDER_LIQUID = "under liquid"
#: Partner that stands for every substance that burns, or may.
BURNS = "burns"
_FIELDS = {
    "one", "other", "with", "unless", "in_one", "in_other", "least_one", "least_other", "above",
    "below", "harm", "forms", "grade", "declared", "in_hood", "makes", "source", "how",
}  # fmt: skip
_NEEDED = {"one", "other", "harm", "forms", "grade", "source", "how"}


class Member(Protocol):
    """A substance or a material; `classes` is None where nobody classified it."""

    @property
    def name(self) -> str:
        """Its own name."""

    @property
    def classes(self) -> tuple[str, ...] | None:
        """Its reactivity classes."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two partners, where and how much of them counts, and what forms.

    `least` are mole fractions in a gas and mass fractions in a liquid; `above` and `below` in K.
    `declared` is the grade where a reaction of the two is declared in that item, with one of the
    substances that it `makes` among its products where any are named. `in_hood` is the grade of a
    few grams that stand in a tested hood. A pair with `boiled dry` or `dried up` has the grade
    `declared` where the safeguard `peroxide test` is stated. What is `stored_under_liquid` is no
    partner where it lies under one.
    """

    name: str
    partners: tuple[str, str]
    phases: tuple[str, str]
    least: tuple[float, float]
    third: str
    stored_under_liquid: bool
    above: float
    below: float
    harm: str
    forms: str
    grade: str
    declared: str
    in_hood: str
    makes: tuple[str, ...]
    source: str
    how: str

    @property
    def any_surface(self) -> bool:
        """Whether the other partner is the item itself; temperatures or its way out decide."""
        return self.partners[1] in (HOT_SURFACE, CLOSED, DRY, DRIED)

    @property
    def dries(self) -> bool:
        """Whether it counts only where the liquid evaporates by itself."""
        return self.partners[1] == DRIED

    @property
    def dry(self) -> bool:
        """Whether it counts only where the liquid may boil away."""
        return self.partners[1] == DRY

    @property
    def closed(self) -> bool:
        """Whether it counts only where nothing can leave."""
        return CLOSED in (self.partners[1], self.third)

    @property
    def standing(self) -> bool:
        """Whether it counts only where the two are together for more than an hour."""
        return self.third == STANDING

    def is_partner(self, which: Literal[0, 1], member: Member) -> bool:
        """Whether a substance or material is one of the two, by its name or a class of it."""
        return belongs(self.partners[which], member)

    def has_third(self, members: Iterable[Member]) -> bool:
        """Whether the third partner is among them, where the pair needs one."""
        if self.third in ("", CLOSED, STANDING):
            return True
        return any(belongs(self.third, member) for member in members)


def belongs(partner: str, member: Member) -> bool:
    """Whether a partner of the table speaks of this substance or material.

    `burns` speaks of every substance whose data do not deny that it burns.
    """
    if partner == BURNS:
        return getattr(member, "combustible", False) is not False
    return partner == member.name or partner in (member.classes or ())


def apart(pairs: Iterable[Pair], members: Sequence[Member]) -> tuple[tuple[str, str, Pair], ...]:
    """What must be kept apart once it is left over: names and the gravest pair of each two.

    Amounts and temperatures do not count: a waste bottle has its own. Pairs with a surface or a
    wall are no matter of waste.
    """
    found: dict[frozenset[str], tuple[str, str, Pair]] = {}
    for pair in sorted(pairs, key=lambda pair: GRADES.index(pair.grade)):
        if pair.any_surface or pair.third or "wall" in pair.phases:
            continue
        for a in members:
            for b in members:
                if a.name != b.name and pair.is_partner(0, a) and pair.is_partner(1, b):
                    found.setdefault(frozenset((a.name, b.name)), (a.name, b.name, pair))
    return tuple(found.values())


def read_pairs(path: Path) -> dict[str, Pair]:
    """The pairs of one file by name. Raises DataError naming file, pair and fault."""
    table = read_table(path)
    if set(table) != {"pairs"}:
        raise DataError(f"{path}: the file holds one section, 'pairs'")
    return {name: _pair(path, str(name), entry) for name, entry in table["pairs"].items()}


def _pair(path: Path, name: str, entry: Any) -> Pair:
    def wrong(message: str) -> DataError:
        return DataError(f"{path}: pair {name!r}: {message}")

    if not isinstance(entry, Mapping):
        raise wrong("is no table")
    strange, lacking = sorted(set(entry) - _FIELDS), sorted(_NEEDED - set(entry))
    if strange or lacking:
        raise wrong(f"unknown {strange[0]!r}" if strange else f"lacks {lacking[0]!r}")
    for field, allowed in (
        ("grade", GRADES), ("declared", (*GRADES, JUDGED)), ("in_hood", GRADES), ("harm", HARMS),
        ("how", HOW), ("in_one", PHASES), ("in_other", PHASES), ("unless", (UNDER_LIQUID,)),
    ):  # fmt: skip
        if field in entry and entry[field] not in allowed:
            raise wrong(f"{field} {entry[field]!r} is none of {', '.join(allowed)}")
    makes = entry.get("makes", [])
    if not isinstance(makes, list) or not all(isinstance(name, str) for name in makes):
        raise wrong("makes is no list of substances")
    if entry.get("harm") == "poisons" and entry.get("declared") and not makes:
        raise wrong("does not say what poison (makes) has to be declared with the reaction")
    if entry["one"] == entry["other"]:
        raise wrong(f"{entry['one']!r} is paired with itself")
    try:
        least = tuple(_fraction(entry.get(f"least_{side}", "0 %")) for side in ("one", "other"))
        above, below = _kelvin(entry.get("above")), _kelvin(entry.get("below"))
    except ValueError as error:
        raise wrong(str(error)) from None
    return Pair(
        name=name,
        partners=(entry["one"], entry["other"]),
        phases=(entry.get("in_one", "any"), entry.get("in_other", "any")),
        least=(least[0], least[1]),
        third=entry.get("with", ""),
        stored_under_liquid="unless" in entry,
        above=above if above is not None else 0.0,
        below=below if below is not None else float("inf"),
        harm=entry["harm"],
        forms=entry["forms"],
        grade=entry["grade"],
        declared=entry.get("declared", entry["grade"]),
        in_hood=entry.get("in_hood", entry["grade"]),
        makes=tuple(entry.get("makes", ())),
        source=entry["source"],
        how=entry["how"],
    )


def _fraction(text: str) -> float:
    number, _, unit = text.partition(" ")
    value = float(number) / 100 if unit == "%" else float("nan")
    if not 0 <= value < 1:
        raise ValueError(f"{text!r} is no fraction: write for example '2 %'")
    return value


def _kelvin(text: str | None) -> float | None:
    if text is None:
        return None
    number, _, unit = text.partition(" ")
    value = float(number) + 273.15
    if unit != "degC" or not 0 < value < 4000:
        raise ValueError(f"{text!r} is no temperature: write for example '250 degC'")
    return value
