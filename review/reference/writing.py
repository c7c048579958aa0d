"""Writes a substance as a file to be completed: what is known with its source, the rest unknown."""

from __future__ import annotations

import json

from review.reference.data import Curve, Datum, Substance
from review.reference.properties import (
    SUBSTANCE_CURVES,
    SUBSTANCE_FLAGS,
    SUBSTANCE_LISTS,
    SUBSTANCE_PROPERTIES,
    UNITS,
)

#: The unit in which a file states a figure, by its SI unit; shares are told in ppm or per cent.
_BENCH = {
    "kg/mol": "g/mol", "K": "K", "Pa": "kPa", "m": "mm", "J": "mJ", "J/mol": "kJ/mol",
    "kg/m3": "kg/m3", "m2/s": "cm2/s", "1": "1", "1/K": "1e-6/K", "W/(m K)": "W/(m K)",
}  # fmt: skip


def bench(si: str, value: float) -> tuple[float, str]:
    """A figure in the unit a bench user reads: below 1 % in ppm.

    >>> bench("mol/mol", 5e-6), bench("mol/mol", 0.04), bench("Pa", 7e6)
    ((5.0, 'ppm'), (4.0, '%'), (7000.0, 'kPa'))
    """
    unit = _BENCH.get(si, si)
    if si == "mol/mol":
        unit = "ppm" if abs(value) < 0.01 else "%"
    _, factor, offset = UNITS.get(unit, (si, 1.0, 0.0))
    return float(f"{(value - offset) / factor:.8g}"), unit


def substance_file(substance: Substance) -> str:
    """The text of a file that `read_substance` reads, every property listed."""
    lines = [
        f"# Filled from the library chemicals. Complete it: every `unknown` blocks what needs it.\n"
        f"name: {json.dumps(substance.name)}",
        f"cas: {substance.cas}",
        f"formula: {substance.formula}",
        "synonyms: []",
    ]
    flags = {name: getattr(substance, name) for name in SUBSTANCE_FLAGS}
    lines += [f"{n}: { {True: 'yes', False: 'no', None: 'unknown'}[f] }" for n, f in flags.items()]
    lines += [f"phase_at_20C: {substance.phase_at_20C}", "skin_corrosion: unknown",
              "skin_corrosion_source: nobody looked yet"]  # fmt: skip
    for name in SUBSTANCE_LISTS:
        lines += [f"{name}: unknown", f"{name}_source: unknown"]
    lines += [f"{name}: {_figure(substance.datum(name))}" for name in SUBSTANCE_PROPERTIES]
    lines += [f"{name}: {_curve(substance.curve(name))}" for name in SUBSTANCE_CURVES]
    return "\n".join(lines) + "\n"


def _figure(datum: Datum) -> str:
    if datum.value is None:
        return "unknown"
    value, unit = bench(datum.unit, datum.value)
    spread = ""
    if datum.spread is not None:
        factor, offset = UNITS[unit][1:]
        low, high = (f"{(x - offset) / factor:.8g}" for x in datum.spread)
        spread = f" spread: [{low}, {high}],"
    told = f"how: {datum.how},{spread}\n  source: {json.dumps(datum.source)}"
    return f'{{value: {value:.8g}, unit: "{unit}", {told}}}'


def _curve(curve: Curve) -> str:
    if curve.state != "known":
        return "unknown"
    numbers = ", ".join(repr(c) for c in curve.coefficients)
    return (
        f"{{form: {curve.form}, coefficients: [{numbers}], range: [{curve.low}, {curve.high}],"
        f" how: {curve.how},\n  source: {json.dumps(curve.source)}}}"
    )
