"""Hot surfaces: the check's numbers against hand-worked ones, and each bound on its own side."""

from __future__ import annotations

import doctest
import importlib
import math
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from review.plugins.hot_surfaces.formation import FORMATION, combustion_enthalpy
from review.plugins.hot_surfaces.runaway import enthalpy
from review.plugins.hot_surfaces.surface import insulated_surface
from scipy.optimize import brentq

from review import Engine, Measure, Overlay, Review, loads
from review.interface.measure import MISSING, STATUS_NAMES
from review.physics.heat import still_air
from review.reference.finding import Reference
from review.scenario.numbers import numbers
from tests.support import shared_engine

TUBE = """
  - {id: hose, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
     joint: clipped hose}
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
     length: 400 mm, heated_length: 300 mm, home_made: no, ends: open, joint: rubber stopper TUBE}
  - {id: end, kind: line, material: silicone rubber, inner_diameter: 6 mm, wall: 2 mm,
     length: 500 mm, joint: clipped hose END}
  - {id: outlet, kind: outlet, to: hood}
"""
HEAT = "{heats: tube, kind: tube furnace, set_temperature: 300 degC, hottest: 320 degC MORE}"


def text(
    train: str = TUBE, heat: str = HEAT, rate: str = "200 mL/min", gas: str = "nitrogen: 100 %",
    more: str = "", **put: str,
) -> str:  # fmt: skip
    for name in ("TUBE", "END"):
        train = train.replace(name, put.get(name.lower(), ""))
    heat = heat.replace("MORE", put.get("heat_more", ""))
    into = "hose" if "id: hose" in train else "flask"
    return f"""
title: test
duration: 1 h
reagents:
  gas: {{state: gas, composition: {{{gas}}}, held: {{as: cylinder, volume: 2 L,
        pressure: 100 bar gauge, regulator: 0.1 bar gauge}}}}
flows:
  feed: {{reagent: gas, into: {into}, rate: {rate}, reference: standard, at_most: 10 L/min}}
train: {train}
heat:
  source: {heat}
procedure:
  - {{step: off, duration: 10 min, flows: {{feed: on}}}}
  - {{step: run, duration: 60 min, heat: {{source: on}}}}
  - {{step: still, duration: 60 min, flows: {{feed: off}}}}
{more}
"""


@cache
def engine() -> Engine:
    return shared_engine()


@cache
def review(scenario: str) -> Review:
    done = engine().review(loads(scenario), upsets=False)
    assert not done.failures
    return done


def measure(kind: str, at: str, of: str | None = None, **changes: str) -> Measure:
    (found,) = [
        m
        for m in review(text(**changes)).measures
        if m.kind == kind and m.at == at and (of is None or m.of == of)
    ]
    return found


def value(kind: str, at: str, of: str | None = None, step: int = 2, **changes: str) -> float:
    return float(measure(kind, at, of, **changes).value[step, 0])


def grades(criterion: str, at: str, **changes: str) -> set[str]:
    found = review(text(**changes)).findings
    return {f.grade for f in found if f.criterion == criterion and f.at == at}


# Outside and burns


def test_burn_thresholds_are_the_low_ends_of_the_standards_bands() -> None:
    # ISO 13732-1, degC for a touch of 1 s and of 1 min (from memory).
    bands = {
        "uncoated_metal": (65, 51), "coated_metal": (65, 51), "ceramic_glass_stone": (80, 56),
        "plastic": (85, 60), "wood": (110, 60),
    }  # fmt: skip
    limits = engine().ruleset.limits
    for name, (second, minute) in bands.items():
        assert limits[f"heat.burn_1_s.{name}"].value == pytest.approx(second + 273.15)
        assert limits[f"heat.burn_1_min.{name}"].value == pytest.approx(minute + 273.15)


def test_a_bare_part_is_as_hot_outside_as_inside() -> None:
    assert value("heat.outer_surface", "tube") == pytest.approx(573.15)
    assert value("heat.hot_part_over_burn", "tube", "") == pytest.approx(300 - 80)  # glass
    assert value("heat.hot_part_over_burn", "tube", "source") == pytest.approx(300 - 65)  # metal


LAGGED = ", insulation: glass wool, insulation_thickness: 40 mm, outer_diameter: 140 mm"


