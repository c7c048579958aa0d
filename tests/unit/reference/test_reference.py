"""Finding, overriding and refusing reference data."""

import re
import sys
from dataclasses import replace

import numpy as np
import pytest

from review.interface.measure import ESTIMATED, MISSING, Quantity
from review.reference.data import Datum, at_temperature, for_exposure
from review.reference.files import read_material, read_substance
from review.reference.finding import (
    DataError,
    Reference,
    UnknownName,
    built_in_folder,
    parse_formula,
)
from review.reference.library import look_up
from review.reference.properties import MATERIAL_PROPERTIES, SUBSTANCE_PROPERTIES, UNITS

REFERENCE = Reference()
HYDROGEN = (built_in_folder() / "substances" / "hydrogen.yaml").read_text(encoding="utf-8")
HYDROGEN = re.sub(r"(?m)^aegl_2: .*\n(  .*\n)*", "aegl_2: unknown\n", HYDROGEN)
HYDROGEN = re.sub(r"(?m)^((classes|hazard_statements)(_source)?): .*$", r"\1: unknown", HYDROGEN)
CORK = (built_in_folder() / "materials" / "cork.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("hydrogen", "hydrogen"),
        ("  Hydrogen ", "hydrogen"),
        ("1333-74-0", "hydrogen"),
        ("H2", "hydrogen"),
        ("N_HEXANE", "n-hexane"),
        ("methylene chloride", "dichloromethane"),
        ("NO", "nitric oxide"),
        ("CO", "carbon monoxide"),
        ("carbon monoxide", "carbon monoxide"),
        ("HCl", "hydrogen chloride"),
        ("Essigester", "ethyl acetate"),
        ("141-78-6", "ethyl acetate"),
        ("THF", "tetrahydrofuran"),
        ("Butan", "butane"),
        ("baking soda", "sodium hydrogencarbonate"),
        ("NaHCO3", "sodium hydrogencarbonate"),
        ("Marmor", "calcium carbonate"),
        ("Aktivkohle", "activated carbon"),
        ("Pd/C", "palladium on carbon"),
        ("Quecksilber", "mercury"),
        ("7722-64-7", "potassium permanganate"),
        ("paraffin oil", "paraffin oil"),
        ("P4", "white phosphorus"),
    ],
)
def test_a_substance_is_found(text, name):
    assert REFERENCE.substance(text).name == name


def test_a_formula_is_read_letter_by_letter():
    assert REFERENCE.substance("Co").name == "cobalt"
    assert REFERENCE.substance("CO").name == "carbon monoxide"
    with pytest.raises(UnknownName):
        REFERENCE.substance("cO")


def test_materials_and_joints_are_found():
    assert REFERENCE.material("Viton").name == "FKM"
    assert REFERENCE.material("borosilicate_glass 3.3").kind == "glass"
    assert REFERENCE.material("Porzellan").name == "porcelain"
    assert REFERENCE.material("1.4307").name == "stainless steel 304L"
    assert REFERENCE.joint("Rubber-Stopper").name == "rubber stopper"


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("NS 29/32 with clip", "clipped taper joint"),
        ("clipped NS 14/23", "clipped taper joint"),
        ("two-hole rubber stopper", "rubber stopper"),
        ("GL 45 screw cap", "screw-thread connector"),
        ("hose 8x12 with clip", "clipped hose"),
    ],
)
def test_a_joint_is_known_with_its_size_wherever_it_stands(said, name):
    assert REFERENCE.joint(said).name == name


@pytest.mark.parametrize(
    "said",
    ["NS 29/32 without clip", "unclipped NS 29/32", "plastic stopper", "29/32", "with", "",
     "joint", "two piece", "three joints"],
)
def test_a_word_too_many_is_no_joint(said):
    with pytest.raises(UnknownName):
        REFERENCE.joint(said)


