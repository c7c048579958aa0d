"""What a cold surface takes out of the gas, by hand, and the ways of saying that it is cold."""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine, Overlay, loads

SATURATED = """\
title: t
reagents:
  gas: {state: gas, composition: {nitrogen: 95 %, acetone: 5 %}}
flows: {feed: {reagent: gas, into: trap, rate: RATE, reference: normal}}
train:
- {id: trap, kind: trap, gas_volume: 250 mL, inner_diameter: 60 mm, COLD}
- {id: out, kind: outlet, to: hood}
procedure:
- {step: run, duration: 10 min, flows: {feed: on}}
"""
BATH = "heat: {bath: {heats: trap, kind: dry ice bath, set_temperature: -78 degC}}\nprocedure:"


def text(cold: str = "temperature: -78 degC", rate: str = "50 mL/min") -> str:
    return SATURATED.replace("COLD", cold).replace("RATE", rate)


def leaves(setup, substance: str = "acetone", cell: int = 1) -> float:
    """Mole fraction that leaves the trap in a cell of the plan."""
    row = setup.resolved.index[substance]
    return float(setup._walk.cells[cell].outlet[0, row, 0])


def test_slow_gas_leaves_a_trap_as_dry_as_its_surface_is_cold(walked):
    """Acetone at 205 K, 10 K above dry ice: below 100 Pa (47 Pa at 203 K, Antoine constants of the
    NIST WebBook, from memory). All that diffuses to 88 mm of a bore of 60 mm at 50 mL/min.
    """
    left = leaves(walked(text()))
    assert 10 / 101325 < left < 200 / 101325


def test_fast_gas_carries_vapour_through(walked):
    """3.66 pi D L / V': D of acetone 1.1e-5 m2/s at 298 K, 5.7e-6 at 205 K; at 5 L/min 0.07."""
    left = leaves(walked(text(rate="5 L/min")))
    assert 0.04 < left < 0.05


def test_a_trap_that_nobody_measured_takes_out_nothing(walked):
    bare = text().replace("gas_volume: 250 mL, inner_diameter: 60 mm", "inner_diameter: 60 mm")
    assert leaves(walked(bare)) > 0  # its volume follows from its width
    wide = text().replace("inner_diameter: 60 mm, ", "")
    assert leaves(walked(wide)) < 1e-2  # a ball's width from its volume


def test_what_must_not_condense_is_not_taken_out(walked):
    """Chlorine is liquid at -78 degC; that it stays in the trap is no credit behind it."""
    setup = walked(text().replace("acetone: 5 %", "chlorine: 60 %").replace("95 %", "40 %"))
    assert leaves(setup, "chlorine") == pytest.approx(0.6)


@pytest.mark.parametrize(
    "said", ["temperature: -78 degC", "bath_temperature: -78 degC", "joint: none"]
)
def test_three_ways_of_saying_that_it_is_cold(walked, said):
    source = text(said)
    if said == "joint: none":
        source = source.replace("procedure:", BATH).replace(
            "{feed: on}", "{feed: on}, heat: {bath: on}"
        )
    setup = walked(source)
    assert leaves(setup) == pytest.approx(leaves(walked(text())))
    assert setup.places[0].cold[1] == pytest.approx(195.15)


def test_no_bath_is_left_once_all_is_off(walked):
    setup = walked(text())
    assert np.isnan(setup.places[0].cold[-1])


def test_a_bath_that_is_lost_takes_out_nothing(walked):
    lost = Overlay(
        id="x", title="x", case="upset", changes={"train.trap.temperature": 293.15}, from_step=1
    )
    setup = walked(text(), [lost])
    row = setup.resolved.index["acetone"]
    assert setup._walk.cells[1].outlet[0, row, 1] == pytest.approx(0.05)


def test_a_cold_flask_that_is_shut_gains_pressure_as_it_warms(walked):
    """Shut by the plan on what its supply presses in, 1.2 bar at 195.15 K: x 293.15/195.15."""
    shut = text().replace("kind: outlet, to: hood", "kind: outlet, to: hood, open: no")
    shut = shut.replace("acetone: 5 %}}", "acetone: 5 %}, held: {as: cylinder, volume: 2 L, "
                        "pressure: 20 bar absolute, regulator: 1.2 bar absolute}}")  # fmt: skip
    setup = walked(shut)
    pressure = setup.places[0].pressure.value
    assert pressure[1] == pytest.approx(1.2e5)
    assert pressure[-1] == pytest.approx(1.2e5 * 293.15 / 195.15, rel=1e-6)


BUTANE = text(rate="60 mL/min").replace("acetone: 5 %", "butane: 5 %").replace("normal", "standard")


