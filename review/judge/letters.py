"""How the letter speaks of each criterion, as rulesets say it."""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from review.interface.plugin import Kind
from review.interface.result import Letter
from review.judge.conditions import RulesetError, nearest
from review.judge.layers import Entry
from review.judge.marked import Marked, read_choice, read_mapping, read_text, read_yes

#: What a sentence may hold besides the names of `beside`.
HOLES = (
    "at",
    "of",
    "all",
    "note",
    "step",
    "value",
    "limit",
    "times",
    "apart",
    "amount",
    "edge",
    "what",
    "warmth",
    "passes",
    "needs",
    "away",
    "less",
)
#: What each name of `beside` fills besides itself.
BESIDE = ("limit", "amount", "edge", "what", "warmth")
_WHEN = ("build", "before", "during", "after")
_SENTENCES = ("says", "shows", "target", "act")


def read_letter(entry: Entry, old: Letter | None, kinds: Mapping[str, Kind]) -> Letter:
    """The letter of one criterion: an entry over what lower layers say."""
    given = entry.fields
    said: dict[str, Any] = {}
    if "beside" in given:
        said["beside"] = {
            name: _kind(node, kinds)
            for name, node in read_mapping(given["beside"], "beside").items()
        }
    for key in ("cause", "at_hand", "together", *_SENTENCES):
        if key in given:
            said[key] = read_text(given[key], key)
    for key in ("by_subject", "urgent", "leads", "gathers", "tells"):
        if key in given:
            said[key] = read_yes(given[key], key)
    if "when" in given:
        said["when"] = read_choice(given["when"], _WHEN, "when")
    letter = replace(old or Letter(), **said)
    beside = [*letter.beside, *(f"{name}_{each}" for name in letter.beside for each in BESIDE)]
    for key in _SENTENCES:
        _check_holes(entry, key, getattr(letter, key), (*HOLES, *beside))
    return letter


def _kind(node: Marked, kinds: Mapping[str, Kind]) -> str:
    name = read_text(node, "beside")
    if name not in kinds:
        raise RulesetError.at(node.place, f"{name!r} is no known kind{nearest(name, kinds)}")
    return name


def _check_holes(entry: Entry, key: str, text: str, known: tuple[str, ...]) -> None:
    try:
        holes = [hole for _, hole, _, _ in string.Formatter().parse(text) if hole is not None]
    except ValueError as error:
        raise RulesetError.at(entry.place, f"letter {entry.id!r}, {key}: {error}") from None
    for hole in holes:
        if hole not in known:
            hint = nearest(hole, known) or f"; known: {', '.join(known)}"
            raise RulesetError.at(
                entry.place, f"letter {entry.id!r}, {key}: nothing fills {{{hole}}}{hint}"
            )
