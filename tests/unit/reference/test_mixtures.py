"""Mixtures by name and solutions by strength: found, read, written out, refused."""

import pytest

from review.reference.finding import DataError, Reference, UnknownName, built_in_folder, key
from review.reference.milder import milder_files
from review.reference.mixtures import read_mixture
from review.scenario import loads
from tests.support import shared_engine

FOLDER = built_in_folder() / "mixtures"
REFERENCE = Reference()
STEMS = sorted(path.stem for path in FOLDER.glob("*.yaml"))
AIR = (FOLDER / "air.yaml").read_text(encoding="utf-8")
AMMONIA_WATER = (FOLDER / "ammonia_water.yaml").read_text(encoding="utf-8")

SCENARIO = """
title: Gas over a liquid
duration: 10 min
reagents:
  mix: {state: gas, composition: {%s}}
%s
flows:
  feed: {reagent: mix, into: bottle, rate: 1 L/min, reference: normal}
train:
- {id: bottle, kind: wash bottle, material: borosilicate glass 3.3, gas_volume: 200 mL,
   liquid: %s, liquid_volume: 100 mL, dip_depth: 20 mm, dip_tube_bore: 4 mm, joint: none}
- {id: out, kind: outlet, to: hood}
"""


def parts(text):
    mixture, strength = REFERENCE.mixture(text)
    return mixture.parts(strength)


@pytest.mark.parametrize("stem", STEMS)
def test_a_mixture_consists_of_known_substances_and_adds_to_one(stem):
    mixture = read_mixture(FOLDER / f"{stem}.yaml")
    assert stem == key(mixture.name).replace(" ", "_")
    for strength in (mixture.weakest, mixture.strongest) if mixture.needs_strength else (None,):
        shares = mixture.parts(strength)
        assert sum(shares.values()) == pytest.approx(1.0)
        assert all(share >= -1e-12 for share in shares.values())
        for name in shares:
            assert REFERENCE.substance(name).name == name


@pytest.mark.parametrize("stem", STEMS)
def test_a_name_of_a_mixture_is_no_other_name(stem):
    mixture = read_mixture(FOLDER / f"{stem}.yaml")
    for name in (mixture.name, *mixture.synonyms):
        assert REFERENCE.mixture(name)[0] == mixture
        if stem != "hydrochloric_acid":  # the ratings of materials are by the acid's name
            with pytest.raises(UnknownName):
                REFERENCE.substance(name)


# US Standard Atmosphere 1976: nitrogen 78.084, oxygen 20.948, argon 0.934 %.
@pytest.mark.parametrize("name", ["air", "Luft", "room air", "house air", "compressed air"])
def test_air_is_the_standard_atmosphere(name):
    assert parts(name) == pytest.approx(
        {"nitrogen": 0.78084, "oxygen": 0.20948, "argon": 0.00934}, abs=4e-4
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("ammonia water 25 %", {"ammonia": 0.25, "water": 0.75}),
        ("25 % ammonia water", {"ammonia": 0.25, "water": 0.75}),
        ("Salmiakgeist 10%", {"ammonia": 0.10, "water": 0.90}),
        ("1336-21-6 12,5 %", {"ammonia": 0.125, "water": 0.875}),
        ("hydrochloric acid 37 % by mass", {"hydrogen chloride": 0.37, "water": 0.63}),
        ("hydrochloric acid (10 %)", {"hydrogen chloride": 0.10, "water": 0.90}),
        ("Natronlauge 10 %", {"sodium hydroxide": 0.10, "water": 0.90}),
        ("sodium hydroxide 10 %", {"sodium hydroxide": 0.10, "water": 0.90}),
        ("hydrogen peroxide 3 %", {"hydrogen peroxide": 0.03, "water": 0.97}),
        ("concentrated sulfuric acid", {"sulfuric acid": 0.98, "water": 0.02}),
        ("formalin 37 %", {"formaldehyde": 0.37, "methanol": 0.10, "water": 0.53}),
        ("Formiergas 5 %", {"hydrogen": 0.05, "nitrogen": 0.95}),
    ],
)
def test_a_strength_beside_the_name_says_the_composition(text, expected):
    assert parts(text) == pytest.approx(expected)


