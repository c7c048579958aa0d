"""Reads reference files: one YAML file per substance or material, in bench units.

A file must list every property and nothing else; whatever is missing, unknown, listed twice or no
number is a `DataError` naming file and line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml

from review.reference.data import (
    CURVE_FORMS,
    HOW,
    MATERIAL_PROPERTIES,
    MATERIAL_TEXTS,
    RATINGS,
    SUBSTANCE_CURVES,
    SUBSTANCE_FLAGS,
    SUBSTANCE_PROPERTIES,
    SUBSTANCE_TEXTS,
    UNITS,
    Curve,
    DataError,
    Datum,
    Joint,
    Material,
    Rating,
    Substance,
    key,
    parse_formula,
)


class _Table(dict[str, Any]):
    """A mapping of a file with the line of each key; scalars stay text, so NO stays NO."""

    path: Path
    line: int
    lines: dict[str, int]

    def error(self, name: str, message: str) -> DataError:
        return DataError(f"{self.path}:{self.lines.get(name, self.line)}: {name}: {message}")


def _plain(node: yaml.Node, path: Path) -> Any:
    if isinstance(node, yaml.ScalarNode):
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, path) for item in node.value]
    table = _Table()
    table.path, table.line, table.lines = path, node.start_mark.line + 1, {}
    for key_node, value in node.value:
        name, line = str(key_node.value), key_node.start_mark.line + 1
        if name in table:
            raise DataError(
                f"{path}:{line}: {name}: listed twice, first in line {table.lines[name]}"
            )
        table[name], table.lines[name] = _plain(value, path), line
    return table


def read_table(path: Path) -> _Table:
    """A YAML file as a mapping whose scalars are text; DataError for anything else."""
    try:
        node = yaml.compose(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)
    except (yaml.YAMLError, UnicodeDecodeError, OSError) as error:
        raise DataError(f"{path}: cannot be read: {error}") from error
    if not isinstance(node, yaml.MappingNode):
        raise DataError(f"{path}:1: a mapping was expected")
    table = _plain(node, path)
    assert isinstance(table, _Table)
    return table


def _number(table: _Table, name: str, text: Any) -> float:
    try:
        value = float(text)
    except (TypeError, ValueError):
        raise table.error(name, f"{text!r} is not a number") from None
    if not math.isfinite(value):
        raise table.error(name, f"{text!r} is not a finite number")
    return value


def _entry(table: _Table, name: str, allowed: tuple[str, ...]) -> _Table:
    """The mapping under `name`, its provenance checked; bare `none`/`unknown` become mappings."""
    entry = table[name]
    if entry in ("none", "unknown"):
        bare = _Table(value=entry)
        bare.path, bare.line, bare.lines = table.path, table.lines[name], {}
        return bare
    if not isinstance(entry, _Table):
        raise table.error(name, "a mapping, `none` or `unknown` was expected")
    _only(entry, ("source", "how", *allowed))
    if entry.get("value") != "unknown":
        if not str(entry.get("source", "")).strip():
            raise table.error(name, "has no source")
        if entry.get("how") not in HOW:
            raise table.error(name, f"how must be one of {', '.join(HOW)}")
    return entry


def _only(table: _Table, allowed: Sequence[str]) -> None:
    for name in table:
        if name not in allowed:
            raise table.error(name, "unknown key")


def _datum(table: _Table, name: str, si: str) -> Datum:
    entry = _entry(table, name, ("value", "unit", "spread", "apparatus"))
    told = {"source": entry.get("source", ""), "how": entry.get("how", "")}
    text = entry.get("value")
    if text in ("none", "unknown"):
        return Datum(None, si, state=text, **told)
    unit = entry.get("unit")
    if unit not in UNITS or UNITS[unit][0] != si:
        fitting = [u for u, (s, _, _) in UNITS.items() if s == si]
        raise table.error(name, f"unit {unit!r}; expected one of {', '.join(fitting)}")
    _, factor, offset = UNITS[unit]
    value = _number(table, name, text) * factor + offset
    spread = None
    if "spread" in entry:
        if not isinstance(entry["spread"], list) or len(entry["spread"]) != 2:
            raise table.error(name, "spread must be [lowest, highest]")
        low, high = (_number(table, name, s) * factor + offset for s in entry["spread"])
        if not low <= value <= high:
            raise table.error(name, "the value lies outside its spread")
        spread = low, high
    apparatus = entry.get("apparatus", "")
    if apparatus not in ("", "tube", "vessel"):
        raise table.error(name, f"apparatus {apparatus!r} is neither tube nor vessel")
    return Datum(value, si, spread=spread, apparatus=apparatus, **told)


def _curve(table: _Table, name: str) -> Curve:
    entry = _entry(table, name, ("value", "form", "coefficients", "range"))
    told = {"source": entry.get("source", ""), "how": entry.get("how", "")}
    text = entry.get("value")
    if text in ("none", "unknown"):
        return Curve("", (), 0.0, 0.0, state=text, **told)
    form, listed, limits = entry.get("form"), entry.get("coefficients"), entry.get("range")
    if form not in CURVE_FORMS or not isinstance(listed, list) or len(listed) != CURVE_FORMS[form]:
        raise table.error(name, f"form {form!r} with its coefficients was expected")
    if not isinstance(limits, list) or len(limits) != 2:
        raise table.error(name, "range must be [lowest, highest] in K")
    numbers = tuple(_number(table, name, c) for c in listed)
    low, high = (_number(table, name, t) for t in limits)
    if not 0.0 < low < high:
        raise table.error(name, "range must rise")
    return Curve(form, numbers, low, high, **told)


def _texts(table: _Table, allowed: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    for name, words in allowed.items():
        if table[name] not in words:
            raise table.error(name, f"{table[name]!r} is none of {', '.join(words)}")
    return {name: table[name] for name in allowed}


def _complete(table: _Table, required: Sequence[str]) -> None:
    _only(table, required)
    for name in required:
        if name not in table:
            raise DataError(f"{table.path}:{table.line}: {name} is missing")
    if not isinstance(table["name"], str) or not isinstance(table["synonyms"], list):
        raise table.error("name", "a name and a list of synonyms were expected")


def read_substance(path: Path) -> Substance:
    """One substance file; DataError with file and line for whatever is missing or wrong."""
    table = read_table(path)
    named = ("name", "cas", "formula", "synonyms", "skin_corrosion_source")
    _complete(
        table,
        (*named, *SUBSTANCE_FLAGS, *SUBSTANCE_TEXTS, *SUBSTANCE_PROPERTIES, *SUBSTANCE_CURVES),
    )
    flags: dict[str, bool | None] = {}
    for name in SUBSTANCE_FLAGS:
        if table[name] not in ("yes", "no", "unknown"):
            raise table.error(name, f"{table[name]!r} is none of yes, no, unknown")
        flags[name] = {"yes": True, "no": False}.get(table[name])
    texts = _texts(table, SUBSTANCE_TEXTS)
    if table["formula"] != "none":
        try:
            parse_formula(table["formula"])
        except ValueError as error:
            raise table.error("formula", str(error)) from None
    return Substance(
        name=table["name"],
        cas=table["cas"],
        formula=table["formula"],
        synonyms=tuple(table["synonyms"]),
        skin_corrosion_source=table["skin_corrosion_source"],
        properties={n: _datum(table, n, si) for n, (si, _) in SUBSTANCE_PROPERTIES.items()},
        curves={n: _curve(table, n) for n in SUBSTANCE_CURVES},
        combustible=flags["combustible"],
        oxidiser=flags["oxidiser"],
        inert=flags["inert"],
        burns_without_oxygen=flags["burns_without_oxygen"],
        pyrophoric=flags["pyrophoric"],
        phase_at_20C=texts["phase_at_20C"],
        skin_corrosion=texts["skin_corrosion"],
    )


def read_material(path: Path) -> Material:
    """One material file; a rating without a source can only lower, never be `resistant`."""
    table = read_table(path)
    _complete(table, ("name", "synonyms", *MATERIAL_TEXTS, *MATERIAL_PROPERTIES, "ratings"))
    listed = table["ratings"]
    if not isinstance(listed, _Table):
        raise table.error("ratings", "a mapping from substance to rating was expected")
    ratings = {}
    for substance in listed:
        entry = _entry(listed, substance, ("rating", "temperature_limit"))
        word = entry.get("rating")
        if word not in RATINGS:
            raise listed.error(substance, f"{word!r} is none of {', '.join(RATINGS)}")
        if word == "resistant" and entry["how"] not in ("read", "library", "defined"):
            raise listed.error(substance, "`resistant` needs a source, not trade knowledge")
        limit = entry.get("temperature_limit")
        ratings[substance] = Rating(
            word, entry["source"], entry["how"],
            None if limit is None else _number(listed, substance, limit) + 273.15,
        )  # fmt: skip
    return Material(
        name=table["name"],
        synonyms=tuple(table["synonyms"]),
        properties={n: _datum(table, n, si) for n, (si, _) in MATERIAL_PROPERTIES.items()},
        ratings=ratings,
        **_texts(table, MATERIAL_TEXTS),
    )


def read_joints(path: Path) -> dict[str, Joint]:
    """The kinds of joints of one file, by levelled name."""
    table = read_table(path)
    return {key(n): Joint(n, _datum(table, n, "Pa gauge")) for n in table}
