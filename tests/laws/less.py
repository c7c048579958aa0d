"""Every way to say less: each field of a file that may be left out, one or two at a time."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from review.scenario.mending import without_none
from review.scenario.models import Scenario
from tests.contracts.test_every_field import inner

Where = tuple[str | int, ...]
#: What says nothing of the set-up, or is a whole thing whose parts count one by one.
WORDS = {"Scenario.title", "Scenario.purpose", "Scenario.prepared_by", "Scenario.room"}


def left_out(
    data: Any, model: type[BaseModel] = Scenario, path: Where = ()
) -> Iterator[tuple[str, Where]]:
    """Each property that is stated, as `Model.key`, with where it stands.

    Entries of lists and maps are things, not properties; those of a map of numbers are properties.
    """
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in data:
            continue
        at, value = (*path, key), data[key]
        if f"{model.__name__}.{key}" not in WORDS:
            yield f"{model.__name__}.{key}", at
        kind = inner(field.annotation)
        if kind is None or isinstance(value, str):
            continue
        if without_none(field.annotation) is kind:
            yield from left_out(value, kind, at)
            continue
        for part, entry in enumerate(value) if isinstance(value, list) else value.items():
            if not isinstance(entry, str):
                yield from left_out(entry, kind, (*at, part))


def without(data: Any, *paths: Where) -> Any:
    left = copy.deepcopy(data)
    for path in paths:
        at = left
        for key in path[:-1]:
            at = at.get(key, {}) if isinstance(at, dict) else at[key]
        if isinstance(at, dict):
            at.pop(path[-1], None)
    return left


def pairs(data: Any, count: int, draw: random.Random) -> list[list[tuple[str, Where]]]:
    every = list(left_out(data))
    return [draw.sample(every, 2) for _ in range(count)]