def constant_conductivity(inner: float, room: float, k: float, d: float, t: float) -> float:
    """Outside of a lagged pipe by a textbook's simple form: h = 1.32 (dT/d)^0.25 + radiation.

    Holman, Heat Transfer, table 7-2: free convection about horizontal cylinders in air (from
    memory). Emissivity 0.9, conductivity not rising with temperature.
    """

    def gap(ts: float) -> float:
        conducted = k * (inner - ts) / (d / 2 * math.log(d / (d - 2 * t)))
        convected = 1.32 * max((ts - room) / d, 0.0) ** 0.25 * (ts - room)
        return conducted - convected - 0.9 * 5.670374e-8 * (ts**4 - room**4)

    return float(brentq(gap, room, inner))


@pytest.mark.parametrize("inner", [350.0, 573.15, 873.15])
@pytest.mark.parametrize("thickness", [0.005, 0.02, 0.06])
def test_the_lagged_outside_is_never_colder_than_the_textbooks(
    inner: float, thickness: float
) -> None:
    simple = constant_conductivity(inner, 293.15, 0.04, 0.16, thickness)
    found = float(insulated_surface(inner, 293.15, 0.04, 0.16, thickness, 0.9))
    assert simple < found < inner


def test_near_room_temperature_both_agree() -> None:
    # Where the conductivity has not risen, only the 20 % less convection is left between them.
    simple = constant_conductivity(323.15, 293.15, 0.04, 0.16, 0.02)
    found = float(insulated_surface(323.15, 293.15, 0.04, 0.16, 0.02, 0.9))
    assert 0 < found - simple < 1.5


def test_lagging_wool_conducts_more_in_the_bound_than_in_any_table() -> None:
    # Mineral wool of 0.037 W/(m K) at 20 degC: 0.069 at 200, 0.096 at 300, 0.13 at 400 degC
    # (makers' tables, from memory).
    for celsius, table in ((200, 0.069), (300, 0.096), (400, 0.13)):
        assert 0.037 * ((celsius + 273.15) / 293.15) ** 3 > table


def test_the_check_lags_only_what_is_fully_described() -> None:
    lagged = value("heat.outer_surface", "tube", heat_more=LAGGED + ", casing: carbon steel")
    assert 320 < lagged < 573.15
    # A casing nobody named is bright metal that radiates nothing, so the outside is hotter.
    assert value("heat.outer_surface", "tube", heat_more=LAGGED) > lagged
    for lacking in (", outer_diameter: 140 mm", ", insulation: glass wool"):
        less = measure("heat.outer_surface", "tube", heat_more=LAGGED.replace(lacking, ""))
        assert less.value[2, 0] == pytest.approx(573.15)
        assert "no insulation is credited" in less.note


def test_an_outside_found_by_bisection_is_not_an_estimate() -> None:
    found = measure("heat.outer_surface", "tube", heat_more=LAGGED)
    assert set(found.status.ravel()) == {0}


def test_lagging_thicker_than_the_radius_is_missing() -> None:
    assert np.isnan(insulated_surface(573.15, 293.15, 0.04, 0.1, 0.05, 0.9))
    assert np.isnan(insulated_surface(573.15, 293.15, np.nan, 0.1, 0.02, 0.9))


def test_lagging_is_judged_by_what_it_bears() -> None:
    # Bound glass wool, 230 degC (from memory), around 300 degC.
    of = "glass wool around source"
    margin = value("heat.material_margin", "tube", of, heat_more=LAGGED)
    assert margin == pytest.approx(-70)


def test_lagging_of_some_thickness_that_nobody_names_is_not_known_to_bear_the_heat() -> None:
    of, unnamed = "insulation around source", LAGGED.replace(", insulation: glass wool", "")
    assert np.isnan(measure("heat.material_margin", "tube", of, heat_more=unnamed).value).any()
    assert "undetermined" in grades("heat.material", "tube", heat_more=unnamed)


def test_hot_on_purpose_is_a_condition_and_hot_by_accident_is_not() -> None:
    assert "unacceptable" not in grades("heat.hot_part", "tube", rate="5 L/min")
    assert "tolerable" in grades("heat.hot_part", "tube", rate="5 L/min")
    assert "unacceptable" in grades("heat.handled_part", "end", rate="5 L/min")


