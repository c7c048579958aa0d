"""What makes a poison is refused unless the poison is declared, and then judged as breathed.

Set-ups here are refused for what forms in them; the declared ones of ordinary practice never become
milder when the reaction, the equation or the gas that it makes is left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import yaml

from review import InputError, Review, loads
from tests.practice.score import conditions, not_yet
from tests.practice.setups import Words, set_ups
from tests.support import shared_engine

PASSES = ("may proceed", "may proceed with conditions")
#: Without its reaction nothing in the file speaks of what reacts: an empty tube.
PLAIN = {"sulfur dioxide half a percent over hot oxide into lye"}
ENGINE = shared_engine()

BEAKER = """
title: two things in one beaker in a tested hood
operators: 2
ambient: {{temperature: 20 degC, pressure: 1 atm}}
frame: stands by itself on the bench
ignition_sources: none in the room
ventilation: {{room_volume: 150 m3, air_changes: 4 / hour, hood: {{opening_width: 1.2 m,
  opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes, heat_inside: no}}}}
reagents: {{liquid: {{state: liquid, composition: {{{0}}}, amount: 20 mL, held: {{as: bottle}}}}}}
train:
  - {{id: beaker, in: hood, kind: vessel, material: borosilicate glass 3.3, gas_volume: 130 mL,
      joint: none, liquid: liquid, liquid_volume: 20 mL, inner_diameter: 50 mm, home_made: no}}
  - {{id: mouth, kind: outlet, to: hood, inner_diameter: 50 mm}}
