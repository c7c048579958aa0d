"""An index of the names in the data files, made once for the files that are shipped."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

from review.reference.files import (
    read_material,
    read_substance,
)
from review.reference.mixtures import read_mixture
from review.reference.tables import read_table

#: What stands behind or before a substance's name and changes nothing here: its crystal water and
#: the shape of its pieces. Powder, wool and filings are left out: they burn where sheet does not.
_SHAPES = (
    r"chips|pieces|lumps|granules|pellets|beads|flakes|crystals|tablets|sheet|foil|rod|wire|ribbon|"
    r"anhydrous|\w*hydrate"
)
_SHAPED = re.compile(
    rf"^(?:(?:anhydrous|dried|calcined|crushed|granular)\s+)?(.+?)(?:,?\s+(?:{_SHAPES}))?$", re.I
)
_CRYSTAL_WATER = re.compile(r"\s*[*·•.]\s*\d*\s*H2O$")


def plain(text: str) -> str:
    """The name of a substance without its crystal water and the shape of its pieces.

    >>> plain("copper sulfate pentahydrate"), plain("marble chips"), plain("MgSO4 * 7 H2O")
    ('copper sulfate', 'marble', 'MgSO4')
    """
    text = _CRYSTAL_WATER.sub("", text.strip())
    return _SHAPED.sub(r"\1", text)


def index_of(folder: Path) -> dict[str, dict[str, dict[str, Any]]]:
    """The names and formula of every file in a folder; what `index.yaml` must equal."""
    index: dict[str, dict[str, dict[str, Any]]] = {
        "substances": {}, "mixtures": {}, "materials": {},
    }  # fmt: skip
    for path in sorted(folder.glob("substances/*.yaml")):
        substance = read_substance(path)
        named = [substance.name, *substance.synonyms]
        if substance.cas != "none":
            named.append(substance.cas)
        index["substances"][path.stem] = {"names": named, "formula": substance.formula}
    for path in sorted(folder.glob("mixtures/*.yaml")):
        mixture = read_mixture(path)
        named = [mixture.name, *mixture.synonyms, *(f"{n} %" for n in mixture.by_strength)]
        index["mixtures"][path.stem] = {"names": named, "formula": ""}
    for path in sorted(folder.glob("materials/*.yaml")):
        material = read_material(path)
        named = [material.name, *material.synonyms]
        index["materials"][path.stem] = {"names": named, "formula": ""}
    return index


@cache
def _shipped_index(path: Path) -> dict[str, dict[str, dict[str, Any]]]:
    index: dict[str, dict[str, dict[str, Any]]] = read_table(path)
    return index


def _folder_index(folder: Path) -> dict[str, dict[str, dict[str, Any]]]:
    path = folder / "index.yaml"
    return _shipped_index(path) if path.exists() else index_of(folder)
