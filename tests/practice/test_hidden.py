"""Dangers that no field of the file shows, though everything that it states is in order.

Each dangerous row names the criterion that has to tell it, and has a neighbour beside it that is
allowed. Common practice, no source.
"""

from __future__ import annotations

import pytest

from review import loads
from tests.practice import test_plain as plain
from tests.practice.score import PASSES
from tests.practice.test_flaws import JOINT, PAIR, a_little, heated, over, shut, through
from tests.practice.test_substances import beaker, tube
from tests.support import shared_engine

BURSTS = "reactive.decomposition_temperature"
ABSORBENT, TIPS = "corrosion.absorbent", "stability.tipping"
BOTTLE = (
    "- {{id: {}, kind: {}, material: borosilicate glass 3.3, {}gas_volume: 250 mL, inner_diameter: "
    f"60 mm, wall: 3 mm, ends: round, {JOINT}}}}}\n"
)
SECOND = BOTTLE.format(
    "first", "wash bottle", "liquid: m, liquid_volume: 100 mL, dip_depth: 30 mm, dip_tube_bore: "
    "6 mm, lift: 150 mm, ",
)  # fmt: skip


def lying(holds: str, where: str = "room") -> str:
    """15 g of a solid in an open beaker, cold."""
    return beaker(holds, where, 0, 15, "solid")


def from_the_room(text: str) -> str:
    """The gas is room air, drawn by a pump at the end."""
    pump = (
        "- {id: pump, kind: membrane pump, material: PTFE, joint: clipped hose, joint_material: "
        "PTFE, suction: {can_draw: 100 mL/min, lowest_pressure: 900 mbar absolute, drive: motor}}\n"
    )
    held = "held: {as: cylinder, volume: 2 L, pressure: 50 bar gauge, regulator: 0.2 bar gauge}"
    return text.replace(held, "held: {as: room air}").replace("- {id: out,", f"{pump}- {{id: out,")


def two_bottles(first: str, second: str, between: str = "") -> str:
    """Nitrogen through two bottles, one behind the other."""
    told = through("nitrogen: 100 %", second).replace(
        "  l: {", f"  m: {{state: liquid, composition: {{{first}}}, held: {{as: bottle}}}}\n  l: {{"
    )
    return told.replace("- {id: bottle,", f"{SECOND}{between}- {{id: bottle,")


def scrubbed(mix: str, what: str, alarm: str) -> str:
    """A poisonous gas through lye that would hold it ten times over."""
    lye = "sodium hydroxide 1 %: 100 %"
    told = plain.absorbed(what, "0.05 %", lye, alarm).replace(
        f"{what}: 0.05 %, nitrogen: rest", mix
    )
    return told.replace("efficiency: 95 %", "efficiency: 99 %").replace(
        "at_most: 300 mL/min", "at_most: 120 mL/min"
    )


def standing(flask: str, clamp: str = "0.6 kg") -> str:
    """A flask of 500 mL of water on a stand, of which the masses are told."""
    frame = (
        "frame: {feet: {a: {x: 0 mm, y: 0 mm}, b: {x: 200 mm, y: 0 mm}, c: {x: 200 mm, y: 315 mm}, "
        "d: {x: 0 mm, y: 315 mm}}, masses: {base: {mass: 4 kg, x: 100 mm, y: 157 mm, height: "
        f"10 mm}}{flask}}}, rods: {{rod: {{diameter: 12 mm, height: 600 mm, material: stainless "
        f"steel 316}}}}, clamps: {{clamp: {{rod: rod, height: 300 mm, reach: 60 mm, carries: "
        f"{clamp}, holding_torque: 8 N m}}}}}}\n"
    )
    return beaker("water: 100 %", "room", 0, 500).replace(
        "frame: stands by itself on the bench\n", frame
    ).replace("gas_volume: 300 mL", "gas_volume: 700 mL")  # fmt: skip


