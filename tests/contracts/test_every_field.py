"""Every field of the file moves a measure, a finding or the run sheet, or is told to be unused."""

from __future__ import annotations

import copy
import dataclasses
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import pytest
import yaml
from pydantic import BaseModel

from review import Engine, InputError
from review.engine.stated import UNUSED
from review.render.runsheet import run_sheet
from review.scenario.apparatus import Reaction, Reactions
from review.scenario.mending import without_none
from review.scenario.models import Scenario
from tests.support import shared_engine

TEXTS: dict[str, str] = yaml.safe_load(Path(__file__).with_name("every_field.yaml").read_text())
SET_UPS = {name: yaml.load(text, Loader=yaml.BaseLoader) for name, text in TEXTS.items()}
#: Another value where neither a change of the number nor leaving it out is right input.
OTHER: dict[str, Any] = {
    "Held.rate": "10 L/min",
    "Scenario.title": "Another title", "Held.as": "bottle", "Flow.reagent": "acid",
    "Flow.reference": "standard", "ItemModel.to": "outdoors", "Heat.kind": "water bath",
    "Heat.heats": "stop", "Safeguard.kind": "lab coat", "Step.step": "later",
    "LookFor.sign": "smoke", "LookFor.means": "too hot", "LookFor.do": "stop",
    "IgnitionSource.kind": "spark", "Instrument.kind": "none", "Hood.kind": "ductless",
    "Catalyst.in": "stop", "ItemModel.open": "yes", "ItemModel.in": "outdoors",
    "Hood.heat_inside": "yes", "Hood.exhaust": "room", "Instrument.calibration_gas": "argon",
    "ItemModel.ends": "open", "ItemModel.liquid": "water", "ItemModel.size": "hose 5x8",
    "Suction.drive": "water", "Flow.on_power_return": "starts",
    "Heat.on_power_return": "stays off", "Ventilation.on_power_return": "starts",
    "Step.valves": {"tap": "tube"}, "TimeWindow.at": "pot", "TemperatureWindow.of": "flame",
}  # fmt: skip
#: Names: to change one is to change all that names it.
NAMES = {"Intent.step", "RatioWindow.of", "RatioWindow.to",
         "ItemModel.id", "Reagent.state", "Clamp.rod", "Flow.into", "ItemModel.from",
         "ItemModel.share", "Safeguard.before", "Reagent.composition", "Reaction.limiting",
         "Reaction.equation", "ItemModel.kind", "Reagent.basis", "Clamp.height", "Rod.height",
         "Heat.on_power_loss", "Flow.on_power_loss", "Ventilation.on_power_loss"}  # fmt: skip


def fields(model: type[BaseModel] = Scenario) -> Iterator[str]:
    """Each field as `Model.key`, of a model and of all it is made of."""
    for name, field in model.model_fields.items():
        yield f"{model.__name__}.{field.alias or name}"
        kind = inner(field.annotation)
        if kind is not None:
            yield from fields(kind)


def inner(annotation: Any) -> type[BaseModel] | None:
    """The model that a field is, lists or maps; None where it holds no model."""
    kind: Any = without_none(annotation)
    if kind is Reactions:
        return Reaction
    while get_args(kind) and get_origin(kind) is not Literal:
        kind = without_none(get_args(kind)[-1])
    return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None


def containers(model: type[BaseModel] = Scenario) -> Iterator[str]:
    """Fields that hold fields, which count one by one."""
    for name, field in model.model_fields.items():
        kind = inner(field.annotation)
        if kind is not None:
            yield f"{model.__name__}.{field.alias or name}"
            yield from containers(kind)


CONTAINERS = set(containers())


def stated(data: Any, model: type[BaseModel], path: tuple[Any, ...] = ()) -> Iterator[Any]:
    """Each field that a set-up states, with the path to its value."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in data:
            continue
        yield f"{model.__name__}.{key}", (*path, key)
        kind, value = inner(field.annotation), data[key]
        if kind is None or isinstance(value, str):
            continue
        if without_none(field.annotation) is kind:
            yield from stated(value, kind, (*path, key))
            continue
        for at, part in enumerate(value) if isinstance(value, list) else value.items():
            yield from stated(part, kind, (*path, key, at))


#: Where each field is stated; the set-up that is quickest to review comes first.
PLACES: dict[str, list[tuple[str, tuple[Any, ...]]]] = {}
for _name in reversed(SET_UPS):
    for _field, _path in stated(SET_UPS[_name], Scenario):
        PLACES.setdefault(_field, []).append((_name, _path))


def test_the_set_ups_state_every_field() -> None:
    assert set(fields()) - set(PLACES) == set()


def test_at_most_four_fields_are_unused() -> None:
    assert len(UNUSED) <= 4


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.fixture(scope="module")
def base(engine: Engine) -> Callable[[str, bool], Any]:
    """What is said of a set-up as it stands, without and with its failures."""
    return cache(lambda name, upsets: told(engine, SET_UPS[name], upsets))


def told(engine: Engine, data: dict[str, Any], upsets: bool = False) -> Any:
    """What a review measures and finds, and what the operator's page says."""
    scenario = engine.loads(yaml.safe_dump(data, sort_keys=False), "x.yaml")
    review = engine.review(scenario, upsets=upsets)
    page = dataclasses.replace(
        review, verdict="may proceed with conditions", scenario_sha256="", sections=()
    )
    measures = [(m.kind, m.at, m.of, m.value.tolist(), m.status.tolist()) for m in review.measures]
    found = [(f.criterion, f.at, f.of, f.grade, str(f.value), f.reason) for f in review.findings]
    return repr(measures), repr(found), repr(run_sheet(page, scenario, None, printed=""))


def others(field: str, value: Any) -> Iterator[Any]:
    """Other values to put there; None leaves the field out."""
    number = re.fullmatch(r"(-?\d+(?:\.\d+)?)(.*)", value, re.S) if isinstance(value, str) else None
    if number:
        yield from (f"{float(number[1]) * factor:.6g}{number[2]}" for factor in (1.2, 0.8, 3.0))
    yield None
    if field in OTHER:
        yield OTHER[field]


@pytest.mark.parametrize("field", sorted(set(fields()) - NAMES - CONTAINERS))
def test_a_field_counts(engine: Engine, base: Callable[[str, bool], Any], field: str) -> None:
    unused = any((path[0], path[-1]) in UNUSED for _, path in PLACES[field])
    counts = any(
        _counts(engine, base, field, name, path, upsets)
        for upsets in ((False,) if unused else (False, True))
        for name, path in PLACES[field]
    )
    assert counts or unused, f"{field} moves nothing"
    assert not (counts and unused), f"{field} counts: take it off the list"


def _counts(
    engine: Engine, base: Callable[[str, bool], Any], field: str, name: str, path: Any, upsets: bool
) -> bool:
    for other in others(field, _at(SET_UPS[name], path)):
        try:
            now = told(engine, _changed(SET_UPS[name], path, other), upsets)
        except InputError:
            continue
        if now != base(name, upsets):
            return True
    return False


def _at(data: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        data = data[key]
    return data


def _changed(data: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    changed = copy.deepcopy(data)
    above = _at(changed, path[:-1])
    if value is None:
        del above[path[-1]]
    else:
        above[path[-1]] = value
    return changed
