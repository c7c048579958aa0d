"""A solid that warms the water it is put into, or an acid that is poured, with nothing declared.

A mole of sodium hydroxide gives 44.5 kJ to a kilogram of water and warms it by 10.6 K, and with a
mole of strong acid 55.8 kJ more (CRC Handbook of Chemistry and Physics, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from review.plugins.hot_surfaces.dissolving import DISSOLVES, dilution_heat

from review import loads
from review.testing import measure
from tests.support import shared_engine

TEXT = """
title: Dissolved
reagents:
  liquid: {state: liquid, composition: {LIQUID}, amount: 1 L, held: {as: bottle}}
  pellets: {state: solid, composition: {SOLID: 100 %}, amount: GRAMS}
train:
  - {id: beaker, kind: beaker, capacity: 2 L, material: borosilicate glass 3.3, joint: none,
    liquid: liquid, liquid_volume: 1 L}
  - {id: mouth, kind: outlet, to: room, inner_diameter: 100 mm}
procedure: [{step: stir, duration: 10 min}]
"""


def margin(solid: str, grams: str, liquid: str = "water: 100 %", at: str = "beaker") -> float:
    text = TEXT.replace("SOLID", solid).replace("GRAMS", grams).replace("LIQUID", liquid)
    salt = solid.replace(" heptahydrate", "").replace("Epsom salt", "magnesium sulfate")
    found = measure(
        shared_engine().review(loads(text)), "heat.runaway_margin", at, salt * (at != "train")
    )
    return float(found.value[0, 0])


@pytest.mark.parametrize(
    ("solid", "grams", "liquid", "rise"),
    [
        ("sodium hydroxide", "40 g", "water: 100 %", 10.6),
        ("potassium hydroxide", "56.1 g", "water: 100 %", 13.8),
        ("sodium hydroxide", "40 g", "hydrogen chloride: 3.65 %, water: 96.35 %", 24.0),
    ],
)
def test_a_mole_warms_a_litre(solid: str, grams: str, liquid: str, rise: float) -> None:
    """Below boiling by 80 K less the rise, whose heat is known to a fifth."""
    assert margin(solid, grams, liquid) == pytest.approx(80 - 1.2 * rise, abs=1.5)


def test_what_hardly_warms_is_no_matter() -> None:
    assert margin("sodium chloride", "300 g", at="train") == float("inf")


#: Heats of formation at 25 degC, kJ/mol (CRC Handbook of Chemistry and Physics, from memory): of
#: the dry salt, and of its ions in much water.
IONS: Mapping[str, float] = {
    "Mg": -466.9, "Cu": 64.8, "Fe3": -48.5, "Fe": -89.1, "Al": -531.0, "Zn": -153.9, "Co": -58.2,
    "Sr": -545.8, "Na": -240.1, "Cl": -167.2, "SO4": -909.3, "NO3": -207.4, "S": 33.1,
}  # fmt: skip
SALTS: Mapping[str, tuple[float, Mapping[str, int]]] = {
    "magnesium chloride": (-641.3, {"Mg": 1, "Cl": 2}),
    "magnesium sulfate": (-1284.9, {"Mg": 1, "SO4": 1}),
    "copper sulfate": (-771.4, {"Cu": 1, "SO4": 1}),
    "copper chloride": (-220.1, {"Cu": 1, "Cl": 2}),
    "copper nitrate": (-302.9, {"Cu": 1, "NO3": 2}),
    "ferric chloride": (-399.5, {"Fe3": 1, "Cl": 3}),
    "ferrous sulfate": (-928.4, {"Fe": 1, "SO4": 1}),
    "aluminium sulfate": (-3440.8, {"Al": 2, "SO4": 3}),
    "zinc sulfate": (-982.8, {"Zn": 1, "SO4": 1}),
    "cobalt chloride": (-312.5, {"Co": 1, "Cl": 2}),
    "strontium chloride": (-828.9, {"Sr": 1, "Cl": 2}),
    "sodium sulfide": (-364.8, {"Na": 2, "S": 1}),
}


@pytest.mark.parametrize("salt", SALTS)
def test_a_dry_salt_gives_what_its_ions_lie_below_it(salt: str) -> None:
    dry, ions = SALTS[salt]
    heat = dry - sum(count * IONS[ion] for ion, count in ions.items())
    assert DISSOLVES[salt] / 1e3 == pytest.approx(heat, abs=1.0)


def test_crystal_water_that_is_named_has_given_its_heat_already() -> None:
    assert margin("magnesium sulfate", "1 kg") < -50
    assert margin("magnesium sulfate heptahydrate", "1 kg") > 10
    assert margin("Epsom salt", "1 kg") > 10
    assert margin("magnesium sulfate", "50 g") > 10


@pytest.mark.parametrize(
    ("solid", "grams", "liquid"),
    [
        # 5 mol of acid and base, 57 kJ each, in a litre (CRC Handbook, from memory): 80 K and more
        ("sodium hydroxide monohydrate", "290 g", "acetic acid: 50 %, water: 50 %"),
        ("barium hydroxide octahydrate", "790 g", "acetic acid: 50 %, water: 50 %"),
        # 13.6 mol at 45 kJ in 1 kg of water and 2 kg of salt
        ("calcium chloride dihydrate", "2 kg", "water: 100 %"),
    ],
)
def test_crystal_water_takes_no_heat_from_a_base_and_little_of_it_not_from_a_salt(
    solid: str, grams: str, liquid: str
) -> None:
    text = TEXT.replace("SOLID", solid).replace("GRAMS", grams).replace("LIQUID", liquid)
    review = shared_engine().review(loads(text))
    found = measure(review, "heat.runaway_margin", "beaker", solid.rsplit(" ", 1)[0])
    assert found.value[0, 0] < 0


@pytest.mark.parametrize(
    ("water", "heat"),
    [(1, 27.8), (2, 41.5), (5, 58.0), (10, 66.5), (20, 70.9), (50, 72.8)],
)
def test_sulfuric_acid_gives_what_the_tables_say(water: float, heat: float) -> None:
    """Within the fifth that the margin allows (NBS tables of 1982: heats of formation of sulfuric
    acid in so many moles of water less -814.0 kJ/mol, from memory)."""
    assert dilution_heat(np.array(water)) / 1e3 == pytest.approx(heat, rel=0.06)


def poured(
    bottle: str, amount: str, liquid: str = "water: 100 %", bath: Mapping[str, str] | None = None
) -> float:
    text = TEXT.replace(
        "pellets: {state: solid, composition: {SOLID: 100 %}, amount: GRAMS}",
        f"bottle: {{state: liquid, composition: {{{bottle}}}, amount: {amount}, "
        "held: {as: bottle}}",
    )
    for old, new in (bath or {}).items():
        text = text.replace(old, new)
    review = shared_engine().review(loads(text.replace("LIQUID", liquid)), upsets=False)
    return float(measure(review, "heat.runaway_margin", "beaker", "bottle").value[0, 0])


STRONG = "sulfuric acid: 96 %, water: 4 %"


def test_strong_acid_poured_by_the_litre_boils_and_a_little_warms() -> None:
    """100 mL of it in a litre of water warm that by some 28 K (1.8 mol at 70 kJ, less 8 kJ)."""
    assert poured(STRONG, "1 L") < -50
    assert poured(STRONG, "100 mL") == pytest.approx(80 - 1.2 * 28, abs=5)


def test_acid_by_volume_is_stronger_by_mass() -> None:
    """60 % by volume: 0.6 x 1.83 kg of 1.498 kg, 73.3 % by mass (1.83 and 0.998 kg/L, CRC)."""
    by_volume = {"composition: {sulf": "basis: volume, composition: {sulf"}
    found = poured("sulfuric acid: 60 %, water: 40 %", "1 L", bath=by_volume)
    stronger = poured("sulfuric acid: 73.3 %, water: 26.7 %", "1 L")
    assert found == pytest.approx(stronger, abs=0.5)


def test_water_into_strong_acid_is_hottest_before_all_of_it_is_in() -> None:
    """However much there is to pour; the acid into water stays colder."""
    some, much = poured("water: 100 %", "1 L", STRONG), poured("water: 100 %", "5 L", STRONG)
    assert some <= poured(STRONG, "1 L")
    assert much == pytest.approx(some, abs=5)


def test_acid_poured_into_hot_water_starts_from_there() -> None:
    bath = {"liquid_volume: 1 L": "liquid_volume: 1 L, bath_temperature: 85 degC"}
    cold, hot = poured(STRONG, "100 mL"), poured(STRONG, "100 mL", bath=bath)
    assert cold - hot == pytest.approx(85 - 20, abs=0.5)


TWO = """
title: Saponified
reagents:
  ester: {state: liquid, composition: {ESTER}, amount: 10 mL, density: 0.9 g/mL, held: {as: bottle}}
  lye: {state: liquid, composition: {sodium hydroxide: SHARE, water: rest}, AMOUNT,
    density: 1.2 g/mL, held: {as: bottle}}
