"""Facts that let something through when they were left out: each stays closed."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from review import Engine
from tests.generated.generator import scenario
from tests.laws.law import REFUSED, answered, milder, read
from tests.laws.less import without
from tests.practice.setups import set_ups
from tests.support import SCENARIOS

#: A dangerous set-up, what is left out of it, and what was let through.
LEFT_OUT = (
    ("carbon dioxide from marble bubbled through water: a flask of five litres charged to the neck",
     ("train", 0, "liquid_volume"), "readiness.charge@carbon dioxide"),
    ("hydrogen from a cylinder led to a detector: into the room beside a burner",
     ("ignition_sources",), "ignition.flame_near@mouth"),
    ("helium through a trap in liquid nitrogen: argon instead",
     ("train", 2, "gas_volume"), "flammability.condensed@cold trap"),
    ("hydrogen from a cell bubbled off: both gases together past a flame",
     ("train", 3, "in"), "ignition.flame_near@mouth"),
    ("sugar recrystallised from ethanol under reflux: no water through the condenser and a flame in"
     " the hood", ("ignition_sources", "burner", "in"), "exposure.idlh@breathing zone"),
)  # fmt: skip


def set_up(name: str) -> Any:
    (text,) = [each.text for each in set_ups() if each.name == name]
    return read(text)


@pytest.mark.parametrize(("name", "path", "through"), LEFT_OUT, ids=lambda each: str(each)[:40])
def test_what_was_let_through_is_held(engine: Engine, name: str, path: Any, through: str) -> None:
    data = set_up(name)
    before = answered(engine, data, upsets=False)
    now = answered(engine, without(data, path), upsets=False)
    assert before is not None and now is not None
    criterion, at = through.split("@")
    assert (criterion, at) in before.found
    assert list(milder(now, before)) == []


@pytest.mark.parametrize(("share", "least"), [("10 %", 0.1), ("2 %", 0.02)])
def test_a_capacity_left_out_counts_no_more_than_any_that_may_be_stated(
    engine: Engine, share: str, least: float
) -> None:
    """100 mL of lye at 1 kg/L, 40 g/mol: two fifths of the moles of sodium hydroxide."""
    text = """
title: Hydrogen chloride taken up
reagents:
  acid gas: {state: gas, composition: {hydrogen chloride: 5 %, nitrogen: rest},
    held: {as: cylinder, volume: 2 L, pressure: 5 bar gauge, regulator: 0.1 bar gauge}}
  lye: {state: liquid, basis: mass, composition: {sodium hydroxide: SHARE, water: rest}}
flows: {feed: {reagent: acid gas, into: bottle, rate: 100 mL/min, reference: standard}}
train:
- {id: bottle, kind: wash bottle, liquid: lye, liquid_volume: 100 mL, gas_volume: 100 mL,
   dip_depth: 20 mm, dip_tube_bore: 6 mm,
   absorbs: {hydrogen chloride: {efficiency: 95 %, capacity: 1 mol}}}
