"""What a generator can give, and what a relief lets its train reach, by hand.

50 g of 7 % hydrochloric acid hold 0.09599 mol and 10 g of marble 0.09991 mol: by
CaCO3 + 2 HCl -> CaCl2 + H2O + CO2 the acid runs out first, after 0.04800 mol of gas. 100 mL/min at
20 degC and 1 atm are 6.929e-5 mol/s, so that is after 692.7 s.
"""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine
from review.walk.charge import charges
from review.walk.feeds import Reader
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.steps import Walk
from tests.support import shared_engine

ACID = "amount: 50 g, "
RELIEF = "relief: {opens_at: 0.02 bar gauge, bore: 6 mm, length: 300 mm}, "


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def text(amount: str = ACID, relief: str = "", minutes: float = 20, held: str = "") -> str:
    return (
        "title: gas made\nreagents:\n"
        f"  acid: {{state: liquid, {amount}"
        "composition: {hydrogen chloride: 7 %, water: 93 %}}\n"
        "  marble: {state: solid, composition: {calcium carbonate: 100 %}, amount: 10 g}\n"
        "  gas: {state: gas, composition: {carbon dioxide: 100 %}, "
        f"held: {{as: generator, equation: CaCO3(s) + 2 HCl -> CaCl2 + H2O + CO2{held}}}}}\n"
        "flows:\n  feed: {reagent: gas, into: flask, rate: 100 mL/min, reference: ambient}\n"
        "train:\n"
        f"  - {{id: flask, kind: vessel, gas_volume: 150 mL, joint: rubber stopper, {relief}"
        "rating: 0.3 bar gauge}\n"
        "  - {id: hose, kind: line, inner_diameter: 6 mm, length: 500 mm, joint: none}\n"
        "  - {id: mouth, kind: outlet, to: room, inner_diameter: 6 mm}\n"
        "ventilation: {room_volume: 150 m3, air_changes: 0 / hour}\n"
        "procedure:\n"
        f"  - {{step: make, duration: {minutes} min, flows: {{feed: on}}}}\n"
        "  - {step: more, duration: 20 min}\n"
    )


def walked(engine: Engine, *runs: str, **what: object) -> Walk:
    scenario = engine.loads(text(**what))
    resolved = resolve(scenario, engine.reference, engine.item_kinds)
    wanted = [o for o in engine.overlays(scenario) if o.id in runs]
    return Walk(resolved, Runs(resolved.base, [PLAN, *wanted]))


def test_the_reagent_that_runs_out_first_bounds_the_gas(engine):
    walk = walked(engine)
    rate = 1e-4 / 60 * 101325 / (8.314462618 * 293.15)
    in_room = walk.cells[1].amount_room[walk.resolved.index["carbon dioxide"], 0]
    moles = in_room * 101325 / (8.314462618 * 293.15)
    assert moles == pytest.approx(0.05 * 0.07 / 0.036461 / 2, rel=1e-4)
    assert walk.cells[1].fed[0, 0] == pytest.approx(rate, rel=1e-9)
    # Used up, it gives nothing in the next step, although the file leaves it on.
    assert walk.cells[2].fed[0, 0] == 0.0


def test_a_charge_lasts_over_several_steps(engine):
    walk = walked(engine, minutes=5)
    assert walk.cells[2].fed[0, 0] > 0
    both = sum(c.amount_room[walk.resolved.index["carbon dioxide"], 0] for c in walk.cells[1:3])
    moles = both * 101325 / (8.314462618 * 293.15)
    assert moles == pytest.approx(0.05 * 0.07 / 0.036461 / 2, rel=1e-4)


@pytest.mark.parametrize(
    ("change", "to"),
    [("amount: 10 g", "held: {as: bottle}"), ("2 HCl ->", "2 HCl + O2 ->"), ("CaCO3(s)", "Zn(s)")],
)
def test_an_equation_that_bounds_nothing_leaves_it_unbounded(engine, change, to):
    scenario = engine.loads(text(amount="").replace(change, to))
    resolved = resolve(scenario, engine.reference, engine.item_kinds)
    runs = Runs(resolved.base, [PLAN])
    assert np.isinf(charges(resolved, Reader(runs, 1, False))).all()


def test_a_cylinder_goes_on(engine):
    scenario = engine.loads(text(amount="").replace("as: generator, equation: CaCO3(s) + 2 HCl -> "
        "CaCl2 + H2O + CO2", "as: cylinder, volume: 10 L, pressure: 50 bar gauge"))  # fmt: skip
    resolved = resolve(scenario, engine.reference, engine.item_kinds)
    walk = Walk(resolved, Runs(resolved.base, [PLAN]))
    assert walk.cells[2].fed[0, 0] > 0


def test_a_plugged_generator_reaches_what_its_charge_makes_of_the_flask(engine):
    """0.04800 mol in 150 mL at 293.15 K: 7.799e5 Pa over the room."""
    walk = walked(engine, "blocked:flask:make")
    flask = walk.resolved.graph.ids.index("flask")
    moles = 0.05 * 0.07 / 0.036461 / 2
    most = 101325 + moles * 8.314462618 * 293.15 / 150e-6
    assert walk.cells[1].supply[flask, 1] == pytest.approx(most, rel=1e-4)


def test_a_relief_lets_a_plugged_flask_reach_its_opening_pressure(engine):
    """2 kPa and the loss of 100 mL/min in 6 mm x 300 mm, which is below 10 Pa."""
    walk = walked(engine, "blocked:flask:make", "blocked:hose:make", relief=RELIEF)
    for item, run in (("flask", 1), ("flask", 2), ("hose", 2)):
        k = walk.resolved.graph.ids.index(item)
        assert 2000 <= walk.cells[1].pressure[k, run] - 101325 < 2010


def test_a_relief_that_is_too_narrow_adds_its_own_loss(engine):
    """128 mu q L / (pi d^4) = 128 x 1.6e-5 x 1.67e-6 x 0.3 / (pi (0.5e-3)^4) is 5.2 kPa."""
    walk = walked(engine, "blocked:flask:make", relief=RELIEF.replace("6 mm", "0.5 mm"))
    assert walk.cells[1].pressure[0, 1] - 101325 > 2000 + 4500


def test_a_relief_that_stands_open_lets_gas_into_the_room(engine):
    """It opens at less than the train's own pressure: what flows there counts as let out there."""
    shut, open_ = walked(engine, relief=RELIEF), walked(
        engine, relief=RELIEF.replace("0.02 bar gauge", "0.0000001 bar gauge")
    )  # fmt: skip
    row = shut.resolved.index["carbon dioxide"]
    assert open_.cells[1].into_room[row, 0] > 1.9 * shut.cells[1].into_room[row, 0]


def test_a_relief_on_one_branch_protects_no_other(engine):
    two = text(relief=RELIEF).replace(
        "  - {id: hose,",
        "  - {id: other, kind: vessel, gas_volume: 150 mL, joint: rubber stopper, from: []}\n"
        "  - {id: hose, from: [flask, other],",
    )
    scenario = engine.loads(two)
    resolved = resolve(scenario, engine.reference, engine.item_kinds)
    blocked = [o for o in engine.overlays(scenario) if o.id == "blocked:hose:make"]
    walk = Walk(resolved, Runs(resolved.base, [PLAN, *blocked]))
    hose, flask = (resolved.graph.ids.index(name) for name in ("hose", "flask"))
    assert walk.cells[1].pressure[flask, 1] - 101325 < 2010
    assert walk.cells[1].pressure[hose, 1] - 101325 > 1e5
