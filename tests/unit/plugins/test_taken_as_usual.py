"""What nobody states of ordinary ware, and where the usual stops to hold."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
import yaml

from review import Engine, Review, loads
from tests.practice.setups import Words, laid_over, set_ups
from tests.support import shared_engine


@cache
def engine() -> Engine:
    return shared_engine()


@cache
def ordinary(name: str) -> Any:
    (text,) = [each.text for each in set_ups() if each.name == name]
    return yaml.load(text, Loader=Words)


def review(name: str, change: dict[str, Any] | None = None) -> Review:
    data = laid_over(ordinary(name), change or {})
    text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True)
    return engine().review(loads(text), upsets=False)


def against(name: str, change: dict[str, Any]) -> set[str]:
    """Criteria and places of what a change makes unacceptable."""
    before = {(f.criterion, f.at) for f in review(name).findings if f.grade == "unacceptable"}
    found = review(name, change).findings
    now = {(f.criterion, f.at) for f in found if f.grade == "unacceptable"}
    return {f"{criterion} {at}" for criterion, at in now - before}


ZINC = "zinc dissolved in dilute sulfuric acid"
MARBLE = "carbon dioxide washed and dried with sulfuric acid"
TOLUENE = "toluene refluxed under a drying tube"
ETHER = "petroleum ether evaporated in a dish on warm water"
PEROXIDE = "peroxide split by yeast in a measuring cylinder"


def pressure_before(bore: str | None) -> float:
    change = {"flows": {"gas": {"rate": "2 L/min", "at_most": "2 L/min"}},
              "train": {"acid bottle": {"dip_tube_bore": bore} if bore else {}}}  # fmt: skip
    measures = review(MARBLE, change).measures
    (found,) = [m for m in measures if m.kind == "train.pressure" and m.at == "empty bottle"]
    return float(found.value[1, 0])


def test_a_dip_tube_that_nobody_measured_costs_as_much_as_the_narrowest():
    assert pressure_before(None) == pressure_before("1 mm") > pressure_before("6 mm")


@pytest.mark.parametrize(
    ("change", "gapes"),
    [
        ({}, True),
        ({"mouth": {"inner_diameter": "6 mm"}}, False),
        ({"beaker": {"joint": "rubber stopper"}}, False),
        ({"beaker": {"mouth": "5 mm"}}, False),
        ({"beaker": {"kind": "flask", "size": "250 mL round flask"}}, False),
    ],
)
def test_an_open_beaker_is_as_wide_as_itself(change: dict[str, Any], gapes: bool):
    data = laid_over(ordinary(ZINC), {"train": change})
    scenario = loads(yaml.safe_dump(data, sort_keys=False))
    assert ("beaker" in scenario.gaping) is gapes


@pytest.mark.parametrize(
    "change",
    [
        {"ventilation": {"hood": {"opening_height": "0.7 m"}}},
        {"train": {"beaker": {"in": "room"}}},
        {"ventilation": {"hood": {"kind": "canopy", "tested": "no"}}},
    ],
)
def test_the_sash_is_a_screen_only_where_it_hangs_before_the_face(change: dict[str, Any]):
    assert "flammability.envelope beaker" in against(ZINC, change)


def test_what_a_plain_condenser_takes_out_collects_behind_it():
    change = {"train": {"condenser": {"kind": "condenser"}}}
    assert "heat.collected drying tube" in against(TOLUENE, change)


def test_much_rich_vapour_is_not_let_into_a_hood():
    """Half a litre in a quarter of an hour is 15 L of vapour a quarter of an hour, 7 L/min."""
    change = {"reagents": {"extract": {"amount": "500 mL"}},
              "train": {"dish": {"capacity": "1 L", "liquid_volume": "500 mL"}}}  # fmt: skip
    assert "flammability.outlet surface" in against(ETHER, change)


@pytest.mark.parametrize(
    ("drawn", "why"),
    [("sulfuric acid 96 %", "no water"), ("sodium hydroxide 20 %", "it heats"),
     ("sodium hydrogencarbonate 8 %", "more than a little salt")],
)  # fmt: skip
def test_only_what_is_mostly_water_dilutes(drawn: str, why: str):
    liquid = {"composition": {drawn: "100 %", "sodium hydrogencarbonate 5 %": None}}
    change = {"reagents": {"bicarbonate": liquid}}
    assert "pressure.suckback bicarbonate bottle" in against(MARBLE, change), why


def test_peroxide_stronger_than_what_is_sold_in_plastic_is_kept_out_of_it():
    strong = {"hydrogen peroxide 50 %": "100 %", "hydrogen peroxide 6 %": None}
    change = {"reagents": {"peroxide": {"composition": strong}}}
    assert {"reactive.pair cylinder", "corrosion.wetted cylinder"} <= against(PEROXIDE, change)


ESTER = "salicylic acid esterified with methanol under reflux"
TITRATED = "iodine and thiosulfate titrated"
AQUARIUM = "air bubbled by an aquarium pump"


def test_an_acid_that_hardly_evaporates_feeds_no_flame_and_one_that_does_is_not_known():
    """Sulfuric acid has 1.5 Pa at 98 degC (Ayers, Gillett and Gras, 1980); nitric acid boils."""
    assert not [f for f in review(ESTER).findings if f.criterion == "flammability.envelope"
                and f.at == "flask" and f.grade != "acceptable"]  # fmt: skip
    nitric = {"composition": {"nitric acid": "10 %", "sulfuric acid": None}}
    found = review(ESTER, {"reagents": {"mixture": nitric}}).findings
    assert [f for f in found if f.at == "flask" and f.criterion.startswith("flammability")
            and f.grade in ("undetermined", "unacceptable")]  # fmt: skip


def test_a_solution_from_a_burette_brings_as_much_as_its_water_would():
    """Two per cent of a salt that nobody can breathe bring no more than a second flask of it."""
    water = {"composition": {"water": "100 %", "sodium thiosulfate 2 %": None}}
    told = (review(TITRATED), review(TITRATED, {"reagents": {"thiosulfate": water}}))
    wanted = ("exposure.ceiling_ratio", "iodine")
    salt, plain = (next(m.value for m in r.measures if (m.kind, m.of) == wanted) for r in told)
    assert (plain <= salt * 1.02).all() and (salt <= 2 * plain).all()


def test_a_lifted_joint_is_no_harm_over_water_alone():
    """Behind a plug 0.15 bar lift the greased joint of the bottle."""
    lye = {"reagents": {"water": {"composition": {"sodium hydroxide 8 %": "100 %", "water": None}}}}
    for change, grade in (({}, "tolerable"), (lye, "unacceptable")):
        data = laid_over(ordinary(AQUARIUM), change)
        told = engine().review(loads(yaml.safe_dump(data, sort_keys=False, allow_unicode=True)))
        found = [f for f in told.findings if f.criterion == "pressure.working"]
        assert grade in [f.grade for f in found if f.at == "bottle"]