@pytest.mark.parametrize(
    ("find", "text", "nearest"),
    [
        (REFERENCE.substance, "hydrogn", "hydrogen"),
        (REFERENCE.material, "silicon rubber", "silicone rubber"),
        (REFERENCE.joint, "ruber stopper", "rubber stopper"),
    ],
)
def test_an_unknown_name_shows_the_nearest(find, text, nearest):
    with pytest.raises(UnknownName, match=nearest) as caught:
        find(text)
    assert caught.value.nearest[0] == nearest


def test_an_undeclared_property_is_an_error():
    with pytest.raises(KeyError):
        REFERENCE.substance("hydrogen").datum("charm")


def test_what_does_not_apply_is_told_from_what_nobody_knows():
    argon = REFERENCE.substance("argon").datum("lower_limit_air")
    assert (argon.value, argon.state) == (None, "none")
    acetone = REFERENCE.substance("acetone").datum("upper_limit_oxygen")
    assert (acetone.value, acetone.state) == (None, "unknown")


def test_a_sites_file_of_the_same_name_overrides(tmp_path):
    folder = tmp_path / "substances"
    folder.mkdir()
    changed = HYDROGEN.replace("lower_limit_air: {value: 4,", "lower_limit_air: {value: 3,")
    (folder / "hydrogen.yaml").write_text(changed, encoding="utf-8")
    site = Reference([built_in_folder(), tmp_path])
    assert site.substance("H2").datum("lower_limit_air").value == pytest.approx(0.03)
    assert site.substance("argon").name == "argon"
    assert REFERENCE.substance("H2").datum("lower_limit_air").value == pytest.approx(0.04)


def test_a_sites_joint_overrides_one_and_keeps_the_others(tmp_path):
    text = "rubber stopper: {value: 0.02, unit: bar gauge, source: tried, how: read}\n"
    (tmp_path / "joints.yaml").write_text(text, encoding="utf-8")
    site = Reference([built_in_folder(), tmp_path])
    assert site.joint("rubber stopper").rating.value == pytest.approx(2000)
    assert site.joint("clipped hose").rating.value > 0


def test_one_name_for_two_substances_names_both_files(tmp_path):
    folder = tmp_path / "substances"
    folder.mkdir()
    text = HYDROGEN.replace("name: hydrogen\n", "name: protium\n")
    (folder / "protium.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match=r"protium\.yaml.*hydrogen\.yaml"):
        Reference([built_in_folder(), tmp_path]).substance("hydrogen")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("flash_point:", "flash_pint:", "flash_pint: unknown key"),
        ("pyrophoric: no\n", "", "pyrophoric is missing"),
        ("pyrophoric: no\n", "pyrophoric: no\npyrophoric: no\n", "listed twice"),
        ("value: 2.01588", "value: two", "'two' is not a number"),
        ("value: 2.01588", "value: nan", "not a finite number"),
        ("unit: g/mol", "unit: degC", "unit 'degC'; expected one of g/mol"),
        ("pyrophoric: no", "pyrophoric: perhaps", "none of yes, no, unknown"),
        ("formula: H2", "formula: H(2", "cannot be read"),
        ("spread: [400, 585]", "spread: [500, 585]", "outside its spread"),
        ("how: library,\n  source: chemicals data set of compounds", "how: library", "no source"),
        ("how: library,\n  source: chem", "how: hearsay,\n  source: chem", "how must be one of"),
        ("range: [250, 1500]", "range: [1500, 250]", "range must rise"),
        ("apparatus: tube", "apparatus: bucket", "neither tube nor vessel"),
        ("lower_limit_air: {value: 4,", "lower_limit_air: {value: -4,", "outside 0.1 to 80 %"),
        ("lower_limit_air: {value: 4,", "lower_limit_air: {value: 1e9,", "outside 0.1 to 80 %"),
        ("lower_limit_air: {value: 4,", "lower_limit_air: {value: 78,", "above upper_limit_air"),
        ("aegl_2: unknown", "aegl_2: none", "`none` needs a source"),
        ("aegl_2: unknown", "aegl_2: {value: 3, unit: ppm, how: read, source: x}", "`minutes`"),
        (
            "aegl_2: unknown",
            "aegl_2: {minutes: [10, 30], values: [3, 4], unit: ppm, how: read, source: x}",
            "must not rise",
        ),
        (
            "aegl_2: unknown",
            "aegl_2: {minutes: [30, 10], values: [4, 3], unit: ppm, how: read, source: x}",
            "must rise",
        ),
        (
            "aegl_2: unknown",
            "aegl_2: {minutes: [10], values: [4, 3], unit: ppm, how: read, source: x}",
            "as many `values`",
        ),
        (
            "classes: unknown\nclasses_source: unknown",
            "classes: [hydrogn]\nclasses_source: x",
            "nearest: hydrogen",
        ),
        (
            "classes: unknown\nclasses_source: unknown",
            "classes: [hydrogen]\nclasses_source: none",
            "has no source",
        ),
        (
            "hazard_statements: unknown\nhazard_statements_source: unknown",
            "hazard_statements: [flammable]\nhazard_statements_source: x",
            "no hazard statement",
        ),
    ],
)
def test_a_wrong_file_is_refused_with_file_and_line(tmp_path, old, new, message):
    assert old in HYDROGEN
    path = tmp_path / "hydrogen.yaml"
    path.write_text(HYDROGEN.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match=r"hydrogen\.yaml:\d+: ") as caught:
        read_substance(path)
    assert message in str(caught.value)