- {id: out, kind: outlet, to: hood}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
"""
    data = read(text.replace("SHARE", share))
    absorbs = data["train"][0]["absorbs"]["hydrogen chloride"]
    absorbs["capacity"] = f"{0.9 * least} mol"
    assert answered(engine, data, upsets=False) is None
    absorbs["capacity"] = f"{1.1 * least} mol"
    assert answered(engine, data, upsets=False) is not None
    del absorbs["capacity"]
    found = engine.review(engine.loads(yaml.safe_dump(data)), upsets=False)
    (used,) = [m for m in found.measures if m.kind == "corrosion.absorbent_used"]
    moles = 0.05 * 0.95 * 100e-6 / 60 * 101325 / (8.314463 * 293.15) * 600
    assert used.value[-1, 0] * least == pytest.approx(moles, rel=0.1)


def test_a_wall_that_nobody_names_may_be_of_what_must_not_meet_the_gas(engine: Engine) -> None:
    data = set_up("acetylene from a little carbide over water: through a copper tube")
    (tube,) = [item for item in data["train"] if item["id"] == "tube"]
    tube["size"] = "tube 8x1"
    before = answered(engine, data, upsets=False)
    del tube["material"]
    now = answered(engine, data, upsets=False)
    assert before is not None and now is not None
    assert before.found["reactive.pair", "tube"] > 0
    assert now.found["reactive.pair", "tube"] > 0
    assert list(milder(now, before)) == []


def test_a_wall_that_nobody_names_around_nitrogen_is_no_matter(engine: Engine) -> None:
    (text,) = [
        each.text for each in set_ups() if each.name == "nitrogen dried over calcium chloride"
    ]
    data = read(text)
    for item in data["train"]:
        item.pop("material", None)
    now = answered(engine, data, upsets=False)
    assert now is not None
    assert not any(c == "reactive.pair" and rank for (c, _), rank in now.found.items())


def test_what_forms_over_a_packing_that_nobody_names_is_asked(engine: Engine) -> None:
    data = read(scenario(34))  # methanol cracked over it
    (i,) = [n for n, item in enumerate(data["train"]) if "packing" in item and "reactions" in item]
    assert "material" not in data["train"][i]["packing"]
    before = answered(engine, data, upsets=False)
    now = answered(engine, without(data, ("train", i, "reactions")), upsets=False)
    assert before is not None and now is not None
    assert before.found["readiness.declared", data["train"][i]["id"]] == 0
    assert now.found["readiness.declared", data["train"][i]["id"]] > 0


@pytest.mark.parametrize("hood", [
    "{kind: ductless}", "{kind: kitchen, exhaust: outdoors}", "{kind: canopy}", "{exhaust: room}",
    "{kind: ductless, exhaust: outdoors}", "{kind: ductless, exhaust: room}",
])  # fmt: skip
def test_a_hood_of_which_less_is_told_draws_nothing_more(engine: Engine, hood: str) -> None:
    """No kind but a fume hood can be said to be tested, so none left out is taken for one."""
    data = set_up("carbon monoxide into a hood with a filter")
    stated = data["ventilation"]["hood"]
    del stated["kind"]
    stated |= yaml.safe_load(hood)
    before = answered(engine, data, upsets=False)
    assert before is not None and before.verdict == "must not proceed"
    for left in [["kind"], ["exhaust"], ["kind", "exhaust"]]:
        now = answered(
            engine, without(data, *(("ventilation", "hood", each) for each in left)), upsets=False
        )
        assert now is not None and list(milder(now, before)) == []
    stated["tested"] = "yes"
    assert answered(engine, data, upsets=False) is None


@pytest.mark.parametrize("parts", [2, 5])
def test_a_purge_cut_into_steps_has_to_last_as_long(engine: Engine, parts: int) -> None:
    """20 minutes of nitrogen that do not suffice: each part begins with what the first found."""
    data = read(scenario(211))
    before = answered(engine, data, upsets=False)
    (n,) = [n for n, step in enumerate(data["procedure"]) if step["step"] == "sweep"]
    sweep = data["procedure"][n]
    assert sweep["duration"] == "20 min"
    data["procedure"][n : n + 1] = [
        {**sweep, "step": f"sweep {part}", "duration": f"{20 / parts} min"}
        for part in range(1, parts + 1)
    ]
    now = answered(engine, data, upsets=False)
    assert before is not None and now is not None
    assert before.found["readiness.purge", "sweep"] == REFUSED
    assert now.found["readiness.purge", f"sweep {parts}"] == REFUSED
    assert list(milder(now, before)) == []


def test_a_furnace_of_which_nobody_says_where_it_stands_may_stand_in_the_hood(
    engine: Engine,
) -> None:
    data = read((SCENARIOS / "copper_oxide_forming_gas.yaml").read_text("utf-8"))
    assert data["ventilation"]["hood"].pop("heat_inside") == "no"
    (tube,) = [item for item in data["train"] if item["id"] == data["heat"]["furnace"]["heats"]]
    for where in ({"in": "hood"}, {}):
        tube.pop("in", None)
        tube |= where
        now = answered(engine, data, upsets=False)
        assert now is not None and now.found["ignition.flame_near", "outlet"] == REFUSED
    data["ventilation"]["hood"]["heat_inside"] = "no"
    now = answered(engine, data, upsets=False)
    assert now is not None and now.found["ignition.flame_near", "outlet"] == 0