def test_what_a_trap_has_caught_adds_up(walked):
    """60 mL/min at 20 degC and 1 atm is 4.157e-5 mol/s, a twentieth of it for ten minutes 1.247
    mmol; at 205.15 K butane of 8 kPa is saturated, so hardly any of 5 % condenses; half of 95 %.
    """
    rich = BUTANE.replace("nitrogen: 95 %, butane: 5 %", "nitrogen: 5 %, butane: 95 %")
    setup = walked(rich)
    row = setup.resolved.index["butane"]
    caught = setup._walk.cells[1].condensed[0, row, 0]
    fed = 101325 * 60e-6 / 60 / (8.314 * 293.15) * 0.95 * 600
    assert 0.9 * fed < caught < fed


def test_all_of_it_is_let_out_once_the_bath_is_gone(walked):
    """Butane boils at -0.5 degC: within ten minutes it is gas, out of the trap's open end."""
    rich = BUTANE.replace("nitrogen: 95 %, butane: 5 %", "nitrogen: 5 %, butane: 95 %")
    setup = walked(rich)
    row = setup.resolved.index["butane"]
    caught = setup._walk.cells[1].condensed[0, row, 0]
    let_out = setup._walk.cells[-1].amount_hood[row, 0]
    assert let_out == pytest.approx(caught * 8.314 * 293.15 / 101325, rel=1e-3)


def test_what_stays_liquid_stands_in_the_trap_and_fills_it_with_its_vapour(walked):
    """Acetone at 20 degC: 24.5 kPa (NIST WebBook, from memory)."""
    setup = walked(text())
    row = setup.resolved.index["acetone"]
    over = setup._walk.cells[-1].over_liquid[0, row, 0]
    assert over == pytest.approx(24.5 / 101.325, rel=0.02)


def test_of_a_broken_trap_all_that_boils_is_in_the_room(walked):
    rich = BUTANE.replace("nitrogen: 95 %, butane: 5 %", "nitrogen: 5 %, butane: 95 %")
    rich += "- {step: stand, duration: 10 min, flows: {feed: off}}\n"
    rich += "ventilation: {room_volume: 25 m3, air_changes: 0 / hour}\n"
    opened = {"train.trap.open_outward": 1.0, "train.trap.open_inward": 1.0}
    broken = Overlay(id="x", title="x", case="upset", changes=opened, from_step=2)
    setup = walked(rich, [broken])
    row = setup.resolved.index["butane"]
    cell = setup._walk.cells[2]
    gas = setup._walk.cells[1].condensed[0, row, 0] * 8.314 * 293.15 / 101325
    before = setup._walk.cells[1].room_caught[row, 1]
    assert cell.room_caught[row, 1] - before == pytest.approx(gas / 25, rel=0.01)
    assert cell.room_caught[row, 0] == pytest.approx(setup._walk.cells[1].room_caught[row, 0])


@pytest.mark.parametrize("said", ["on", "-78 degC"])
def test_a_bath_that_a_step_sets_cold_is_cold(said):
    """Set to 15 degC it cools hardly; a step may set it colder."""
    source = text("joint: none").replace("procedure:", BATH.replace("-78 degC", "15 degC"))
    source = source.replace("{feed: on}", f"{{feed: on}}, heat: {{bath: {said}}}")
    source += "ventilation: {room_volume: 60 m3, air_changes: 4 / hour}\n"
    review = Engine().review(loads(source))
    assert review.facts["has_cold"]
    [fill] = [m for m in review.measures if m.kind == "pressure.trap_fill"]
    assert (fill.at == "trap") and ((fill.value > 0).any() == (said != "on"))


CONDENSING = "flammability.condensing_oxidiser"
DEWAR = """
title: liquid nitrogen in a vessel
reagents: {liquid: {state: liquid, composition: {nitrogen: 100 %}, amount: 5 L,
  held: {as: bottle}}}
train:
- {id: dewar, kind: vessel, material: stainless steel 316, gas_volume: 2 L, liquid: liquid,
   liquid_volume: 5 L, JOINT temperature: -196 degC, home_made: noLEAK}
- {id: mouth, kind: outlet, to: room, inner_diameter: 40 mm}
ventilation: {room_volume: 60 m3, air_changes: 1 / hour}
procedure: [{step: stand, duration: 8 h}]
"""


def least_oxygen(leak: str) -> float:
    text = DEWAR.replace("LEAK", leak).replace("JOINT", "joint: none,")
    review = Engine().review(loads(text), upsets=False)
    found = [m for m in review.measures if m.kind == "oxygen.low"]
    return min(float(np.nanmin(m.value)) for m in found)


def test_a_heat_leak_left_out_is_never_milder() -> None:
    """5 L of liquid nitrogen in eight hours or in a quarter of one."""
    assert least_oxygen("") < least_oxygen(", heat_leak: 27 W") - 1e-3


