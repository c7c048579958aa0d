"""The JSON Schema of a scenario file, for editors that complete and check while typing."""

from __future__ import annotations

from typing import Any

from review.scenario.models import STATEMENTS, Scenario


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12); each field with a unit carries a description and an example.

    >>> length = json_schema()["$defs"]["ItemModel"]["properties"]["length"]
    >>> length["type"], length["examples"]
    ('string', ['20 mm'])
    """
    schema = Scenario.model_json_schema(by_alias=True)
    for key, word in STATEMENTS.items():
        given = schema["properties"][key]
        schema["properties"][key] = {
            "description": given.pop("description", f"This section, or the words `{word}`."),
            "anyOf": [{"const": word}, given],
        }
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    result: dict[str, Any] = _tidy(schema)
    return result


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