def test_trade_knowledge_never_gives_resistant(tmp_path):
    line = next(x for x in CORK.splitlines() if x.startswith("  ammonia:"))
    path = tmp_path / "cork.yaml"
    path.write_text(CORK.replace(line, line.replace("limited", "resistant")), encoding="utf-8")
    with pytest.raises(DataError, match="`resistant` needs a source"):
        read_material(path)


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("C2H5OH", {"C": 2, "H": 6, "O": 1}),
        ("CuO(s)", {"Cu": 1, "O": 1}),
        ("(NH4)2Cr2O7", {"N": 2, "H": 8, "Cr": 2, "O": 7}),
        ("Fe4[Fe(CN)6]3", {"Fe": 7, "C": 18, "N": 18}),
        ("HNO3(aq)", {"H": 1, "N": 1, "O": 3}),
        ("Fe0.95O", {"Fe": 0.95, "O": 1}),
    ],
)
def test_formulas(text, counts):
    assert parse_formula(text) == counts


@pytest.mark.parametrize("text", ["", "h2", "H2)", "(H2", "H2O!", "()"])
def test_what_is_no_formula_is_refused(text):
    with pytest.raises(ValueError, match="formula"):
        parse_formula(text)


def test_lookup_marks_the_data_set_and_does_not_guess():
    found = look_up("ethyl acetate")
    lower = found.datum("lower_limit_air")
    assert found.cas == "141-78-6"
    # IEC 60079-20-1:2010 lists 2.0 %, the lowest of the library's data sets.
    assert lower.value == pytest.approx(0.02)
    assert lower.how == "library" and "IEC 60079-20-1" in lower.source
    assert found.combustible is True
    assert found.oxidiser is None
    assert found.datum("limiting_oxygen_nitrogen").state == "unknown"
    with pytest.raises(UnknownName):
        look_up("unobtainium")


