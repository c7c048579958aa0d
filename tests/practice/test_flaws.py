"""Set-ups that look cared for and have one flaw that harms, and what stands beside them unharmed.

Each dangerous row names the criterion under which its own danger has to be told, so that a refusal
for some other reason does not count. Common practice, no source.
"""

from __future__ import annotations

import pytest

from review import loads
from tests.practice.score import PASSES
from tests.practice.test_substances import AIR, BENCH, beaker, tube
from tests.support import shared_engine

JOINT = (
    "rating: 0.5 bar gauge, joint: screw-thread connector, joint_material: PTFE, "
    "joint_rating: 0.5 bar gauge, home_made: no"
)
PAIR, CAP, HELD = "reactive.pair", "reactive.decomposition_temperature", "pressure.working"


def over(gas: str, solid: str, hot: int = 0) -> str:
    """100 mL/min of a gas in the hood over a packed solid."""
    packing = f"{{voidage: 60 %, particle_diameter: 1 mm, length: 50 mm, material: {solid}}}"
    return tube(gas, "hood", hot, more=f", packing: {packing}")


def heated(holds: str, hot: int, where: str = "hood") -> str:
    """15 g of a solid in an open beaker on a hot plate."""
    return beaker(holds, where, hot, 15, "solid")


def a_little(holds: str, hot: int, amount: str) -> str:
    """So much of a solid, heated in the hood."""
    held = "held: {as: bottle}"
    return heated(holds, hot).replace(held, f"{held}, amount: {amount}")


def shut(holds: str, ml: int = 100) -> str:
    """A screwed glass bottle on the bench for half an hour."""
    open_one = beaker(holds, "room", 0, ml)
    told = open_one.replace("joint: none", "joint: screw-thread connector, joint_material: PTFE")
    return told.replace("to: room, inner_diameter: 80 mm", "to: room, open: no")


def through(gas: str, liquid: str, where: str = "hood") -> str:
    """100 mL/min of a gas through an empty bottle and a wash bottle."""
    return (
        BENCH
        + f"reagents:\n  g: {{state: gas, composition: {{{gas}}}, held: {{as: cylinder, "
        "volume: 1 L, pressure: 20 bar gauge, regulator: 0.1 bar gauge}}\n"
        f"  l: {{state: liquid, composition: {{{liquid}}}, held: {{as: bottle}}}}\n"
        "flows: {f: {reagent: g, into: hose, rate: 100 mL/min, reference: ambient, "
        "at_most: 300 mL/min, instrument: {kind: float meter, calibration_gas: air}}}\ntrain:\n"
        "- {id: hose, kind: line, material: PTFE, inner_diameter: 6 mm, wall: 1 mm, "
        f"length: 800 mm, {JOINT}}}\n"
        "- {id: empty, kind: trap, material: borosilicate glass 3.3, gas_volume: 250 mL, "
        f"inner_diameter: 60 mm, wall: 3 mm, ends: round, {JOINT}}}\n"
        "- {id: bottle, kind: wash bottle, material: borosilicate glass 3.3, liquid: l, "
        "liquid_volume: 150 mL, gas_volume: 150 mL, inner_diameter: 60 mm, wall: 3 mm, "
        f"dip_depth: 30 mm, dip_tube_bore: 6 mm, lift: 150 mm, ends: round, {JOINT}}}\n"
        f"- {{id: out, kind: outlet, to: {where}, inner_diameter: 6 mm}}\n"
        "procedure: [{step: run, duration: 30 min, flows: {f: on}}, "
        "{step: leave, duration: 10 min, flows: {f: off}}]\n" + AIR[where]
    )  # fmt: skip


def dropped(held: str, drop: str) -> str:
    """2 mL/min of a liquid into 100 mL of another in the hood."""
    return (
        BENCH
        + f"reagents:\n  held: {{state: liquid, composition: {{{held}}}, held: {{as: bottle}}}}\n"
        f"  drop: {{state: liquid, composition: {{{drop}}}, amount: 50 mL, held: {{as: bottle}}}}\n"
        "flows: {f: {reagent: drop, into: flask, rate: 2 mL/min, at_most: 20 mL/min, "
        "shut_off_pressure: 0.05 bar gauge}}\ntrain:\n"
        "- {id: flask, kind: vessel, material: borosilicate glass 3.3, gas_volume: 150 mL, "
        f"liquid: held, liquid_volume: 100 mL, inner_diameter: 70 mm, {JOINT}}}\n"
        "- {id: out, kind: outlet, to: hood, inner_diameter: 8 mm}\n"
        "procedure: [{step: drop, duration: 20 min, flows: {f: on}}, "
        "{step: leave, duration: 10 min, flows: {f: off}}]\n" + AIR["hood"]
    )  # fmt: skip


