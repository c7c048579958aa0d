"""What is left out cannot be judged; said, it can."""

from __future__ import annotations

import pytest

from review import Engine, loads
from tests.support import shared_engine

TEXT = """
title: Carbon monoxide oxidised over platinum
reagents:
  gas: {state: gas, composition: {carbon monoxide: 1 %, nitrogen: rest},
        held: {as: cylinder, volume: 10 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}}
  air: {state: gas, composition: {air: 100 %},
        held: {as: cylinder, volume: 10 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}}
  propane: {state: gas, composition: {propane: 100 %}, held: {as: cylinder, volume: 5 L}}
flows:
  a: {reagent: gas, into: tube, rate: 100 mL/min, reference: standard}
  b: {reagent: air, into: tube, rate: 100 mL/min, reference: standard}
train:
- id: tube
  kind: reactor
  inner_diameter: 8 mm
  length: 300 mm
  reactions: [{equation: 2 CO + O2 -> 2 CO2, limiting: carbon monoxide, conversion: 90 %}]
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
heat:
  flame: {heats: tube, kind: burner, set_temperature: 300 degC, hottest: 500 degC,
          fuel: propane, fuel_rate: 100 mL/min}
catalysts:
  platinum on alumina: {in: tube, light_off: 150 degC}
procedure:
- {step: run, duration: 10 min, flows: {a: on, b: on}, heat: {flame: on}}
"""
REACTIONS = TEXT[TEXT.index("  reactions:") : TEXT.index("- {id: out")]
PROCEDURE = TEXT[TEXT.index("procedure:") :]


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def left_out(engine: Engine, text: str) -> set[str]:
    review = engine.review(loads(text), upsets=False)
    return {
        f.at
        for f in review.findings
        if f.criterion == "readiness.declared" and f.grade == "undetermined"
    }


def test_all_said(engine: Engine) -> None:
    assert left_out(engine, TEXT) == set()


@pytest.mark.parametrize(
    ("old", "new", "at"),
    [
        (PROCEDURE, "", "procedure"),
        ("flows: {a: on, b: on}", "flows: {a: on}", "b"),
        (", heat: {flame: on}", "", "flame"),
        ("          fuel: propane, fuel_rate: 100 mL/min}", "}", "flame"),
        (", held: {as: cylinder, volume: 5 L}", "", "flame"),
        (REACTIONS, "", "tube"),
        (REACTIONS, "  reactions: []\n", "tube"),
    ],
    ids=[
        "procedure",
        "flow never on",
        "heat never on",
        "fuel of a burner",
        "supply of a burner's fuel",
        "reaction over a catalyst",
        "an empty list says nothing",
    ],
)
def test_left_out(engine: Engine, old: str, new: str, at: str) -> None:
    assert TEXT.count(old) == 1
    assert at in left_out(engine, TEXT.replace(old, new))


def test_a_supply_that_nobody_describes(engine: Engine) -> None:
    held = TEXT[TEXT.index(",\n        held:") : TEXT.index("}}\n  air")]
    assert left_out(engine, TEXT.replace(held, "", 1).replace("rest}}}", "rest}}", 1)) >= {"a"}


def test_that_nothing_reacts_is_a_statement(engine: Engine) -> None:
    assert left_out(engine, TEXT.replace(REACTIONS, "  reactions: none\n")) == set()


def test_platinum_without_light_off_is_not_believed(engine: Engine) -> None:
    bare = TEXT.replace(REACTIONS, "")
    never = bare.replace("light_off: 150 degC", "light_off: none")
    never = never.replace("300 degC, hottest: 500 degC", "80 degC, hottest: 90 degC")
    assert left_out(engine, never) == {"tube"}
    assert left_out(engine, never.replace("platinum on alumina", "silicon carbide")) == set()
    # Named in another language or by a synonym, it is still the metal that the data know.
    for known in ("Kupferoxid", "ferric oxide"):
        assert left_out(engine, never.replace("platinum on alumina", known)) == {"tube"}


STANDS = """
title: Something stands in a beaker
reagents: {it: {STATE, composition: {WHAT: 100 %}, amount: 5 gHELD}}
train:
- {id: beaker, kind: vessel, gas_volume: 100 mL, material: borosilicate glass 3.3HOLDS}
- {id: mouth, kind: outlet, to: room, inner_diameter: 40 mm}
"""


@pytest.mark.parametrize(
    ("what", "state", "held", "holds", "lacks"),
    [
        ("iodine", "state: solid", "", "", {"it"}),
        ("mercury", "state: liquid", "", "", {"it"}),
        ("iodine", "state: solid", "", ", liquid: it, liquid_volume: 1 mL", set()),
        ("iodine", "state: solid", ", held: {as: bottle}", "", set()),
        ("copper oxide", "state: solid", "", "", set()),
    ],
)
def test_what_gives_off_vapour_stands_somewhere(
    engine: Engine, what: str, state: str, held: str, holds: str, lacks: set[str]
) -> None:
    text = STANDS.replace("STATE", state).replace("WHAT", what)
    assert left_out(engine, text.replace("HELD", held).replace("HOLDS", holds)) == lacks


HOT = """
title: A gas through a hot tube
reagents:
  gas: {state: gas, composition: {GAS},
        held: {as: cylinder, volume: 2 L, pressure: 10 bar gauge, regulator: 0.2 bar gauge}}
flows: {a: {reagent: gas, into: tube, rate: 100 mL/min, reference: standard}}
train:
- {id: tube, kind: KIND, inner_diameter: 16 mm, length: 700 mm, heated_length: 200 mmMORE}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: TEMP degC, hottest: TEMP degC}}
procedure: [{step: run, duration: 10 min, flows: {a: on}, heat: {furnace: on}}]
"""
AIR, SMOKE = "oxygen: 21 %, nitrogen: 79 %", "sulfur dioxide: 0.5 %, oxygen: 21 %, nitrogen: rest"


def bed(of: str) -> str:
    return f", packing: {{material: {of}, voidage: 40 %, particle_diameter: 2 mm, length: 50 mm}}"


@pytest.mark.parametrize(
    ("gas", "kind", "more", "hot", "lacks"),
    [
        (SMOKE, "reactor", bed("ferric oxide"), 450, True),
        (SMOKE, "reactor", bed("chromium oxide"), 450, True),
        (SMOKE, "reactor", "", 450, True),
        (SMOKE, "reactor", ", reactions: none" + bed("ferric oxide"), 450, False),
        (SMOKE, "reactor", bed("ferric oxide"), 60, False),
        (AIR, "reactor", bed("iron sulfide"), 450, True),
        (AIR, "reactor", bed("ferric oxide"), 450, False),
        (AIR, "reactor", bed("copper"), 450, False),
        ("hydrogen: 5 %, argon: 95 %", "line", bed("copper oxide"), 300, True),
        ("hydrogen: 5 %, argon: 95 %", "line", bed("borosilicate glass 3.3"), 300, False),
        ("hydrogen: 5 %, argon: 95 %", "reactor", "", 300, False),
        ("carbon dioxide: 100 %", "line", bed("iron"), 600, True),
        ("carbon dioxide: 100 %", "line", bed("alumina"), 600, False),
        ("nitrogen: 100 %", "line", bed("iron sulfide"), 600, False),
    ],
)
def test_a_hot_bed_in_a_gas_that_may_react(
    engine: Engine, gas: str, kind: str, more: str, hot: int, lacks: bool
) -> None:
    text = HOT.replace("GAS", gas).replace("KIND", kind).replace("MORE", more)
    assert left_out(engine, text.replace("TEMP", str(hot))) == ({"tube"} if lacks else set())