train:
  - {id: beaker, kind: beaker, capacity: 200 mL, material: borosilicate glass 3.3, joint: none,
    liquid: ester, liquid_volume: 10 mL, reactions: REACTIONS}
  - {id: mouth, kind: outlet, to: hood, inner_diameter: 50 mm}
procedure: [{step: stir, duration: 10 min}]
"""
SOAP = (
    "[{equation: CH3COOC2H5 + NaOH -> CH3COONa + C2H5OH, limiting: ethyl acetate, "
    "conversion: 90 %}]"
)


def saponified(share: str, amount: str = "amount: 20 mL") -> float:
    text = TWO.replace("SHARE", share).replace("AMOUNT", amount).replace("REACTIONS", SOAP)
    found = measure(
        shared_engine().review(loads(text.replace("ESTER", "ethyl acetate: 100 %"))),
        "heat.runaway_margin", "beaker",
    )  # fmt: skip
    return float(found.value[0, 0])


def test_an_equation_takes_no_more_than_is_poured_in() -> None:
    """9 g of ester (102 mmol) are used up by 20.4 g of 20 % lye: 6.1 kJ warm 16.3 g of water and
    13.1 g of the rest, 90 J/K, by 68 K; a fifth more counts, and the ester boils at 77 degC."""
    assert saponified("20 %") == pytest.approx(57.1 - 1.2 * 67.7, abs=1)
    assert saponified("4 %") > 10  # 24 mmol: 1.5 kJ, 110 J/K


def test_what_is_poured_without_an_amount_counts_as_plenty() -> None:
    assert saponified("20 %", "basis: mass") < -300


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("ethyl acetate: 100 %", "sodium hydroxide: 22 %, water: 78 %"),
        ("benzaldehyde: 100 %", "potassium hydroxide: 45 %, water: 55 %"),
        ("dimethyl carbonate: 100 %", "sodium hydroxide: 40 %, water: 60 %"),
        ("triethylamine: 100 %", "phosphoric acid: 85 %, water: 15 %"),
        ("ammonia: 25 %, water: 75 %", "acetic acid: 100 %"),
        ("hydrazine: 64 %, water: 36 %", "acetone: 100 %"),
        ("sulfuric acid: 96 %, water: 4 %", "tetrahydrofuran: 100 %"),
        ("sulfuric acid: 96 %, water: 4 %", "ethyl acetate: 100 %"),
    ],
)
def test_two_liquids_that_heat_each_other_must_not_meet_undeclared(one: str, other: str) -> None:
    """Groups of EPA-600/2-80-076 that give heat alone, from memory."""
    text = TWO.replace("ESTER", one).replace("sodium hydroxide: SHARE, water: rest", other)
    text = text.replace("AMOUNT", "amount: 300 mL").replace("REACTIONS", "none")
    text = text.replace("10 mL", "300 mL")
    review = shared_engine().review(loads(text))
    met = [m for m in review.measures if m.kind == "reactive.pair" and m.at == "beaker"]
    assert max(float(m.value[0, 0]) for m in met) == 2


MADE = """
title: Made drop by drop
reagents:
  acid: {state: liquid, composition: {hydrochloric acid 20 %: 100 %}, amount: 250 mL, DENSITY
    held: {as: bottle}}
  sulfide: {state: solid, composition: {iron sulfide: 100 %}, amount: 88 g}
  made: {state: gas, composition: {hydrogen sulfide: 100 %}, held: {as: generator, rate: 5 mL/min,
    equation: FeS(s) + 2 HCl -> FeCl2 + H2S, limited_by: WORD}}
