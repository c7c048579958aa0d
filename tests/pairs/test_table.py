"""The table of pairs itself: what it says of waste, and what is no table."""

from __future__ import annotations

from pathlib import Path

import pytest

from review import DataError, Reference, apart
from review.reference.finding import built_in_folder
from review.reference.pairs import read_pairs

REFERENCE = Reference()


def together(*names: str) -> dict[frozenset[str], str]:
    """What forms of each two that must stay apart."""
    found = apart(REFERENCE.pairs(), [REFERENCE.substance(name) for name in names])
    return {frozenset((one, other)): pair.forms for one, other, pair in found}


def test_what_is_left_over_must_stay_apart() -> None:
    """49 CFR 177.848 keeps acids from cyanides; ammonia blackens silver to an explosive (GHS)."""
    assert together("ammonia", "silver")[frozenset(("ammonia", "silver"))]
    assert "lye" not in str(together("argon", "water"))
    assert together("argon", "water") == {}
    acid_and_lye = frozenset(("sulfuric acid", "sodium hydroxide"))
    assert acid_and_lye in together("sulfuric acid", "sodium hydroxide", "water")


def test_every_partner_is_known() -> None:
    """Loading asks each partner of the data, so a class that nobody defined is an error."""
    assert len(REFERENCE.pairs()) > 150


GOOD = (
    "{one: caustic, other: halogen, harm: heats, forms: x, grade: with care, source: y, how: read}"
)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (GOOD.replace("other: halogen", "other: caustic"), "itself"),
        (GOOD.replace("grade: with care", "grade: bad"), "grade"),
        (GOOD.replace("harm: heats", "harm: hurts"), "harm"),
        (GOOD.replace("how: read", "how: heard"), "how"),
        (GOOD.replace(", source: y", ""), "source"),
        (GOOD.replace("forms: x", "forms: x, least_one: 2"), "fraction"),
        (GOOD.replace("forms: x", "forms: x, above: 250"), "temperature"),
        (GOOD.replace("forms: x", "forms: x, colour: red"), "colour"),
        (GOOD.replace("forms: x", "forms: x, unless: in water"), "unless"),
    ],
)
def test_a_wrong_pair_is_named(tmp_path: Path, entry: str, said: str) -> None:
    path = tmp_path / "pairs.yaml"
    path.write_text(f"pairs:\n  ours: {entry}\n", "utf-8")
    with pytest.raises(DataError, match=said):
        read_pairs(path)


def test_a_class_nobody_defined_is_an_error(tmp_path: Path) -> None:
    text = f"pairs:\n  ours: {GOOD.replace('halogen', 'kryptonite')}\n"
    (tmp_path / "pairs.yaml").write_text(text, "utf-8")
    with pytest.raises(DataError, match="kryptonite"):
        Reference([built_in_folder(), tmp_path]).pairs()


def test_what_is_wrong_with_a_table_is_told_each_time(tmp_path: Path) -> None:
    """Asked again, a table that could not be read is no empty one: nothing would meet."""
    (tmp_path / "pairs.yaml").write_text(f"pairs:\n  ours: {GOOD}x\n", "utf-8")
    site = Reference([built_in_folder(), tmp_path])
    for _ in range(2):
        with pytest.raises(DataError):
            site.pairs()


def test_a_site_adds_a_class_a_pair_and_a_substance_by_files(tmp_path: Path) -> None:
    (tmp_path / "pairs.yaml").write_text(
        f"pairs:\n  ours: {GOOD.replace('halogen', 'house powder')}\n", "utf-8"
    )
    (tmp_path / "classes.yaml").write_text(
        'house powder: {meaning: "what we mill", source: ours}\n', "utf-8"
    )
    site = Reference([built_in_folder(), tmp_path])
    assert any(pair.partners[1] == "house powder" for pair in site.pairs())
