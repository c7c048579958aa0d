"""Reads reference files: one YAML file per substance or material, in bench units.

A file must list every property and nothing else; whatever is missing, unknown, listed twice or no
number is a `DataError` naming file and line.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from review.reference.data import (
    Curve,
    DataError,
    Datum,
    Joint,
    Material,
    Substance,
    key,
    parse_formula,
    vapour_pressure,
)
from review.reference.properties import (
    BY_MINUTES,
    BY_TEMPERATURE,
    CURVE_FORMS,
    JOINT_RATING,
    MATERIAL_LISTS,
    MATERIAL_PROPERTIES,
    MATERIAL_TEXTS,
    ORDERED,
    SUBSTANCE_CURVES,
    SUBSTANCE_FLAGS,
    SUBSTANCE_LISTS,
    SUBSTANCE_PROPERTIES,
    SUBSTANCE_TEXTS,
    UNITS,
    Property,
)
from review.reference.ratings import read_ratings
from review.reference.tables import Table, entry_of, number_of, only, read_table, texts
from review.scenario.words import built_in_folder

_STATEMENT = re.compile(r"(H[2-4]\d\d|EUH\d\d\d)[A-Za-z]{0,2}")


#: Sizes of a ground joint, thread or hose anywhere in a joint's name, what joins its words, and
#: words there that say nothing of its kind: "two-hole rubber stopper", "NS 29/32 with clip".
_SIZES = re.compile(r"\b(?:GL ?\d+|\d+(?:(?:/| ?x ?)\d+)?(?: ?mm)?)", re.IGNORECASE)
_JOINING = frozenset(("with", "and", "a"))
_SAYING_NOTHING = frozenset(("one", "two", "three", "hole", "holes", "holed", "bored", "greased"))


def _datum(table: Table, name: str, asked: Property, besides: Sequence[str] = ()) -> Datum:
    allowed = [*besides, "value", "unit", "spread", "apparatus"]
    allowed += ["minutes", "values"] if name in BY_MINUTES else []
    allowed += ["by_temperature"] if name in BY_TEMPERATURE else []
    entry = entry_of(table, name, allowed)
    told = {"source": entry.get("source", ""), "how": entry.get("how", "")}
    text, si = entry.get("value"), asked.unit
    if text in ("none", "unknown"):
        return Datum(None, si, state=text, **told)
    unit = entry.get("unit")
    if unit not in UNITS or UNITS[unit][0] != si:
        fitting = [u for u, (s, _, _) in UNITS.items() if s == si]
        raise table.error(name, f"unit {unit!r}; expected one of {', '.join(fitting)}")
    _, factor, offset = UNITS[unit]

    def number(text: Any) -> float:
        value = number_of(table, name, text) * factor + offset
        if not asked.low <= value <= asked.high:
            least, most = ((x - offset) / factor for x in (asked.low, asked.high))
            raise table.error(
                name, f"{text} {unit} lies outside {least:.3g} to {most:.3g} {unit}: a slip?"
            )
        return value

    points = _points(table, name, entry)
    if not points and name in BY_MINUTES:
        raise table.error(name, "`minutes` and `values` were expected")
    stated = tuple((point, number(value)) for point, value in points)
    falling = sorted((v for _, v in stated), reverse=True)
    if name in BY_MINUTES and [v for _, v in stated] != falling:
        raise table.error(name, "who is exposed longer bears no more: the values must not rise")
    value = min(v for _, v in stated) if stated else number(text)
    spread = None
    if "spread" in entry:
        if not isinstance(entry["spread"], list) or len(entry["spread"]) != 2:
            raise table.error(name, "spread must be [lowest, highest]")
        low, high = (number(s) for s in entry["spread"])
        if not low <= value <= high:
            raise table.error(name, "the value lies outside its spread")
        spread = low, high
    apparatus = entry.get("apparatus", "")
    if apparatus not in ("", "tube", "vessel"):
        raise table.error(name, f"apparatus {apparatus!r} is neither tube nor vessel")
    return Datum(value, si, spread=spread, apparatus=apparatus, stated=stated, **told)


def _points(table: Table, name: str, entry: Table) -> list[tuple[float, Any]]:
    """Where a figure is stated: seconds of exposure, or kelvin; none for a single number."""
    several = [key for key in ("minutes", "values", "by_temperature") if key in entry]
    if not several:
        return []
    if "value" in entry:
        raise table.error(name, f"`value` and `{several[0]}` exclude each other")
    if "by_temperature" in several:
        if not isinstance(entry["by_temperature"], Table):
            raise table.error(name, "by_temperature: a mapping from degC to value was expected")
        listed = list(entry["by_temperature"].items())
        points = [(number_of(table, name, t) + 273.15, v) for t, v in listed]
    else:
        times, values = entry.get("minutes"), entry.get("values")
        if not (isinstance(times, list) and isinstance(values, list) and len(times) == len(values)):
            raise table.error(name, "as many `values` as `minutes` were expected")
        points = [(60.0 * number_of(table, name, t), v) for t, v in zip(times, values, strict=True)]
    rising = [point for point, _ in points]
    if not rising or rising != sorted(set(rising)) or rising[0] <= 0.0:
        raise table.error(name, "the points it is stated at must rise")
    return points


def _curve(table: Table, name: str) -> Curve:
    entry = entry_of(table, name, ("value", "form", "coefficients", "range"))
    told = {"source": entry.get("source", ""), "how": entry.get("how", "")}
    text = entry.get("value")
    if text in ("none", "unknown"):
        return Curve("", (), 0.0, 0.0, state=text, **told)
    form, listed, limits = entry.get("form"), entry.get("coefficients"), entry.get("range")
    if form not in CURVE_FORMS or not isinstance(listed, list) or len(listed) != CURVE_FORMS[form]:
        raise table.error(name, f"form {form!r} with its coefficients was expected")
    if not isinstance(limits, list) or len(limits) != 2:
        raise table.error(name, "range must be [lowest, highest] in K")
    numbers = tuple(number_of(table, name, c) for c in listed)
    low, high = (number_of(table, name, t) for t in limits)
    if not 0.0 < low < high:
        raise table.error(name, "range must rise")
    curve = Curve(form, numbers, low, high, **told)
    if name == "vapour_pressure":
        ends, _ = vapour_pressure(curve, (low, high))
        if not 0.0 <= ends[0] < ends[1] <= 1e9:
            raise table.error(name, "the curve does not rise between 0 and 1e9 Pa over its range")
    return curve


def _texts(table: Table, allowed: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    for name, words in allowed.items():
        if table[name] not in words:
            raise table.error(name, f"{table[name]!r} is none of {', '.join(words)}")
    return {name: table[name] for name in allowed}


def _words(table: Table, name: str, known: Collection[str] = ()) -> dict[str, Any]:
    """A list of words and its source; None for `unknown`. An empty list is said with a source."""
    listed, source = table[name], table[f"{name}_source"]
    if listed == "unknown":
        return {name: None, f"{name}_source": ""}
    if not isinstance(listed, list):
        raise table.error(name, "a list or `unknown` was expected; `[]` says that there is none")
    if not isinstance(source, str) or source.strip() in ("", "none", "unknown"):
        raise table.error(f"{name}_source", "has no source")
    for word in listed:
        if known and word not in known:
            near = difflib.get_close_matches(str(word), list(known), n=3, cutoff=0.5)
            hint = f"; nearest: {', '.join(near)}" if near else ""
            raise table.error(name, f"{word!r} is no class of classes.yaml{hint}")
        if not known and not _STATEMENT.fullmatch(str(word)):
            raise table.error(name, f"{word!r} is no hazard statement such as H220")
    if len(set(listed)) != len(listed):
        raise table.error(name, "a word stands twice")
    return {name: tuple(listed), f"{name}_source": source}


def read_classes(path: Path) -> dict[str, str]:
    """The classes of one folder and what each means; each entry says which and where from."""
    table, meanings = read_table(path), {}
    for name in table:
        entry = table[name]
        if not isinstance(entry, Table) or sorted(entry) != ["meaning", "source"]:
            raise table.error(name, "{meaning: .., source: ..} was expected")
        meanings[name] = str(entry["meaning"])
    return meanings


@cache
def known_classes(*folders: Path) -> dict[str, str]:
    """The vocabulary of classes: what the folders' `classes.yaml` list, taken together."""
    paths = [folder / "classes.yaml" for folder in folders]
    return {n: m for path in paths if path.exists() for n, m in read_classes(path).items()}


