"""Short phrases of which the letter's sentences are made."""

from __future__ import annotations

from collections.abc import Sequence

from review.scenario import Scenario
from review.scenario.errors import path_parts

_NAMED = 4


_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def some(lines: Sequence[str]) -> str:
    """The first of several lines, and how many more there are."""
    more = f"; and {len(lines) - _NAMED} more (--full)" if len(lines) > _NAMED else ""
    return "; ".join(map(said_path, lines[:_NAMED])) + more


_SECTIONS = frozenset(Scenario.model_fields)


def said_path(path: str) -> str:
    """A dotted path of the file as one says it; other text as it is.

    >>> said_path("train.wash bottle.liquid_volume")
    'liquid volume of "wash bottle"'
    >>> said_path("bore of tube")
    'bore of tube'
    """
    first, *rest = path_parts(path)
    if first not in _SECTIONS or len(rest) < 2:
        return path
    name, *between, key = rest
    inside = f" ({' '.join(between)})" if between else ""
    return f'{key.replace("_", " ")}{inside} of "{name}"'


def lacking_of(text: str) -> tuple[str, str]:
    """What is not known, in words, and why, as its source says it in brackets.

    >>> lacking_of("train.tube.wall (not given in the scenario)")
    ('wall of "tube"', 'not given in the scenario')
    """
    name, bracket, reason = text.partition(" (")
    if not bracket or not reason.endswith(")") or ") " in reason or "; " in name:
        return said_path(text), ""
    return said_path(name), reason[:-1]


def first_sentence(text: str) -> str:
    first, stop, _ = text.partition("; ")
    sentence = first.split(". ")[0].rstrip(".")
    return f"{sentence}."


def counted_small(number: int) -> str:
    return _SMALL[number] if number < len(_SMALL) else str(number)


def shortened(text: str, most: int = 150) -> str:
    """At most so many characters, cut between words."""
    return text if len(text) <= most else text[:most].rsplit(" ", 1)[0] + " ..."
