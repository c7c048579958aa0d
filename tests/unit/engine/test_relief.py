"""A failed regulator against a relief, by hand.

500 mL/min of nitrogen at 20 degC behind a needle valve set at 1.51325 bar absolute; with the
cylinder's 151.01 bar before it it passes 151.01325/1.51325 = 99.8 times as much: 49.9 L/min,
0.0346 mol/s.
"""

from __future__ import annotations

import pytest

from review import Engine
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.steps import Walk
from tests.support import shared_engine

FAILED, BLOCKED = "regulator failed:feed:run", "blocked:hose:run"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def text(bore: str = "8 mm", to: str = "", hose: str = "2 mm", gas: str = "nitrogen") -> str:
    return (
        "title: gas through a pot\nreagents:\n"
        f"  gas: {{state: gas, composition: {{{gas}: 100 %}}, held: {{as: cylinder, volume: 10 L,"
        " pressure: 150 bar gauge, regulator: 0.5 bar gauge}}\n"
        "flows:\n  feed: {reagent: gas, into: pot, rate: 500 mL/min, reference: ambient,"
        " at_most: 1 L/min}\n"
        "train:\n"
        "  - {id: pot, kind: vessel, gas_volume: 150 mL, joint: none, rating: 0.3 bar gauge,"
        f" relief: {{opens_at: 0.05 bar gauge, bore: {bore}, length: 300 mm{to}}}}}\n"
        f"  - {{id: hose, kind: line, inner_diameter: {hose}, length: 1 m, joint: none}}\n"
        "  - {id: mouth, kind: outlet, to: hood, inner_diameter: 6 mm}\n"
        "ventilation: {room_volume: 150 m3, air_changes: 0 / hour}\n"
        "procedure:\n  - {step: run, duration: 10 min, flows: {feed: on}}\n"
    )


def walked(engine: Engine, scenario: str, *runs: str) -> Walk:
    loaded = engine.loads(scenario)
    resolved = resolve(loaded, engine.reference, engine.item_kinds)
    wanted = [o for o in engine.overlays(loaded) if o.id in runs]
    assert len(wanted) == len(runs)
    return Walk(resolved, Runs(resolved.base, [PLAN, *wanted]))


def gauge(walk: Walk, item: str, run: int = 1) -> float:
    pressure = walk.cells[1].pressure[walk.resolved.graph.ids.index(item), run]
    return float(pressure - walk.resolved.base["ambient.pressure"])


@pytest.mark.parametrize(
    ("bore", "expected"),
    [
        # v 16.5 m/s, Re 8300 (1.9e-5 Pa s with the engine's 10 %), f 0.033: 2.7 heads of 159 Pa.
        ("8 mm", 5434.0),
        # v 66 m/s, Re 16600, f 0.027: 3.5 heads of 2.54 kPa: sqrt(101.325^2 + 2 x 101.325 x 9.0).
        ("4 mm", 5000.0 + 8630.0),
    ],
)
def test_the_flow_of_a_failed_regulator_sets_what_a_relief_holds(engine, bore, expected):
    walk = walked(engine, text(bore), FAILED)
    assert gauge(walk, "pot") == pytest.approx(expected, rel=0.04)


def test_without_capacity_a_relief_holds_nothing(engine):
    """1.5 mm: 470 m/s at the room's pressure, sqrt(p/rho) is 295 m/s: 1.6 bar absolute already in
    its mouth, and far above 0.3 bar before it. The way on is narrower still."""
    assert gauge(walked(engine, text("1.5 mm", hose="1 mm"), FAILED), "pot") > 3e5