# Mass fractions of bench solutions at 20 degC: CRC Handbook, Concentrative Properties of Aqueous
# Solutions (mol/L against per cent), from memory. 1 mol/L of acetic acid is 60.05 g in 1.006 kg.
@pytest.mark.parametrize(
    ("text", "solute", "fraction"),
    [
        ("hydrochloric acid 1 mol/L", "hydrogen chloride", 0.0359),
        ("Salzsäure 6 mol/l", "hydrogen chloride", 0.199),
        ("2 M NaOH", "sodium hydroxide", 0.0741),
        ("sulfuric acid 1 mol/L", "sulfuric acid", 0.0924),
        ("nitric acid 2 mol/L", "nitric acid", 0.118),
        ("ammonia water 2 mol/L", "ammonia", 0.0346),
        ("acetic acid 1 mol/L", "acetic acid", 0.0597),
        ("sodium chloride 0,1 mol/L", "sodium chloride", 0.00584),
    ],
)
def test_a_strength_in_mol_per_litre(text, solute, fraction):
    assert parts(text)[solute] == pytest.approx(fraction, rel=0.01)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("air 2 mol/L", "leave the strength out"),
        ("hydrochloric acid 20 mol/L", "not known: write it in per cent"),
        ("bleach 1 mol/L", "not known: write it in per cent"),
        ("ammonia water", "needs its strength in per cent by mass"),
        ("forming gas", "needs its strength in per cent by mole"),
        ("ammonia water 60 %", "between 0.001 and 35 %, not 60 %"),
        ("air 80 %", "leave the strength out"),
    ],
)
def test_a_strength_too_few_or_too_many_is_refused(text, wrong):
    with pytest.raises(ValueError, match=wrong):
        parts(text)


@pytest.mark.parametrize("text", ["toluene 10 %", "sodium hydroxide", "concentrated water", "ai r"])
def test_what_is_no_mixture_is_not_taken_for_one(text):
    with pytest.raises(UnknownName):
        REFERENCE.mixture(text)


@pytest.mark.parametrize(
    ("text", "old", "new", "message"),
    [
        (AIR, "oxygen: 20.95 %", "oxygen: 0.2095", "no per cent"),
        (AIR, "oxygen: 20.95 %", "oxygen: 30 %", "add to 108"),
        (AIR, "argon: rest", "argon: 0.1 %", "add to 99"),
        (AIR, "oxygen: 20.95 %", "oxygen: strength", "go together"),
        (AIR, "state: gas", "state: plasma", "none of gas, liquid, solid"),
        (AIR, "basis: mole\n", "", "basis is missing"),
        (AIR, "basis: mole\n", "basis: mole\ncolour: none\n", "unknown key"),
        (AMMONIA_WATER, "density: {0 %: 998.2 kg/m3", "density: {0 %: 0.998 kg/m3", "no density"),
        (AMMONIA_WATER, "density: {0 %: 998.2 kg/m3, 5 %", "density: {5 %", "from 0 %"),
        (AMMONIA_WATER, "[0.001 %, 35 %]", "35 %", "[weakest, strongest]"),
    ],
)
def test_a_wrong_file_is_refused_with_file_and_line(tmp_path, text, old, new, message):
    assert old in text
    path = tmp_path / "mixture.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match=r"mixture\.yaml:\d+: ") as caught:
        read_mixture(path)
    assert message in str(caught.value)


def test_a_site_adds_a_mixture_by_a_file(tmp_path):
    folder = tmp_path / "mixtures"
    folder.mkdir()
    text = AIR.replace("name: air\n", "name: cave air\n").replace("synonyms: [", "synonyms: []\n#")
    (folder / "cave_air.yaml").write_text(text, encoding="utf-8")
    site = Reference([built_in_folder(), tmp_path])
    assert site.mixture("cave air")[0].name == "cave air"
    assert site.mixture("air")[0].name == "air"


