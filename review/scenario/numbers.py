"""Every number of a scenario under its dotted path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from review.scenario.bench import Step
from review.scenario.models import ItemModel, Scenario
from review.scenario.units import Stated


def numbers(scenario: Scenario) -> dict[str, float]:
    """All numbers that were given, and the defaults the format has, in SI.

    Items go by id, steps by name, reactions by index: `train.tube.inner_diameter`,
    `procedure.run.flows.argon feed`, `train.tube.reactions.0.conversion`. A value that is a word
    (`on`, `unknown`, an `ambient` reference) has no entry. Defaults: the ambient condition
    (20 degC, 101325 Pa) and a selectivity of 1; the words `normal` and `standard` count as the
    temperature and pressure they stand for.
    """
    return dict(_walk("", scenario))


def _walk(path: str, value: Any) -> Iterator[tuple[str, float]]:
    if isinstance(value, Stated):
        yield path, value.value
    elif isinstance(value, float):
        yield path, value
    elif isinstance(value, BaseModel):
        for name, field in type(value).model_fields.items():
            if isinstance(value, ItemModel) and name == "outer_diameter":
                continue  # bore and wall, which it filled, are what is turned
            yield from _walk(_join(path, field.alias or name), getattr(value, name))
    elif isinstance(value, dict):
        for name, part in value.items():
            yield from _walk(_join(path, name), part)
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from _walk(_join(path, _label(index, part)), part)


def _label(index: int, part: Any) -> str:
    if isinstance(part, ItemModel):
        return part.id
    return part.step if isinstance(part, Step) else str(index)


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name
