"""What a liquid that boils or reacts does on a wet bench, and what is not credited."""

from __future__ import annotations

import math
import re
from functools import cache

import numpy as np
import pytest
import yaml
from pydantic import ValidationError

from review import Reference, Review
from review.scenario.apparatus import Reaction
from tests.support import shared_engine

BENCH = """
title: a wet bench
operators: 1
ignition_sources: none in the room
frame: stands by itself on the bench
ventilation: {room_volume: 150 m3, air_changes: 4 / hour,
  hood: {opening_width: 1.2 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes}}
"""
#: Water that boils under a rubber stopper; `%s` what is between flask and outlet, and the heater.
BOILS = """
reagents: {water: {state: liquid, composition: water, amount: 200 mL, held: {as: bottle}}}
train:
  - {id: flask, kind: round flask, size: 500 mL round flask, liquid: water, liquid_volume: 200 mL,
     joint: rubber stopper}
%s
  - {id: out, kind: outlet, to: room, inner_diameter: 10 mm}
heat:
  plate: {heats: flask, kind: %s, set_temperature: 150 degC, hottest: 250 degC, power: 250 W}
%s
procedure:
  - {step: boil, duration: %s, heat: {plate: on}}
  - {step: cool, duration: 1 h, heat: {plate: off}}
"""
TUBE = """  - {id: tube, kind: glass tube, size: glass tube 8x1, length: 300 mm,
     joint: rubber stopper}"""
FURNACE = """  furnace: {heats: tube, kind: tube furnace, set_temperature: 400 degC,
    hottest: 420 degC}"""


@cache
def review(text: str, *, upsets: bool = False) -> Review:
    engine = shared_engine()
    return engine.review(engine.loads(BENCH + text, "bench.yaml"), upsets=upsets)


def margin(text: str, at: str, *, worst: bool = False) -> float:
    """Kelvins that a joint is below what it bears, as stated or at the worst of the plan."""
    found = [m for m in review(text).measures if m.kind == "heat.joint_margin" and m.at == at]
    return float(min(np.min(m.value) if worst else m.value[0, 0] for m in found))


def test_the_stopper_of_a_flask_in_which_water_boils_sees_steam_and_not_the_hot_plate():
    # Steam at 100 degC, a stopper that bears 105 degC in it.
    assert margin(BOILS % (TUBE, "hot plate", "", "10 min"), "flask") == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize(
    ("kind", "duration", "why"),
    [("hot plate", "1 h", "250 W for an hour boil 0.4 kg away"),
     ("drying oven", "10 min", "an oven warms the neck as well")],
)  # fmt: skip
def test_a_flask_that_boils_dry_or_in_an_oven_is_as_hot_as_its_heater(kind, duration, why):
    assert margin(BOILS % (TUBE, kind, "", duration), "flask", worst=True) <= -40.0, why


def test_a_heater_of_which_nobody_says_how_much_it_gives_boils_a_flask_dry_as_a_strong_one_does():
    # 200 mL take 0.45 MJ: 2 kW give that in 226 s, 1 kW would not.
    strong = (BOILS % (TUBE, "hot plate", "", "5 min")).replace("power: 250 W", "power: 2 kW")
    assert margin(strong, "flask", worst=True) < 0
    assert margin(strong.replace(", power: 2 kW", ""), "flask", worst=True) < 0


def test_a_furnace_behind_a_boiling_flask_is_no_colder_for_it():
    text = BOILS % (TUBE, "hot plate", FURNACE, "10 min")
    text = text.replace("{plate: on}", "{plate: on, furnace: on}")
    assert margin(text, "flask", worst=True) <= -290.0
    assert margin(text, "tube", worst=True) <= -290.0


TITRATED = """
reagents: {acid: {state: liquid, composition: {%s: %s, water: rest}, amount: 50 mL,
  density: 1 g/mL, held: {as: flask}}}
train:
  - {id: flask, kind: Erlenmeyer flask, size: 250 mL Erlenmeyer flask, liquid: acid,
     liquid_volume: 50 mL, joint: none,
     reactions: [{equation: "%s", limiting: %s, conversion: 100 %%}]}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 34 mm}
procedure: [{step: titrate, duration: 10 min}]
"""
ACETIC = "CH3COOH + NaOH -> CH3COONa + H2O"


