"""The walk against hand calculations: feeds, absorption, vapour, and items without flow."""

from __future__ import annotations

import math

import numpy as np
import pytest

from review import Overlay
from review.interface.measure import OK, OUTSIDE

AMBIENT, ATMOSPHERE, R = 293.15, 101325.0, 8.314462618
NORMAL = 1e-3 / 60 * ATMOSPHERE / (R * 273.15)  # 1 L/min at 0 degC and 1 atm, mol/s

ARGON = "title: t\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
ONE_LITRE = "flows: {feed: {reagent: gas, into: in, rate: 1 L/min, reference: normal}}\n"
END = "- {id: out, kind: outlet, to: hood}\n"
JUNCTION = "train:\n- {id: in, kind: junction, gas_volume: 5 mL}\n"


def fraction(setup, item: str, substance: str, point: str = "outlet", trial: int = 0) -> float:
    place = next(p for p in setup.places if p.id == item)
    row = [s.name for s in setup.species].index(substance)
    return float(place.composition(point)[row, trial])


def at(setup, item: str, field: str):
    place = next(p for p in setup.places if p.id == item)
    found = getattr(place, field)
    return getattr(found, "value", found).reshape(setup.shape)


# What is fed


def test_settings_last_until_a_later_step_changes_them(walked) -> None:
    setup = walked(
        ARGON + ONE_LITRE + JUNCTION + END + "procedure:\n"
        "- {step: before, duration: 1 min}\n"
        "- {step: start, duration: 1 min, flows: {feed: on}}\n"
        "- {step: keep, duration: 1 min}\n"
        "- {step: half, duration: 1 min, flows: {feed: 0.5 L/min}}\n"
        "- {step: keep half, duration: 1 min}\n"
        "- {step: stop, duration: 1 min, flows: {feed: off}}\n"
        "- {step: stay, duration: 1 min}\n"
        "- {step: again, duration: 1 min, flows: {feed: on}}\n"
    )
    flow = at(setup, "in", "flow")[1:9, 0] / NORMAL
    assert flow.tolist() == pytest.approx([0, 1, 1, 0.5, 0.5, 0, 0, 1], rel=1e-6)


@pytest.mark.parametrize("half", ["", "- {step: second half, duration: 20 min}\n"])
def test_the_longest_settings_are_the_stated_plan_in_however_many_steps(walked, half: str) -> None:
    setup = walked(
        ARGON + ONE_LITRE.replace("{feed", "{little: {reagent: gas, into: in, rate: 0.1 L/min, "
        "reference: normal}, feed") + JUNCTION + END + "procedure:\n"
        "- {step: purge, duration: 30 min, flows: {little: on}}\n"
        f"- {{step: run, duration: {20 if half else 40} min, flows: {{little: off, feed: on}}}}\n"
        f"{half}- {{step: sweep, duration: 30 min, flows: {{feed: off, little: on}}}}\n"
    )  # fmt: skip
    assert at(setup, "in", "flow")[0, 0] == pytest.approx(NORMAL, rel=1e-6)


def test_a_mass_basis_becomes_moles(walked) -> None:
    # 5 g of hydrogen are 2.480 mol, 95 g of argon 2.378 mol.
    text = ARGON.replace("{argon: 100 %}", "{hydrogen: 5 %, argon: 95 %}").replace(
        "state: gas", "state: gas, basis: mass"
    )
    setup = walked(text + ONE_LITRE + JUNCTION + END)
    moles = 5 / 2.01588, 95 / 39.948
    assert fraction(setup, "in", "hydrogen") == pytest.approx(moles[0] / sum(moles), rel=1e-4)


def test_a_mass_flow_is_divided_by_the_molar_mass(walked) -> None:
    setup = walked(ARGON + ONE_LITRE.replace("1 L/min", "3.9948 g/min") + JUNCTION + END)
    assert at(setup, "in", "flow")[0, 0] == pytest.approx(0.1 / 60, rel=1e-4)


def test_a_liquid_feed_is_its_density_over_its_molar_mass(walked) -> None:
    text = (
        "title: t\nreagents: {feedwater: {state: liquid, composition: {water: 100 %}}}\n"
        "flows: {feed: {reagent: feedwater, into: in, rate: 1 mL/min}}\n"
    )
    setup = walked(text + JUNCTION + END)
    expected = 1e-6 / 60 * 998.2 / 18.01528e-3  # 9.235e-4 mol/s
    assert at(setup, "in", "flow")[0, 0] == pytest.approx(expected, rel=1e-4)


