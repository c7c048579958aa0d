"""Said less, made worse, said otherwise: a drawn few of the ways (`python -m tests.laws`: more).

What a change may let through stands in `exceptions.yaml`, with its physical reason.
"""

from __future__ import annotations

import random
from typing import Any

import pytest
from pydantic import BaseModel

from review import Engine
from review.scenario.models import Scenario
from tests.contracts.test_every_field import inner
from tests.generated.generator import scenario
from tests.laws.law import (
    BLOCKED,
    EXCEPTIONS,
    REFUSED,
    STATED,
    Answer,
    answered,
    different,
    let_through,
    milder,
    read,
    speaks_of,
)
from tests.laws.less import left_out, without
from tests.laws.same import SAME, an_empty_bottle_beside_it
from tests.laws.worse import WORSE
from tests.practice.score import PASSES
from tests.practice.setups import set_ups
from tests.support import SCENARIOS

START_NUMBER = 20261129
DRAWN = 12
#: Quick to review, with gas, heat, liquid, catalyst and absorbent between them.
DEMOS = ("ethanol_dehydrated_over_alumina", "hydrogen_chloride_absorbed", "nitrogen_dried",
         "copper_oxide_forming_gas", "water_distilled", "diethyl_ether_on_a_hot_plate")  # fmt: skip


def demo(name: str) -> Any:
    return read((SCENARIOS / f"{name}.yaml").read_text("utf-8"))


def fields_left_out() -> list[tuple[str, str, Any]]:
    every = [(name, field, path) for name in DEMOS for field, path in left_out(demo(name))]
    return random.Random(START_NUMBER).sample(every, DRAWN)


def drawn_ways(ways: list[Any]) -> list[tuple[int, Any]]:
    draw = random.Random(START_NUMBER)
    return [(start, way) for start in (2, 6) for way in draw.sample(ways, 4)]


def test_there_are_ways_enough_and_each_exception_has_its_reason() -> None:
    assert len({way.__name__ for way in WORSE}) >= 40
    assert len({way.__name__ for way in SAME}) >= 18
    assert all(len(each["reason"]) > 10 for each in EXCEPTIONS)
    things = [each["change"] for each in EXCEPTIONS if each["law"] == "less"]
    assert len(things) <= 12
    fields = {
        f"{model.__name__}.{field.alias or name}"
        for model in models() for name, field in model.model_fields.items()
    }  # fmt: skip
    assert all(each in fields or each == "Step.*" for each in things), "one thing in a line"


def models(model: type[BaseModel] = Scenario) -> set[type[BaseModel]]:
    """A scenario's model and all that stand in it."""
    kinds = {inner(field.annotation) for field in model.model_fields.values()}
    return {model}.union(*(models(kind) for kind in kinds if kind is not None))


@pytest.mark.parametrize(("name", "field", "path"), fields_left_out(), ids=str)
def test_a_field_left_out_lifts_no_refusal(
    engine: Engine, name: str, field: str, path: Any
) -> None:
    data = demo(name)
    before, now = answered(engine, data), answered(engine, without(data, path))
    assert before is not None
    if now is not None:  # else refused as wrong input
        assert let_through("less", field, now, before)[0] == []


@pytest.mark.parametrize(("start", "way"), drawn_ways(WORSE), ids=lambda each: str(each)[:30])
def test_what_is_made_worse_lets_nothing_through(engine: Engine, start: int, way: Any) -> None:
    data = read(scenario(start))
    changed = way(data, random.Random(start))
    if changed is None:
        return  # it has no such thing
    before = answered(engine, data, upsets=False)
    now = answered(engine, changed, upsets=False)
    assert before is not None
    if now is not None:
        assert let_through("worse", way.__name__, now, before)[0] == []


@pytest.mark.parametrize(("start", "way"), drawn_ways(SAME), ids=lambda each: str(each)[:30])
def test_what_is_said_otherwise_is_judged_alike(engine: Engine, start: int, way: Any) -> None:
    data = read(scenario(start))
    changed = way(data, random.Random(start))
    if changed is None:
        return
    before = answered(engine, data, upsets=False)
    now = answered(engine, changed, upsets=False)
    assert before is not None and now is not None
    assert list(different(now, before)) == []


def test_what_is_let_through_is_seen() -> None:
    key = "flammability.envelope", "tube"
    bad = Answer("must not proceed", {key: REFUSED})
    unsure = Answer("cannot be judged", {key: BLOCKED})
    good = Answer("may proceed", {key: 0})
    assert list(milder(good, bad)) == [
        "verdict must not proceed -> may proceed", "flammability.envelope@tube",
    ]  # fmt: skip
    assert list(milder(unsure, bad)) == []  # it blocks all the same
    assert list(milder(good, unsure)) == ["verdict cannot be judged -> may proceed"]
    assert list(different(unsure, bad)) == ["verdict must not proceed -> cannot be judged"]


def test_what_waits_for_the_very_statement_that_was_left_out_lets_nothing_through() -> None:
    short, held = ("readiness.gas_drawn", "supply of gas"), (STATED, "feed")
    before = Answer("must not proceed", {short: REFUSED})
    waits = Answer("cannot be judged", {held: BLOCKED})
    assert list(milder(waits, before)) == []
    waited = Answer("must not proceed", {short: REFUSED, held: BLOCKED})
    assert list(milder(waits, waited)) == ["readiness.gas_drawn@supply of gas"]


def test_an_exception_speaks_of_either_of_two_fields_and_of_no_other() -> None:
    assert speaks_of("ItemModel.liquid", "ItemModel.joint + ItemModel.liquid")
    assert not speaks_of("ItemModel.liquid", "ItemModel.liquid_volume")
    assert not speaks_of("ItemModel.temperature", "ItemModel.bath_temperature")


def test_a_verdict_needs_no_reason_where_all_that_it_rests_on_has_one() -> None:
    wool, burns = ("heat.material", "tube"), ("flammability.envelope", "tube")
    name = "a_heater_without_insulation"
    bad, good = Answer("must not proceed", {wool: REFUSED}), Answer("may proceed", {})
    assert let_through("worse", name, good, bad) == ([], 2)
    both = Answer("must not proceed", {wool: REFUSED, burns: BLOCKED})
    assert let_through("worse", name, good, both)[0] == ["verdict must not proceed -> may proceed"]


BESIDE = (
    "acetone distilled on a water bath", "hydrogen from aluminium and lye collected over water",
    "a gram of naphthalene melted in a water bath",
)  # fmt: skip


@pytest.mark.parametrize("name", BESIDE)
def test_an_idle_bottle_beside_ordinary_practice_changes_nothing(engine: Engine, name: str) -> None:
    (text,) = [each.text for each in set_ups() if each.name == name]
    before = answered(engine, read(text), upsets=False)
    changed = an_empty_bottle_beside_it(read(text), random.Random(1))
    now = answered(engine, changed, upsets=False)
    assert before is not None and now is not None
    assert before.verdict in PASSES
    assert list(different(now, before)) == []
