"""Every shipped reference file is complete, consistent and on the hazardous side."""

import json
import os
import re

import chemicals
import pytest

from review.reference.finding import (
    MATERIAL_PROPERTIES,
    SUBSTANCE_CURVES,
    SUBSTANCE_PROPERTIES,
    Reference,
    built_in_folder,
    index_of,
    key,
    parse_formula,
)
from review.reference.properties import RATINGS
from review.reference.tables import read_table

FOLDER = built_in_folder()
INDEX = index_of(FOLDER)
REFERENCE = Reference()
SUBSTANCES = REFERENCE.names("substances")
#: Without a formula: solutions, oils, supported catalysts and the like.
SINGLE = [n for n in SUBSTANCES if REFERENCE.substance(n).formula != "none"]
MATERIALS = REFERENCE.names("materials")
#: Where the library's table of compounds has another formula under the number: a glycol ester for
#: calcium carbide, a hydrate for magnetite, the acid of methyl orange, one atom for the four of
#: white phosphorus.
FORMULA_WRONG = {"calcium_carbide", "magnetite", "manganese_sulfate", "methyl_orange",
                 "silver_sulfide", "white_phosphorus"}  # fmt: skip
#: What the library's table of compounds does not have.
NOT_LISTED = {"aluminium_carbide", "aluminium_nitrate", "potassium_ferrocyanide", "turpentine",
              "zinc_phosphide"}  # fmt: skip


def test_there_are_enough_files():
    assert len(SUBSTANCES) >= 240
    assert len(MATERIALS) >= 45


