"""One ruleset file as written: criteria, limits and contacts, each with its place.

Whatever is malformed is an error with file and line. What an entry means together with the layers
below it is for `merging` to say.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, get_args

from yaml import YAMLError

from review.judge.conditions import Place, RulesetError
from review.judge.marked import (
    Marked,
    collected,
    compose,
    read_fields,
    read_items,
    read_mapping,
    read_text,
)
from review.scenario.nodes import text_of

Rank = Literal["built-in", "plugin", "site"]
RANKS: tuple[Rank, ...] = get_args(Rank)

_ID = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)+")
_FILE_KEYS = ("name", "criteria", "limits", "letters", "contacts", "reviewers")
_FINGERPRINT = re.compile(r"SHA256:[A-Za-z0-9+/]{43}\Z")
BANDED_KEYS = ("kind", "cases", "bands", "bands_in", "floor")
PRESENCE_KEYS = ("require", "otherwise")
_CRITERION_KEYS = (
    *("id", "title", "applies", "applies_reason", "action", "basis", "if_undetermined"),
    *("disabled", "reason", *BANDED_KEYS, *PRESENCE_KEYS),
)
LETTER_KEYS = (
    *("cause", "says", "shows", "target", "act", "when", "at_hand", "together", "by_subject"),
    "urgent",
    *("leads", "gathers", "tells", "beside"),
)
_LIMIT_KEYS = ("value", "unit", "range", "data", "source", "how", "safer", "reason")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a layer as written; only a merge knows what it means."""

    id: str
    place: Place
    fields: Mapping[str, Marked]


@dataclass(frozen=True, slots=True)
class Layer:
    """One ruleset file as read."""

    name: str
    rank: Rank
    sha256: str
    criteria: tuple[Entry, ...]
    limits: tuple[Entry, ...]
    contacts: tuple[str, ...]
    letters: tuple[Entry, ...] = ()
    reviewers: tuple[str, ...] = ()
    """Fingerprints of the SSH keys whose owners may sign as the second person; none: anybody."""


def load_layer(source: Path | str, name: str, rank: Rank = "site") -> Layer:
    """Read one layer from a file (`Path`) or from text (`str`).

    Checks everything that needs no other layer and raises one `RulesetError` with all problems.
    `name` is used unless the file gives its own; the text's places are printed as ``name:line``.
    """
    file = str(source) if isinstance(source, Path) else name
    try:
        text = text_of(source) if isinstance(source, Path) else source
    except (OSError, YAMLError) as error:
        raise RulesetError(file, 1, f"can't be read: {error}") from None
    return _read(text, file, name, rank)


@lru_cache(maxsize=64)
def _read(text: str, file: str, name: str, rank: Rank) -> Layer:
    """Many engines of one process read the same files."""
    top = compose(text, file)
    fields = read_fields(top, _FILE_KEYS, "a ruleset")
    problems: list[RulesetError] = []
    criteria: list[Entry] = []
    limits: list[Entry] = []
    contacts: list[str] = []
    letters: list[Entry] = []
    reviewers: tuple[str, ...] = ()
    with collected(problems):
        for item in read_items(fields.get("criteria"), "criteria"):
            with collected(problems):
                criteria.append(_criterion_entry(item))
        check_duplicates(criteria, "criterion")
    with collected(problems):
        if "limits" in fields:
            for key, node in read_mapping(fields["limits"], "limits").items():
                with collected(problems):
                    inner = read_fields(node, _LIMIT_KEYS, f"limit {key!r}")
                    limits.append(Entry(key, node.place, inner))
    with collected(problems):
        if "letters" in fields:
            for key, node in read_mapping(fields["letters"], "letters").items():
                with collected(problems):
                    inner = read_fields(node, LETTER_KEYS, f"letter {key!r}")
                    letters.append(Entry(key, node.place, inner))
    with collected(problems):
        given = read_items(fields.get("contacts"), "contacts")
        contacts += [read_text(each, "contacts") for each in given]
    with collected(problems):
        listed = read_items(fields.get("reviewers"), "reviewers")
        reviewers = tuple(_fingerprint(each) for each in listed)
    with collected(problems):
        name = read_text(fields["name"], "name") if "name" in fields else name
    if problems:
        raise RulesetError.joined(problems)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return Layer(
        name, rank, digest, tuple(criteria), tuple(limits), tuple(contacts), tuple(letters),
        reviewers,
    )  # fmt: skip


def _fingerprint(node: Marked) -> str:
    """The fingerprint of a key, which may follow a name."""
    text = read_text(node, "reviewers")
    found = _FINGERPRINT.search(text)
    if not found:
        raise RulesetError.at(
            node.place, f"{text!r} ends in no fingerprint of a key, as ssh-keygen -l prints it"
        )
    return found[0]


def _criterion_entry(node: Marked) -> Entry:
    fields = read_fields(node, _CRITERION_KEYS, "a criterion")
    if "id" not in fields:
        raise RulesetError.at(node.place, "a criterion lacks its id")
    name = read_text(fields["id"], "id")
    if not _ID.fullmatch(name):
        raise RulesetError.at(
            fields["id"].place, f"id {name!r}: dotted lower-case name expected, 'group.name'"
        )
    return Entry(name, node.place, fields)


def check_duplicates(entries: Iterable[Entry], what: str) -> None:
    first: dict[str, Place] = {}
    for entry in entries:
        if entry.id in first:
            raise RulesetError.at(
                entry.place, f"{what} {entry.id!r} is already defined at {first[entry.id]}"
            )
        first[entry.id] = entry.place
