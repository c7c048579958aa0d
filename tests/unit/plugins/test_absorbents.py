"""What a held absorbent binds at most, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine, loads

TEXT = """
title: Gas through an absorbent
duration: 10 min
reagents:
  gas:
    state: gas
    composition: {GAS: 1 %, nitrogen: 99 %}
    held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}
  absorbent: {state: liquid, composition: {HOLDS}, amount: 100 mLDENSITY, held: {as: bottle}}
flows:
  gas: {reagent: gas, into: bottle, rate: 60 mL/min, reference: standard}
train:
  - {id: bottle, kind: wash bottle, liquid: absorbent, liquid_volume: 100 mL, gas_volume: 100 mL,
     dip_depth: 10 mm, dip_tube_bore: 4 mm, joint: none,
     absorbs: {GAS: {efficiency: 95 %, capacity: CAP mol}}}
  - {id: outlet, kind: outlet, to: room}
ventilation: {room_volume: 20 m3, air_changes: 0.5 / hour, mixing_factor: 1}
"""

LYE, ACID, WATER = (
    "sodium hydroxide: 10 %, water: 90 %", "sulfuric acid: 20 %, water: 80 %", "water: 100 %",
)  # fmt: skip


@pytest.mark.parametrize(
    ("gas", "holds", "density", "most"),
    [
        # 100 mL x 1.11 g/mL x 0.10 / 40.00 g/mol = 0.2775 mol of NaOH.
        ("hydrogen chloride", LYE, ", density: 1.11 g/mL", 0.2775),
        ("chlorine", LYE, ", density: 1.11 g/mL", 0.1387),  # Cl2 + 2 OH-
        ("hydrogen sulfide", LYE, "", 0.125),  # H2S + 2 OH-; without a density 1 g/mL
        # 100 g x 0.20 / 98.08 g/mol = 0.2039 mol of H2SO4, two ammonia each.
        ("ammonia", ACID, "", 0.4078),
        ("sulfur dioxide", WATER, "", 0.18),  # 1.8 mol/kg
    ],
)
def test_a_capacity_above_the_stoichiometry_is_not_believed(
    gas: str, holds: str, density: str, most: float
) -> None:
    for share, capacity in ((1.0, most), (1.2, most), (1.4, np.nan)):
        text = TEXT.replace("GAS", gas).replace("HOLDS", holds).replace("DENSITY", density)
        review = Engine().review(loads(text.replace("CAP", f"{share * most:.5g}"), "x.yaml"))
        found = [m for m in review.measures if m.kind == "corrosion.absorbent_used"]
        used = found[0].value[0, 0]
        if share == 1.0:
            amount = used * most
        np.testing.assert_allclose(used, amount / capacity, rtol=2e-3)