def _write_index() -> None:
    def quoted(text: str) -> str:
        plain = re.fullmatch(r"[\w(][\w .()+/%'-]*", text)
        return text if plain else json.dumps(text, ensure_ascii=False)

    lines = (FOLDER / "index.yaml").read_text(encoding="utf-8").splitlines()
    lines = [line for line in lines if line.startswith("#")]
    for kind, entries in index_of(FOLDER).items():
        lines.append(f"{kind}:")
        for stem, entry in entries.items():
            names = ", ".join(map(quoted, entry["names"]))
            formula = quoted(entry["formula"])
            lines.append(f"  {stem}: {{names: [{names}], formula: {formula}}}")
    (FOLDER / "index.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_the_index_is_what_the_files_say():
    if os.environ.get("REGENERATE"):
        _write_index()
    assert read_table(FOLDER / "index.yaml") == INDEX


@pytest.mark.parametrize("kind", ["substances", "materials"])
def test_no_name_is_used_twice(kind):
    names = [key(n) for entry in INDEX[kind].values() for n in entry["names"]]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("kind", ["substances", "materials"])
def test_files_are_called_after_what_they_describe(kind):
    for stem, entry in INDEX[kind].items():
        assert stem == key(entry["names"][0]).replace(" ", "_")


@pytest.mark.parametrize("name", SUBSTANCES)
def test_a_substance_lists_every_property(name):
    substance = REFERENCE.substance(name)
    assert set(substance.properties) == set(SUBSTANCE_PROPERTIES)
    assert set(substance.curves) == set(SUBSTANCE_CURVES)
    for datum in substance.properties.values():
        assert (datum.state == "known") == (datum.value is not None)


def test_known_figures_name_their_source():
    for name in SUBSTANCES:
        substance = REFERENCE.substance(name)
        for datum in (*substance.properties.values(), *substance.curves.values()):
            assert datum.state != "known" or (datum.source and datum.how)


@pytest.mark.parametrize("name", MATERIALS)
def test_a_material_lists_every_property(name):
    material = REFERENCE.material(name)
    assert set(material.properties) == set(MATERIAL_PROPERTIES)
    for substance, rating in material.ratings.items():
        bare = substance.removesuffix(" in water")
        assert REFERENCE.substance(bare).name == bare
        if rating.word == "resistant":
            assert rating.how in ("read", "library", "defined")


@pytest.mark.parametrize("name", MATERIALS)
def test_home_made_is_never_stronger_and_hot_is_above_cold(name):
    material = REFERENCE.material(name)
    bought = material.datum("allowable_stress").value
    home = material.datum("allowable_stress_home_made").value
    assert (bought is None) == (home is None)
    assert bought is None or 0 < home < bought
    assert material.datum("minimum_temperature").value < material.datum("maximum_temperature").value


@pytest.mark.parametrize("name", SINGLE)
def test_molar_mass_agrees_with_the_formula(name):
    # Atomic masses: IUPAC, as carried by chemicals.elements.
    substance = REFERENCE.substance(name)
    mass = chemicals.molecular_weight(parse_formula(substance.formula)) / 1e3
    assert substance.molar_mass == pytest.approx(mass, rel=1e-4)


@pytest.mark.parametrize("name", SINGLE)
def test_the_cas_number_is_valid_and_names_that_formula(name):
    # Check digit: CAS Registry rule. Composition: chemicals' table of compounds.
    substance = REFERENCE.substance(name)
    digits = substance.cas.replace("-", "")
    total = sum(i * int(d) for i, d in enumerate(reversed(digits[:-1]), start=1))
    assert total % 10 == int(digits[-1])
    if name in NOT_LISTED:
        with pytest.raises(ValueError, match="not in the database"):
            chemicals.search_chemical(substance.cas)  # else take it off the list
        return
    known = chemicals.search_chemical(substance.cas).formula
    if name in FORMULA_WRONG:
        assert parse_formula(known) != parse_formula(substance.formula)  # else take it off the list
        return
    assert parse_formula(known) == parse_formula(substance.formula)


@pytest.mark.parametrize("name", SUBSTANCES)
def test_limits_are_ordered(name):
    substance = REFERENCE.substance(name)
    for low, high in (
        ("lower_limit_air", "upper_limit_air"),
        ("lower_limit_oxygen", "upper_limit_oxygen"),
        ("limit_8_hour", "idlh"),
        ("melting_point", "critical_temperature"),
        ("heat_of_combustion", "heat_of_combustion_gross"),
    ):
        below, above = substance.datum(low).value, substance.datum(high).value
        assert below is None or above is None or below <= above, (low, high)
    for name_ in ("lower_limit_air", "upper_limit_air", "limit_8_hour", "idlh"):
        value = substance.datum(name_).value
        assert value is None or 0 < value <= 1


# NIOSH IDLH pages (read): the 1994 values; the lower current ones are NIOSH 2017 (nitrogen
# dioxide) and NIOSH 2025 (hydrogen chloride), announced by AIHA.
def test_what_harms_when_breathed_is_never_said_to_have_no_limit():
    harms = {"H314", "H330", "H331", "H334", "H340", "H350"}
    limits = [n for n in SUBSTANCE_PROPERTIES if n.startswith(("limit_", "idlh", "aegl_"))]
    limits = [n for n in limits if not n.startswith("limiting")]
    for name in SUBSTANCES:
        substance = REFERENCE.substance(name)
        if substance.can_be_gas and harms & set(substance.hazard_statements or ()):
            states = {substance.datum(limit).state for limit in limits}
            assert "known" in states or substance.datum("limit_8_hour").state == "unknown", name


@pytest.mark.parametrize(
    ("name", "ppm"),
    [("nitrogen dioxide", 13), ("hydrogen chloride", 45), ("ammonia", 300), ("ozone", 5)],
)
def test_idlh_is_the_lower_of_the_editions(name, ppm):
    assert REFERENCE.substance(name).datum("idlh").value == pytest.approx(ppm * 1e-6)


# Bureau of Mines Bulletin 627 (400 degC) against NASA NSS 1740.16 (585 degC).
def test_hydrogen_autoignition_is_the_lowest_published_and_shows_the_spread():
    datum = REFERENCE.substance("hydrogen").datum("autoignition")
    assert datum.value == pytest.approx(673.15)
    assert datum.spread == pytest.approx((673.15, 858.15))


# ISO 10156 Table 1 (read in a public reproduction).
@pytest.mark.parametrize(
    ("name", "k"), [("nitrogen", 1.0), ("carbon dioxide", 1.5), ("helium", 0.9), ("argon", 0.55)]
)
def test_inerting_strength(name, k):
    assert REFERENCE.substance(name).datum("iso10156_k").value == k


# Net heats of combustion, kJ/mol: Perry's Chemical Engineers' Handbook Table 2-179, from memory.
@pytest.mark.parametrize(
    ("name", "heat"),
    [("methane", 802.6), ("propane", 2043), ("hydrogen", 241.8), ("methanol", 676)],
)
def test_net_heat_of_combustion(name, heat):
    assert REFERENCE.substance(name).datum("heat_of_combustion").value == pytest.approx(
        heat * 1e3, rel=0.005
    )


# Binary diffusion coefficients in air at 293 to 298 K, cm2/s: Cussler, Diffusion, Table 5.1-1
# (hydrogen 0.78, methane 0.21, water 0.26, ethanol 0.12), from memory; Fuller is good to 20 %.
@pytest.mark.parametrize(
    ("name", "cm2"), [("hydrogen", 0.76), ("methane", 0.21), ("water", 0.25), ("ethanol", 0.12)]
)
def test_diffusion_in_air_is_near_the_measured_value(name, cm2):
    assert REFERENCE.substance(name).datum("diffusion_in_air").value == pytest.approx(
        cm2 * 1e-4, rel=0.2
    )


def test_oxygen_demand_against_chemicals():
    from chemicals.combustion import combustion_stoichiometry

    for name in SUBSTANCES:
        substance = REFERENCE.substance(name)
        demand = substance.datum("oxygen_demand").value
        atoms = parse_formula(substance.formula) if substance.formula != "none" else {}
        if demand is not None and set(atoms) <= set("CHONS"):
            assert demand == pytest.approx(-combustion_stoichiometry(atoms)["O2"])


def test_joints_hold_little_and_say_why():
    for name in ("rubber stopper", "cork stopper", "pushed-on hose", "clipped hose",
                 "ground taper joint", "clipped taper joint", "screw-thread connector",
                 "flange with clamp", "ball joint", "vacuum flange with clamp",
                 "Luer lock", "septum"):  # fmt: skip
        rating = REFERENCE.joint(name).rating
        assert 0 < rating.value <= 1e5
        # One that is only pushed together may hold more or less; the others state the low end.
        low = "low end" in rating.source
        assert rating.how == ("memory" if low else "estimated")
        assert "common practice, no source" in rating.source
    assert REFERENCE.joint("fused").rating.state == "none"


def test_glass_that_nobody_names_is_the_worst_of_the_glasses():
    glass = REFERENCE.material("glass")
    names = ("soda-lime glass", "borosilicate glass", "fused quartz")
    known = [REFERENCE.material(name) for name in names]
    for name in ("allowable_stress", "allowable_stress_home_made", "maximum_temperature"):
        assert glass.datum(name).value <= min(each.datum(name).value for each in known)
    for name in ("youngs_modulus", "expansion", "poisson", "minimum_temperature"):
        assert glass.datum(name).value >= max(each.datum(name).value for each in known)
    for stem in SUBSTANCES:
        for in_water in (None, 0.01, 0.1, 0.3, 0.9):
            substance = REFERENCE.substance(stem)
            rated = glass.rating(substance, in_water)
            if rated is None:
                continue
            for each in known:
                other = each.rating(substance, in_water)
                assert other is not None, stem
                assert RATINGS.index(rated.word) >= RATINGS.index(other.word), stem
                assert rated.word != other.word or rated.last <= other.last, stem