def rise(acid: str, share: str, equation: str) -> float:
    (found,) = [
        m for m in review(TITRATED % (acid, share, equation, acid)).measures
        if m.kind == "heat.runaway_margin"
    ]  # fmt: skip
    return float(373.15 - 293.15 - found.value[0, 0]) / 1.2


def test_an_acid_that_is_neutralised_warms_by_more_than_any_calorimeter_has_shown():
    # 1 mol/kg of acetic acid, 57 kJ/mol at most (strong acid and base, CRC Handbook, from memory),
    # in water alone: 14 K. The bound is for gas and solid: 3.1 times that.
    dissolved = 1.0 * 57e3 / 4180.0
    assert dissolved <= rise("acetic acid", "6 %", ACETIC) <= 4 * dissolved


def test_gaseous_hydrogen_chloride_with_solid_lye_gives_no_more_than_is_taken():
    # CRC Handbook, standard heats of formation, kJ/mol: NaCl(s) -411.2, H2O(l) -285.8,
    # HCl(g) -92.3, NaOH(s) -425.8.
    from review.plugins.hot_surfaces.runaway import NEUTRALISED

    assert NEUTRALISED >= 1e3 * (411.2 + 285.8 - 92.3 - 425.8)


@pytest.mark.parametrize(
    ("acid", "share", "equation"),
    [("acetic acid", "45 %", ACETIC),
     ("formic acid", "4.6 %", "HCOOH + NaClO -> NaCl + CO2 + H2O")],
)  # fmt: skip
def test_a_strong_acid_or_another_reaction_is_not_bounded_by_neutralisation(acid, share, equation):
    assert math.isnan(rise(acid, share, equation))


@pytest.mark.parametrize(
    ("held", "poured", "equation"),
    [("acetic anhydride", "aniline", "(CH3CO)2O + C6H5NH2 -> CH3CONHC6H5(s) + CH3COOH"),
     ("vinyl acetate", "sodium hydroxide", "CH3COOCHCH2 + NaOH -> CH3COONa + CH3CHO")],
)  # fmt: skip
def test_what_gives_more_than_its_class_has_no_known_heat_beside_a_poured_partner(
    held, poured, equation
):
    text = (TITRATED % (held, "20 %", equation, held)).replace(
        "held: {as: flask}}}", f"held: {{as: flask}}}}, spare: {{state: liquid, composition: "
        f"{{{poured}: 20 %, water: rest}}, amount: 50 mL, density: 1 g/mL, held: {{as: bottle}}}}}}"
    )  # fmt: skip
    (rise,) = [m for m in review(text).measures if m.kind == "heat.runaway_margin" and not m.of]
    assert rise.at == "flask" and math.isnan(rise.value[0, 0])


#: What is drawn back from limewater into a flask of %s at %s.
DRAWN = """
reagents:
  sugar: {state: liquid, composition: {%s}, amount: 200 mL, density: 1.04 g/mL, held: {as: bottle}}
  limewater: {state: liquid, composition: limewater, amount: 50 mL, held: {as: bottle}}
train:
  - {id: flask, kind: Erlenmeyer flask, size: 500 mL Erlenmeyer flask, joint: rubber stopper,
     liquid: sugar, liquid_volume: 200 mL}
  - {id: tube, kind: bent tube, size: glass tube 6x1, length: 30 cm, joint: rubber stopper}
  - {id: bottle, kind: wash bottle, size: 100 mL wash bottle, liquid: limewater,
     liquid_volume: 50 mL, dip_depth: 20 mm, joint: none}
  - {id: out, kind: outlet, to: room, inner_diameter: 20 mm}
heat: {bath: {heats: flask, kind: water bath, set_temperature: %s, hottest: %s}}
procedure:
  - {step: warm, duration: 1 h, heat: {bath: on}}
  - {step: cool, duration: 2 h, heat: {bath: off}}
"""


def reach(composition: str, warm: str) -> float:
    found = review(DRAWN % (composition, warm, warm)).measures
    return float(np.max([m.value for m in found if m.kind == "pressure.suckback_reach"]))


def test_limewater_drawn_into_luke_sugar_water_only_dilutes_it():
    sugar = "glucose: 10 %, yeast: 2 %, water: 88 %"
    assert reach(sugar, "40 degC") < 1.0 < reach(sugar, "80 degC")
    assert reach("sulfuric acid: 90 %, water: 10 %", "40 degC") > 1.0