def test_a_guard_is_what_a_hot_part_asks_for() -> None:
    changes = {"rate": "5 L/min", "end": ", guard: yes"}
    assert grades("heat.handled_part", "end", **changes) == set()
    assert grades("heat.hot_part", "end", **changes) == set()
    assert grades("heat.guarded_part", "end", **changes) == {"acceptable"}


def test_where_every_hot_part_is_behind_a_guard_nothing_is_left_unknown() -> None:
    train = TUBE.replace("heated_length", "guard: yes, heated_length", 1)
    assert grades("heat.hot_part", "bench", train=train) == {"acceptable"}
    assert grades("heat.hot_part", "tube", train=train) == set()


def test_minutes_until_it_may_be_touched() -> None:
    # By hand: 25 min x ln((300 - 20) / (56 - 20)) = 51.28 min for glass.
    seconds = value("heat.minutes_to_touch", "tube", heat_more=", cooling_time: 25 min")
    assert seconds / 60 == pytest.approx(51.28, rel=1e-3)
    assert value("heat.minutes_to_touch", "tube", step=1, heat_more=", cooling_time: 25 min") == 0
    lost = measure("heat.minutes_to_touch", "tube")
    assert set(lost.status.ravel()) == {MISSING}


# What materials and joints see


def test_a_stopper_near_a_hot_zone_sees_the_gas_not_the_fin() -> None:
    # 5 L/min out of a 600 degC zone, 50 mm away: near 500 degC, while a fin alone says 30 to 130.
    hot = {"heat": HEAT.replace("300", "600").replace("320", "620"), "rate": "5 L/min"}
    seen = 70 - value("heat.joint_margin", "tube", "natural rubber", **hot)
    assert 450 < seen < 600
    assert "unacceptable" in grades("heat.joint", "tube", **hot)


def cold_end() -> float:
    """Fin without loss at its end, degC: the loss of a surface 20 K over the room."""
    loss = still_air(313.15, 293.15, 0.024, 0.93)
    m = math.sqrt(loss * 0.024 / (2 * 1.4 * 0.022 * 0.002))
    return 20 + 280 / math.cosh(0.05 * m)


def test_without_flow_the_cold_end_is_a_fin() -> None:
    # By hand: 0.8 x 5.3 x 0.0265 / 0.024 + 0.93 x 4 x 5.67e-8 x 303^3 = 10.6 W/(m2 K),
    # m = sqrt(10.6 x 0.024 / (2 x 1.4 x 0.022 x 0.002)) = 45.4 per m; 20 + 280 / cosh 2.27 = 77.
    assert cold_end() == pytest.approx(77, abs=1)
    # The engine's own wall loses more where it is hotter and lies below.
    seen = 70 - value("heat.joint_margin", "tube", "natural rubber", step=3)
    assert seen == pytest.approx(cold_end(), abs=0.01)


def test_a_hose_on_the_cold_end_of_a_heated_tube_sees_that_end() -> None:
    # PTFE bears 260 degC.
    for kind in ("heat.material_margin", "heat.joint_margin"):
        assert value(kind, "hose", "PTFE") == pytest.approx(260 - cold_end(), abs=0.4)


def test_without_a_heated_length_the_joint_is_as_hot_as_the_heat() -> None:
    # A ground joint is of the flask's own glass, 450 degC (from memory).
    found = value("heat.joint_margin", "flask", **flask("water bath", "water"))
    assert found == pytest.approx(450 - 60)


def test_without_a_wall_the_end_is_missing_and_blocks() -> None:
    train = TUBE.replace("inner_diameter: 20 mm, wall: 2 mm", "inner_diameter: 20 mm")
    found = measure("heat.joint_margin", "tube", train=train)
    assert STATUS_NAMES[found.status[2, 0]] == "missing"
    assert "undetermined" in grades("heat.joint", "tube", train=train)


@pytest.mark.parametrize(
    ("joint", "seals"),
    [
        ("rubber stopper", {"natural rubber"}),
        ("cork stopper", {"cork"}),
        ("ground taper joint", {"fused quartz"}),
        ("clipped taper joint", {"fused quartz"}),
        ("pushed-on hose", {"PTFE", "silicone rubber"}),  # glass: the hoses on either side
        ("screw-thread connector", {"screw-thread connector, seal not named"}),
        ("screw-thread connector, joint_material: PTFE", {"PTFE"}),
        ("rubber stopper, joint_material: silicone rubber", {"silicone rubber"}),
        ("fused", set()),
        ("none", set()),
    ],
)
def test_what_a_joint_is_sealed_with(joint: str, seals: set[str]) -> None:
    done = review(text(train=TUBE.replace("joint: rubber stopper", f"joint: {joint}")))
    assert {m.of for m in done.measures if (m.kind, m.at) == ("heat.joint_margin", "tube")} == seals


