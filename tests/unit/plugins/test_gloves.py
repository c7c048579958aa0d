"""What is said of gloves for what is handled."""

from __future__ import annotations

import pytest

from plugins.readiness.gloves import GLOVES, MINUTES
from review import Reference, loads
from tests.support import shared_engine

TEXT = """
title: A beaker
reagents: {it: {state: liquid, composition: {HOLDS}, held: {as: bottle}}}
train:
- {id: beaker, kind: vessel, material: borosilicate glass 3.3, gas_volume: 300 mL, liquid: it,
   liquid_volume: 50 mL, inner_diameter: 80 mm, joint: none}
- {id: mouth, kind: outlet, to: hood, inner_diameter: 80 mm}
"""


def said(holds: str) -> str:
    review = shared_engine().review(loads(TEXT.replace("HOLDS", holds)), upsets=False)
    found = [s.lines for s in review.sections if s.title == "Gloves for what is handled"]
    return " ".join(found[0]) if found else ""


def test_thin_gloves_let_solvents_through_at_once() -> None:
    assert "dichloromethane: holds FKM 60 min; lets it through thin nitrile at once" in said(
        "dichloromethane: 100 %"
    )


def test_what_is_not_known_is_said() -> None:
    text = said("acetone: 50 %, thiophene: 50 %")
    assert "ask the maker of the gloves: thiophene" in text


@pytest.mark.parametrize("holds", ["water: 100 %", "sodium chloride: 5 %, water: 95 %"])
def test_nothing_is_said_of_water(holds: str) -> None:
    assert said(holds) == ""


def test_the_table_names_substances_and_has_a_figure_for_each_glove() -> None:
    for name, minutes in MINUTES.items():
        assert Reference().substance(name).name == name
        assert len(minutes) == len(GLOVES)
