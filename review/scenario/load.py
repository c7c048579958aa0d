"""Text to scenario: all errors of a file at once, each at its place."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from review.scenario import keys, references, yaml
from review.scenario.contradictions import contradictions
from review.scenario.errors import InputError, Misspelt, Problem, nearest, quoted
from review.scenario.fields import asked
from review.scenario.mending import mended
from review.scenario.models import STATEMENTS, Scenario
from review.scenario.words import Words
from review.scenario.yaml import Document, Where

#: Finds what only names and data can tell of a scenario.
Further = Callable[[Scenario], Iterable[Problem]]


def load(
    path: str | os.PathLike[str], words: Words | None = None, further: Further | None = None
) -> Scenario:
    """Read a scenario file. Raises InputError with everything that is wrong with it.

    `words` are the lists in force; without them the shipped ones. `further` finds more problems;
    it is asked too where the file has others, so that all are told at once. `Engine.load` gives
    both, with what its plugins know.
    """
    return _scenario(yaml.read_file(path), words, further)


def loads(
    text: str, name: str = "<text>", words: Words | None = None, further: Further | None = None
) -> Scenario:
    """Read a scenario from its text; `name` stands for the file in messages.

    >>> from review.scenario.errors import InputError
    >>> try:
    ...     loads("title: a\\ntrain:\\n- {id: x, kind: line, lenght: 1 m}")
    ... except InputError as error:
    ...     print(error)
    <text>:3:23: unknown key "lenght" (did you mean 'length'?)
    """
    return _scenario(yaml.read_bytes(text.encode("utf-8", "surrogatepass"), name), words, further)


def _scenario(document: Document, words: Words | None, further: Further | None) -> Scenario:
    problems = references.dangling(document)
    try:
        scenario = Scenario.model_validate(document.data, context=asked(document.data, words))
    except ValidationError as error:
        problems += [_problem(document, detail) for detail in _said_once(error)]
        if further is not None and (rest := mended(document, words)) is not None:
            wrong = error.errors(include_url=False)
            problems += _beside(problems, [*further(rest), *_apart(rest, wrong)])
        raise InputError(problems) from None
    scenario._document = document
    if further is not None:
        problems += _beside(problems, further(scenario))
    problems += [] if problems else contradictions(scenario)
    if problems:
        raise InputError(problems)
    return scenario


def _said_once(error: ValidationError) -> list[ErrorDetails]:
    """Its details, but for what is missing only because its key is written in another way."""
    details = error.errors(include_url=False)
    unknown = [each["loc"] for each in details if each["type"] == "extra_forbidden"]
    meant = {(*path[:-1], keys.unknown(path)[1]) for path in unknown}
    return [each for each in details if each["type"] != "missing" or each["loc"] not in meant]


#: Errors of a key or word: mending them invents no number that could contradict another.
_NO_NUMBER = ("extra_forbidden", "literal_error", "bool_type")


def _apart(rest: Scenario, wrong: list[ErrorDetails]) -> list[Problem]:
    """Contradictions of a mended file, but for sections where a word was mended."""
    if any(each["type"] not in _NO_NUMBER for each in wrong):
        return []
    words = [each["loc"][:2] for each in wrong if each["type"] != "extra_forbidden"]
    return contradictions(rest, but=words)


def _beside(problems: list[Problem], more: Iterable[Problem]) -> list[Problem]:
    """Further problems, but for those where something is wrong already."""
    places = {(problem.line, problem.column) for problem in problems}
    return [problem for problem in more if (problem.line, problem.column) not in places]


def _problem(document: Document, error: ErrorDetails) -> Problem:
    path: Where = error["loc"]
    kind = error["type"]
    key = str(path[-1]) if path else ""
    context: dict[str, Any] = error.get("ctx", {})
    if path and path[-1] == "[key]":
        path = path[:-1]
        message, suggestion = _wording(error, context)
        return document.problem(path, message, suggestion, at_key=True)
    if kind == "extra_forbidden":
        return document.problem(path, *keys.unknown(path), at_key=True)
    if kind == "missing":
        said = f"{quoted(key)} is missing{_SUCH_AS.get(key, '')}{_left_out(path[:-1])}"
        return document.problem(path[:-1], said)
    message, suggestion = _wording(error, context)
    if kind in _EXPECTED and len(path) == 1 and key in STATEMENTS:
        return document.problem(path, message + _left_out(path))
    if kind == "dict_type" and isinstance(error["input"], list):
        message += f"; each stands under a name of its own, such as {key}: {{first: …}}"
    if kind in ("model_type", "model_attributes_type") and (there := keys.known(path)):
        message += f"; known there are {', '.join(there[: keys.NAMED])}{keys.example(path)}"
    return document.problem(path, message, suggestion)


#: What a key says that people leave out, where its name alone does not tell.
_SUCH_AS = {
    "conversion": ", how much of what limits the reaction converts, such as '80 %'",
    "limiting": ", the gas on the left that the conversion counts",
}


def _left_out(path: Where) -> str:
    """What may be written instead of a section that may be a statement."""
    word = STATEMENTS.get(str(path[0])) if len(path) == 1 else None
    if word is None:
        return ""
    return f'; leave {path[0]} out where its figures are not known, or state "{word}"'


_EXPECTED = {
    "string_type": "text",
    "list_type": "a list",
    "dict_type": "a mapping (key: value lines)",
    "model_type": "a mapping (key: value lines)",
    "model_attributes_type": "a mapping (key: value lines)",
}


def _wording(error: ErrorDetails, context: dict[str, Any]) -> tuple[str, str]:
    """The message in plain words, and the nearest right spelling."""
    kind, given = error["type"], error["input"]
    if kind == "value_error":
        wrong = context["error"]
        return str(wrong), wrong.suggestion if isinstance(wrong, Misspelt) else ""
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", str(context["expected"]))
        return _unknown_word(given, words)
    if kind == "bool_type":
        return _unknown_word(given, ["yes", "no"])
    if kind in _EXPECTED:
        return f"expected {_EXPECTED[kind]}, found {_described(given)}", ""
    if kind in ("string_too_short", "too_short"):
        return "is empty", ""
    if kind == "string_too_long":
        return f"{quoted(str(given))} is too long: at most {context['max_length']} characters", ""
    return error["msg"], ""


def _unknown_word(given: object, words: list[str]) -> tuple[str, str]:
    right = f"write {', '.join(words[:-1])} or {words[-1]}"
    if not isinstance(given, str):
        return f"expected a word, found {_described(given)}: {right}", ""
    return f"unknown word {quoted(given)}: {right}", nearest(given, words)


def _described(given: object) -> str:
    if isinstance(given, str):
        return quoted(given) if given else "nothing"
    return "a list" if isinstance(given, list) else "a mapping"
