"""The JSON Schema of a scenario file, for editors that complete and check while typing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from review.scenario.fields import with_meanings
from review.scenario.models import NONE_OF, STATEMENTS, Scenario
from review.scenario.words import LISTED, MARKS, Words


def json_schema(lists: Mapping[str, Sequence[str]] | None = None) -> dict[str, Any]:
    """JSON Schema (draft 2020-12); each field with a unit carries a description and an example.

    `lists` are the words in force by list; without them those that are shipped with the format.

    >>> length = json_schema()["$defs"]["ItemModel"]["properties"]["length"]
    >>> length["type"], length["examples"]
    ('string', ['20 mm'])
    """
    with_meanings()
    schema = Scenario.model_json_schema(by_alias=True)
    for key, word in STATEMENTS.items():
        given = schema["properties"][key]
        schema["properties"][key] = {
            "description": given.pop("description", f"This section, or the words `{word}`."),
            "anyOf": [{"const": word}, given],
        }
    for key in NONE_OF:
        schema["properties"][key] = {"anyOf": [{"const": "none"}, schema["properties"][key]]}
    known = dict(lists or {})
    for kind in MARKS:
        known.setdefault(kind, Words.built_in().spellings(kind))
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    result: dict[str, Any] = _tidy(_listed(schema, known))
    return result


def _listed(node: Any, known: Mapping[str, Sequence[str]]) -> Any:
    """Put the words of each list where a field takes them; open texts stay open without a list."""
    if isinstance(node, list):
        return [_listed(part, known) for part in node]
    if not isinstance(node, dict):
        return node
    kept = {key: _listed(value, known) for key, value in node.items() if key != LISTED}
    kind = str(node.get(LISTED, ""))
    return kept | {"enum": list(known[kind])} if kind in known else kept


def _tidy(node: Any) -> Any:
    """Drop `null` alternatives: a key is left out, never null. Join the texts that remain."""
    if isinstance(node, list):
        return [_tidy(part) for part in node]
    if not isinstance(node, dict):
        return node
    kept = {key: _tidy(value) for key, value in node.items()}
    choices: list[Any] = kept.get("anyOf", [])
    if {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        kept.pop("anyOf")
        if kept.get("default", "") is None:
            kept.pop("default")
        inner: dict[str, Any] = rest[0] if len(rest) == 1 else {"anyOf": rest}
        texts = [str(part["description"]) for part in (kept, inner) if "description" in part]
        kept = {**inner, **kept} | ({"description": " ".join(texts)} if texts else {})
    return kept