def test_the_library_is_imported_only_for_a_lookup():
    import subprocess

    code = (
        "import sys; from review.reference.finding import Reference; Reference().substance('H2'); "
        "sys.exit('chemicals' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_site_adds_a_class_of_its_own(tmp_path):
    (tmp_path / "substances").mkdir()
    classes = "pixie dust: {meaning: glitters, source: the site}\n"
    (tmp_path / "classes.yaml").write_text(classes, encoding="utf-8")
    text = HYDROGEN.replace(
        "classes: unknown\nclasses_source: unknown", "classes: [pixie dust]\nclasses_source: ours"
    )
    (tmp_path / "substances" / "hydrogen.yaml").write_text(text, encoding="utf-8")
    assert Reference([built_in_folder(), tmp_path]).substance("H2").classes == ("pixie dust",)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{by_temperature: {20: 100, 200: 60, 100: 80}, unit: MPa, how: read, source: x}", "rise"),
        ("{by_temperature: 100, unit: MPa, how: read, source: x}", "mapping from degC"),
        ("{by_temperature: {20: 100}, value: 3, unit: MPa, how: read, source: x}", "exclude"),
        ("{by_temperature: {20: -1}, unit: MPa, how: read, source: x}", "outside"),
    ],
)
def test_a_wrong_stress_by_temperature_is_refused(tmp_path, text, message):
    path = tmp_path / "cork.yaml"
    stress = re.compile(r"(?m)^allowable_stress: .*(\n  .*)*")
    path.write_text(stress.sub(f"allowable_stress: {text}", CORK), encoding="utf-8")
    with pytest.raises(DataError, match=message):
        read_material(path)


def test_a_stress_by_temperature_is_interpolated_and_never_stretched(tmp_path):
    told = "{by_temperature: {20: 100, 200: 60}, unit: MPa, how: read, source: x}"
    path = tmp_path / "cork.yaml"
    stress = re.compile(r"(?m)^allowable_stress: .*(\n  .*)*")
    path.write_text(stress.sub(f"allowable_stress: {told}", CORK), encoding="utf-8")
    datum = read_material(path).datum("allowable_stress")
    assert datum.value == pytest.approx(60e6)
    at = at_temperature(datum, np.array([250.0, 293.15, 383.15, 473.15, 473.2, np.nan]))
    assert at[:4] == pytest.approx([100e6, 100e6, 80e6, 60e6])
    assert np.isnan(at[4:]).all()


def test_an_exposure_between_two_times_takes_the_longer_one(tmp_path):
    told = "{minutes: [10, 30, 60], values: [9, 6, 3], unit: ppm, how: read, source: x}"
    path = tmp_path / "hydrogen.yaml"
    path.write_text(HYDROGEN.replace("aegl_2: unknown", f"aegl_2: {told}"), encoding="utf-8")
    datum = read_substance(path).datum("aegl_2")
    at = for_exposure(datum, 60.0 * np.array([0.0, 5, 10, 11, 30, 45, 60, 61, np.nan]))
    assert at[:7] * 1e6 == pytest.approx([9, 9, 9, 6, 6, 3, 3])
    assert np.isnan(at[7:]).all()
    assert datum.value == pytest.approx(3e-6)


def test_an_estimated_figure_stays_estimated():
    joint = REFERENCE.joint("rubber stopper").rating
    assert joint.how == "estimated"
    assert Quantity.of_datum(joint, "stopper").status[0] == ESTIMATED
    assert Quantity.of_datum(Datum(None, "K", state="unknown"), "x").status[0] == MISSING


def _rated(tmp_path, text, classes=""):
    path = tmp_path / "cork.yaml"
    start = CORK.index("class_ratings:")
    ratings = f"{classes}ratings:\n  acetone: {text}\n"
    path.write_text(CORK[:start] + ratings, encoding="utf-8")
    return read_material(path)


def test_a_rating_gets_worse_with_heat_and_is_unknown_beyond_its_last_step(tmp_path):
    steps = "temperature_limit: 100, hotter: {500: limited}"
    told = f"{{rating: resistant, {steps}, how: read, source: x}}"
    rating = _rated(tmp_path, told).ratings["acetone"]
    assert rating.last == pytest.approx(773.15)
    assert list(rating.at([300.0, 373.15, 374.0, 773.15, 900.0])) == [0, 0, 1, 1, 1]
    told = "{rating: limited, temperature_limit: 50, above: not suitable, how: read, source: x}"
    rating = _rated(tmp_path, told).ratings["acetone"]
    assert rating.last == np.inf
    assert list(rating.at([300.0, 330.0, 2000.0])) == [1, 2, 2]


