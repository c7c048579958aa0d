"""Mixtures by name: air, trade gases, solutions by strength. One small YAML file each.

A composition lists substances with fractions of one basis; `rest` is what the others leave, and
`strength` is what stands beside the name: `ammonia water 25 %`, `sodium hydroxide 2 mol/L`. Names
under `usual` say it themselves: vinegar is 10 %, the strongest that is sold as such.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from review.reference.data import DataError, Substance, key
from review.reference.properties import HOW
from review.reference.tables import Table, read_table, texts

_AMOUNT = (
    r"(?P<amount>\d+(?:[.,]\d+)?)\s*"
    r"(?:%(?:\s*(?:by mass|\(?w/w\)?))?|(?P<molar>mol/[lL]|M(?![A-Za-z])))"
)
_WITH_STRENGTH = (
    re.compile(rf"^(?P<name>.*?[^\s,(])[\s,(]+{_AMOUNT}\)?$"),
    re.compile(rf"^{_AMOUNT}\s+(?P<name>.+)$"),
)
_CONCENTRATED = re.compile(r"^(?:concentrated|conc\.?|konzentrierte|konz\.?)\s+(?P<name>.+)$", re.I)

#: Up to this mass fraction a solution of unknown density counts as so light, kg/m3: 5 % of ammonia
#: or ethanol in water have 977 and 989, salts and acids more than water (CRC Handbook, memory).
WEAK, LIGHT = 0.05, 970.0

#: What an example of a gas's strength does not pass, fraction: one that many sell.
DILUTE = 0.05


class Named(NamedTuple):
    """A name as it was written and what stood beside it."""

    name: str
    strength: float | None = None
    """Fraction."""
    molarity: float | None = None
    """Concentration, mol/m3."""
    concentrated: bool = False


#: Classes of solids that with a strength beside their name are dissolved in water, and those that
#: are never.
_IN_WATER = frozenset(
    {"neutral salt", "halide salt", "heavy metal salt", "acid salt", "ammonium salt", "nitrate",
     "nitrite", "lye", "hydrogencarbonate", "thiosulfate", "carboxylate", "sugar", "permanganate",
     "iron salt"}
)  # fmt: skip
_NEVER = frozenset({"water-reactive", "heats with water", "explosive", "acid-proof sulfide"})
_ALSO = frozenset({"citric acid", "oxalic acid", "tartaric acid", "ascorbic acid", "borax"})
#: No more than this of a solid is in a solution, mass fraction (common practice, no source).
_STRONGEST = 0.5
#: Density of water at 20 degC, kg/m3.
_WATER = 998.2


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
    density: tuple[tuple[float, float], ...]
    """Mass fraction and density (kg/m3) at 20 degC, by rising strength; empty where unknown."""
    source: str
    how: str
    usual: Mapping[str, float] = field(default_factory=dict)
    """Names that say their strength, by `key`."""
    reason: str = ""
    """Why a site's file says other than the shipped one that it overrides."""

    @property
    def needs_strength(self) -> bool:
        """Whether the name alone does not say what is in it."""
        return None in self.shares.values()

    @property
    def solute(self) -> str:
        """The substance whose share the strength is, "" where the composition is fixed."""
        return next((name for name, share in self.shares.items() if share is None), "")

    def strength_at(self, molarity: float, molar_mass: float) -> float:
        """Mass fraction w of a solution of that concentration c (mol/m3): w rho(w) / M = c.

        The density is interpolated between the points of the file. ValueError past the last one.
        Where the file has none, a weak solution counts as lighter than it can be, so as stronger.

        >>> from review.reference.finding import Reference
        >>> acid, _ = Reference().mixture("hydrochloric acid 37 %")
        >>> round(100 * acid.strength_at(1000.0, 36.46e-3), 1)  # 1 mol/L
        3.6
        """
        known = [(w, w * rho / molar_mass) for w, rho in self.density]
        if not known and molarity * molar_mass <= WEAK * LIGHT:
            return molarity * molar_mass / LIGHT
        if not known or molarity > known[-1][1]:
            raise ValueError(
                f"the density of {self.name} of that strength is not known: write it in per cent"
            )
        low, high = next((w, x) for (w, _), (x, c) in pairwise(known) if molarity <= c)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if middle * self._density_at(middle) / molar_mass < molarity:
                low = middle
            else:
                high = middle
        return high

    def _density_at(self, strength: float) -> float:
        for (w, rho), (x, sigma) in pairwise(self.density):
            if w <= strength <= x:
                return rho + (sigma - rho) * (strength - w) / (x - w)
        return float("nan")

    def parts(self, strength: float | None) -> dict[str, float]:
        """Fractions of the substances, adding to one. ValueError says what is wrong with it."""
        if not self.needs_strength:
            if strength is not None:
                raise ValueError(f"{self.name} has one fixed composition: leave the strength out")
        elif strength is None:
            most = min(self.strongest, DILUTE) if self.state == "gas" else self.strongest
            example = self.concentrated or most
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