def _classes_for(path: Path, classes: Collection[str] | None) -> Collection[str]:
    """The given vocabulary, else the shipped one and that of the file's own folder."""
    return known_classes(built_in_folder(), path.parents[1]) if classes is None else classes


def _complete(table: Table, required: Sequence[str], optional: Sequence[str] = ()) -> None:
    only(table, (*required, *optional))
    for name in required:
        if name not in table:
            raise DataError(f"{table.path}:{table.line}: {name} is missing")
    if not isinstance(table["name"], str) or not isinstance(table["synonyms"], list):
        raise table.error("name", "a name and a list of synonyms were expected")
    texts(
        table,
        ("cas", "formula", "skin_corrosion_source", "reason"),
        ("synonyms", "classes", "hazard_statements"),
    )


def _in_order(table: Table, properties: Mapping[str, Datum]) -> None:
    """No lower limit above its upper one, no AEGL above the next at any time."""
    for below, above in ORDERED:
        low, high = properties[below], properties[above]
        pairs = [(low.value, high.value)]
        if low.stated and high.stated:
            pairs = [(v, dict(high.stated).get(point)) for point, v in low.stated]
        if any(a is not None and b is not None and a > b for a, b in pairs):
            raise table.error(below, f"lies above {above}")


def read_substance(path: Path, classes: Collection[str] | None = None) -> Substance:
    """One substance file; DataError with file and line for whatever is missing or wrong."""
    table = read_table(path)
    lists = [part for name in SUBSTANCE_LISTS for part in (name, f"{name}_source")]
    named = ("name", "cas", "formula", "synonyms", "skin_corrosion_source", *lists)
    _complete(
        table,
        (*named, *SUBSTANCE_FLAGS, *SUBSTANCE_TEXTS, *SUBSTANCE_PROPERTIES, *SUBSTANCE_CURVES),
        optional=("reason",),
    )
    flags: dict[str, bool | None] = {}
    for name in SUBSTANCE_FLAGS:
        if table[name] not in ("yes", "no", "unknown"):
            raise table.error(name, f"{table[name]!r} is none of yes, no, unknown")
        flags[name] = {"yes": True, "no": False}.get(table[name])
    said = _texts(table, SUBSTANCE_TEXTS)
    if table["formula"] != "none":
        try:
            parse_formula(table["formula"])
        except ValueError as error:
            raise table.error("formula", str(error)) from None
    properties = {n: _datum(table, n, p) for n, p in SUBSTANCE_PROPERTIES.items()}
    _in_order(table, properties)
    return Substance(
        name=table["name"],
        cas=table["cas"],
        formula=table["formula"],
        synonyms=tuple(table["synonyms"]),
        skin_corrosion_source=table["skin_corrosion_source"],
        properties=properties,
        curves={n: _curve(table, n) for n in SUBSTANCE_CURVES},
        combustible=flags["combustible"],
        oxidiser=flags["oxidiser"],
        inert=flags["inert"],
        burns_without_oxygen=flags["burns_without_oxygen"],
        pyrophoric=flags["pyrophoric"],
        phase_at_20C=said["phase_at_20C"],
        skin_corrosion=said["skin_corrosion"],
        reason=str(table.get("reason", "")),
        **_words(table, "hazard_statements"),
        **_words(table, "classes", _classes_for(path, classes)),
    )