def test_what_nobody_read_holds_to_50_degrees_and_not_suitable_holds_when_hot(tmp_path):
    guess = _rated(tmp_path, "{rating: limited, how: estimated, source: x}").ratings["acetone"]
    assert guess.last == pytest.approx(323.15)
    read = _rated(tmp_path, "{rating: limited, how: read, source: x}").ratings["acetone"]
    assert read.last == np.inf
    told = "{rating: not suitable, temperature_limit: 20, how: read, source: x}"
    assert _rated(tmp_path, told).ratings["acetone"].last == np.inf


@pytest.mark.parametrize(
    "text",
    [
        "{rating: limited, temperature_limit: 50, above: resistant, how: read, source: x}",
        "{rating: limited, temperature_limit: 50, hotter: {40: limited}, how: read, source: x}",
        "{rating: limited, hotter: {40: limited}, how: read, source: x}",
        "{rating: resistant, how: memory, source: x}",
        "{rating: limited, temperature_limit: 50, above: fine, how: read, source: x}",
    ],
)
def test_a_rating_that_gets_better_with_heat_or_lacks_its_ground_is_refused(tmp_path, text):
    with pytest.raises(DataError, match=r"cork\.yaml:\d+: acetone"):
        _rated(tmp_path, text)


def test_a_substance_without_a_rating_has_the_worst_of_its_classes(tmp_path):
    classes = (
        "class_ratings:\n  ether: {rating: limited, how: read, source: x}\n"
        "  alcohol: {rating: resistant, how: read, source: x}\n"
        "  halogen: {rating: not suitable, how: read, source: x}\n"
    )
    cork = _rated(tmp_path, "{rating: limited, how: read, source: x}", classes)
    ether, ethanol = REFERENCE.substance("diethyl ether"), REFERENCE.substance("ethanol")
    assert cork.rating(ether).word == "limited"
    assert cork.rating(ethanol).word == "resistant"
    assert cork.rating(REFERENCE.substance("acetaldehyde")) is None
    both = replace(ethanol, name="mixed", classes=("alcohol", "ether"))
    assert cork.rating(both).word == "limited"
    half_known = replace(ethanol, name="mixed", classes=("alcohol", "aldehyde"))
    assert cork.rating(half_known) is None
    bad = replace(ethanol, name="mixed", classes=("halogen", "aldehyde"))
    assert cork.rating(bad).word == "not suitable"
    assert cork.rating(replace(ethanol, name="mixed", classes=None)) is None


def test_dissolved_in_water_is_another_matter_than_the_gas():
    glass, ammonia = REFERENCE.material("borosilicate glass"), REFERENCE.substance("ammonia")
    assert glass.rating(ammonia).word == "resistant"
    assert glass.rating(ammonia, in_water=0.1).word == "limited"
    assert glass.rating(REFERENCE.substance("hydrogen fluoride")).word == "not suitable"


def test_the_rating_of_a_solution_holds_up_to_its_strength(tmp_path):
    ratings = (
        "{rating: not suitable, how: read, source: x}\n"
        "  acetone in water: {rating: resistant, concentration_limit: 10, temperature_limit: 40,"
        " stronger: {30: limited}, how: read, source: x}"
    )
    cork = _rated(tmp_path, ratings)
    acetone = REFERENCE.substance("acetone")
    words = [cork.rating(acetone, in_water=w).word for w in (0.1, 0.3, 0.31)]
    assert words == ["resistant", "limited", "not suitable"]
    assert cork.rating(acetone, in_water=0.3).last == pytest.approx(313.15)
    assert cork.rating(acetone).word == "not suitable"