def test_an_unnamed_seal_is_well_while_cold_and_unknown_when_warm() -> None:
    train = TUBE.replace("joint: rubber stopper", "joint: screw-thread connector")
    found = measure("heat.joint_margin", "tube", train=train)
    assert found.value[1, 0] == pytest.approx(60 - 20)  # step off: soft PVC, the least of all
    assert found.status[2, 0] == MISSING
    assert "say what it is made of" in found.note


def test_the_least_limit_is_the_least_of_all_material_files() -> None:
    reference = Reference()
    limits = [
        reference.material(name.replace("_", " ")).datum("maximum_temperature").value
        for name in reference.names("materials")
    ]
    assert min(x for x in limits if x is not None) >= 333.15 - 1e-9


def test_bands_of_the_margins() -> None:
    # Silicone bears 180 degC; the hose behind the tube sees about the gas that leaves it.
    for temperature, grade in ((150, "acceptable"), (170, "tolerable"), (190, "unacceptable")):
        train = TUBE.replace("END", f", temperature: {temperature} degC")
        assert grade in grades("heat.material", "end", train=train)


# Reactions

FORMING = "hydrogen: 5 %, argon: 95 %"
REDUCTION = (
    ", reactions: [{equation: CuO(s) + H2 -> Cu(s) + H2O, limiting: hydrogen, conversion: 10 %}]"
)


def test_adiabatic_bed_of_a_reduction() -> None:
    # By hand: 5 % of -84.5 kJ/mol (157.3 - 241.8) into 0.95 x 20.79 + 0.05 x 36 J/(mol K): 196 K,
    # whatever conversion was planned. The change of enthalpy with temperature is below 5 %.
    bed = value("heat.adiabatic_temperature", "tube", gas=FORMING, tube=REDUCTION)
    assert bed - 573.15 == pytest.approx(0.05 * 84.5e3 / (0.95 * 20.79 + 0.05 * 36), rel=0.05)


def test_planned_conversion_is_no_credit() -> None:
    whole = REDUCTION.replace("10 %", "100 %")
    a, b = (
        value("heat.adiabatic_temperature", "tube", gas=FORMING, tube=t) for t in (REDUCTION, whole)
    )
    assert a == pytest.approx(b)


def test_adiabatic_methanation_lies_above_a_full_energy_balance() -> None:
    # 4 % CO2, 16 % H2 in argon from 573 K. Energy balance with mean heat capacities between 573
    # and 900 K (NIST-JANAF, from memory: CH4 63, H2O 38, Ar 20.8 J/(mol K)) and -177 kJ/mol at
    # 573 K gives the rise; the bound must not be lower, and not more than a quarter higher.
    rise = 0.04 * 177e3 / (0.04 * 63 + 0.08 * 38 + 0.80 * 20.8)
    equation = "CO2 + 4 H2 -> CH4 + 2 H2O"
    bed = value(
        "heat.adiabatic_temperature", "tube",
        gas="carbon dioxide: 4 %, hydrogen: 16 %, argon: 80 %",
        tube=f", reactions: [{{equation: {equation}, limiting: carbon dioxide, conversion: 50 %}}]",
    )  # fmt: skip
    assert rise <= bed - 573.15 <= 1.25 * rise


def test_reactions_that_share_a_gas_are_counted_once_the_worst() -> None:
    both = (
        ", reactions: [{equation: CO2 + 4 H2 -> CH4 + 2 H2O, limiting: carbon dioxide,"
        " conversion: 50 %, selectivity: 50 %}, {equation: CO2 + H2 -> CO + H2O,"
        " limiting: carbon dioxide, conversion: 50 %, selectivity: 50 %}]"
    )
    one = both.split(", selectivity: 50 %}, {")[0] + "}]"
    gas = "carbon dioxide: 4 %, hydrogen: 16 %, argon: 80 %"
    a, b = (value("heat.adiabatic_temperature", "tube", gas=gas, tube=t) for t in (both, one))
    assert a == pytest.approx(b)


