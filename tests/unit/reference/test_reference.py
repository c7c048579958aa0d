"""Finding, overriding and refusing reference data."""

import sys

import pytest

from review.reference.files import read_material, read_substance
from review.reference.finding import (
    DataError,
    Reference,
    UnknownName,
    built_in_folder,
    parse_formula,
)

REFERENCE = Reference()
HYDROGEN = (built_in_folder() / "substances" / "hydrogen.yaml").read_text(encoding="utf-8")
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
    ],
)
def test_a_substance_is_found(text, name):
    assert REFERENCE.substance(text).name == name


def test_a_formula_is_read_letter_by_letter():
    with pytest.raises(UnknownName):  # cobalt, which must not be taken for carbon monoxide
        REFERENCE.substance("Co")


def test_materials_and_joints_are_found():
    assert REFERENCE.material("Viton").name == "FKM"
    assert REFERENCE.material("borosilicate_glass 3.3").kind == "glass"
    assert REFERENCE.joint("Rubber-Stopper").name == "rubber stopper"


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
    found = REFERENCE.lookup("ethyl acetate")
    lower = found.datum("lower_limit_air")
    assert found.cas == "141-78-6"
    # IEC 60079-20-1:2010 lists 2.0 %, the lowest of the library's data sets.
    assert lower.value == pytest.approx(0.02)
    assert lower.how == "library" and "IEC 60079-20-1" in lower.source
    assert found.combustible is True
    assert found.oxidiser is None
    assert found.datum("limiting_oxygen_nitrogen").state == "unknown"
    with pytest.raises(UnknownName):
        REFERENCE.lookup("unobtainium")


def test_the_library_is_imported_only_for_a_lookup():
    import subprocess

    code = (
        "import sys; from review.reference.finding import Reference; Reference().substance('H2'); "
        "sys.exit('chemicals' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