@pytest.mark.parametrize(
    "solution",
    [
        "acetone vapour: {rating: limited, concentration_limit: 10, how: read, source: x}",
        "acetone in water: {rating: limited, stronger: {30: limited}, how: read, source: x}",
        "acetone in water: {rating: limited, concentration_limit: 30, stronger: {10: limited},"
        " how: read, source: x}",
        "acetone in water: {rating: limited, concentration_limit: 0, how: read, source: x}",
        "acetone in water: {rating: limited, concentration_limit: 10, stronger: {20: resistant},"
        " how: memory, source: x}",
    ],
)
def test_strengths_that_make_no_sense_are_refused(tmp_path, solution):
    with pytest.raises(DataError, match=r"cork\.yaml:\d+: acetone"):
        _rated(tmp_path, f"{{rating: limited, how: read, source: x}}\n  {solution}")


@pytest.mark.parametrize(
    ("formula", "names"),
    [("C4H8", "1-butene and isobutene"), ("C2H4O", "acetaldehyde and ethylene oxide")],
)
def test_a_formula_that_fits_two_substances_is_refused_and_both_are_named(formula, names):
    with pytest.raises(UnknownName, match=names):
        REFERENCE.substance(formula)


def test_a_formula_that_shows_the_structure_fits_one():
    assert REFERENCE.substance("C2H5OH").name == "ethanol"
    assert REFERENCE.substance("NO").name == "nitric oxide"


def test_what_no_file_has_is_looked_up_by_name_or_number_and_never_by_formula():
    reference = Reference()
    with pytest.raises(UnknownName):
        reference.substance("cyclobutane")
    found = reference.look_up("Cyclobutane")
    assert (found.name, found.cas, found.looked_up) == ("cyclobutane", "287-23-0", True)
    assert reference.substance("cyclobutane") is found
    assert reference.look_up("287-23-0").name == "cyclobutane"
    assert {found.datum(n).state for n in ("idlh", "limit_8_hour", "aegl_2")} == {"unknown"}
    assert (found.classes, found.oxidiser, found.inert) == (None, None, None)
    for text in ("cyclobutann", "Hg(CN)2", "C6H12O6", "Hf", "hf", "Co"):
        with pytest.raises(UnknownName):
            reference.look_up(text)


def test_a_looked_up_name_of_a_substance_with_a_file_gives_the_file():
    found = Reference().look_up("67-56-1")
    assert found.name == "methanol" and not found.looked_up


def test_a_hint_shows_formula_and_number():
    assert REFERENCE.described("hydrogen") == "hydrogen (H2, CAS 1333-74-0)"


#: The largest unit without an offset for each SI unit, so that -1 is negative and 1e9 is much.
PLAIN = {si: unit for unit, (si, factor, offset) in sorted(UNITS.items(), key=lambda u: u[1][1])
         if not offset}  # fmt: skip


@pytest.mark.parametrize("figure", ["-1", "1e9", "0"])
@pytest.mark.parametrize("name", [*SUBSTANCE_PROPERTIES, *MATERIAL_PROPERTIES])
def test_no_absurd_figure_is_taken(tmp_path, name, figure):
    if name == "poisson" and figure == "0":
        return  # cork
    material = name in MATERIAL_PROPERTIES
    unit = PLAIN[(MATERIAL_PROPERTIES if material else SUBSTANCE_PROPERTIES)[name].unit]
    told = f'{{value: {figure}, unit: "{unit}", how: read, source: x}}'
    if name.startswith("aegl"):
        told = f"{{minutes: [10], values: [{figure}], unit: ppm, how: read, source: x}}"
    for wrong in (told, "none"):
        text = re.sub(rf"(?m)^{name}: .*\n(  .*\n)*", f"{name}: {wrong}\n",
                      CORK if material else HYDROGEN)  # fmt: skip
        path = tmp_path / "changed.yaml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(DataError, match=name):
            (read_material if material else read_substance)(path)
