"""Every name leads to one thing: English, German, CAS number, formula in exact case."""

import pytest

from review.reference.finding import Reference, UnknownName, built_in_folder, key
from review.reference.index import index_of

REFERENCE = Reference()
INDEX = index_of(built_in_folder())


def test_no_name_of_a_substance_is_a_name_of_a_mixture():
    names = {key(n): stem for stem, e in INDEX["substances"].items() for n in e["names"]}
    both = {key(n) for e in INDEX["mixtures"].values() for n in e["names"]} & set(names)
    # The acid's ratings of materials stand under its name; what is held needs a strength.
    assert {names[n] for n in both} <= {"hydrochloric_acid"}


def test_every_name_of_the_index_finds_its_file():
    for stem, entry in INDEX["substances"].items():
        for name in entry["names"]:
            assert key(REFERENCE.substance(name).name).replace(" ", "_") == stem


def test_a_formula_that_several_have_finds_none_of_them():
    formulas = [e["formula"] for e in INDEX["substances"].values()]
    shared = {f for f in formulas if formulas.count(f) > 1} - {"none"}
    assert "C6H4(CH3)2" in shared  # the three xylenes
    for formula in shared:
        with pytest.raises(UnknownName):
            REFERENCE.substance(formula)


# What the list of wanted words names and a school's or a laboratory's shelf holds.
@pytest.mark.parametrize(
    "name",
    """butane, ethyl acetate, calcium chloride, potassium hydroxide, zinc, sulfur, silica gel,
    paraffin oil, marble, magnesium, iron, manganese dioxide, charcoal, soda lime, molecular sieve,
    copper sulfate, sodium hypochlorite, potassium permanganate, sodium azide, calcium carbide,
    sodium thiosulfate, potassium iodide, ammonium chloride, ammonium nitrate, ammonium nitrite,
    phosphorus pentoxide, palladium on carbon, sponge nickel, platinum, copper on zinc oxide,
    vanadium pentoxide, calcium hydroxide, sodium cyanide, sodium sulfide, silver nitrate,
    silicone oil, sodium chloride, sodium carbonate, sodium hydrogencarbonate, activated carbon,
    potassium chlorate, sodium, Wasser, Stickstoff, Sauerstoff, Kohlendioxid, Schwefelsäure,
    Lachgas, distilled water""".replace("\n", " ").split(","),
)
def test_the_shelf_is_known(name):
    assert REFERENCE.substance(name).name


@pytest.mark.parametrize(
    "name",
    ["air", "natural gas", "LPG", "ammonia water 25 %", "formalin 37 %", "lime water", "dry ice",
     "hydrogen peroxide solution 30 %", "sodium hypochlorite solution 10 %", "liquid nitrogen",
     "Kochsalzlösung 10 %", "bleach 5 %", "aqua regia", "brine 20 %", "vinegar", "vinegar 5 %",
     "household bleach", "sea water", "wine", "bromine water"],
)  # fmt: skip
def test_the_mixtures_of_the_shelf_are_known(name):
    mixture, strength = REFERENCE.mixture(name)
    assert sum(mixture.parts(strength).values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "name, meant",
    [("copper sulfate pentahydrate", "copper sulfate"), ("CuSO4*5H2O", "copper sulfate"),
     ("marble chips", "calcium carbonate"), ("anhydrous calcium chloride", "calcium chloride")],
)  # fmt: skip
def test_crystal_water_and_the_shape_of_pieces_change_no_name(name, meant):
    assert REFERENCE.substance(name).name == meant
    assert REFERENCE.looked_up("substances", name).file


@pytest.mark.parametrize("name", ["Benzin", "polyethylene", "copper nanodust"])
def test_petrol_is_no_benzene_a_polymer_no_monomer_and_dust_no_sheet(name):
    for find in (REFERENCE.substance, REFERENCE.look_up):
        with pytest.raises(UnknownName):
            find(name)
