"""``benchgate substance``, ``benchgate material`` and ``benchgate new substance``."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from review.cli import group
from review.reference.files import read_substance
from review.reference.finding import Reference
from review.reference.library import look_up


def _said(*words: str, status: int = 0) -> str:
    done = CliRunner().invoke(group, list(words))
    assert done.exit_code == status, done.output
    return " ".join(done.output.split())


@pytest.mark.parametrize("name", ["ammonia", "7664-41-7", "NH3", "Ammoniak"])
def test_a_substance_is_shown_by_any_name_with_every_source(name: str) -> None:
    told = _said("substance", name)
    assert "ammonia (NH3, CAS 7664-41-7)" in told
    ammonia = Reference().substance("ammonia")
    for datum in ammonia.properties.values():
        assert " ".join(datum.source.split()) in told
    assert "not known" in told and "does not apply" in told
    assert "220 ppm at 10 min" in told  # AEGL-2 of ammonia: US EPA, from memory


def test_a_material_is_shown_with_its_ratings_and_stresses_by_temperature() -> None:
    told = _said("material", "V4A")
    assert "stainless steel 316 (metal)" in told
    steel = Reference().material("stainless steel 316")
    for rating in steel.ratings.values():
        assert " ".join(rating.source.split()) in told
    assert "at 200 degC" in told


def test_a_mixture_is_shown_with_what_it_is_made_of() -> None:
    told = _said("substance", "Salzsäure 37 %")
    assert "hydrogen chloride (HCl, CAS 7647-01-0): 37 %; water (H2O, CAS 7732-18-5)" in told


def test_what_no_file_has_is_shown_as_looked_up() -> None:
    told = _said("substance", "cyclobutane")
    assert "looked up" in told and "no sign of harmlessness" in told


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (("substance", "hydrogn"), "hydrogen (H2, CAS 1333-74-0)"),
        (("substance", "C4H8"), "1-butene and isobutene"),
        (("material", "silicon rubber"), "silicone rubber"),
    ],
)
def test_an_unknown_name_is_refused_with_a_hint(words: tuple[str, ...], hint: str) -> None:
    done = CliRunner().invoke(group, list(words))
    assert done.exit_code != 0
    assert hint in done.output


def test_a_new_file_can_be_read_and_says_what_the_library_says(tmp_path: Path) -> None:
    _said("new", "substance", "cyclobutane", "--into", str(tmp_path))
    found = read_substance(tmp_path / "substances" / "cyclobutane.yaml")
    library = look_up("cyclobutane")
    assert (found.name, found.cas, found.formula) == ("cyclobutane", "287-23-0", "C4H8")
    for name, datum in library.properties.items():
        assert found.datum(name).state == datum.state
        if datum.value is not None:
            assert found.datum(name).value == pytest.approx(datum.value, rel=1e-6)
            assert found.datum(name).source == datum.source
    assert found.curve("vapour_pressure").coefficients == pytest.approx(
        library.curve("vapour_pressure").coefficients
    )
    _said("new", "substance", "cyclobutane", "--into", str(tmp_path), status=2)
    _said("new", "substance", "unobtainium", "--into", str(tmp_path), status=2)
