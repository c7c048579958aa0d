"""Reads how a material bears substances: a word, its source, up to which heat and strength."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Any

from review.reference.data import IN_WATER, Rating
from review.reference.properties import RATINGS
from review.reference.tables import Table, entry_of, number_of

#: A rating that nobody read in a table holds up to here: tables are made at 20 to 25 degC (common
#: practice, no source).
UNREAD_TO = 50.0 + 273.15
READ = ("read", "library", "defined")
ALLOWED = (
    "rating", "temperature_limit", "resistant_to", "hotter", "above", "concentration_limit",
    "stronger",
)  # fmt: skip


def read_ratings(
    table: Table, name: str, known: Collection[str] | None = None
) -> dict[str, Rating]:
    """The ratings under `name`, by substance or, where `known` is given, by a class of these."""
    if name not in table:
        return {}
    listed = table[name]
    if not isinstance(listed, Table):
        raise table.error(name, "a mapping to ratings was expected")
    for key in listed:
        if known is not None and key.removesuffix(IN_WATER) not in known:
            raise listed.error(key, "is no class of classes.yaml")
    return {key: _rating(listed, key) for key in listed}


def _rating(listed: Table, name: str) -> Rating:
    entry = entry_of(listed, name, ALLOWED)
    word = _word(listed, name, entry.get("rating"))
    read = entry["how"] in READ
    if word == "resistant" and not read:
        raise listed.error(name, "`resistant` needs a source, not trade knowledge")
    limit, slow = (
        None if entry.get(part) is None else number_of(listed, name, entry[part]) + 273.15
        for part in ("temperature_limit", "resistant_to")
    )
    if word == RATINGS[-1]:
        limit = None  # what is not suitable cold is not suitable hot
    elif limit is None and not read:
        limit = UNREAD_TO
    hotter = _hotter(listed, name, entry)
    words = [RATINGS.index(each) for each in (word, *(w for _, w in hotter))]
    points = [t for t in (limit, *(t for t, _ in hotter)) if t is not None]
    if words != sorted(words) or points != sorted(set(points)) or (hotter and limit is None):
        raise listed.error(name, "hotter, a rating gets no better, and its temperatures rise")
    strongest, stronger = _strengths(listed, name, entry)
    return Rating(word, entry["source"], entry["how"], limit, slow, hotter, strongest, stronger)


def _strengths(
    listed: Table, name: str, entry: Table
) -> tuple[float, tuple[tuple[float, str], ...]]:
    """Up to which strength a solution's rating holds, and words for stronger ones."""
    given = entry.get("stronger", {})
    if not {"concentration_limit", "stronger"} & set(entry):
        return 1.0, ()
    if not name.endswith(IN_WATER) or not isinstance(given, dict):
        raise listed.error(name, f"only a rating of `NAME{IN_WATER}` has strengths, in mass %")
    if "concentration_limit" not in entry:
        raise listed.error(name, "`stronger` needs the concentration_limit of the first word")
    strongest = number_of(listed, name, entry["concentration_limit"]) / 100
    steps = tuple(
        (number_of(listed, name, w) / 100, _word(listed, name, word)) for w, word in given.items()
    )
    points = [strongest, *(w for w, _ in steps)]
    if points != sorted(set(points)) or not points[0] > 0 or points[-1] > 1:
        raise listed.error(name, "strengths rise, above 0 and to 100 mass % at most")
    if steps and entry["how"] not in READ and "resistant" in {word for _, word in steps}:
        raise listed.error(name, "`resistant` needs a source, not trade knowledge")
    return strongest, steps


def _hotter(listed: Table, name: str, entry: Table) -> tuple[tuple[float, str], ...]:
    """Words for higher temperatures: `hotter: {500: limited}`, `above: not suitable`."""
    given = entry.get("hotter", {})
    if not isinstance(given, dict):
        raise listed.error(name, "hotter: a mapping from degC to a rating was expected")
    steps = [
        (number_of(listed, name, t) + 273.15, _word(listed, name, word))
        for t, word in given.items()
    ]
    if "above" in entry:
        steps.append((math.inf, _word(listed, name, entry["above"])))
    return tuple(steps)


def _word(listed: Table, name: str, word: Any) -> str:
    if word not in RATINGS:
        raise listed.error(name, f"{word!r} is none of {', '.join(RATINGS)}")
    return str(word)