def in_water(substance: Substance) -> Mixture | None:
    """A solution of a salt or the like without a file of its own; None where it is none.

    Its density is not known. No salt is sold dissolved in anything else by that name. Given in
    mol/L it counts as light as water, so as stronger than it is.
    """
    classes = frozenset(substance.classes or ())
    dissolves = classes & _IN_WATER and not classes & _NEVER or substance.name in _ALSO
    if substance.phase_at_20C != "solid" or not dissolves:
        return None
    return Mixture(
        name=f"{substance.name} solution", synonyms=(), by_strength=(substance.name,),
        state="liquid", basis="mass", shares={substance.name: None}, rest="water", weakest=0.0,
        strongest=_STRONGEST, concentrated=None, how="defined",
        density=((0.0, _WATER), (_STRONGEST, _WATER)),
        source="dissolved in water, as the strength beside its name says",
    )  # fmt: skip


def split_strength(text: str) -> Named:
    """A name and the strength beside it, per cent by mass or mol/L.

    >>> split_strength("ammonia water 25 %").strength, split_strength("2 M NaOH").molarity
    (0.25, 2000.0)
    >>> split_strength("concentrated nitric acid")
    Named(name='nitric acid', strength=None, molarity=None, concentrated=True)
    """
    text = text.strip()
    for pattern in _WITH_STRENGTH:
        if match := pattern.match(text):
            amount = float(match["amount"].replace(",", "."))
            if match["molar"]:
                return Named(match["name"], molarity=1000.0 * amount)
            return Named(match["name"], strength=amount / 100.0)
    if match := _CONCENTRATED.match(text):
        return Named(match["name"], concentrated=True)
    return Named(text)


#: Keys that a file may have besides those that each needs.
_MAY = ("by_strength", "strength", "concentrated", "density", "usual", "reason")


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
        density=_density(table),
        source=table["source"],
        how=table["how"],
        usual=_usual(table, weakest, strongest),
        reason=table.get("reason", ""),
    )


def _keys(table: Table) -> None:
    """All keys that are needed, none that nobody knows, the words of the vocabularies."""
    needed = ("name", "synonyms", "state", "basis", "composition", "how", "source")
    for name in table:
        if name not in (*needed, *_MAY):
            raise table.error(name, "unknown key")
    for name in needed:
        if name not in table or (not table[name] and name != "synonyms"):
            raise DataError(f"{table.path}:{table.line}: {name} is missing")
    texts(table, ("name", "source", "reason"), ("synonyms", "by_strength"))
    for name in ("synonyms", "by_strength"):
        if not isinstance(table.get(name, []), list):
            raise table.error(name, "a list of texts was expected")
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


def _usual(table: Table, weakest: float, strongest: float) -> dict[str, float]:
    """Strength of each name that says it."""
    listed = table.get("usual", {})
    if not isinstance(listed, Mapping) or not {*listed} <= {table["name"], *table["synonyms"]}:
        raise table.error("usual", "a mapping from names of the mixture to strengths was expected")
    found = {key(name): _fraction(table, "usual", text) for name, text in listed.items()}
    if not all(weakest <= strength <= strongest for strength in found.values()):
        raise table.error("usual", "a strength is outside the range of `strength`")
    return found


def _density(table: Table) -> tuple[tuple[float, float], ...]:
    listed = table.get("density", {})
    if not isinstance(listed, Mapping):
        raise table.error("density", "a mapping from per cent to kg/m3 was expected")
    points = tuple(
        (_fraction(table, "density", text), _kilograms(table, rho)) for text, rho in listed.items()
    )
    shares = [w for w, _ in points]
    if points and (shares[0] != 0.0 or shares != sorted(set(shares))):
        raise table.error("density", "the per cents must rise from 0 %")
    return points


def _kilograms(table: Table, text: Any) -> float:
    match = re.match(r"^(\d+(?:\.\d+)?) kg/m3$", str(text))
    if match is None or not 300.0 < float(match[1]) < 5000.0:
        raise table.error("density", f"{text!r} is no density: write for example '1047 kg/m3'")
    return float(match[1])


def _fraction(table: Table, name: str, text: Any) -> float:
    match = re.match(r"^(\d+(?:\.\d+)?) %$", str(text))
    if match is None:
        raise table.error(name, f"{text!r} is no per cent: write for example '25 %'")
    return float(match[1]) / 100.0