procedure: [{{step: stand, duration: 5 min}}]
"""
#: What two things in one liquid make, of 10 % each in water where nothing else is said.
MAKE: dict[str, tuple[str, str, str]] = {
    "chlorine from bleach and hydrochloric acid": ("sodium hypochlorite", "hydrogen chloride", ""),
    "chlorine from bleach and vinegar": ("sodium hypochlorite", "acetic acid", ""),
    "chloramine from bleach and ammonia": ("sodium hypochlorite", "ammonia", ""),
    "chlorine from permanganate": ("potassium permanganate", "hydrogen chloride", ""),
    "chlorine from manganese dioxide": ("manganese dioxide", "hydrogen chloride", ""),
    "chlorine from lead dioxide": ("lead dioxide", "hydrogen chloride", ""),
    "chlorine from peroxide": ("hydrogen peroxide", "hydrogen chloride", ""),
    "chlorine from dichromate": ("potassium dichromate", "hydrogen chloride", ""),
    "hydrogen cyanide from acid": ("potassium cyanide", "sulfuric acid", ""),
    "hydrogen cyanide from vinegar": ("sodium cyanide", "acetic acid", ""),
    "hydrogen sulfide from acid": ("iron sulfide", "hydrogen chloride", ""),
    "hydrogen sulfide from vinegar": ("sodium sulfide", "acetic acid", ""),
    "sulfur dioxide from sulfite": ("sodium sulfite", "hydrogen chloride", ""),
    "sulfur dioxide from thiosulfate": ("sodium thiosulfate", "sulfuric acid", ""),
    "nitrogen oxides from nitrite": ("sodium nitrite", "hydrogen chloride", ""),
    "nitrogen oxides from copper": ("copper", "nitric acid", ""),
    "ammonia from its salt": ("ammonium chloride", "sodium hydroxide", ""),
    "ammonia from its sulfate and lime": ("ammonium sulfate", "calcium hydroxide", ""),
    "hydrogen chloride from salt": ("sodium chloride", "sulfuric acid", "80 %"),
    "iodine from iodide": ("potassium iodide", "sulfuric acid", "80 %"),
    "bromine from hydrobromic acid": ("hydrogen bromide", "sulfuric acid", "80 %"),
    "carbon monoxide from formic acid": ("formic acid", "sulfuric acid", "80 %"),
    "hydrogen chloride from an acid chloride": ("thionyl chloride", "ethanol", ""),
}


def passing(text: str, plan_first: bool = True) -> Review | None:
    """The review of what may proceed; None where it may not, be it for its plan alone."""
    try:
        scenario = loads(text)
    except InputError:
        return None
    if plan_first and ENGINE.review(scenario, upsets=False).verdict not in PASSES:
        return None
    review = ENGINE.review(scenario)
    return review if review.verdict in PASSES else None


@pytest.mark.parametrize("what", MAKE)
def test_two_things_that_make_a_poison_are_refused(what: str) -> None:
    one, other, share = MAKE[what]
    text = BEAKER.format(f"{one}: 10 %, {other}: {share or '10 %'}, water: rest")
    review = ENGINE.review(loads(text), upsets=False)
    assert review.verdict == "must not proceed"
    refused = {f.of for f in review.findings if f.grade == "unacceptable"}
    assert any(one in of and other in of for of in refused), refused


@pytest.mark.parametrize("alone", sorted({name for pair in MAKE.values() for name in pair[:2]}))
def test_each_alone_is_no_pair(alone: str) -> None:
    review = ENGINE.review(loads(BEAKER.format(f"{alone}: 1 %, water: rest")), upsets=False)
    met = {f.of for f in review.findings if f.criterion == "reactive.pair" and f.value == 2}
    assert {of for of in met if " with " in of} <= {"thionyl chloride with water"}


#: What gives off gas with water or acid -> the reaction that the beaker is said to hold.
GIVES_GAS = {
    ("sodium", "water"): "2 Na(s) + 2 H2O -> 2 NaOH(s) + H2",
    ("calcium carbide", "water"): "CaC2(s) + 2 H2O -> Ca(OH)2(s) + C2H2",
    ("calcium hydride", "water"): "CaH2(s) + 2 H2O -> Ca(OH)2(s) + 2 H2",
    ("magnesium", "water"): "Mg(s) + 2 H2O -> Mg(OH)2(s) + H2",
    ("thionyl chloride", "water"): "SOCl2 + H2O -> SO2 + 2 HCl",
}


@pytest.mark.parametrize("pair", GIVES_GAS, ids=" ".join)
@pytest.mark.parametrize("declared", [True, False])
def test_gas_that_no_balance_makes_is_refused(pair: tuple[str, str], declared: bool) -> None:
    """A reactor converts what flows in: of a solid that lies in water it would make nothing."""
    text = BEAKER.format(f"{pair[0]}: 5 %, {pair[1]}: 95 %")
    if declared:
        said = f"[{{equation: {GIVES_GAS[pair]}, limiting: water, conversion: 100 %}}]"
        text = text.replace("joint: none,", f"joint: none, reactions: {said},")
    found = ENGINE.review(loads(text), upsets=False).findings
    refused = [f.of for f in found if f.grade == "unacceptable"]
    assert any(set(pair) <= set(of.split(" with ")) for of in refused), refused


def test_quicklime_slaked_in_water_only_heats_it() -> None:
    text = BEAKER.format("calcium oxide: 5 %, water: 95 %")
    said = "[{equation: CaO(s) + H2O -> Ca(OH)2(s), limiting: water, conversion: 100 %}]"
    text = text.replace("joint: none,", f"joint: none, reactions: {said},")
    review = ENGINE.review(loads(text), upsets=False)
    found = [f for f in review.findings if f.criterion == "reactive.pair"]
    assert max(f.value for f in found if f.of == "calcium oxide with water") == 1


HOT = """
title: vapour over a hot tube
operators: 2
ambient: {{temperature: 20 degC, pressure: 1 atm}}
reagents: {{gas: {{state: gas, composition: {{carbon tetrachloride: 0.1 %, oxygen: 20 %, water: 1 %,
  nitrogen: rest}}, held: {{as: cylinder, volume: 2 L, pressure: 1 bar gauge,
  regulator: 0.1 bar gauge}}}}}}
flows: {{gas: {{reagent: gas, into: tube, rate: 100 mL/min, reference: ambient}}}}
train:
  - {{id: tube, in: hood, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
      length: 700 mm, heated_length: 200 mm, reactions: {0}}}
  - {{id: out, kind: outlet, to: hood, inner_diameter: 6 mm}}
