"""Closed lists of words: heaters, safeguards, forms of a catalyst, hoods, each with its synonyms.

A word of the file is turned into the list's own word when the file is read, so nothing later asks
what a text may have meant. The lists are data, `words.yaml` beside the rulesets; a plugin adds its
own file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import yaml
from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, core_schema

from review.scenario.errors import Misspelt, nearest, quoted
from review.scenario.nodes import composed, plain, text_of

FILE = "words.yaml"

#: What is told of each word of a list, and what may be said there.
MARKS: dict[str, dict[str, tuple[str, ...]]] = {
    "heat": {"energy": ("electric", "flame", "bath"), "draught": ("strong", "mild")},
    "safeguard": {},
    "catalyst form": {},
    "hood": {},
    "exhaust": {},
    "instrument": {},
}


class WordsError(Exception):
    """A file of words is wrong; the message names the file and the word."""


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a list, what else the trade calls it, and what is told of it."""

    name: str
    synonyms: tuple[str, ...] = ()
    marks: Mapping[str, str] = field(default_factory=dict)


class Words:
    """The lists in force. Later files add words; none may say again what another says.

    >>> Words.built_in().find("heat", "spirit burner").name
    'spirit lamp'
    """

    def __init__(self, files: Sequence[Path]) -> None:
        self._lists: dict[str, dict[str, Word]] = {kind: {} for kind in MARKS}
        self._by_key: dict[str, dict[str, Word]] = {kind: {} for kind in MARKS}
        for file in files:
            for kind, word in _read(file):
                self._add(file, kind, word)

    @staticmethod
    def built_in() -> Words:
        """The words that are shipped."""
        return _built_in()

    def _add(self, file: Path, kind: str, word: Word) -> None:
        for text in (word.name, *word.synonyms):
            taken = self._by_key[kind].setdefault(folded(text), word)
            if taken is not word:
                raise WordsError(f"{file}: {kind}: {text!r} is already a word for {taken.name!r}")
        self._lists[kind][word.name] = word

    def find(self, kind: str, text: str) -> Word:
        """The word a text stands for; Misspelt where nobody knows it."""
        found = self._by_key[kind].get(folded(text))
        if found is None:
            near = nearest(text, self.spellings(kind))
            more = "" if near else f": benchgate words {kind!r} lists them"
            raise Misspelt(f"unknown {NAMED[kind]} {quoted(text)}{more}", near)
        return found

    def holding(self, text: str) -> tuple[str, ...]:
        """The lists that have a word for a text."""
        return tuple(kind for kind, words in self._by_key.items() if folded(text) in words)

    def spellings(self, kind: str) -> tuple[str, ...]:
        """All words of a list with their synonyms."""
        return tuple(text for word in self.list(kind) for text in (word.name, *word.synonyms))

    def list(self, kind: str) -> tuple[Word, ...]:
        """All words of a list, in the order of the files."""
        return tuple(self._lists[kind].values())


#: What a word of each list is called in a message.
NAMED = {
    "heat": "kind of heater",
    "safeguard": "kind of safeguard",
    "catalyst form": "form of a catalyst",
    "hood": "kind of hood",
    "exhaust": "place for a hood's exhaust",
    "instrument": "kind of instrument",
}


def folded(text: str) -> str:
    """Text as lists compare it: capitals, hyphens and double blanks do not count."""
    return re.sub(r"[\s_-]+", " ", text.strip().casefold())


class Known(str):
    """A word of a list: a plain text that carries what the list tells of it."""

    __slots__ = ("word",)
    word: Word

    @classmethod
    def of(cls, word: Word) -> Known:
        known = cls(word.name)
        known.word = word
        return known

    def __getnewargs__(self) -> tuple[str]:
        return (str(self),)

    def mark(self, name: str) -> str:
        """What the list tells of the word, such as the energy of a heat source."""
        return self.word.marks[name]


@dataclass(frozen=True, slots=True)
class OfList:
    """A field that takes the words of one list.

    The lists come with the validation's context, the shipped ones without.
    """

    kind: str

    def read(self, given: object, info: ValidationInfo) -> Known:
        """The list's own word; Misspelt where nobody knows the text."""
        if not isinstance(given, str) or not given:
            raise ValueError(f"expected a {NAMED[self.kind]}")
        words = (info.context or {}).get("words") or Words.built_in()
        return Known.of(words.find(self.kind, given))

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string", LISTED: self.kind}


#: Marks the place of a list in a schema until its words are known.
LISTED = "x-list"


def listed(kind: str) -> FieldInfo:
    """Tells the schema of a list that is only known when data and plugins are there."""
    return Field(json_schema_extra={LISTED: kind})  # type: ignore[no-any-return]


def _read(file: Path) -> Iterator[tuple[str, Word]]:
    try:
        root = composed(text_of(file), "data files")
        data = None if root is None else plain(root)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise WordsError(f"{file}:{line}: {error.problem}") from error
    except (OSError, yaml.YAMLError) as error:
        raise WordsError(f"{file}: cannot be read: {error}") from error
    if not isinstance(data, dict):
        raise WordsError(f"{file}: a mapping of lists was expected")
    for kind, entries in data.items():
        if kind not in MARKS:
            raise WordsError(f"{file}: {kind!r} is no list of words: {', '.join(MARKS)}")
        if not isinstance(entries, dict):
            raise WordsError(f"{file}: {kind}: a mapping of words was expected")
        for name, said in entries.items():
            yield kind, _word(file, kind, name, said)


def _word(file: Path, kind: str, name: str, said: Any) -> Word:
    where = f"{file}: {kind}: {name}"
    said = {} if said in ("", None) else said
    if not isinstance(said, dict):
        raise WordsError(f"{where}: a mapping was expected")
    synonyms = said.get("synonyms", [])
    if not isinstance(synonyms, list) or not all(isinstance(s, str) and s for s in synonyms):
        raise WordsError(f"{where}: synonyms: a list of texts was expected")
    marks = {key: value for key, value in said.items() if key != "synonyms"}
    for key, allowed in MARKS[kind].items():
        if marks.get(key) not in allowed:
            raise WordsError(f"{where}: {key}: write {' or '.join(allowed)}")
    odd = sorted(set(marks) - set(MARKS[kind]))
    if odd:
        raise WordsError(f"{where}: unknown key {odd[0]!r}")
    return Word(name, tuple(synonyms), marks)


@cache
def _built_in() -> Words:
    return Words([built_in_folder() / FILE])


@cache
def built_in_folder() -> Path:
    """Where the shipped data lies, installed or in a source checkout."""
    with suppress(ModuleNotFoundError):
        found = Path(str(resources.files("review.rulesets")))
        if (found / FILE).exists():
            return found
    return Path(__file__).resolve().parents[2] / "rulesets"