def test_an_endothermic_reaction_cools_nothing_in_the_bound() -> None:
    cracking = ", reactions: [{equation: 2 NH3 -> N2 + 3 H2, limiting: ammonia, conversion: 90 %}]"
    bed = value("heat.adiabatic_temperature", "tube", gas="ammonia: 100 %", tube=cracking)
    assert bed == pytest.approx(573.15)


def test_an_unknown_heat_blocks() -> None:
    unknown = REDUCTION.replace("CuO(s)", "CdO(s)").replace("Cu(s)", "Cd(s)")
    found = measure("heat.reaction_margin", "tube", gas=FORMING, tube=unknown)
    assert found.status[2, 0] == MISSING
    assert grades("heat.reaction", "tube", gas=FORMING, tube=unknown) == {"undetermined"}
    assert math.isnan(combustion_enthalpy("CdO(s)", Reference()))


def test_the_table_agrees_with_the_reference_data_where_both_speak() -> None:
    reference = Reference()
    burning = [n for n in FORMATION if not n.endswith("(s)")]
    stated = {n: reference.substance(n).datum("heat_of_combustion").value for n in burning}
    # No figure stands twice but this one: burnt to hydrogen chloride in the file, to chlorine here.
    assert [n for n, v in stated.items() if v is not None] == ["dichloromethane"]
    here = combustion_enthalpy("dichloromethane", reference)
    chlorine = 2 * combustion_enthalpy("hydrogen chloride", reference)
    assert here - chlorine == pytest.approx(stated["dichloromethane"], rel=0.005)


def test_an_acid_that_forms_in_water_gives_the_heat_of_dissolving_too() -> None:
    """SO2 + H2O2(l) -> H2SO4(aq): -909.3 + 296.8 + 187.8 kJ (CODATA and CRC, from memory)."""
    setup: Any = SimpleNamespace(reference=Reference())
    forms = {"sulfur dioxide": -1.0, "hydrogen peroxide": -1.0, "sulfuric acid": 1.0}
    assert enthalpy(setup, forms) / 1e3 == pytest.approx(-424.7, rel=0.02)
    # What the acid gives where it is used up is not known: nobody says how strong it is.
    assert math.isnan(enthalpy(setup, {name: -nu for name, nu in forms.items()}))


#: Registry numbers of solids in the tables of heats of formation.
SOLIDS = {
    "CuO": "1317-38-0", "Fe2O3": "1309-37-1", "ZnO": "1314-13-2",
    "CaO": "1305-78-8", "MgO": "1309-48-4", "FeCl3": "7705-08-0", "FeCl2": "7758-94-3",
    "AlCl3": "7446-70-0", "CuCl2": "7447-39-4", "ZnCl2": "7646-85-7", "MgCl2": "7786-30-3",
    "NaCl": "7647-14-5", "NH4Cl": "12125-02-9", "FeS": "1317-37-9", "CuS": "1317-40-4",
    "Cu2S": "22205-45-4", "PbS": "1314-87-0", "MoS2": "1317-33-5", "CaSO4": "7778-18-9",
    "Li2CO3": "554-13-2", "BaCO3": "513-77-9", "Mg(OH)2": "1309-42-8", "Ni(OH)2": "12054-48-7",
    "KOH": "1310-58-3", "Na2SO3": "7757-83-7", "Na2SO4": "7757-82-6", "K2SO4": "7778-80-5",
    "MgSO4": "7487-88-9", "FeSO4": "7720-78-7", "BaSO4": "7727-43-7", "ZrO2": "1314-23-4",
    "Na2S": "1313-82-2", "LiCl": "7447-41-8", "BaCl2": "10361-37-2", "PbO2": "1309-60-0",
    "NaBr": "7647-15-6", "KBr": "7758-02-3", "Ba(OH)2": "17194-00-2",
}  # fmt: skip