def test_what_a_flow_may_come_to_is_asked_for_by_its_key():
    text = """
reagents:
  gas: {state: gas, composition: {carbon dioxide: 100 %}, held: {as: generator,
    equation: C6H12O6 -> 2 C2H5OH + 2 CO2, rate: 5 mL/min, limited_by: fermentation}}
flows: {gas: {reagent: gas, into: bottle, rate: 5 mL/min, reference: ambient}}
train:
  - {id: bottle, kind: bottle, material: borosilicate glass, capacity: 500 mL, home_made: no,
     joint: rubber stopper}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
procedure: [{step: ferment, duration: 5 h, flows: {gas: on}}]
"""
    lacking = {fact for f in review(text, upsets=True).findings for fact in f.lacking}
    assert any(fact.startswith("at_most of gas") for fact in lacking)
    more = text.replace("reference: ambient", "reference: ambient, at_most: 20 mL/min")
    lacking = {fact for f in review(more, upsets=True).findings for fact in f.lacking}
    assert not any("at_most" in fact for fact in lacking)


ESTER = """
reagents: {mixture: {state: liquid, composition: {ethanol: 42 %%, acetic acid: 56 %%,
  sulfuric acid: 2 %%}, amount: 60 mL, density: 0.9 g/mL, held: {as: flask}}}
train:
  - {id: flask, kind: round flask, size: 250 mL round flask, in: hood, liquid: mixture,
     liquid_volume: 60 mL, joint: clipped NS joint, reactions: [{equation: "%s", limiting: ethanol,
     conversion: 60 %%}]}
  - {id: condenser, kind: reflux condenser, in: hood, material: borosilicate glass, length: 300 mm,
     inner_diameter: 14 mm, wall: 1.5 mm, joint: clipped NS joint, coolant_temperature: 15 degC}
  - {id: top, kind: outlet, to: hood, inner_diameter: 14 mm}
heat: {bath: {heats: flask, kind: water bath, set_temperature: 90 degC, hottest: 100 degC}}
procedure: [{step: reflux, duration: 30 min, heat: {bath: on}}]
"""


def envelope(equation: str) -> set[str]:
    found = review(ESTER % equation).findings
    return {f.grade for f in found if f.criterion == "flammability.envelope"}


def test_a_liquid_made_in_a_liquid_gives_vapour_as_that_does_and_a_gas_does_not():
    assert "unacceptable" not in envelope("C2H5OH + CH3COOH -> CH3COOC2H5 + H2O")
    assert "unacceptable" in envelope("C2H5OH -> C2H4 + H2O")


SUCKED = """
reagents: {air: {state: gas, composition: air, held: {as: room air}},
  water: {state: liquid, composition: water, amount: 100 mL, held: {as: bottle}}}
flows: {air: {reagent: air, into: hose, rate: 200 mL/min, reference: ambient}}
train:
  - {id: hose, kind: line, material: silicone rubber, size: hose 6x9, length: 300 mm,
     joint: clipped hose}
  - {id: jar, kind: jar, material: borosilicate glass, capacity: 250 mL, home_made: no,
     joint: clipped NS joint}
  - {id: pump, kind: water-jet pump, material: polypropylene, joint: clipped hose,
     suction: {can_draw: %s, drive: water}}
  - {id: drain, kind: outlet, to: room, inner_diameter: 10 mm}
procedure: [{step: suck, duration: 10 min, suction: {pump: on}, flows: {air: on}}]
"""


def test_a_flat_jar_bears_a_breath_of_suction_and_no_vacuum():
    def most(upsets: bool) -> float:
        found = review(SUCKED % "2 L/min", upsets=upsets).measures
        over = [m for m in found if m.kind == "pressure.vacuum_over_rating" and m.at == "jar"]
        return max((float(np.max(m.value)) for m in over), default=0.0)

    assert most(upsets=False) == 0.0
    assert most(upsets=True) == math.inf  # its hose is kinked