heat: {{furnace: {{heats: tube, kind: tube furnace, set_temperature: 600 degC, hottest: 620 degC}}}}
procedure: [{{step: run, duration: 30 min, flows: {{gas: on}}, heat: {{furnace: on}}}}]
"""


#: What is declared of it -> grade of the pair: 2 must not meet, 1 with care.
DECLARED = {"none": 2, "CCl4 + 2 H2O -> CO2 + 4 HCl": 2, "2 CCl4 + O2 -> 2 COCl2 + 2 Cl2": 1}


@pytest.mark.parametrize("equation", DECLARED)
def test_phosgene_has_to_be_declared(equation: str) -> None:
    rest = "limiting: carbon tetrachloride, conversion: 90 %"
    reactions = "none" if equation == "none" else f"[{{equation: {equation}, {rest}}}]"
    review = ENGINE.review(loads(HOT.format(reactions)), upsets=False)
    found = [f for f in review.findings if f.criterion == "reactive.pair" and f.at == "tube"]
    assert max(f.value for f in found if "carbon tetrachloride" in f.of) == DECLARED[equation]


#: What is declared of methane and carbon dioxide over nickel -> grade of the hydrogen made with the
#: carbon dioxide. Reforming tells the carbon monoxide; cracking to carbon does not.
REFORMED = {"CH4 + CO2 -> 2 CO + 2 H2": 0, "CH4 -> C(s) + 2 H2": 2}


@pytest.mark.parametrize("equation", REFORMED)
def test_what_a_declared_reaction_gives_meets_its_own_gases(equation: str) -> None:
    told = "carbon tetrachloride: 0.1 %, oxygen: 20 %, water: 1 %"
    text = HOT.replace(told, "methane: 3 %, carbon dioxide: 3 %")
    said = f"[{{equation: {equation}, limiting: methane, conversion: 80 %}}]"
    text = text.format(said) + "catalysts: {bed: {in: tube, material: nickel, mass: 1 g}}\n"
    review = ENGINE.review(loads(text), upsets=False)
    of = "carbon dioxide with hydrogen"
    found = [f.value for f in review.findings if f.criterion == "reactive.pair" and f.of == of]
    assert max(found, default=0) == REFORMED[equation]


def dropped(data: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The file without one of its reactions, and with another gas than its equation makes."""
    for n, item in enumerate(data["train"]):
        if isinstance(item.get("reactions"), list):
            for said in ([], "none"):
                train = [*data["train"]]
                train[n] = {**item, "reactions": said}
                yield f"{item['id']}: reactions {said}", {**data, "train": train}
    for name, reagent in data.get("reagents", {}).items():
        if "equation" in reagent.get("held", {}):
            held = {k: v for k, v in reagent["held"].items() if k != "equation"}
            for change in ({"held": held}, {"composition": {"nitrogen": "100 %"}}):
                if {**reagent, **change} == reagent:
                    continue
                reagents = {**data["reagents"], name: {**reagent, **change}}
                yield f"{name}: {list(change)}", {**data, "reagents": reagents}


def other(what: str) -> bool:
    """Another gas than the equation makes is none that anybody has judged; steam may leave."""
    return "composition" in what and not what.startswith(("oxygen", "steam"))


def told() -> list[Any]:
    """What is declared of a gas that is made, or of what makes a set-up refused; and its changes.

    An ordinary one without its reaction may pass; that it passes as it stands is asked elsewhere.
    """
    listed, found = not_yet() - PLAIN, []
    for each in set_ups():
        if "equation" not in each.text or not (each.allowed or "all at once" in each.name):
            continue
        passes = each.allowed and each.name not in listed
        data = yaml.load(each.text, Loader=Words)
        changes = [(w, d) for w, d in dropped(data) if not passes or "held" in w or other(w)]
        if changes:
            found.append(pytest.param(each.text, changes, id=each.name))
    return found


@pytest.mark.parametrize(("text", "changes"), told())
def test_a_product_left_out_is_never_milder(text: str, changes: list[tuple[str, Any]]) -> None:
    for what, data in changes:
        after = passing(yaml.safe_dump(data, sort_keys=False))
        if after:
            before = None if other(what) else passing(text, plan_first=False)
            assert before and len(conditions(after)) >= len(conditions(before)), what