def read_material(path: Path, classes: Collection[str] | None = None) -> Material:
    """One material file; a rating without a source can only lower, never be `resistant`."""
    table = read_table(path)
    lists = [part for name in MATERIAL_LISTS for part in (name, f"{name}_source")]
    required = ("name", "synonyms", *MATERIAL_TEXTS, *MATERIAL_PROPERTIES, *lists, "ratings")
    _complete(table, required, optional=("reason", "class_ratings"))
    said, known = _texts(table, MATERIAL_TEXTS), _classes_for(path, classes)
    return Material(
        name=table["name"],
        kind=said["kind"],
        burn_class=said["burn_class"],
        synonyms=tuple(table["synonyms"]),
        properties={n: _datum(table, n, p) for n, p in MATERIAL_PROPERTIES.items()},
        reason=str(table.get("reason", "")),
        ratings=read_ratings(table, "ratings"),
        class_ratings=read_ratings(table, "class_ratings", known),
        **_words(table, "classes", known),
    )


def same_words(text: str, joints: Mapping[str, Joint]) -> Joint | None:
    """The one kind of joint that has a name of the same words, whatever its sizes and their order;
    a word too many, such as "without", is another joint, and so is one too few: not every joint is
    a greased joint, nor "two piece" one piece."""
    said = _spoken(text)
    found = {
        joint.name: joint
        for name, joint in joints.items()
        if (words := _spoken(name)) and words <= said <= words | _SAYING_NOTHING
    }
    return next(iter(found.values())) if len(found) == 1 else None


def _spoken(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+", _SIZES.sub(" ", text).casefold())) - _JOINING


def read_joints(path: Path) -> dict[str, Joint]:
    """The kinds of joints of one file, by levelled name and synonym."""
    table = read_table(path)
    found: dict[str, Joint] = {}
    for name, entry in table.items():
        given: Mapping[str, Any] = entry if isinstance(entry, Table) else {}
        synonyms, seal = given.get("synonyms", []), given.get("seal", "unknown")
        if not isinstance(synonyms, list):
            raise table.error(name, "synonyms: a list was expected")
        if not all(isinstance(text, str) for text in synonyms):
            raise table.error(name, "synonyms: a list of texts was expected")
        said = {}
        for word in ("lifts", "bought"):
            said[word] = given.get(word, "no")
            if said[word] not in ("yes", "no"):
                raise table.error(name, f"{word}: {said[word]!r} is neither yes nor no")
        rating = _datum(table, name, JOINT_RATING, ("synonyms", "seal", "lifts", "bought"))
        lifts, bought = (word == "yes" for word in said.values())
        joint = Joint(name, rating, tuple(synonyms), str(seal), lifts, bought)
        for text in (name, *synonyms):
            if found.setdefault(key(text), joint) is not joint:
                raise table.error(name, f"{text!r} is already a word for another joint")
    return found