flows: {gas: {reagent: made, into: flask, rate: 5 mL/min, reference: ambient, at_most: MOST}}
train:
  - {id: flask, kind: flask, material: borosilicate glass 3.3, capacity: 500 mL, liquid: acid,
    liquid_volume: 250 mL, joint: clipped taper joint, joint_material: PTFE, home_made: no}
  - {id: outlet, kind: outlet, to: hood, inner_diameter: 6 mm}
procedure: [{step: react, duration: 30 min, flows: {gas: on}}]
"""


@pytest.mark.parametrize(
    ("word", "most", "density", "told"),
    [
        # 250 mL of 20 % acid, 1.5 mol, make 18 L; in half an hour 600 mL/min.
        ("dropping funnel", "5 mL/min", "density: 1.1 g/mL,", False),
        ("dropping funnel", "5 mL/min", "", False),
        ("dropping funnel", "1 L/min", "density: 1.1 g/mL,", True),
        ("heat", "1 L/min", "density: 1.1 g/mL,", False),  # nothing heats it
    ],
)
def test_what_keeps_a_charge_apart_is_believed_where_it_can(
    word: str, most: str, density: str, told: bool
) -> None:
    text = MADE.replace("WORD", word).replace("MOST", most).replace("DENSITY", density)
    review = shared_engine().review(loads(text), upsets=False)
    found = measure(review, "heat.charge_margin", "flask")
    assert bool(np.isnan(found.value).all()) is not told
