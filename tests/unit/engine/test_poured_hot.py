"""What is poured into a vessel that a bath keeps hot.

Water gives 4.18 J/(g K), acetone boils at 56.1 degC and takes 29.1 kJ/mol, 791 g/L and 58.08 g/mol
(CRC Handbook, from memory).
"""

from __future__ import annotations

import pytest

from review import Engine
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.steps import Walk
from tests.support import shared_engine

TEXT = """
title: poured
reagents:
  water: {state: liquid, composition: {water: 100 %}, amount: 200 mL, density: 1 g/mL}
  spare: {state: liquid, composition: {SPARE}, amount: AMOUNT, density: 0.8 g/mL,
    held: {as: bottle}}
train:
  - {id: beaker, kind: beaker, capacity: 1 L, material: borosilicate glass 3.3, joint: none,
    liquid: water, liquid_volume: 200 mL}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 100 mm}
heat:
  bath: {heats: beaker, kind: water bath, set_temperature: SET, hottest: 99 degC}
ventilation: {room_volume: 150 m3, air_changes: 3 / hour}
procedure: [{step: stir, duration: 10 min, heat: {bath: on}}]
"""
POURED = "spare poured into beaker"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def walked(
    engine: Engine, at: str, spare: str = "acetone: 100 %", amount: str = "300 mL"
) -> Walk:
    text = TEXT.replace("SET", at).replace("SPARE", spare).replace("AMOUNT", amount)
    resolved = resolve(engine.loads(text), engine.reference, engine.item_kinds)
    return Walk(resolved, Runs(resolved.base, [PLAN]))


def stirred(walk: Walk, field: str, item: str = POURED) -> float:
    return float(getattr(walk.cells[1], field)[walk.resolved.graph.ids.index(item), 0])


def test_it_is_as_hot_as_the_vessel(engine: Engine) -> None:
    """Toluene boils above the bath; what boils below it is no hotter than that."""
    assert stirred(walked(engine, "85 degC", "toluene: 100 %"), "liquid_temperature") == 358.15
    boiling = stirred(walked(engine, "85 degC"), "liquid_temperature")
    assert boiling == pytest.approx(329.3, abs=0.5)
    cold = walked(engine, "5 degC")
    assert stirred(cold, "liquid_temperature") == cold.resolved.base["ambient.temperature"]


def test_no_more_than_a_splash_is_as_cold_as_its_bottle(engine: Engine) -> None:
    walk = walked(engine, "85 degC", amount="10 mL")
    assert stirred(walk, "liquid_temperature") == walk.resolved.base["ambient.temperature"]


def gives(walk: Walk) -> float:
    row = walk.resolved.graph.ids.index(POURED)
    return float(walk.cells[1].vapour[row, walk.resolved.index["acetone"], 0])


def test_what_the_heat_of_the_vessel_boils_off_goes_within_a_minute(engine: Engine) -> None:
    """18.9 K more of the same water boil off 0.54 mol more; both evaporate as it boils."""
    more = gives(walked(engine, "85 degC")) - gives(walked(engine, "66.1 degC"))
    assert more * 60.0 == pytest.approx(0.2 * 4180 * 18.9 / 29.1e3, rel=0.05)


def test_no_more_boils_off_than_is_poured(engine: Engine) -> None:
    more = gives(walked(engine, "85 degC", amount="15 mL")) - gives(walked(engine, "55 degC"))
    assert more * 60.0 == pytest.approx(0.015 * 791 / 58.08, rel=0.05)


@pytest.mark.parametrize(("amount", "hot"), [("20 mL", False), ("40 mL", True)])
def test_what_the_liquid_was_made_of_was_poured_before_it_was_heated(
    engine: Engine, amount: str, hot: bool
) -> None:
    """A tenth of acetone by mass in 200 mL is 20 g of it, 25 mL; more than that is poured later."""
    text = TEXT.replace("{water: 100 %}, amount", "{water: 90 %, acetone: 10 %}, amount")
    text = text.replace("SET", "85 degC").replace("SPARE", "acetone: 100 %")
    resolved = resolve(
        engine.loads(text.replace("AMOUNT", amount)), engine.reference, engine.item_kinds
    )
    walk = Walk(resolved, Runs(resolved.base, [PLAN]))
    room = resolved.base["ambient.temperature"]
    assert (stirred(walk, "liquid_temperature") > room) == hot