def test_a_float_meter_lets_more_of_a_light_gas_through(walked) -> None:
    meter = ", reference: normal, instrument: {kind: float meter, calibration_gas: air}"
    text = ARGON.replace("argon", "helium") + ONE_LITRE.replace(", reference: normal", meter)
    setup = walked(text + JUNCTION + END)
    # The scale reads at 20 degC, 1 atm: litres of that state, times sqrt(28.965 / 4.0026).
    expected = 1e-3 / 60 * ATMOSPHERE / (R * AMBIENT) * math.sqrt(28.965 / 4.002602)
    assert at(setup, "in", "flow")[0, 0] == pytest.approx(expected, rel=1e-4)


# Absorption

BOTTLE = (
    "- {{id: bottle, kind: wash bottle, liquid: {liquid}, liquid_volume: 100 mL, gas_volume: 50 mL,"
    " dip_depth: 1 mm, dip_tube_bore: 8 mm, absorbs: {{{gas}: {{efficiency: 100 %,"
    " capacity: 100 mol}}}}}}\n"
)


@pytest.mark.parametrize("liquid", ["water", "lye"])
@pytest.mark.parametrize(
    "gas", ["nitric oxide", "carbon monoxide", "hydrogen", "methane", "nitrous oxide"]
)
def test_what_no_source_says_is_taken_up_passes_whatever_the_file_claims(
    walked, gas: str, liquid: str
) -> None:
    text = (
        "title: t\nduration: 10 min\nreagents:\n"
        f"  gas: {{state: gas, composition: {{{gas}: 10 %, argon: 90 %}}}}\n"
        "  lye: {state: liquid, basis: mass, composition: {sodium hydroxide: 10 %, water: 90 %}}\n"
        + ONE_LITRE + JUNCTION + BOTTLE.format(liquid=liquid, gas=gas) + END
    )  # fmt: skip
    setup = walked(text)
    ratio = fraction(setup, "bottle", gas) / fraction(setup, "bottle", "argon")
    assert ratio == pytest.approx(1 / 9, rel=1e-9)


def test_what_a_source_says_is_taken_up_is_taken_up(walked) -> None:
    gas = "hydrogen chloride"
    text = (
        "title: t\nduration: 10 min\nreagents:\n"
        f"  gas: {{state: gas, composition: {{{gas}: 10 %, argon: 90 %}}}}\n"
        + ONE_LITRE + JUNCTION + BOTTLE.format(liquid="water", gas=gas).replace("100 %", "80 %")
        + END
    )  # fmt: skip
    setup = walked(text)
    ratio = fraction(setup, "bottle", gas) / fraction(setup, "bottle", "argon")
    assert ratio == pytest.approx(0.2 / 9, rel=1e-9)
    used = setup.stacked("used")[1].sum(axis=0)[0]
    assert used == pytest.approx(0.8 * 0.1 * NORMAL * 600, rel=1e-6)


# Vapour and pressure

SATURATOR = (
    "- {{id: bottle, kind: wash bottle, liquid: water, liquid_volume: 100 mL, gas_volume: 50 mL,"
    " dip_depth: 10 mm, dip_tube_bore: 8 mm, bath_temperature: {bath} degC}}\n"
    "- {{id: hose, kind: line, inner_diameter: {bore} mm, length: 2 m}}\n"
)


def test_vapour_that_settles_is_not_flagged(walked) -> None:
    setup = walked(ARGON + ONE_LITRE + JUNCTION + SATURATOR.format(bath=25, bore=8) + END)
    assert setup.engine_status.tolist() == [OK] * setup.trials


def test_vapour_and_pressure_that_do_not_settle_in_two_passes_are_flagged(walked) -> None:
    # At 95 degC five parts of vapour come with each of argon; the narrow hose then raises the
    # pressure, which holds vapour back: the second pass moves far from the first.
    setup = walked(ARGON + ONE_LITRE + JUNCTION + SATURATOR.format(bath=95, bore=1) + END)
    assert setup.engine_status[0] == OUTSIDE


# Without flow

BORE, LENGTH = 0.016, 0.4
VOLUME = math.pi / 4 * BORE**2 * LENGTH  # 80.4 mL
HOT = 873.15
TUBE = "- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm}\n"
HEAT = "heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 600 degC}}\n"
STEPS = (
    "procedure:\n- {step: run, duration: 60 min, flows: {feed: on}, heat: {furnace: on}}\n"
    "- {step: cool, duration: 60 min, flows: {feed: off}, heat: {furnace: off}}\n"
    "- {step: wait, duration: 1 min}\n"
)
COOL = 2
SEAL = (
    "- {{id: bottle, kind: wash bottle, liquid: water, liquid_volume: {liquid} mL,"
    " gas_volume: 50 mL, dip_depth: 10 mm, dip_tube_bore: 8 mm, lift: 150 mm}}\n"
)