#: What stands ready and what lies in the beaker, by mass.
DILUTED = """
reagents:
  acid: {state: liquid, composition: sulfuric acid %s, amount: 20 mL, density: 1.8 g/mL,
    held: {as: bottle}}
  water: {state: liquid, composition: water, amount: 300 mL, held: {as: bottle}}
train:
  - {id: ware, kind: %s, gas_volume: 300 mL, liquid: %s, liquid_volume: 20 mL, joint: none,
     material: borosilicate glass 3.3, home_made: no}
  - {id: out, kind: outlet, to: room, inner_diameter: 90 mm}
procedure:
  - {step: mix, duration: 10 min}
"""


@pytest.mark.parametrize(
    ("strength", "kind", "liquid", "grade"),
    [
        ("96 %", "beaker", "water", "tolerable"),  # the acid into the water, slowly
        ("96 %", "beaker", "acid", "unacceptable"),  # never water into the acid
        ("20 %", "beaker", "acid", "acceptable"),  # already dilute
        ("96 %", "trap", "acid", "acceptable"),  # into what gas passes nobody pours
    ],
)
def test_strong_acid_goes_into_the_water_and_never_the_other_way(strength, kind, liquid, grade):
    found = review(DILUTED % (strength, kind, liquid)).findings
    pairs = {f.grade for f in found if f.criterion == "reactive.pair" and f.at == "ware"}
    assert (pairs or {"acceptable"}) == {grade}


OVERHEATED = """
reagents: {acid: {state: liquid, composition: {water: 99 %, hydrogen chloride: 1 %}, amount: 200 mL,
  density: 1 g/mL, held: {as: bottle}}}
train:
  - {id: beaker, kind: beaker, size: 400 mL beaker, liquid: acid, liquid_volume: 200 mL,
     joint: none}
  - {id: out, kind: outlet, to: room, inner_diameter: 70 mm}
heat: {plate: {heats: beaker, kind: hot plate, set_temperature: 150 degC, hottest: 250 degC,
  power: 150 W, cooling_time: 20 min}}
procedure:
  - {step: boil, duration: 10 min, heat: {plate: on}}
"""


def test_an_acid_on_a_plate_hotter_than_its_table_reaches_gives_off_what_it_does_as_it_boils():
    """2257 J/g and 150 W: 3.7 mmol/s of steam; over 1 % at 100 degC stands less than the 0.13 mmHg
    of 2 % (log10 p = 11.8037 - 4736/T), so at most 0.62 umol/s, 15 mm3/s, into 39 L/s: 0.4 ppm."""
    found = review(OVERHEATED)
    (content,) = [m for m in found.measures
                  if (m.kind, m.of) == ("exposure.concentration", "hydrogen chloride")]  # fmt: skip
    steam = 150 / 2257 / 18.0 * 8.314 * 293.15 / 101325  # m3/s
    most = 10 ** (11.8037 - 4736 / 373.15) / 760 * steam / 0.0393
    assert 0 < np.max(content.value[1]) <= 2 * most  # the acid grows stronger as its water leaves


HUNG = """
reagents: {acetone: {state: liquid, composition: acetone, amount: 20 mL, held: {as: bottle}}}
in: hood
train:
  - {id: flask, kind: round flask, size: 100 mL round flask, liquid: acetone,
     liquid_volume: 20 mL, joint: clipped NS joint, vacuum_rating: full vacuum}
  - {id: pump, kind: membrane pump, joint: clipped hose, rating: 1 bar gauge,
     suction: {can_draw: 5 L/min, lowest_pressure: 50 mbar absolute%s}}
  - {id: out, kind: outlet, to: hood, inner_diameter: 10 mm}
procedure:
  - {step: draw, duration: 10 min, suction: {pump: on}}
"""


def test_a_pump_that_breaks_in_the_hood_leaves_a_hole_of_known_width():
    found = review(HUNG % ", drive: motor", upsets=True)
    runs = [run.id for run in found.trials.runs]
    broken = next(n for n, run in enumerate(runs) if run.startswith("broken:pump"))
    (content,) = [m for m in found.measures
                  if (m.kind, m.of) == ("exposure.concentration", "acetone")]  # fmt: skip
    assert np.isfinite(content.value[:, broken]).all()


