"""Limits: figures that checks read, each declared once with its unit, its range and its safer side.

The layer that declares a limit says its `unit` (SI), the `range` in which a value makes sense and
which side is `safer`. A later layer changes the value, in any unit that converts to the declared
one. A name that ends in ``.*`` declares a family, one limit for each substance, without a value;
`data` then names the property of a substance file that the limit takes the place of, so that a
value milder than the published one is told as a loosening.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from review.interface.result import Loosened
from review.judge.conditions import RulesetError, nearest
from review.judge.layers import Entry, Rank
from review.judge.loosening import accounted
from review.judge.marked import Marked, read_choice, read_items, read_number, read_text
from review.judge.ruleset import Limit
from review.scenario.units import Dimension, parse

#: The published value of a property (first) of a substance (second), None where there is none.
#: Raises LookupError with the message to show where no substance has that name of its own.
Published = Callable[[str, str], float | None]

FAMILY = ".*"
_DIMENSIONS: Mapping[str, Dimension] = {
    "1": "fraction", "mol/mol": "fraction_mole", "K": "temperature", "Pa": "pressure_absolute",
    "s": "time", "m": "length", "m3": "volume", "kg": "mass", "m/s": "speed", "N": "force",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Declared:
    """What a limit is, whatever its value; `data` is "" where no substance has a figure for it."""

    unit: str
    low: float
    high: float
    safer: str
    data: str

    def value(self, node: Marked, unit: Marked | None) -> float:
        """A value in SI, within the range; `unit` is the declared one where none is given."""
        number = read_number(node, "value")
        given = self.unit if unit is None else read_text(unit, "unit")
        if given != self.unit and unit is not None:
            try:
                number = parse(f"{number!r} {given}", _DIMENSIONS[self.unit])
            except (KeyError, ValueError) as error:
                why = f": {error}" if isinstance(error, ValueError) else ""
                raise RulesetError.at(
                    unit.place, f"unit: {given!r} is not read as {self.unit}{why}"
                ) from None
        if not self.low <= number <= self.high:
            raise RulesetError.at(
                node.place,
                f"value: {number:g} {self.unit} lies outside the range in which this limit makes "
                f"sense, {self.low:g} to {self.high:g} {self.unit}",
            )
        return number


class Limits:
    """The limits of all layers so far.

    `read` are the names that checks read; only those may be new in a site's layer. `published`
    says what substance files give.
    """

    def __init__(self, read: Collection[str], published: Published | None) -> None:
        self.known: dict[str, Limit] = {}
        self._declared: dict[str, _Declared] = {}
        self._read, self._published = read, published

    def add(self, entry: Entry, rank: Rank, layer: str) -> list[Loosened]:
        """Take one entry of a layer; what it loosens."""
        declared, family = self._declaration(entry, rank)
        if entry.id.endswith(FAMILY):
            return []
        old = self.known.get(entry.id)
        given, label = entry.fields, f"limit {entry.id!r}"
        lacking = [key for key in ("value", "source", "how") if key not in given]
        if lacking and (old is None or "value" in given):
            raise RulesetError.at(entry.place, f"{label} lacks {', '.join(lacking)}")
        if "unit" in given and "value" not in given:
            raise RulesetError.at(given["unit"].place, f"{label} gives a unit without a value")
        before = old.value if old is not None else self._figure(entry, declared, family)
        value = declared.value(given["value"], given.get("unit")) if "value" in given else None
        texts = {
            key: read_text(given[key], key) if key in given or old is None else getattr(old, key)
            for key in ("source", "how")
        }
        now = value if value is not None else old.value if old is not None else math.nan
        self.known[entry.id] = Limit(now, texts["source"], texts["how"], layer)
        what = []
        if before is not None and (now > before if declared.safer == "lower" else now < before):
            stands = f"{before:g}" if old is not None else f"the published {before:g}"
            what.append(f"limit moved from {stands} to {now:g} {declared.unit}")
        return accounted(entry, what, layer)

    def _declaration(self, entry: Entry, rank: Rank) -> tuple[_Declared, str]:
        """What this limit is: as a lower layer says, or its family, or this entry itself."""
        label, given = f"limit {entry.id!r}", entry.fields
        family = next((f for f in self._declared if _belongs(entry.id, f)), "")
        known = self._declared.get(entry.id) or self._declared.get(family)
        if known is None:
            if rank == "site" and entry.id not in self._read:
                names = [*self._declared, *self._read]
                raise RulesetError.at(
                    entry.place, f"{label} is read by no check{nearest(entry.id, names)}"
                )
            known = self._declared[entry.id] = _declared(entry, label)
            return known, family
        for key in ("range", "data"):
            if key in given:
                raise RulesetError.at(
                    given[key].place, f"{label}: only the layer that declares a limit gives {key}"
                )
        if "safer" in given and read_choice(given["safer"], _SIDES, "safer") != known.safer:
            raise RulesetError.at(
                entry.place, f"{label}: only the layer that declares a limit says what is safer"
            )
        return known, family

    def _figure(self, entry: Entry, declared: _Declared, family: str) -> float | None:
        """The published figure that a limit of a family takes the place of."""
        if not (family and declared.data and self._published is not None):
            return None
        try:
            return self._published(declared.data, entry.id.removeprefix(family[:-1]))
        except LookupError as error:
            raise RulesetError.at(entry.place, f"limit {entry.id!r}: {error.args[0]}") from None


_SIDES = ("lower", "higher")


def _belongs(name: str, family: str) -> bool:
    return family.endswith(FAMILY) and name != family and name.startswith(family[:-1])


def _declared(entry: Entry, label: str) -> _Declared:
    given = entry.fields
    lacking = [key for key in ("unit", "range", "safer") if key not in given]
    if lacking:
        raise RulesetError.at(
            entry.place, f"{label} is declared here and lacks {', '.join(lacking)}"
        )
    ends = read_items(given["range"], "range")
    if len(ends) != 2:
        raise RulesetError.at(given["range"].place, "range: write two numbers, [lowest, highest]")
    low, high = (read_number(end, "range") for end in ends)
    if not low < high:
        raise RulesetError.at(given["range"].place, "range: its lowest is not below its highest")
    return _Declared(
        read_text(given["unit"], "unit"),
        low,
        high,
        read_choice(given["safer"], _SIDES, "safer"),
        read_text(given["data"], "data") if "data" in given else "",
    )
