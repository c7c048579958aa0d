"""What reacts and boils in a held liquid: partners without a gas, a condenser that lets it run
back, and what acetic acid gives off from water."""

import numpy as np
import pytest

from review import Reference, loads
from review.walk.settled import settled
from tests.support import shared_engine

FILE = """
title: a flask
reagents:
  sugar: {{state: solid, composition: {{sucrose: 100 %}}, amount: 5 g}}
  acid: {{state: liquid, basis: mass, composition: {{{acid}}}, amount: 20 mL}}
train:
  - {{id: flask, kind: flask, size: 100 mL round flask, liquid: acid,
     liquid_volume: 20 mL, joint: none,
     reactions: [{{equation: {equation}, limiting: {limiting}, conversion: 50 %}}]}}
  - {{id: mouth, kind: outlet, to: room, inner_diameter: 18 mm}}
"""
DILUTE = "water: 96 %, hydrogen chloride: 4 %"
BURETTE = "  lye: {state: liquid, composition: sodium hydroxide solution 1 mol/L}\ntrain:"


@pytest.mark.parametrize(
    ("acid", "equation", "limiting", "left"),
    [
        (DILUTE, "HCl + NaOH -> NaCl + H2O", "sodium hydroxide", 0),
        ("sulfuric acid: 96 %, water: 4 %", "C12H22O11(s) -> 12 C(s) + 11 H2O", "sucrose", 0),
        # The ester is a vapour that the liquid does not hold: it is not forgotten.
        (
            "acetic acid: 50 %, ethanol: 50 %",
            "CH3COOH + C2H5OH -> CH3COOC2H5 + H2O",
            "acetic acid",
            1,
        ),
        (DILUTE, "CaCO3(s) + 2 HCl -> CaCl2 + H2O + CO2", "HCl", 1),
    ],
)
def test_what_makes_no_new_gas_leaves_the_balance(
    acid: str, equation: str, limiting: str, left: int
) -> None:
    text = FILE.format(acid=acid, equation=equation, limiting=limiting)
    scenario, notes = loads(text.replace("train:", BURETTE)), list[str]()
    calm = settled(scenario, Reference(), notes)
    assert len(calm.item("flask").reactions) == left
    assert len(notes) == 1 - left
    assert not calm.item("flask").reactions.stated_none


def test_a_reaction_that_is_left_out_excuses_no_pair() -> None:
    text = FILE.format(
        acid="sulfuric acid: 96 %, water: 4 %",
        equation="C12H22O11(s) -> 12 C(s) + 11 H2O",
        limiting="sucrose",
    )
    engine = shared_engine()
    assert engine.review(engine.loads(text)).verdict == "must not proceed"


def test_acetic_acid_in_water_gives_off_what_is_published() -> None:
    """Johnson, Betterton and Craig, J. Atmos. Chem. 24 (1996) 113: 4100 +- 400 mol/(L atm) at
    25 degC. At 1 atm and 5 % of moles in the liquid the vapour has some 3.7 % (from memory)."""
    table = Reference().solution("acetic acid", "water")
    assert table is not None
    for percent, density in ((2.0, 1001.0), (10.0, 1011.6)):
        moles = percent / 100 * density / 60.052
        pressure = table.at(percent / 100).partial_pressure("acetic acid", np.array([298.15]))[0]
        assert 3650 <= moles / (pressure / 101325) <= 4500
    share = 0.05 * 60.052 / (0.05 * 60.052 + 0.95 * 18.015)
    boiling = table.at(share).partial_pressure("acetic acid", np.array([373.5]))[0]
    assert 0.037 * 101325 <= boiling <= 3 * 0.037 * 101325


REFLUX = """
title: ethanol under reflux
reagents:
  ethanol: {state: liquid, composition: {ethanol: 100 %}, amount: 50 mL, held: {as: bottle}}
train:
  - {id: flask, kind: flask, size: 100 mL round flask, liquid: ethanol,
     liquid_volume: 50 mL, joint: clipped ground joint}
  - {id: condenser, kind: condenser, orientation: vertical, inner_diameter: 14 mm,
     length: 300 mm, material: borosilicate glass 3.3, coolant_temperature: 12 degC,
     cooling_power: 300 W}
  - {id: top, kind: outlet, to: hood, inner_diameter: 14 mm}
heat:
  mantle: {heats: flask, kind: heating mantle, power: 100 W, set_temperature: 120 degC,
    hottest: 150 degC}
procedure: [{step: boil, duration: 2 h, heat: {mantle: on}}]
"""


@pytest.mark.parametrize(
    ("old", "new", "wet"),
    [
        ("", "", True),
        ("orientation: vertical", "orientation: inclined", False),
        ("cooling_power: 300 W", "cooling_power: 20 W", False),
    ],
)
def test_only_what_a_condenser_over_it_returns_keeps_a_flask_wet(
    old: str, new: str, wet: bool
) -> None:
    """40 mL of ethanol boil away in half an hour at 100 W (39 kJ/mol): dry glass gets 120 degC."""
    engine = shared_engine()
    review = engine.review(engine.loads(REFLUX.replace(old, new) if old else REFLUX), upsets=False)
    margins = [
        np.nanmin(m.value)
        for m in review.measures
        if m.kind == "heat.liquid_to_boiling_point" and m.at == "flask"
    ]
    assert (min(margins) > -5.0) == wet