@pytest.mark.parametrize(("drive", "judged"), [(", drive: motor", False), ("", True)])
def test_a_pump_with_a_motor_has_no_glass_that_a_splash_cracks(drive, judged):
    kind = "heat.quench_stress_ratio"
    assert judged is any(m.kind == kind and m.at == "pump" for m in review(HUNG % drive).measures)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("in: hood\n", ""), None),
        (("joint: clipped hose", "joint: clipped hose, joint_material: none"), None),
        (("joint: clipped hose", "joint: clipped hose, in: room"), "room"),
        (("in: hood\n", "in: outdoors\n"), "outdoors"),
    ],
)
def test_where_everything_stands_is_said_once_and_an_item_says_otherwise(change, says):
    text = HUNG.replace("%s", "").replace(*change)
    pump = shared_engine().loads(BENCH + text, "bench.yaml").item("pump")
    assert pump.in_ == (says or ("hood" if "in: hood" in text else None))
    assert pump.joint_material is None


BLOCKED = """
reagents:
  acid: {state: liquid, composition: hydrochloric acid 2 mol/L, amount: 60 mL, held: {as: bottle}}
  marble: {state: solid, composition: calcium carbonate, amount: 5 g}
  gas: {state: gas, composition: carbon dioxide, held: {as: generator, rate: 100 mL/min,
    equation: CaCO3 + 2 HCl -> CaCl2 + H2O + CO2, limited_by: dropping funnel}}
flows: {feed: {reagent: gas, into: flask, rate: 100 mL/min, reference: ambient,
  at_most: 300 mL/min}}
train:
  - {id: flask, kind: conical flask, size: 250 mL conical flask, joint: GL 45, joint_material: PTFE,
     liquid: acid, liquid_volume: 60 mL%s}
  - {id: bottle, kind: wash bottle, size: 250 mL wash bottle, joint: GL 45, joint_material: PTFE,
     liquid: water, liquid_volume: 100 mL, dip_depth: 30 mm, dip_tube_bore: 6 mm}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
procedure: [{step: make, duration: 5 min, flows: {feed: on}}]
"""


def test_what_the_letter_proposes_for_a_flask_that_makes_gas_passes():
    at = [f for f in review(BLOCKED % "", upsets=True).findings
          if f.criterion == "pressure.working" and f.at == "flask"]  # fmt: skip
    assert {f.grade for f in at} >= {"unacceptable"}
    measures = review(BLOCKED % "", upsets=True).measures
    notes = [m.note for m in measures
             if m.kind == "pressure.working_over_rating" and m.at == "flask"]  # fmt: skip
    proposed = {found[0] for note in notes if (found := re.search(r"relief: {[^}]*}", note))}
    cured = review(BLOCKED % f", {proposed.pop()}", upsets=True).findings
    assert "unacceptable" not in {f.grade for f in cured if f.criterion == "pressure.working"}


@pytest.mark.parametrize(
    ("reaction", "limiting"),
    [
        ("{equation: 2 H2O2 -> 2 H2O + O2, conversion: 10 %}", "H2O2"),
        ("{equation: CuSO4·5H2O(s) -> CuSO4 + 5 H2O, conversion: 10 %}", "CuSO4·5H2O"),
        ("{equation: H2 + CuO(s) -> Cu(s) + H2O, conversion: 10 %}", "H2"),
        ("{equation: 2 H2 + O2 -> 2 H2O, conversion: 10 %}", None),
    ],
)
def test_what_stands_alone_on_the_left_limits_and_of_two_it_has_to_be_said(reaction, limiting):
    if limiting is None:
        with pytest.raises(ValidationError, match="limiting"):
            Reaction.model_validate(yaml.safe_load(reaction))
        return
    assert Reaction.model_validate(yaml.safe_load(reaction)).limiting == limiting


def test_a_weak_solution_of_unknown_density_counts_as_no_weaker_than_it_is():
    """0.02 mol/L of potassium permanganate, 158.03 g/mol, is 3.16 g in a kilogram and a bit."""
    _, strength = Reference().mixture("potassium permanganate 0.02 mol/L")
    assert 3.16e-3 <= strength <= 1.05 * 3.16e-3
    with pytest.raises(ValueError, match="density"):
        Reference().mixture("potassium permanganate 0.5 mol/L")


def test_a_rating_holds_up_to_the_strength_that_it_names_but_for_arithmetic():
    rubber = Reference().material("natural rubber")
    acid = Reference().substance("acetic acid")
    words = [rubber.rating(acid, strength).word for strength in (0.1 * (1 + 1e-12), 0.1001)]
    assert words == ["limited", "not suitable"]
