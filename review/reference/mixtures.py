"""Mixtures by name: air, trade gases, solutions by strength. One small YAML file each.

A composition lists substances with fractions of one basis; `rest` is what the others leave, and
`strength` is the number that stands beside the name: `ammonia water 25 %`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from review.reference.data import DataError
from review.reference.files import _Table as Table
from review.reference.files import read_table
from review.reference.properties import HOW

_PER_CENT = r"(?P<strength>\d+(?:[.,]\d+)?)\s*%(?:\s*(?:by mass|\(?w/w\)?))?"
_WITH_STRENGTH = (
    re.compile(rf"^(?P<name>.*?[^\s,(])[\s,(]+{_PER_CENT}\)?$", re.IGNORECASE),
    re.compile(rf"^{_PER_CENT}\s+(?P<name>.+)$", re.IGNORECASE),
)
_CONCENTRATED = re.compile(r"^(?:concentrated|conc\.?|konzentrierte|konz\.?)\s+(?P<name>.+)$", re.I)


@dataclass(frozen=True, slots=True)
class Mixture:
    """A mixture of known substances; the share that is `strength` is None until it is given."""

    name: str
    synonyms: tuple[str, ...]
    by_strength: tuple[str, ...]
    state: str
    basis: str
    shares: Mapping[str, float | None]
    rest: str
    weakest: float
    strongest: float
    concentrated: float | None
    source: str
    how: str

    @property
    def needs_strength(self) -> bool:
        """Whether the name alone does not say what is in it."""
        return None in self.shares.values()

    def parts(self, strength: float | None) -> dict[str, float]:
        """Fractions of the substances, adding to one. ValueError says what is wrong with it."""
        if not self.needs_strength:
            if strength is not None:
                raise ValueError(f"{self.name} has one fixed composition: leave the strength out")
        elif strength is None:
            example = self.concentrated or self.strongest
            raise ValueError(
                f"{self.name} needs its strength in per cent by {self.basis}: "
                f"write for example '{self.name} {100 * example:.3g} %'"
            )
        elif not self.weakest <= strength <= self.strongest:
            raise ValueError(
                f"{self.name} has between {100 * self.weakest:.3g} and "
                f"{100 * self.strongest:.3g} %, not {100 * strength:.3g} %"
            )
        parts = {n: strength if x is None else x for n, x in self.shares.items()}
        known = {n: x for n, x in parts.items() if x is not None}
        if self.rest:
            known[self.rest] = 1.0 - sum(known.values())
        return known


def split_strength(text: str) -> tuple[str, float | None, bool]:
    """A name, the strength beside it as a fraction, and whether it is called concentrated.

    >>> split_strength("ammonia water 25 %"), split_strength("3 % hydrogen peroxide")
    (('ammonia water', 0.25, False), ('hydrogen peroxide', 0.03, False))
    >>> split_strength("concentrated nitric acid"), split_strength("air")
    (('nitric acid', None, True), ('air', None, False))
    """
    text = text.strip()
    for pattern in _WITH_STRENGTH:
        if match := pattern.match(text):
            return match["name"], float(match["strength"].replace(",", ".")) / 100.0, False
    if match := _CONCENTRATED.match(text):
        return match["name"], None, True
    return text, None, False


def read_mixture(path: Path) -> Mixture:
    """One mixture file; DataError with file and line for whatever is missing or wrong."""
    table = read_table(path)
    _keys(table)
    shares, rest = _shares(table)
    asked = None in shares.values()
    if asked != ("strength" in table):
        raise table.error("composition", "a share `strength` and a range `strength` go together")
    limits = table.get("strength", ["0 %", "100 %"])
    if not isinstance(limits, list) or len(limits) != 2:
        raise table.error("strength", "[weakest, strongest] was expected")
    weakest, strongest = (_fraction(table, "strength", text) for text in limits)
    fixed = sum(x for x in shares.values() if x is not None)
    whole = fixed + strongest if asked else fixed
    if whole > 1.0 + 1e-9 or (not rest and abs(whole - 1.0) > 1e-6):
        raise table.error("composition", f"the fractions add to {100 * whole:.6g} %")
    concentrated = table.get("concentrated")
    return Mixture(
        name=table["name"],
        synonyms=tuple(table["synonyms"]),
        by_strength=tuple(table.get("by_strength", ())),
        state=table["state"],
        basis=table["basis"],
        shares=shares,
        rest=rest,
        weakest=weakest,
        strongest=strongest,
        concentrated=concentrated and _fraction(table, "concentrated", concentrated),
        source=table["source"],
        how=table["how"],
    )


def _keys(table: Table) -> None:
    """All keys that are needed, none that nobody knows, the words of the vocabularies."""
    needed = ("name", "synonyms", "state", "basis", "composition", "how", "source")
    for name in table:
        if name not in (*needed, "by_strength", "strength", "concentrated"):
            raise table.error(name, "unknown key")
    for name in needed:
        if name not in table or (not table[name] and name != "synonyms"):
            raise DataError(f"{table.path}:{table.line}: {name} is missing")
    for name, words in (("state", ("gas", "liquid", "solid")), ("basis", ("mole", "mass")),
                        ("how", HOW)):  # fmt: skip
        if table[name] not in words:
            raise table.error(name, f"{table[name]!r} is none of {', '.join(words)}")


def _shares(table: Table) -> tuple[dict[str, float | None], str]:
    """Fractions by substance, None for the strength, and the substance that takes the rest."""
    listed = table["composition"]
    if not isinstance(listed, Mapping):
        raise table.error("composition", "a mapping from substance to fraction was expected")
    said = [text for text in listed.values() if text in ("rest", "strength")]
    if len(set(said)) != len(said):
        raise table.error("composition", "`rest` and `strength` may stand once each")
    shares = {
        name: None if text == "strength" else _fraction(table, "composition", text)
        for name, text in listed.items()
        if text != "rest"
    }
    return shares, next((name for name, text in listed.items() if text == "rest"), "")


def _fraction(table: Table, name: str, text: Any) -> float:
    match = re.match(r"^(\d+(?:\.\d+)?) %$", str(text))
    if match is None:
        raise table.error(name, f"{text!r} is no per cent: write for example '25 %'")
    return float(match[1]) / 100.0