def test_a_sites_mixture_of_another_composition_needs_a_reason(tmp_path):
    folder = tmp_path / "mixtures"
    folder.mkdir()
    text = AIR.replace("oxygen: 20.95 %", "oxygen: 10 %")
    (folder / "air.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="mixtures/air and needs a reason: another composition"):
        list(milder_files(tmp_path, built_in_folder()))
    (folder / "air.yaml").write_text(text + "reason: cave\n", encoding="utf-8")
    assert list(milder_files(tmp_path, built_in_folder())) == [
        ("mixtures/air", "another composition", "cave")
    ]


def test_a_mixture_never_hides_a_substance(tmp_path):
    folder = tmp_path / "mixtures"
    folder.mkdir()
    text = AIR.replace("name: air\n", "name: hydrogen\n").replace("synonyms: [", "synonyms: []\n#")
    (folder / "hydrogen.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="'hydrogen' is a name of a substance"):
        Reference([built_in_folder(), tmp_path]).mixture("hydrogen")


# Each pair says the same thing in two ways.
PAIRS = [
    (
        ("air: 80 %, hydrogen: 20 %", "", "water"),
        ("nitrogen: 62.464 %, oxygen: 16.76 %, argon: 0.776 %, hydrogen: 20 %", "", "water"),
    ),
    (
        ("nitrogen: 100 %", "", "hydrochloric acid 37 %"),
        (
            "nitrogen: 100 %",
            "  acid: {state: liquid, composition: {hydrogen chloride: 37 %, water: 63 %}}",
            "acid",
        ),
    ),
    (
        ("nitrogen: 100 %", "", "hydrochloric acid 3.58967294235 %"),
        ("nitrogen: 100 %", "", "HCl 1 M"),
    ),
    (
        ("air: 100 %", "  lye: {state: liquid, composition: {Natronlauge 20 %: 50 %, water: 50 %}}",
         "lye"),
        ("air: 100 %", "", "sodium hydroxide 10 %"),
    ),
    (
        ("room air: 50 %, argon: 50 %", "", "water"),
        ("nitrogen: 39.04 %, oxygen: 10.475 %, argon: rest", "", "water"),
    ),
]  # fmt: skip


@pytest.mark.parametrize("pair", PAIRS)
def test_two_ways_of_saying_the_same_mixture_are_one(pair):
    engine = shared_engine()
    one, other = (engine.review(loads(SCENARIO % said), upsets=False) for said in pair)
    assert one.verdict == other.verdict
    key_of = lambda m: (m.kind, m.at, m.of)  # noqa: E731
    values = [{key_of(m): m.value for m in review.measures} for review in (one, other)]
    assert values[0].keys() == values[1].keys()
    for place, value in values[0].items():
        assert value == pytest.approx(values[1][place], rel=1e-9, nan_ok=True), place


def test_a_basis_of_another_kind_is_turned_by_molar_masses():
    from review.walk.written_out import written_out

    mix = "air: 50 %, argon: 50 %}, basis: mass, held: {as: cylinder"
    scenario = loads(SCENARIO % (mix, "", "water"))
    problems = []
    got = written_out(scenario, REFERENCE, problems).reagents["mix"].composition
    # 28.96 g of air hold 0.2095 x 31.999 g of oxygen: 23.1 % by mass.
    assert not problems
    assert got["oxygen"] == pytest.approx(0.5 * 0.2314, rel=2e-3)
    assert sum(got.values()) == pytest.approx(1.0)


def test_a_demo_said_by_trade_word_and_number_gets_the_same_findings():
    engine = shared_engine()
    path = built_in_folder().parent / "scenarios" / "copper_oxide_forming_gas.yaml"
    text = path.read_text(encoding="utf-8")
    other = text.replace("{hydrogen: 5 %, argon: 95 %}", "{argon-hydrogen mixture 5 %: 100 %}")
    other = other.replace("{argon: 100 %}", "{7440-37-1: 100 %}")
    assert other.count("7440-37-1") == other.count("mixture 5 %") == 1
    found = [engine.review(engine.loads(said)) for said in (text, other)]
    told = [[(f.criterion, f.at, f.of, f.grade, f.case, f.step) for f in r.findings] for r in found]
    assert found[0].verdict == found[1].verdict
    assert told[0] == told[1]


@pytest.mark.parametrize(
    ("said", "share"),
    [
        ("calcium hydroxide 0.1 %", 0.001),
        ("ZnSO4 10 %", 0.1),
        ("zinc sulfate solution 10 %", 0.1),
        # 120.4 g/L; at 1.11 kg/L (CRC Handbook, from memory) 10.8 %: as light as water it counts as
        # stronger.
        ("1 M magnesium sulfate", 0.1206),
    ],
)
def test_a_salt_with_a_strength_is_dissolved_in_water(said, share):
    mixture, strength = REFERENCE.mixture(said)
    parts = mixture.parts(strength)
    assert parts[mixture.solute] == pytest.approx(share, rel=1e-3)
    assert parts["water"] == pytest.approx(1 - share, rel=1e-3)


@pytest.mark.parametrize("said", ["iodine 1 %", "zinc 5 %", "naphthalene 5 %", "sulfur 2 %",
                                  "calcium carbide 5 %", "salicylic acid 5 %"])  # fmt: skip
def test_nothing_else_is(said):
    with pytest.raises(UnknownName):
        REFERENCE.mixture(said)


def test_a_solution_without_its_strength_is_asked_for_it():
    mixture, strength = REFERENCE.mixture("zinc sulfate solution")
    with pytest.raises(ValueError, match="needs its strength"):
        mixture.parts(strength)