def test_what_lies_between_an_item_and_a_relief_costs(engine):
    """With the relief behind 1 m of 2 mm, 50 L/min press the pot to bars before it helps."""
    moved = text().replace("rating: 0.3 bar gauge, relief", "rating: 0.3 bar gauge}\n  - RELIEF")
    pot, behind = moved.split("\n  - RELIEF")
    relief, rest = behind.split("\n", 1)
    trap = f"  - {{id: trap, kind: vessel, gas_volume: 150 mL, joint: none, relief{relief}\n"
    last = "  - {id: mouth"
    scenario = pot + "\n" + rest.replace(last, trap + last)
    walk = walked(engine, scenario, FAILED, "blocked:trap:run")
    assert gauge(walk, "pot") > 1e5
    assert gauge(walk, "trap", 2) == pytest.approx(5000, rel=0.01)
    # A plug in the trap may sit before its relief: the pot then stands at the regulator's pressure.
    assert gauge(walk, "pot", 2) == pytest.approx(5e4)


def test_gas_fed_in_behind_a_bottle_cannot_go_back_to_its_relief(engine):
    """The dip tube of a wash bottle stands under liquid: what is pressed back is liquid."""
    bottle = (
        "  - {id: bottle, kind: wash bottle, liquid: water, liquid_volume: 100 mL, gas_volume: 50 "
        "mL, dip_tube_bore: 6 mm, dip_depth: 30 mm, joint: none}\n  - {id: hose"
    )
    after = text().replace("  - {id: hose", bottle)
    into = after.replace("into: pot", "into: bottle")
    assert gauge(walked(engine, after, BLOCKED), "bottle") < 5500
    assert gauge(walked(engine, into, BLOCKED), "bottle") > 4e4
    # Through an open pot it can.
    assert gauge(walked(engine, text().replace("into: pot", "into: hose"), BLOCKED), "hose") < 6000


@pytest.mark.parametrize(
    ("to", "hood", "room"), [("", 0.0, 1.0), (", to: hood", 1.0, 0.0), (", to: outdoors", 0.0, 0.0)]
)
def test_where_a_relief_blows_to(engine, to, hood, room):
    """Behind a plug all 500 mL/min leave through it, to where its item stands or its line leads."""
    cell = walked(engine, text(to=to), BLOCKED).cells[1]
    rate = 500e-6 / 60
    assert cell.into_hood[:, 1].sum() == pytest.approx(hood * rate, rel=1e-6, abs=1e-15)
    assert cell.into_room[:, 1].sum() == pytest.approx(room * rate, rel=1e-6, abs=1e-15)


def test_a_flame_beside_a_relief_lights_what_it_blows_out(engine):
    """50 L/min of hydrogen from a failed regulator, a flame half a metre away in the room."""
    near = "ignition_sources: {lamp: {kind: flame, in: room, distance: 500 mm}}\nventilation"
    for to, lit in (("", True), (", to: outdoors", False)):
        scenario = text(to=to, gas="hydrogen").replace("ventilation", near)
        review = engine.review(engine.loads(scenario))
        (found,) = [
            m for m in review.measures if m.kind == "ignition.lit_leak" and m.at == "pot"
        ]
        run = [r.id for r in review.trials.runs].index(FAILED)
        assert bool(found.value[1, run] > 0) == lit


@pytest.mark.parametrize(
    ("to_hose", "least", "most"),
    [
        # 5434 Pa, see above, drive through 1 m of 2 mm by Blasius (friction 0.3164 / Re^0.25)
        # and 1.5 heads of entrance and exit: v 19.4 m/s, Re 2390, f 0.0452, 5300 Pa: 3.7 L/min.
        # Laminar it would be 6.7 L/min (Hagen and Poiseuille).
        ("2 mm", 3.6, 7.0),
        # Through 1 mm: v 11 m/s, Re 680, laminar: 32 mu L v / d^2 = 6700 Pa, of which 5434 drive
        # 8.9 m/s, 0.42 L/min.
        ("1 mm", 0.41, 0.65),
    ],
)
def test_a_train_passes_on_what_its_relief_drives(
    engine: Engine, to_hose: str, least: float, most: float
) -> None:
    walk = walked(engine, text(hose=to_hose), FAILED)
    mouth = walk.resolved.graph.ids.index("mouth")
    litres = walk.cells[1].flow[mouth, 1] * 24.055 * 60  # L/mol at 20 degC, 1 atm
    assert least <= litres <= most