def test_heats_of_solids_are_those_of_the_handbook_and_their_atoms_those_of_the_formula() -> None:
    from chemicals.elements import simple_formula_parser
    from chemicals.reaction import Hfs  # CRC Handbook of Chemistry and Physics

    for formula, cas in SOLIDS.items():
        formed, carbon, hydrogen, sulfur = FORMATION[f"{formula}(s)"]
        assert formed == pytest.approx(Hfs(cas) / 1e3, rel=0.005), formula
    for name, (_, *atoms) in FORMATION.items():
        if name.endswith("(s)") and "(" not in name[:-3]:
            has = simple_formula_parser(name[:-3])
            assert atoms == [has.get(element, 0) for element in "CHS"], name


def test_a_solid_that_takes_up_all_of_its_gas_warms_by_no_more_than_what_comes() -> None:
    """Lime in carbon dioxide: 178 kJ/mol (CRC Handbook), and no gas leaves that carries it off."""
    lime = (
        ", reactions: [{equation: CaO(s) + CO2 -> CaCO3(s), limiting: carbon dioxide, "
        "conversion: 50 %}]"
    )
    found = measure("heat.reaction_margin", "tube", gas="carbon dioxide: 100 %", tube=lime)
    assert np.isfinite(found.value[~np.isnan(found.value)]).all()
    assert found.value.max() > 0


def test_a_catalyst_without_a_limit_is_a_condition() -> None:
    more = "catalysts: {nickel: {in: tube, light_off: 200 degC}}"
    found = [f for f in review(text(more=more)).findings if f.criterion == "heat.catalyst"]
    assert {(f.grade, f.blocks) for f in found} == {("undetermined", False)}
    given = more.replace("200 degC", "200 degC, maximum_temperature: 500 degC")
    assert value("heat.catalyst_margin", "tube", more=given) == pytest.approx(500 - 300)


# Liquids and glass

FLASK = """
  - {id: flask, kind: wash bottle, material: borosilicate glass 3.3, liquid: LIQUID,
     liquid_volume: 100 mL, gas_volume: 150 mL, dip_depth: 40 mm, dip_tube_bore: 6 mm,
     joint: ground taper joint}
  - {id: outlet, kind: outlet, to: hood}
"""
WARM = "{heats: flask, kind: KIND, set_temperature: 60 degC, hottest: 70 degC}"


def flask(kind: str, liquid: str) -> dict[str, str]:
    return {"train": FLASK.replace("LIQUID", liquid), "heat": WARM.replace("KIND", kind)}


def test_a_burning_liquid_over_a_hot_plate_is_refused_and_in_a_bath_a_condition() -> None:
    plate, bath = flask("hot plate", "ethanol"), flask("water bath", "ethanol")
    assert "unacceptable" in grades("heat.ignition_under_liquid", "flask", **plate)
    assert grades("heat.ignition_under_liquid", "flask", **bath) == set()
    assert "tolerable" in grades("heat.flash_point", "flask", **bath)
    # Flash point 12 to 13 degC (IEC 60079-20-1, NFPA 497); the lowest published may only be lower.
    margin = value("heat.liquid_to_flash_point", "flask", "ethanol", **bath)
    assert margin <= 12 - 60


def test_water_has_a_boiling_point_and_no_flash_point() -> None:
    kettle = flask("gas burner", "water")
    assert grades("heat.ignition_under_liquid", "flask", **kettle) == set()
    assert value("heat.liquid_to_boiling_point", "flask", "water", **kettle) == pytest.approx(
        40, abs=0.1
    )


def test_nothing_warmed_is_said_to_be_nothing() -> None:
    found = measure("heat.liquid_to_flash_point", "train")
    assert np.isinf(found.value).all() and "no such liquid" in found.note


def test_cold_splash_on_three_glasses() -> None:
    # E alpha dT / (1 - nu) / s by hand at 300 degC: quartz 72e9 x 0.55e-6 x 280 / 0.83 / 6.8e6 =
    # 1.96; borosilicate 63e9 x 3.3e-6 x 280 / 0.8 / 7e6 = 10.4; soda-lime 37.7.
    for glass, ratio, grade in (
        ("fused quartz", 1.96, "acceptable"),
        ("borosilicate glass 3.3", 10.4, "tolerable"),
        ("soda-lime glass", 37.7, "tolerable"),
    ):
        train = TUBE.replace("fused quartz", glass)
        assert value("heat.quench_stress_ratio", "tube", train=train) == pytest.approx(ratio, 0.01)
        assert grade in grades("heat.cold_splash", "tube", train=train)
        assert "unacceptable" not in grades("heat.cold_splash", "tube", train=train)


