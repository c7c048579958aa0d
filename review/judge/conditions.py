"""Conditions of a ruleset: CEL, the open Common Expression Language, kept small.

A condition of a ruleset speaks of two families of variables and of nothing else:

- ``facts.<name>``: one documented fact of the set-up, of type bool, int, double, string or
  list<string>;
- ``worst.<kind>``: the most hazardous value (double, SI) of one measure kind over the selected
  trials and all places, spelled with the kind's own dots: ``worst.pressure.working_over_rating``.

A vocabulary for reviews that are already judged has a third one, ``found.<name>``: what the review
found. Rules come before findings, so a ruleset's vocabulary does not have it.

Each is a CEL variable with a qualified name, so that CEL's own checker refuses an unknown name or
a wrong type when the ruleset is loaded. A fact nobody knows is simply absent, and a condition that
depends on it has no answer: `Condition.evaluate` gives None, which the judge reads as
undetermined.

What a condition can cost is bounded when it is loaded: its length, its loops, its lists, and the
functions it may call. Source of the language: the Common Expression Language specification,
cel-spec, "Language Definition" (open standard).
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from typing import Any

LONGEST_TEXT = 1000
MOST_MACROS = 2
LONGEST_LIST = 100

MACROS = frozenset({"all", "exists", "exists_one", "map", "filter"})
FUNCTIONS = frozenset(
    {"size", "contains", "startsWith", "endsWith", "matches", "int", "double", "string"}
)

_TOKEN = re.compile(
    r"""(?P<space>\s+)
      | (?P<string>"[^"\\\n]*"|'[^'\\\n]*')
      | (?P<number>\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)
      | (?P<name>[A-Za-z_][A-Za-z0-9_]*)
      | (?P<comment>//)
      | (?P<sign>[-+*/%!<>=&|?:.,()\[\]{}])""",
    re.VERBOSE,
)
_MAKES_NAN = (
    b"add_double",
    b"subtract_double",
    b"multiply_double",
    b"divide_double",
    b"string_to_double",
)
_CEL_MESSAGE = re.compile(r"ERROR: <input>:(\d+):(\d+): (.*)")
_UNDECLARED = re.compile(r"undeclared reference to '([\w.]+)'")


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a ruleset something stands."""

    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class RulesetError(Exception):
    """A ruleset is malformed; nothing of it is applied.

    `problems` lists every problem found as (place, message); the message of the exception prints
    one per line.

    >>> print(RulesetError("site.yaml", 7, "bands are missing"))
    site.yaml:7: bands are missing
    """

    def __init__(self, file: str, line: int, message: str) -> None:
        self.problems: tuple[tuple[Place, str], ...] = ((Place(file, line), message),)
        super().__init__(file, line, message)

    @property
    def file(self) -> str:
        return self.problems[0][0].file

    @property
    def line(self) -> int:
        return self.problems[0][0].line

    @property
    def message(self) -> str:
        return self.problems[0][1]

    @staticmethod
    def at(place: Place, message: str) -> RulesetError:
        return RulesetError(place.file, place.line, message)

    @staticmethod
    def joined(errors: Sequence[RulesetError]) -> RulesetError:
        """All problems of several errors as one error."""
        first = errors[0]
        error = RulesetError(first.file, first.line, first.message)
        error.problems = tuple(problem for each in errors for problem in each.problems)
        return error

    def __str__(self) -> str:
        return "\n".join(f"{place}: {message}" for place, message in self.problems)


def nearest(text: str, known: Iterable[str]) -> str:
    """A hint at the nearest known spelling, or "" where nothing is near.

    >>> nearest("tolerble", ["acceptable", "tolerable"])
    "; did you mean 'tolerable'?"
    """
    close = difflib.get_close_matches(text, sorted(known), n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


class Vocabulary:
    """The names and types a condition may use.

    `facts` maps a fact's name to its type: bool, int, double, string or list<string>; `kinds` are
    the measure kinds; `found` are names and types of the family ``found.``, which is not there
    without them. The CEL environment is built once, on first use.
    """

    def __init__(
        self,
        facts: Mapping[str, str],
        kinds: Iterable[str],
        found: Mapping[str, str] | None = None,
    ) -> None:
        for name, type_name in (*facts.items(), *(found or {}).items()):
            if type_name not in _READ:
                raise ValueError(f"fact {name!r}: type {type_name!r} is none of {sorted(_READ)}")
        self.types: Mapping[str, str] = {
            **{f"facts.{name}": type_name for name, type_name in facts.items()},
            **{f"worst.{kind}": "double" for kind in kinds},
            **{f"found.{name}": type_name for name, type_name in (found or {}).items()},
        }
        self.families: Mapping[str, str] = {
            "facts": "fact",
            "worst": "measure kind",
            **({} if found is None else {"found": "result of a review"}),
        }

    @cached_property
    def environment(self) -> Any:
        cel: Any = import_module("cel_expr_python.cel")  # slow to import, and without types
        types = {
            "bool": cel.Type.BOOL,
            "int": cel.Type.INT,
            "double": cel.Type.DOUBLE,
            "string": cel.Type.STRING,
            "list<string>": cel.Type.List(cel.Type.STRING),
        }
        return cel.NewEnv(variables={name: types[t] for name, t in self.types.items()})


@dataclass(frozen=True, slots=True)
class Condition:
    """A checked condition. `names` are the variables it uses."""

    text: str
    names: frozenset[str]
    types: Mapping[str, str] = field(repr=False, compare=False)
    expression: Any = field(repr=False, compare=False)

    @property
    def kinds(self) -> frozenset[str]:
        """The measure kinds whose worst value it asks for."""
        return frozenset(n.removeprefix("worst.") for n in self.names if n.startswith("worst."))

    def evaluate(
        self,
        facts: Mapping[str, Any],
        worst: Mapping[str, float],
        found: Mapping[str, Any] | None = None,
    ) -> bool | None:
        """Whether it holds; None where that can't be told.

        None when a needed fact or worst value is absent, None or NaN, when a fact has another type
        than declared or a list of more than 100 entries, and on any run-time error, the CEL
        library's own limit of 10,000 turns of all loops together included. A NaN is held
        back because every comparison with it would be false, which could read as a pass.

        >>> vocabulary = Vocabulary({"has_flow": "bool"}, ["demo.ratio"])
        >>> text = "facts.has_flow && worst.demo.ratio > 0.5"
        >>> condition = compile_condition(text, vocabulary, Place("demo.yaml", 1))
        >>> condition.evaluate({"has_flow": True}, {"demo.ratio": 0.7})
        True
        >>> condition.evaluate({"has_flow": True}, {}) is None
        True
        """
        families: Mapping[str, Mapping[str, Any]]
        families = {"facts": facts, "worst": worst, "found": found or {}}
        data: dict[str, object] = {}
        for name in self.names:
            family, _, rest = name.partition(".")
            value = families[family].get(rest)
            if value is None:
                continue
            try:
                read = _READ[self.types[name]](value)
            except (TypeError, ValueError):
                return None
            if read is not None:
                data[name] = read
        try:
            answer = self.expression.eval(data=data).value()
        except Exception:  # whatever goes wrong in there, the answer is: it can't be told
            return None
        return answer if isinstance(answer, bool) else None


def compile_condition(text: str, vocabulary: Vocabulary, place: Place) -> Condition:
    """Check a condition's bounds, names and types; raises `RulesetError` at `place`.

    Bounds: at most 1000 characters; at most two of the macros all, exists, exists_one, map and
    filter; list and map literals of at most 100 entries; no lists joined with ``+`` (nor ``+``
    beside map or filter, where it can't be told); no arithmetic on doubles, whose NaN would
    compare as false; only the functions of `FUNCTIONS`; plain strings without backslashes; no
    comments. The result must be bool. `has` is refused, because on a qualified name it would give
    the fact's value and not whether the fact is known.
    """
    try:
        names = _scan(text, vocabulary)
        try:
            expression = vocabulary.environment.compile(text)
        except RuntimeError as error:
            message = _first_cel_message(str(error), vocabulary.types)
            raise ValueError(message) from None
        result = expression.return_type().name()
        if result != "BOOL":
            raise ValueError(f"gives {result.lower()}, must give bool")
        # Joined lists would make loops longer than the bounds promise. The overload's name stands
        # in the checked expression wherever lists are joined, in 'map' and 'filter' by themselves.
        if "+" in text and b"add_list" in expression.serialize():
            raise ValueError("joins lists with '+', or uses '+' beside map or filter")
        if any(overload in expression.serialize() for overload in _MAKES_NAN):
            raise ValueError("computes with doubles; a ruleset compares, a check computes")
    except ValueError as error:
        shown = text if len(text) <= 80 else text[:77] + "..."
        raise RulesetError.at(place, f"condition {shown!r}: {error}") from None
    return Condition(text, names, vocabulary.types, expression)


def _scan(text: str, vocabulary: Vocabulary) -> frozenset[str]:
    """Check all bounds on the text; the known names it uses."""
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"has {len(text)} characters, at most {LONGEST_TEXT} are allowed")
    tokens = _tokens(text)
    words = [word for _, word in tokens] + [""]
    called = [
        w for (k, w), after in zip(tokens, words[1:], strict=True) if k == "name" and after == "("
    ]
    for word in called:
        if word == "has":
            raise ValueError(
                "'has' is not allowed; a fact that is not known makes the condition "
                "undetermined by itself"
            )
        if word not in MACROS | FUNCTIONS and word != "in":
            raise ValueError(f"{word!r} is not a function{nearest(word, MACROS | FUNCTIONS)}")
    macros = sum(word in MACROS for word in called)
    if macros > MOST_MACROS:
        raise ValueError(
            f"uses {macros} loops ({', '.join(sorted(MACROS))}), at most {MOST_MACROS} are allowed"
        )
    _check_lists(words)
    return frozenset(_names(tokens, vocabulary))


def _tokens(text: str) -> list[tuple[str, str]]:
    """Words of the text as (sort, word), without spaces."""
    found: list[tuple[str, str]] = []
    at, before = 0, ""
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise ValueError(
                f"character {text[at]!r} at position {at + 1} is not allowed "
                "(strings are plain, on one line and without backslashes)"
            )
        sort = match.lastgroup or ""
        if sort == "comment":
            raise ValueError("comments are not allowed")
        if sort == "string" and before in ("name", "string"):
            raise ValueError("only plain strings are allowed, without prefix or triple quotes")
        if sort != "space":
            found.append((sort, match.group()))
        at, before = match.end(), sort
    return found


def _check_lists(words: Sequence[str]) -> None:
    open_brackets: list[list[Any]] = []
    for word in words:
        if word in ("(", "[", "{"):
            open_brackets.append([word, 1])
        elif word in (")", "]", "}") and open_brackets:
            open_brackets.pop()
        elif word == "," and open_brackets:
            open_brackets[-1][1] += 1
            bracket, entries = open_brackets[-1]
            if bracket != "(" and entries > LONGEST_LIST:
                raise ValueError(f"has a list of more than {LONGEST_LIST} entries")


def _names(tokens: Sequence[tuple[str, str]], vocabulary: Vocabulary) -> set[str]:
    """The longest known name of a family at each place that begins as one does."""
    known = vocabulary.types
    used: set[str] = set()
    for start, (sort, word) in enumerate(tokens):
        if sort != "name" or word not in vocabulary.families:
            continue
        if start and tokens[start - 1][1] == ".":
            continue
        parts, at = [word], start
        while at + 2 < len(tokens) and tokens[at + 1][1] == "." and tokens[at + 2][0] == "name":
            at += 2
            parts.append(tokens[at][1])
        prefixes = [".".join(parts[:count]) for count in range(len(parts), 0, -1)]
        name = next((prefix for prefix in prefixes if prefix in known), None)
        if name is None:
            what = vocabulary.families[word]
            raise ValueError(f"{prefixes[0]!r} is no known {what}{nearest(prefixes[0], known)}")
        used.add(name)
    return used


def _first_cel_message(text: str, known: Iterable[str]) -> str:
    match = _CEL_MESSAGE.search(text)
    if match is None:
        return text.splitlines()[0] if text else "not understood"
    said = match[3].removesuffix(" (in container '')")
    message = f"{said} (line {match[1]}, column {int(match[2]) + 1})"
    if (unknown := _UNDECLARED.match(said)) is not None:
        message += nearest(unknown[1], known)
    if "(double, int)" in message or "(int, double)" in message:
        message += "; write numbers beside a double with a decimal point, 1.0"
    return message


def _bool(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError("not a bool")
    return value


def _int(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError("not an int")
    return value


def _double(value: Any) -> float | None:
    if isinstance(value, bool | str):
        raise TypeError("not a number")
    number = float(value)
    return None if math.isnan(number) else number


def _string(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("not a string")
    if len(value) > LONGEST_TEXT:
        raise ValueError("too long")
    return value


def _strings(value: Any) -> list[str]:
    if isinstance(value, str):
        raise TypeError("not a list")
    entries = [_string(each) for each in value]
    if len(entries) > LONGEST_LIST:
        raise ValueError("too long")
    return entries


#: How a Python value is read as each type; None means not known, an error means unusable.
_READ: dict[str, Callable[[Any], object]] = {
    "bool": _bool,
    "int": _int,
    "double": _double,
    "string": _string,
    "list<string>": _strings,
}
