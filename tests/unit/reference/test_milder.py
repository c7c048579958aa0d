"""Data of a site that are milder than the shipped ones are told, with a reason or not at all."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from review.reference.data import DataError
from review.reference.finding import built_in_folder
from review.reference.milder import milder_files

SHIPPED = built_in_folder()


def changed(tmp_path: Path, file: str, old: str, new: str, reason: str = "") -> Path:
    text = (SHIPPED / file).read_text("utf-8")
    text, count = re.subn(old, new, text, count=1)
    assert count == 1
    path = tmp_path / file
    path.parent.mkdir(parents=True)
    path.write_text(text + (f"reason: {reason}\n" if reason else ""), "utf-8")
    return tmp_path


MILDER = [
    ("substances/hydrogen.yaml", r"combustible: yes", "combustible: no"),
    ("substances/hydrogen.yaml", r"(lower_limit_air: *\{ *value:) [0-9.]+", r"\g<1> 9.0"),
    ("substances/hydrogen.yaml", r"(autoignition: *\{ *value:) [0-9.]+", r"\g<1> 580"),
    ("substances/ammonia.yaml", r"values: \[220, 220, 160", "values: [500, 220, 160"),
    ("materials/copper.yaml", r"\{20: 41, 93: 33", "{20: 41, 93: 35"),
    ("materials/copper.yaml", r"149: 32, 200: 20\}", "149: 32, 200: 20, 300: 20}"),
    ("materials/copper.yaml", r"temperature_limit: 60, hotter: \{200: limited\}",
     "temperature_limit: 60, hotter: {900: limited}"),
    ("materials/copper.yaml", r"temperature_limit: 60, hotter: \{200: limited\}",
     "temperature_limit: 100, hotter: {200: limited}"),
    ("materials/borosilicate_glass_3.3.yaml", r"fluoride: \{rating: not suitable",
     "fluoride: {rating: limited"),
    ("substances/carbon_monoxide.yaml", r"(idlh: *\{ *value:) [0-9.]+", r"\g<1> 9000"),
]


@pytest.mark.parametrize(("file", "old", "new"), MILDER)
def test_a_milder_file_needs_a_reason_and_is_told(
    tmp_path: Path, file: str, old: str, new: str
) -> None:
    with pytest.raises(DataError, match="needs a reason"):
        list(milder_files(changed(tmp_path / "a", file, old, new), SHIPPED))
    [(name, what, reason)] = milder_files(changed(tmp_path / "b", file, old, new, "ours"), SHIPPED)
    assert (name, reason) == (file.removesuffix(".yaml"), "ours") and what


def test_a_stricter_file_is_free(tmp_path: Path) -> None:
    old = r"(lower_limit_air: *\{ *value:) [0-9.]+"
    folder = changed(tmp_path, "substances/hydrogen.yaml", old, r"\g<1> 3.0")
    assert not list(milder_files(folder, SHIPPED))