@pytest.mark.parametrize(("seal", "cold"), [("natural rubber", True), ("PTFE", False)])
def test_a_seal_far_colder_than_it_bears(seal: str, cold: bool) -> None:
    text = DEWAR.replace("LEAK", ", heat_leak: 5 W")
    text = text.replace("JOINT", f"joint: rubber stopper, joint_material: {seal},")
    review = Engine().review(loads(text), upsets=False)
    [found] = [
        f for f in review.findings
        if f.kind == "heat.cold_margin" and f.of == f"joint of {seal}" and f.case == "step"
    ]  # fmt: skip
    assert (found.grade == "unacceptable") is cold


HALVES = "[{step: stand, duration: 4 h}, {step: stand on, duration: 4 h}]"


@pytest.mark.parametrize("leak", ["5 W", "30 W", "100 W"])
@pytest.mark.parametrize("stated", [True, False])
def test_a_dewar_may_run_dry_in_any_step(leak: str, stated: bool) -> None:
    """5 L hold 0.8 MJ (806 g/L, 199 J/g): gone after 45, 7.5 and 2.2 hours. The wall is cold for as
    long, said or not, and air that stands there afterwards does not condense: at 77 K that of a
    full vessel would, by a twentieth above saturation."""
    text = DEWAR.replace("LEAK", f", heat_leak: {leak}").replace("JOINT", "joint: none,")
    text = text if stated else text.replace(" temperature: -196 degC,", "")
    halves = text.replace("[{step: stand, duration: 8 h}]", HALVES)
    whole, cut = (Engine().review(loads(each), upsets=False) for each in (text, halves))
    graded = [
        {(f.criterion, f.at, f.of, f.grade) for f in r.findings if f.case == "step"}
        for r in (whole, cut)
    ]
    assert graded[0] == graded[1]
    [cold] = [m for m in cut.measures if (m.kind, m.of) == (CONDENSING, "oxygen")]
    assert float(np.nanmax(cold.value[1:])) < 0.9


BUBBLED = """\
title: t
reagents:
  gas: {state: gas, composition: {nitrogen: 93 %, water: 2 %, GAS: 5 %}}
  liquid: {state: liquid, composition: {water: 90 %, WITH: 10 %}, density: 1.05 g/mL}
flows: {feed: {reagent: gas, into: bottle, rate: 100 mL/min, reference: normal}}
train:
- {id: bottle, kind: KIND, capacity: 250 mL, liquid: liquid, liquid_volume: 100 mL, reactions: [
    {equation: EQUATION, limiting: GAS, conversion: 100 %}]}
- {id: out, kind: outlet, to: hood}
procedure:
- {step: run, duration: 10 min, flows: {feed: on}}
"""


@pytest.mark.parametrize(
    ("gas", "partner", "equation", "made", "least", "most"),
    [
        # Iodine, 45 degC: 2.0 mbar (Gillespie and Fraser 1936, from memory).
        ("chlorine", "potassium iodide", "Cl2 + 2 KI -> I2 + 2 KCl", "iodine", 1.9e-3, 2.1e-3),
        # Sulfuric acid has no vapour to speak of in water (Ayers 1980: below 1e-7 bar at 45 degC).
        ("hydrogen sulfide", "copper sulfate", "H2S + CuSO4 -> CuS + H2SO4", "sulfuric acid",
         0.0, 1e-6),
        # Its mist goes through water.
        ("sulfur trioxide", "copper sulfate", "SO3 + H2O -> H2SO4", "sulfuric acid", 0.015, 0.06),
    ],
)  # fmt: skip
def test_what_forms_in_a_liquid_leaves_with_its_own_vapour_pressure(
    walked, gas, partner, equation, made, least, most
):
    source = BUBBLED.replace("GAS", gas).replace("WITH", partner).replace("EQUATION", equation)
    setup = walked(source.replace("KIND", "wash bottle, dip_depth: 20 mm"))
    row = setup.resolved.index[made]
    assert least <= float(setup._walk.cells[1].outlet_end[0, row, 0]) < most
    # In a vessel under whose liquid no tube ends all of it counts in the gas.
    setup = walked(source.replace("KIND", "vessel"))
    assert setup._walk.cells[1].outlet_end[0, row, 0] > 0.015


@pytest.mark.parametrize("kind", ["water bath", "steam bath"])
def test_a_bath_of_water_is_at_most_as_hot_as_water_boils(walked, kind):
    bath = BATH.replace("dry ice bath", kind).replace("-78 degC", "80 degC")
    source = text("joint: none").replace("procedure:", bath)
    heat = walked(source).scenario.heat["bath"]
    assert heat.hottest == pytest.approx(373.15)
    # What is stated counts, and oil may get hotter.
    stated = source.replace("80 degC}", "80 degC, hottest: 90 degC}")
    assert walked(stated).scenario.heat["bath"].hottest == pytest.approx(363.15)
    assert walked(source.replace(kind, "oil bath")).scenario.heat["bath"].hottest is None