def furnace(more: str, kind: str = "tube furnace", hot: int = 900) -> str:
    """Nitrogen through a long quartz tube in a furnace of which more is said."""
    told = tube("nitrogen: 100 %", "room", hot).replace("length: 600 mm", "length: 1 m")
    return told.replace("cooling_time", f"{more}cooling_time").replace("tube furnace", kind)


THIN = "nitrogen: 95 %"
WOOL = "insulation: ceramic fibre, insulation_thickness: 5 mm, outer_diameter: 60 mm, "
DANGEROUS = {
    # a solid that burns, in a gas that lets it
    "iron wool in oxygen": (over("oxygen: 100 %", "iron", 400), PAIR),
    "sulfur in hot air": (over("air: 100 %", "sulfur", 300), PAIR),
    "sulfur boiled open": (heated("sulfur: 100 %", 300), PAIR),
    "magnesium in hot air": (over("air: 100 %", "magnesium", 650), PAIR),
    "red phosphorus in hot air": (heated("red phosphorus: 100 %", 300), PAIR),
    "iron sulfide roasted": (over("air: 100 %", "iron sulfide", 500), PAIR),
    "sodium heated open": (heated("sodium: 100 %", 250), PAIR),
    "lithium heated open": (heated("lithium: 100 %", 200), PAIR),
    "lithium in hot nitrogen": (over("nitrogen: 100 %", "lithium", 400), PAIR),
    "magnesium in carbon dioxide": (over("carbon dioxide: 100 %", "magnesium", 650), PAIR),
    "hydrogen over chlorate": (
        over("hydrogen: 4 %, nitrogen: 96 %", "potassium chlorate", 200), PAIR,
    ),
    # what decomposes, lying in the tube as a packing
    "ammonium nitrate packed": (over("nitrogen: 100 %", "ammonium nitrate", 250), CAP),
    "dichromate packed": (over("air: 100 %", "ammonium dichromate", 250), CAP),
    "organic peroxide packed": (over("nitrogen: 100 %", "benzoyl peroxide", 90), CAP),
    # what gives off poison when it is heated
    "ammonium carbonate warmed": (heated("ammonium carbonate: 100 %", 90, "small room"), PAIR),
    "urea melted": (heated("urea: 100 %", 200, "small room"), PAIR),
    "oxalic acid heated": (heated("oxalic acid: 100 %", 220, "small room"), PAIR),
    "sugar charred, nobody says how much": (heated("sucrose: 100 %", 400), PAIR),
    "a bowl of sugar charred in the hood": (a_little("sucrose: 100 %", 400, "100 g"), PAIR),
    "two grams of ammonium nitrate heated": (a_little("ammonium nitrate: 100 %", 300, "2 g"), CAP),
    "sugar charred": (heated("sucrose: 100 %", 400, "room"), PAIR),
    "phosphorus pentoxide heated": (heated("phosphorus pentoxide: 100 %", 300, "room"), PAIR),
    "grease on a hot plate": (heated("vacuum grease: 100 %", 400, "room"), PAIR),
    "benzoic acid overheated": (heated("benzoic acid: 100 %", 500), PAIR),
    "sponge nickel warmed in air": (heated("sponge nickel: 100 %", 150), PAIR),
    "wood charred": (heated("wood: 100 %", 400, "room"), PAIR),
    "lead nitrate heated": (heated("lead nitrate: 100 %", 300), CAP),
    "mercury oxide heated": (heated("mercury oxide: 100 %", 350), CAP),
    "guncotton dried hot": (heated("guncotton: 100 %", 100), CAP),
    # what nobody published a limit for, though its vapour harms
    "titanium tetrachloride open": (
        beaker("titanium tetrachloride: 100 %", "small room"), "exposure.ceiling",
    ),
    "sulfuryl chloride boiled": (
        beaker("sulfuryl chloride: 100 %", "room", 100), "exposure.ceiling",
    ),
    "silicon tetrachloride in the hood": (
        beaker("silicon tetrachloride: 100 %", "hood", 100), "exposure.ceiling",
    ),
    # mixtures
    "zinc with sulfur": (heated("zinc: 67 %, sulfur: 33 %", 200), PAIR),
    "aluminium with sulfur": (heated("aluminium: 36 %, sulfur: 64 %", 200), PAIR),
    "copper oxide with aluminium": (heated("copper oxide: 80 %, aluminium: 20 %", 400), PAIR),
    "magnesium with iron oxide": (heated("ferric oxide: 70 %, magnesium: 30 %", 400), PAIR),
    "sulfoxide with acid chloride": (
        beaker("dimethyl sulfoxide: 60 %, acetyl chloride: 40 %", "hood"), PAIR,
    ),
    "sulfoxide with perchloric acid": (
        beaker("dimethyl sulfoxide: 60 %, perchloric acid: 30 %, water: 10 %", "hood"), PAIR,
    ),
    "oxygen drawn through an oil pump": (
        tube("oxygen: 100 %", "hood").replace(
            "- {id: out,", "- {id: pump, kind: oil pump, material: carbon steel, joint: clipped "
            "hose, joint_material: PTFE, suction: {can_draw: 5 L/min, lowest_pressure: "
            "1 mbar absolute, drive: motor}}\n- {id: out,"), PAIR,
    ),
    "hydride in warm sulfoxide": (
        beaker("sodium hydride: 20 %, dimethyl sulfoxide: 80 %", "hood", 60), PAIR,
    ),
    "hydride in warm formamide": (
        beaker("sodium hydride: 20 %, dimethylformamide: 80 %", "hood", 60), PAIR,
    ),
    "bromine in formamide": (beaker("dimethylformamide: 80 %, bromine: 20 %", "hood"), PAIR),
    "formalin with hydrochloric acid": (
        beaker("formaldehyde: 15 %, hydrogen chloride: 15 %, water: 70 %", "hood"), PAIR,
    ),
    "iodide with nitric acid": (
        beaker("potassium iodide: 10 %, nitric acid: 40 %, water: 50 %", "room"), PAIR,
    ),
    "nitrite with ammonium chloride": (
        beaker("sodium nitrite: 30 %, ammonium chloride: 30 %, water: 40 %", "hood", 90), PAIR,
    ),
    "phosphide in acid": (
        beaker("zinc phosphide: 5 %, hydrogen chloride: 10 %, water: 85 %", "hood"), PAIR,
    ),
    "silicide in acid": (
        beaker("magnesium silicide: 5 %, hydrogen chloride: 10 %, water: 85 %", "hood"), PAIR,
    ),
    "chlorite in acid": (
        beaker("sodium chlorite: 10 %, hydrogen chloride: 5 %, water: 85 %", "hood"), PAIR,
    ),
    "ferrocyanide in hot acid": (
        beaker("potassium ferrocyanide: 10 %, sulfuric acid: 20 %, water: 70 %", "hood", 90), PAIR,
    ),
    "ferric chloride in an aluminium pan": (
        beaker("ferric chloride: 30 %, water: 70 %", "room").replace(
            "material: borosilicate glass 3.3", "material: aluminium"), PAIR,
    ),
    # gas through the wrong bottle
    "carbon dioxide through sulfide": (
        through("carbon dioxide: 100 %", "sodium sulfide: 5 %, water: 95 %"), PAIR,
    ),
    "sulfur dioxide through sulfide": (
        through(f"sulfur dioxide: 5 %, {THIN}", "sodium sulfide: 5 %, water: 95 %"), PAIR,
    ),
    "sulfur dioxide through cyanide": (
        through(f"sulfur dioxide: 5 %, {THIN}", "sodium cyanide: 5 %, water: 95 %"), PAIR,
    ),
    "sulfur dioxide through chlorate": (
        through(f"sulfur dioxide: 5 %, {THIN}", "potassium chlorate: 5 %, water: 95 %"), PAIR,
    ),
    "hydrogen chloride through bleach": (
        through(f"hydrogen chloride: 5 %, {THIN}", "sodium hypochlorite: 5 %, water: 95 %"), PAIR,
    ),
    "hydrogen chloride through nitrite": (
        through(f"hydrogen chloride: 5 %, {THIN}", "sodium nitrite: 10 %, water: 90 %"), PAIR,
    ),
    "ozone through styrene": (through("ozone: 3 %, nitrogen: 97 %", "styrene: 100 %"), PAIR),
    "ozone on charcoal": (over("ozone: 5 %, oxygen: 95 %", "activated carbon"), PAIR),
    # a liquid that is let in
    "water into strong sulfuric acid": (
        dropped("sulfuric acid: 96 %, water: 4 %", "water: 100 %"), PAIR,
    ),
    "acid into cyanide": (
        dropped("sodium cyanide: 5 %, water: 95 %", "sulfuric acid: 20 %, water: 80 %"), PAIR,
    ),
    "water onto phosphorus trichloride": (
        dropped("phosphorus trichloride: 100 %", "water: 100 %"), PAIR,
    ),
    # gas made where nothing can leave
    "strong peroxide screwed shut": (shut("hydrogen peroxide: 30 %, water: 70 %"), PAIR),
    "peroxide with acid screwed shut": (
        shut("sulfuric acid: 74 %, hydrogen peroxide: 6 %, water: 20 %"), PAIR,
    ),
    "soda with acid screwed shut": (
        shut("sodium hydrogencarbonate: 6 %, citric acid: 6 %, water: 88 %"), PAIR,
    ),
    "dilute peroxide with a catalyst screwed shut": (
        shut("hydrogen peroxide: 3 %, manganese dioxide: 2 %, water: 95 %"), PAIR,
    ),
    "liquid ammonia screwed shut": (shut("ammonia: 100 %"), HELD),
    # the heater
    "a furnace in a plastic shell": (furnace(f"{WOOL}casing: polycarbonate, "), "heat.material"),
    "a lagged furnace whose shell nobody named": (furnace(WOOL), "heat.material"),
    "a charcoal fire indoors": (furnace("", "charcoal fire", 400), "readiness.declared"),
}  # fmt: skip
ORDINARY = {
    "sulfur melted": heated("sulfur: 100 %", 130),
    "iron in warm air": over("air: 100 %", "iron", 300),
    "copper in hot air": over("air: 100 %", "copper", 400),
    "magnesium in argon": over("argon: 100 %", "magnesium", 400),
    "sugar melted": heated("sucrose: 100 %", 150),
    "two grams of sugar charred in the hood": a_little("sucrose: 100 %", 400, "2 g"),
    "two grams of ammonium chloride sublimed in the hood": a_little(
        "ammonium chloride: 100 %", 350, "2 g"
    ),
    "ammonium chloride in warm water": beaker("ammonium chloride: 10 %, water: 90 %", "room", 90),
    "urea in warm water": beaker("urea: 20 %, water: 80 %", "room", 70),
    "soda and acid in an open beaker": beaker(
        "sodium hydrogencarbonate: 5 %, citric acid: 5 %, water: 90 %", "room"
    ),
    "strong peroxide in an open beaker": beaker("hydrogen peroxide: 30 %, water: 70 %", "room"),
    "wood dried": heated("wood: 100 %", 90),
    "ferrocyanide in cold acid": beaker(
        "potassium ferrocyanide: 1 %, hydrogen chloride: 2 %, water: 97 %", "room"
    ),
    "water into water": dropped("water: 100 %", "water: 100 %"),
    "water screwed shut": shut("water: 100 %"),
    "dilute acid screwed shut": shut("sulfuric acid: 10 %, water: 90 %"),
    "soda screwed shut": shut("sodium carbonate: 10 %, water: 90 %"),
    "carbon dioxide through soda": through(
        "carbon dioxide: 100 %", "sodium carbonate: 5 %, water: 95 %"
    ),
    "thin hydrogen through permanganate": through(
        "hydrogen: 4 %, nitrogen: 96 %", "potassium permanganate: 1 %, water: 99 %"
    ),
    "nitrogen through water": through("nitrogen: 100 %", "water: 100 %"),
    "a furnace in a steel shell": furnace(f"{WOOL}casing: carbon steel, "),
}  # fmt: skip


@pytest.mark.parametrize("name", DANGEROUS)
def test_a_flaw_is_refused_for_what_it_does(name: str) -> None:
    text, criterion = DANGEROUS[name]
    review = shared_engine().review(loads(text))
    against = {f.criterion for f in review.findings if f.grade in ("unacceptable", "undetermined")}
    assert review.verdict not in PASSES
    assert criterion in against


@pytest.mark.parametrize("name", ORDINARY)
def test_what_has_no_flaw_is_allowed(name: str) -> None:
    assert shared_engine().review(loads(ORDINARY[name])).verdict in PASSES