@pytest.mark.parametrize("name", ["surface", "margins", "reaction", "liquids", "stress", "sheet"])
def test_examples_run(name: str) -> None:
    module = importlib.import_module(f"review.plugins.hot_surfaces.{name}")
    assert doctest.testmod(module).failed == 0


def test_the_report_says_how_long_to_wait() -> None:
    done = review(text(heat_more=", cooling_time: 25 min"))
    (section,) = [s for s in done.sections if "cool" in s.title]
    assert section.lines == ("tube: 51 min after source is turned off",)
    (lost,) = [s for s in review(text()).sections if "cool" in s.title]
    assert "not known" in lost.lines[0]


# Directions: each number a data sheet names, raised, moves the value the way it says.

RUN, SOURCE = 2, "heat.source"
LAG = {"heat_more": LAGGED + ", cooling_time: 25 min"}
BED = {"gas": FORMING, "tube": REDUCTION}
CATALYST = {"more": "catalysts: {nickel: {in: tube, light_off: 200 degC, "
            "maximum_temperature: 500 degC}}"}  # fmt: skip


def warm_flask(kind: str) -> dict[str, str]:
    return flask(kind, "ethanol")


#: kind, place, subject, scenario, and the paths beside the heat's own with what is added.
MOVES: list[tuple[str, str, str, dict[str, str], dict[str, float]]] = [
    ("heat.outer_surface", "tube", "source", LAG,
     {"heat.source.insulation_thickness": 0.005, "heat.source.outer_diameter": 0.02}),
    ("heat.hot_part_over_burn", "tube", "source", LAG,
     {"heat.source.insulation_thickness": 0.005, "heat.source.outer_diameter": 0.02}),
    ("heat.handled_part_over_burn", "end", "", {"end": ", temperature: 30 degC"},
     {"flows.feed.rate": 1e-5, "train.tube.heated_length": 0.02}),
    ("heat.minutes_to_touch", "tube", "source", LAG, {"heat.source.cooling_time": 60}),
    ("heat.material_margin", "end", "silicone rubber", {}, {"flows.feed.rate": 1e-5}),
    ("heat.joint_margin", "tube", "natural rubber", {},
     {"flows.feed.rate": 1e-5, "train.tube.heated_length": 0.02, "train.tube.length": 0.02}),
    ("heat.adiabatic_temperature", "tube", "", BED, {}),
    ("heat.reaction_margin", "tube", "fused quartz", BED, {}),
    ("heat.catalyst_margin", "tube", "nickel", CATALYST,
     {"catalysts.nickel.maximum_temperature": 20}),
    ("heat.quench_stress_ratio", "tube", "fused quartz", {}, {"ambient.temperature": 5}),
    ("heat.liquid_to_flash_point", "flask", "ethanol", warm_flask("water bath"), {}),
    ("heat.liquid_over_ignition_source", "flask", "ethanol", warm_flask("hot plate"), {}),
    ("heat.liquid_to_boiling_point", "flask", "ethanol", warm_flask("hot plate"), {}),
]  # fmt: skip
ROWS = [
    (kind, at, of, scenario, path, add)
    for kind, at, of, scenario, paths in MOVES
    for path, add in {f"{SOURCE}.set_temperature": 15.0, f"{SOURCE}.hottest": 15.0, **paths}.items()
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]}: {row[4]}")
def test_it_moves_as_its_data_sheet_says(
    row: tuple[str, str, str, dict[str, str], str, float],
) -> None:
    kind, at, of, changes, path, add = row
    scenario = loads(text(**changes))
    base = {f"{SOURCE}.at_hottest": 1.0} if path.endswith("hottest") else {}
    raised = base | {path: numbers(scenario)[path] + add}
    done = engine().review(
        scenario, upsets=False,
        extra=[Overlay("a", "a", "window", base), Overlay("b", "b", "window", raised)],
    )  # fmt: skip
    assert not done.failures
    (found,) = [m for m in done.measures if (m.kind, m.at, m.of) == (kind, at, of)]
    before, after = found.value[RUN, 1:]
    section, field = path.split(".")[0], path.split(".")[-1]
    pattern = path if section == "ambient" else f"{section}.*.{field}"
    way = engine().kinds[kind].moves[pattern]
    assert (after > before) if way == "up" else (after < before), f"{before} became {after}"