def test_air_comes_in_through_an_open_end_while_the_tube_cools(walked) -> None:
    setup = walked(ARGON + ONE_LITRE + JUNCTION + TUBE + END + HEAT + STEPS)
    # No cooling time is given: the tube may be cold at once.
    drawn = 1 - AMBIENT / HOT
    assert at(setup, "tube", "drawn_fraction")[COOL, 0] == pytest.approx(drawn, rel=1e-9)
    assert setup.stacked("exposed")[1].reshape(setup.shape)[COOL, 0] == 1
    assert fraction(setup, "tube", "oxygen", "drawn_from", COOL) == pytest.approx(0.2095)
    after = fraction(setup, "tube", "oxygen", "old", COOL + 1)
    assert after == pytest.approx(0.2095 * drawn, rel=1e-6)


def test_a_stated_cooling_time_bounds_what_comes_in(walked) -> None:
    slow = HEAT.replace("600 degC", "600 degC, cooling_time: 60 min")
    setup = walked(ARGON + ONE_LITRE + JUNCTION + TUBE + END + slow + STEPS)
    left = AMBIENT + (HOT - AMBIENT) / math.e
    assert at(setup, "tube", "drawn_fraction")[COOL, 0] == pytest.approx(1 - left / HOT, rel=1e-9)


def test_a_wash_bottle_seals_the_tube_and_its_liquid_is_drawn(walked) -> None:
    text = ARGON + ONE_LITRE.replace("into: in", "into: tube") + "train:\n" + TUBE
    setup = walked(text + SEAL.format(liquid=100) + END + HEAT + STEPS)
    assert setup.stacked("exposed")[0].reshape(setup.shape)[COOL, 0] == 0
    # V Ta (1/T - 1/Th), less what the gas that remains expands by under the lift's head.
    pulled = VOLUME * AMBIENT * (1 / AMBIENT - 1 / HOT)
    head = 998.2 * 9.80665 * 0.15
    lifted = VOLUME * AMBIENT / HOT * head / (ATMOSPHERE - head)
    expected = pulled - lifted  # 53.0 mL
    assert at(setup, "bottle", "liquid_drawn")[COOL, 0] == pytest.approx(expected, rel=1e-4)
    assert at(setup, "bottle", "liquid_drawn")[1, 0] == 0


def test_a_bottle_drawn_empty_lets_air_follow(walked) -> None:
    text = ARGON + ONE_LITRE.replace("into: in", "into: tube") + "train:\n" + TUBE
    setup = walked(text + SEAL.format(liquid=20) + END + HEAT + STEPS)
    assert at(setup, "bottle", "liquid_drawn")[COOL, 0] == pytest.approx(20e-6)
    assert setup.stacked("exposed")[0].reshape(setup.shape)[COOL, 0] == 1


def test_a_closed_outlet_lets_nothing_in(walked) -> None:
    text = ARGON + ONE_LITRE + JUNCTION + TUBE + END + HEAT + STEPS
    closed = Overlay(
        id="closed", title="closed", case="upset", changes={"train.out.blocked": 1.0}, from_step=2
    )
    setup = walked(text, [closed])
    assert setup.stacked("exposed")[1].reshape(setup.shape)[COOL].tolist() == [1, 0]


# Upsets in mid-step


def test_a_flow_lost_in_mid_step_leaves_what_had_come(walked) -> None:
    def lost(late: bool) -> Overlay:
        return Overlay(
            id=f"lost {late}", title="lost", case="upset",
            changes={"flows.feed.delivered": 0.0}, from_step=1, late=late,
        )  # fmt: skip

    text = ARGON + ONE_LITRE + JUNCTION + END.replace("hood", "hood, inner_diameter: 4 mm")
    text += "procedure:\n- {step: purge, duration: 60 min, flows: {feed: on}}\n"
    setup = walked(text, [lost(False), lost(True)])
    oxygen = [s.name for s in setup.species].index("oxygen")
    held = setup.stacked("old")[0, oxygen].reshape(setup.shape)[1]
    # 60 L through 5 mL: nothing of the air is left by the time the flow stops in mid-step.
    assert held == pytest.approx(np.array([0.2095, 0.2095, 0.0]), abs=1e-9)
    assert at(setup, "in", "flow")[1].tolist() == pytest.approx([NORMAL, 0, 0], rel=1e-6)
