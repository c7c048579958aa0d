"""Sourced partial pressures over solutions: what a dissolved gas or acid gives off, by strength.

A file in `solutions/` names solute and solvent and lists rows ``{strength %: [A, B]}`` of
log10(p/mmHg) = A - B/T (K). Between two strengths log p is linear in the logarithm of the
strength, so that Henry's law is exact; weaker than the first row p is in proportion to the
strength; stronger than the last it is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from review.reference.data import DataError, FloatArray
from review.reference.properties import HOW
from review.reference.tables import read_table

MMHG = 133.322387


@dataclass(frozen=True, slots=True)
class SolutionTable:
    """Partial pressures of one solute over its solutions in one solvent."""

    solute: str
    solvent: str
    strengths: tuple[float, ...]
    """Mass fractions, rising."""
    rows: tuple[tuple[float, float], ...]
    low: float
    high: float
    """Temperatures between which the rows hold, K."""
    source: str
    how: str

    def at(self, strength: float) -> Solution:
        """The solution of this mass fraction of the solute."""
        return Solution(self, strength)


@dataclass(frozen=True, slots=True)
class Solution:
    """One solution: partial pressure of its solute over temperature."""

    table: SolutionTable
    strength: float

    def partial_pressure(self, name: str, temperature: FloatArray) -> FloatArray:
        """Pa of the solute `name`; below the rows' range as at its end, NaN above it."""
        if name != self.table.solute:
            raise KeyError(name)
        t = np.maximum(np.asarray(temperature, dtype=np.float64), self.table.low)
        if self.strength <= 0:
            return np.zeros_like(t)
        logs = [a - b / t for a, b in self.table.rows]
        x = np.log10(np.array(self.table.strengths))
        here = np.log10(self.strength)
        if here > x[-1] + 1e-9:
            return np.full_like(t, np.nan)
        if here <= x[0]:
            found = logs[0] + here - x[0]
        else:
            k = min(int(np.searchsorted(x, here)), len(x) - 1)
            part = (here - x[k - 1]) / (x[k] - x[k - 1])
            found = logs[k - 1] + part * (logs[k] - logs[k - 1])
        return np.asarray(np.where(t > self.table.high, np.nan, MMHG * 10.0**found))


def read_solution(path: Path) -> SolutionTable:
    """One file; DataError with file and line for whatever is missing or wrong."""
    table = read_table(path)
    for name in ("solute", "solvent", "range", "how", "source", "rows"):
        if not table.get(name):
            raise DataError(f"{path}:{table.line}: {name} is missing")
    if table["how"] not in HOW:
        raise table.error("how", f"{table['how']!r} is none of {', '.join(HOW)}")
    rows = table["rows"]
    if not isinstance(rows, Mapping) or not isinstance(table["range"], list):
        raise table.error("rows", "a mapping from strength to [A, B] was expected")
    try:
        strengths = tuple(float(s.removesuffix("%")) / 100.0 for s in rows)
        figures = tuple((float(a), float(b)) for a, b in rows.values())
        low, high = (float(t) + 273.15 for t in table["range"])
    except (TypeError, ValueError):
        raise table.error("rows", "numbers were expected: `10 %: [A, B]`") from None
    if list(strengths) != sorted(set(strengths)) or not 0 < strengths[0] <= strengths[-1] <= 1:
        raise table.error("rows", "strengths must rise from above 0 % to at most 100 %")
    return SolutionTable(
        table["solute"], table["solvent"], strengths, figures, low, high, table["source"],
        table["how"],
    )  # fmt: skip