#: Allowed, but never without a word.
WARNED = {
    "thermite mixed": lying("ferric oxide: 75 %, aluminium: 25 %", "hood"),
    "ammonium carbonate solution poured": beaker(
        "ammonium carbonate: 20 %, water: 80 %", "hood", 0, 50
    ),
}
THIN_HYDROGEN = "hydrogen: 4 %, nitrogen: 96 %"
SILVERED = "silver nitrate: 2 %, ammonia: 1 %, water: 97 %"
CYANIDE, ACID = "sodium cyanide: 5 %, water: 95 %", "sulfuric acid: 50 %, water: 50 %"
EMPTY = BOTTLE.format("empty bottle", "trap", "")
FLASK = ", flask: {mass: 0.8 kg, liquid: 0.5 kg, x: 100 mm, y: 150 mm, height: 300 mm}"
DANGEROUS = {
    # solids that give off gas
    "acetate with soda lime": (heated("sodium acetate: 40 %, soda lime: 60 %", 350), PAIR),
    "acetate with lye, molten": (heated("sodium acetate: 60 %, sodium hydroxide: 40 %", 350), PAIR),
    "acetate overheated": (heated("sodium acetate: 100 %", 400, "room"), PAIR),
    "citric acid overheated": (heated("citric acid: 100 %", 250, "room"), PAIR),
    "magnesium chloride dried hot": (heated("magnesium chloride: 100 %", 250, "room"), PAIR),
    "ammonium carbonate solution boiled": (
        beaker("ammonium carbonate: 15 %, water: 85 %", "small room", 150), PAIR,
    ),
    # what the air of the room does
    "sponge nickel lying open": (lying("sponge nickel: 100 %"), PAIR),
    "sodium lying open": (lying("sodium: 100 %"), PAIR),
    "sodium hydride lying open": (lying("sodium hydride: 100 %", "hood"), PAIR),
    "room air over sodium": (from_the_room(over("air: 100 %", "sodium")), PAIR),
    "air over sponge nickel": (over("air: 100 %", "sponge nickel"), PAIR),
    "moist gas over carbide": (over("nitrogen: 98 %, water: 2 %", "calcium carbide"), PAIR),
    # solutions that give off what they are made of
    "cyanide solution boiled": (beaker(CYANIDE, "hood", 150), PAIR),
    "sulfide solution boiled": (beaker("sodium sulfide: 10 %, water: 90 %", "room", 150), PAIR),
    "acid behind cyanide": (two_bottles(CYANIDE, ACID), PAIR),
    "cyanide behind acid": (two_bottles(ACID, CYANIDE), PAIR),
    "acid behind bleach": (two_bottles("sodium hypochlorite: 5 %, water: 95 %", ACID), PAIR),
    "acid behind azide": (two_bottles("sodium azide: 5 %, water: 95 %", ACID), PAIR),
    # what is left once the water is gone
    "nitrite solution boiled dry": (
        beaker("sodium nitrite: 20 %, water: 80 %", "hood", 380, 20), BURSTS,
    ),
    "permanganate boiled dry": (
        beaker("potassium permanganate: 5 %, water: 95 %", "hood", 280, 20), BURSTS,
    ),
    "oxalic acid boiled dry": (
        beaker("oxalic acid: 8 %, water: 92 %", "room", 220, 20), PAIR,
    ),
    "urea boiled dry": (beaker("urea: 10 %, water: 90 %", "room", 220, 20), PAIR),
    "lye boiled dry": (beaker("sodium hydroxide: 20 %, water: 80 %", "hood", 360, 20), PAIR),
    # what nobody declared over a hot catalyst
    "sulfur dioxide and air over copper oxide": (
        over("sulfur dioxide: 0.05 %, air: 99.95 %", "copper oxide", 450), PAIR,
    ),
    "methanol over hot copper": (over("methanol: 3 %, nitrogen: 97 %", "copper", 400), PAIR),
    "methane and steam over hot nickel": (
        over("methane: 3 %, water: 2 %, nitrogen: 95 %", "nickel", 700), PAIR,
    ),
    "ammonia and carbon monoxide over platinum": (
        over("ammonia: 0.5 %, carbon monoxide: 0.5 %, nitrogen: 99 %", "platinum", 700), PAIR,
    ),
    # packings that give off what nobody counts
    "PVC packed hot": (over("nitrogen: 100 %", "PVC", 250), PAIR),
    "rubber packed hot": (over("nitrogen: 100 %", "natural rubber", 350), PAIR),
    "mercury packed hot": (over("nitrogen: 100 %", "mercury", 300), PAIR),
    "iodine packed warm": (over("nitrogen: 100 %", "iodine", 100), PAIR),
    "zinc hot in air": (over("air: 100 %", "zinc", 600), PAIR),
    "ammonia through perchloric acid": (
        through("ammonia: 1 %, nitrogen: 99 %", "perchloric acid: 60 %, water: 40 %"), PAIR,
    ),
    "pyridine in perchloric acid": (
        beaker("pyridine: 5 %, perchloric acid: 20 %, water: 75 %", "hood"), PAIR,
    ),
    # what is shut in, molten, or throws its oil about
    "iron and acid screwed shut": (
        shut("iron: 3 %, hydrogen chloride: 10 %, water: 87 %"), PAIR,
    ),
    "silver ammonia kept": (shut("silver nitrate: 2 %, ammonia: 5 %, water: 93 %"), PAIR),
    "silver ammonia left open for hours": (
        beaker(SILVERED, "hood", 0, 50).replace("duration: 30 min", "duration: 300 min"), PAIR,
    ),
    "lye molten in glass": (heated("sodium hydroxide: 100 %", 380), PAIR),
    "wet oil overheated": (beaker("paraffin oil: 90 %, water: 10 %", "hood", 140), PAIR),
    # what uses an absorbent up
    "chlorine in carbon dioxide through lye": (
        scrubbed("chlorine: 0.05 %, carbon dioxide: 99.95 %", "chlorine", "0.5 ppm"), ABSORBENT,
    ),
    "sulfur dioxide in carbon dioxide through lye": (
        scrubbed("sulfur dioxide: 0.05 %, carbon dioxide: 99.95 %", "sulfur dioxide", "2 ppm"),
        ABSORBENT,
    ),
    # a solid that holds its own oxygen, in a gas that burns however thin it is
    **{
        f"thin hydrogen over warm {solid}": (over(THIN_HYDROGEN, solid, 150), PAIR)
        for solid in ("potassium nitrate", "lead dioxide", "mercuric oxide", "manganese dioxide")
    },
    "carbon monoxide over mercuric oxide": (
        over("carbon monoxide: 2 %, nitrogen: 98 %", "mercuric oxide", 100), PAIR,
    ),
    "hydrogen sulfide over cold lead dioxide": (
        over("hydrogen sulfide: 2 %, nitrogen: 98 %", "lead dioxide"), PAIR,
    ),
    "dichromate melted": (over("nitrogen: 100 %", "potassium dichromate", 520), BURSTS),
    "phosphoric acid boiled dry": (
        beaker("phosphoric acid: 20 %, water: 80 %", "hood", 250, 20), PAIR,
    ),
    "copper oxide mixed with magnesium": (
        lying("copper oxide: 70 %, magnesium: 30 %"), PAIR,
    ),
    # what a stand carries
    "a stand without its flask": (standing(""), TIPS),
    "a stand with an empty flask": (standing(FLASK.replace("liquid: 0.5 kg, ", "")), TIPS),
    "a stand whose clamp carries more": (standing(FLASK, "2.5 kg"), TIPS),
}  # fmt: skip
ORDINARY = {
    "silver ammonia made fresh": beaker(SILVERED, "hood", 0, 50),
    "acetate dried": heated("sodium acetate: 100 %", 120),
    "citric acid dried": heated("citric acid: 100 %", 90),
    "acetate in water boiled": beaker("sodium acetate: 10 %, water: 90 %", "room", 120),
    "two grams of citric acid charred in the hood": a_little("citric acid: 100 %", 250, "2 g"),
    "sponge nickel under water": beaker("sponge nickel: 30 %, water: 70 %", "hood"),
    "sodium under oil": beaker("sodium: 20 %, paraffin oil: 80 %", "hood"),
    "carbide weighed out": lying("calcium carbide: 100 %", "hood"),
    "two grams of sodium cut in the hood": lying("sodium: 100 %", "hood").replace(
        "held: {as: bottle}", "held: {as: bottle}, amount: 2 g"
    ),
    "sodium in dry nitrogen": over("nitrogen: 100 %", "sodium"),
    "sulfide solution in the hood": beaker("sodium sulfide: 5 %, water: 95 %", "hood"),
    "salt solution boiled dry": beaker("sodium chloride: 20 %, water: 80 %", "room", 250, 20),
    "nitrite solution warmed": beaker("sodium nitrite: 20 %, water: 80 %", "room", 120),
    "much oxalic acid boiled shortly": beaker(
        "oxalic acid: 8 %, water: 92 %", "room", 180, 140
    ).replace("30 min}}", "30 min, power: 400 W}}").replace("duration: 30 min", "duration: 3 min"),
    "sulfur dioxide and air over cold copper oxide": over(
        "sulfur dioxide: 0.01 %, air: 99.99 %", "copper oxide", 100
    ),
    "ammonia in nitrogen over platinum": over("ammonia: 1 %, nitrogen: 99 %", "platinum", 300),
    "methanol over hot quartz": over("methanol: 1 %, nitrogen: 99 %", "fused quartz", 300),
    "zinc in warm air": over("air: 100 %", "zinc", 200),
    "rubber packed cold": over("nitrogen: 100 %", "natural rubber"),
    "iron in an open beaker of acid": beaker(
        "iron: 1 %, hydrogen chloride: 5 %, water: 94 %", "hood"
    ),
    "an empty bottle between acid and cyanide": two_bottles(CYANIDE, ACID, EMPTY),
    "water and then the acid that dries": two_bottles(
        "water: 100 %", "sulfuric acid: 96 %, water: 4 %"
    ),
    "two bottles of the same lye": two_bottles(
        "sodium hydroxide: 5 %, water: 95 %", "sodium hydroxide: 5 %, water: 95 %"
    ),
    "perchloric acid in water": beaker("perchloric acid: 20 %, water: 80 %", "hood"),
    "chlorine in nitrogen through lye": scrubbed(
        "chlorine: 0.05 %, nitrogen: 99.95 %", "chlorine", "0.5 ppm"
    ),
    "room air drawn through a hot tube": from_the_room(tube("air: 100 %", "room", 300)),
    "thin hydrogen over cold nitrate": over(THIN_HYDROGEN, "potassium nitrate"),
    "air over warm manganese dioxide": over("air: 100 %", "manganese dioxide", 200),
    "dichromate dried": over("nitrogen: 100 %", "potassium dichromate", 150),
    "phosphoric acid warmed": beaker("phosphoric acid: 20 %, water: 80 %", "hood", 90),
    "zinc in copper sulfate": beaker("zinc: 2 %, copper sulfate: 5 %, water: 93 %", "room"),
    "a stand with its flask": standing(FLASK),
}


@pytest.mark.parametrize("name", DANGEROUS)
def test_what_no_field_shows_is_refused_for_what_it_does(name: str) -> None:
    text, criterion = DANGEROUS[name]
    review = shared_engine().review(loads(text))
    against = {f.criterion for f in review.findings if f.grade in ("unacceptable", "undetermined")}
    assert review.verdict not in PASSES
    assert criterion in against


@pytest.mark.parametrize("name", ORDINARY)
def test_what_only_looks_alike_is_allowed(name: str) -> None:
    assert shared_engine().review(loads(ORDINARY[name])).verdict in PASSES


@pytest.mark.parametrize("name", WARNED)
def test_what_is_allowed_with_care_is_a_condition(name: str) -> None:
    review = shared_engine().review(loads(WARNED[name]))
    assert review.verdict == "may proceed with conditions"
    assert PAIR in {f.criterion for f in review.findings if f.grade == "tolerable"}
