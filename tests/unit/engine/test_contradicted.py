"""What a file says against itself counts as the worse of the two readings."""

import pytest

from review.scenario import Scenario
from review.walk.resolve import resolve
from tests.support import shared_engine

FILE = """
title: Carbon dioxide made drop by drop
reagents:
  acid: {state: liquid, composition: {hydrogen chloride: 10 %, water: 90 %}, amount: 20 mL,
    density: 1.05 g/mL, held: {as: bottle}}
  marble: {state: solid, composition: {calcium carbonate: 100 %}, amount: 10 g}
  made: {state: gas, composition: {carbon dioxide: 100 %}, held: {as: generator, rate: 20 mL/min,
    equation: CaCO3(s) + 2 HCl -> CaCl2 + H2O + CO2, limited_by: dropping funnel}}
flows:
  gas: {reagent: made, into: flask, rate: 20 mL/min, reference: ambient, at_most: MOST}
  drops: {reagent: acid, into: flask, rate: 0.5 mL/minTAP}
train:
  - {id: flask, kind: vessel, material: borosilicate glass 3.3, gas_volume: 250 mL, joint: rubber
    stopper, joint_material: EPDM, home_made: no}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
procedure:
  - {step: make, duration: 20 min, flows: {gas: on, drops: on}}
  - {step: drip out, duration: 20 min, flows: {gas: off}}
  - {step: end, duration: 5 min, flows: {drops: off}}
"""


def _seen(most: str = "60 mL/min", tap: str = "", text: str = FILE) -> Scenario:
    engine = shared_engine()
    told = engine.loads(text.replace("MOST", most).replace("TAP", tap))
    return resolve(told, engine.reference, engine.item_kinds).scenario


@pytest.mark.parametrize(
    ("most", "tap", "counts"),
    [
        # 1.05 g/min with 10 % HCl, 2.88 mmol/min, give 1.44 mmol/min or 34.6 mL/min at 20 degC.
        ("60 mL/min", ", at_most: 1 mL/min", 60.0),
        ("60 mL/min", ", at_most: 10 mL/min", 346.4),
        # a funnel of 20 mL whose tap nobody measured is empty within a minute
        ("60 mL/min", "", 692.8),
        ("1 L/min", "", 1000.0),
    ],
)
def test_a_made_gas_comes_as_fast_as_what_is_let_in(most: str, tap: str, counts: float) -> None:
    found = _seen(most, tap).flows["gas"].at_most
    assert found is not None
    assert found.value * 6e7 == pytest.approx(counts, rel=2e-3)


@pytest.mark.parametrize(
    ("unit", "counts"),
    [("mg/min", 63.4), ("umol/min", 1440.0)],  # 1.44 mmol/min of 44.01 g/mol
)
def test_by_mass_and_by_moles_it_is_the_same_gas(unit: str, counts: float) -> None:
    rate = "rate: 20 mL/min, reference: ambient"
    text = FILE.replace(rate, f"rate: 1 {unit}")
    most = _seen(f"1 {unit}", ", at_most: 1 mL/min", text).flows["gas"].at_most
    assert most is not None
    assert most.value * 60e6 == pytest.approx(counts, rel=2e-3)


@pytest.mark.parametrize(("amount", "counts"), [("30 mL", 30.0), ("15 mL", 20.0)])
def test_a_bottle_holds_what_the_plan_takes(amount: str, counts: float) -> None:
    """0.5 mL/min in the first two steps, 40 minutes, are 20 mL."""
    text = FILE.replace("amount: 20 mL", f"amount: {amount}")
    found = _seen(tap=", at_most: 1 mL/min", text=text).reagents["acid"].amount
    assert found is not None
    assert found.value * 1e6 == pytest.approx(counts, rel=1e-6)


def test_without_contradiction_the_file_stands_as_it_is() -> None:
    seen = _seen("60 mL/min", ", at_most: 1 mL/min")
    assert seen.reagents["acid"].amount == seen.as_filed.reagents["acid"].amount
