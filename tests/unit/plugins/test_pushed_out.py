"""What a warmed liquid pushes out meets what stands behind it, though nothing flows."""

from __future__ import annotations

import pytest

from tests.support import shared_engine

TEXT = """
title: Ammonia water before silver nitrate
reagents:
  ammonia water: {state: liquid, composition: {ammonia: 5 %, water: 95 %}, amount: 50 mL, held: {as: bottle}}
  silver: {state: liquid, composition: {silver nitrate: 5 %, water: 95 %}, amount: 50 mL, held: {as: bottle}}
  between: {state: liquid, composition: BETWEEN, amount: 50 mL, held: {as: bottle}}
train:
  - {id: flask, kind: vessel, size: 250 mL round flask, liquid: ammonia water, liquid_volume: 50 mL}
  - {id: middle, kind: wash bottle, size: 250 mL wash bottle, liquid: between, liquid_volume: 50 mL, dip_depth: 10 mm,
     dip_tube_bore: 6 mmABSORBS}
  - {id: trap, kind: trap, size: 250 mL wash bottle}
  - {id: bottle, kind: wash bottle, size: 250 mL wash bottle, liquid: silver, liquid_volume: 50 mL, dip_depth: 10 mm,
     dip_tube_bore: 6 mm}
  - {id: vent, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {bath: {heats: flask, kind: water bath, set_temperature: BATH degC, hottest: BATH degC}}
procedure: [{step: warm, duration: 5 h, heat: {bath: on}}]
"""  # noqa: E501


@pytest.mark.parametrize(
    ("bath", "between", "absorbs", "meets"),
    [(50, "paraffin oil", "", True), (22, "paraffin oil", "", False),
     (50, "{sulfuric acid: 10 %, water: 90 %}",
      ", absorbs: {ammonia: {efficiency: 95 %, capacity: 0.05 mol}}", False)],
)  # fmt: skip
def test_ammonia_driven_off_reaches_silver(
    bath: int, between: str, absorbs: str, meets: bool
) -> None:
    engine, text = shared_engine(), TEXT.replace("BATH", str(bath)).replace("BETWEEN", between)
    text = text.replace("ABSORBS", absorbs)
    review = engine.review(engine.loads(text, "x.yaml"), upsets=False)
    found = [
        m.value.max() for m in review.measures
        if m.kind == "reactive.pair" and m.at == "bottle" and m.of == "ammonia with silver nitrate"
    ]  # fmt: skip
    assert bool(max(found, default=0) == 2) is meets


PIPE = """
title: A warm solution with a pipe behind it
reagents:
  solution: {state: liquid, composition: {SOLUTE, water: 75 %}, amount: 50 mL, held: {as: bottle}}
train:
  - {id: flask, kind: vessel, size: 250 mL round flask, liquid: solution, liquid_volume: 50 mL}
  - {id: pipe, kind: line, inner_diameter: 6 mm, wall: 1 mm, length: 500 mm, material: MATERIAL}
  - {id: vent, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {bath: {heats: flask, kind: water bath, set_temperature: BATH degC, hottest: BATH degC}}
procedure: [{step: warm, duration: 30 min, heat: {bath: on}}]
"""


@pytest.mark.parametrize(
    ("solute", "material", "bath", "suits"),
    [
        ("ammonia: 25 %", "brass", 45, False), ("ammonia: 25 %", "PTFE", 45, True),
        ("ammonia: 25 %", "brass", 22, True), ("nitric acid: 25 %", "copper", 50, False),
        ("hydrogen chloride: 25 %", "carbon steel", 50, False),
    ],
)  # fmt: skip
def test_what_is_driven_off_attacks_the_pipe_behind(
    solute: str, material: str, bath: int, suits: bool
) -> None:
    """Brass in ammonia, copper in nitric and steel in hydrochloric acid: any table of materials."""
    text = PIPE.replace("SOLUTE", solute).replace("MATERIAL", material).replace("BATH", str(bath))
    engine = shared_engine()
    review = engine.review(engine.loads(text, "x.yaml"), upsets=False)
    worst = max(m.value.max() for m in review.measures if (m.kind, m.at) == (
        "corrosion.rating", "pipe"))  # fmt: skip
    assert bool(worst < 2) is suits
