"""What a held absorbent binds at most, by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest

from review import loads
from tests.support import shared_engine

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
        review = shared_engine().review(loads(text.replace("CAP", f"{share * most:.5g}"), "x.yaml"))
        found = [m for m in review.measures if m.kind == "corrosion.absorbent_used"]
        used = found[0].value[0, 0]
        if share == 1.0:
            amount = used * most
        np.testing.assert_allclose(used, amount / capacity, rtol=2e-3)


BED = """
title: Gas through a dry bed
duration: 10 min
reagents:
  gas: {state: gas, composition: {GAS: 50 %, nitrogen: 50 %},
    held: {as: cylinder, volume: 2 L, pressure: 10 bar gauge, regulator: 0.2 bar gauge}}
flows: {gas: {reagent: gas, into: bed, rate: 60 mL/min, reference: standard}}
train:
  - {id: bed, kind: column, inner_diameter: 20 mm, length: 150 mm, material: fused quartz,
     packing: {material: OF, voidage: 40 %, particle_diameter: 3 mm},
     absorbs: {GAS: {efficiency: 100 %, capacity: CAP mol}}}
  - {id: outlet, kind: outlet, to: room}
ventilation: {room_volume: 20 m3, air_changes: 0.5 / hour, mixing_factor: 1}
"""


def share_used(of: str, gas: str, capacity: float, more: str = "") -> tuple[float, str]:
    text = BED.replace("OF", of).replace("GAS", gas).replace("CAP", f"{capacity:.5g}")
    text = text.replace("material: fused quartz,", f"material: fused quartz,{more}")
    review = shared_engine().review(loads(text))
    [found] = [m for m in review.measures if m.kind == "corrosion.absorbent_used"]
    return float(found.value[0, 0]), found.note


def test_a_dry_bed_holds_its_load_less_half_of_its_working_zone() -> None:
    """pi/4 (20 mm)2 150 mm 800 kg/m3 x 5 mol/kg x (1 - 30 x 3 mm / 300 mm) = 0.1319 mol; half of
    1 mL/s at 20 degC and 1 atm is 2.079e-5 mol/s, 0.01247 mol in 10 min."""
    used, note = share_used("soda lime", "carbon dioxide", 0.1319)
    np.testing.assert_allclose(used, 0.09457, rtol=3e-3)
    assert "spent after 105 min as planned" in note  # 0.1319 / 2.079e-5 / 60 = 105.7
    assert np.isnan(share_used("soda lime", "carbon dioxide", 0.2)[0])


@pytest.mark.parametrize(
    ("of", "gas", "more"),
    [
        ("silica gel", "carbon dioxide", ""),
        ("activated carbon", "carbon monoxide", ""),
        ("activated carbon", "methane", ""),
        ("fused quartz", "carbon dioxide", ""),
        ("soda lime", "carbon dioxide", " temperature: 55 degC,"),
    ],
)
def test_what_holds_nothing_earns_nothing(of: str, gas: str, more: str) -> None:
    used, note = share_used(of, gas, 0.1, more)
    # Of what nobody says that it takes the gas up, the balance uses nothing.
    assert used == 0 and "nothing is credited" in note or not used <= 1


def _warmest(text: str) -> float:
    found = [m for m in shared_engine().review(loads(text, "x.yaml")).measures
             if m.kind == "corrosion.absorbent_temperature"]  # fmt: skip
    return max(float(np.nanmax(m.value)) for m in found)


def test_a_liquid_warms_by_what_it_takes_up_said_or_not() -> None:
    """1 L/min of neat hydrogen chloride for 10 min: 0.42 mol into 0.1 kg of water by 75 kJ/mol
    would be 100 K and more; oxygen, which stays a gas, warms nothing."""
    text = TEXT.replace("HOLDS", WATER).replace("DENSITY", "").replace("60 mL/min", "1 L/min")
    text = text.replace("GAS: 1 %, nitrogen: 99 %", "GAS: 100 %")
    said = text.replace("CAP", "1.9")
    left_out = re.sub(r",\s+absorbs: .*}}}", "}", said)
    assert "absorbs" not in left_out
    hydrogen_chloride = [t.replace("GAS", "hydrogen chloride") for t in (said, left_out)]
    as_said, as_left_out = map(_warmest, hydrogen_chloride)
    assert as_left_out >= as_said - 1e-6
    assert as_left_out > 353.15
    assert _warmest(left_out.replace("GAS", "oxygen")) < 303.15
def test_hot_dry_air_leaves_water_at_its_wet_bulb() -> None:
    """Psychrometric chart: dry air of 93.3 degC (200 F) comes to 29.4 degC (85 F); of 574 degC to
    67 degC (both from memory). Over strong lye, and with steam, the liquid is warmer."""
    from review.plugins.corrosive_vapours.warming import wet_bulb

    gas, dry, room = np.array([93.3, 574.0]) + 273.15, np.zeros(2), np.full(2, 101325.0)
    capacity = np.array([29.1, 30.3])
    plain = wet_bulb(gas, dry, room, capacity, 1.0) - 273.15
    np.testing.assert_allclose(plain, [29.4, 67.0], atol=1.0)
    assert (wet_bulb(gas, dry, room, capacity) - 273.15 > plain + 5).all()
    assert (wet_bulb(gas, dry + 0.3, room, capacity, 1.0) - 273.15 > plain + 5).all()


HOT = """
title: Hot gas through lye
reagents:
  gas: {state: gas, composition: {hydrogen sulfide: 0.05 %, nitrogen: 99.95 %}, held: {as: cylinder,
    volume: 2 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}}
  lye: {state: liquid, basis: mass, composition: {HOLDS}, amount: 100 mL,
    density: 1.1 g/mL, held: {as: bottle}}
flows:
  gas: {reagent: gas, into: tube, rate: 3 L/min, reference: standard, at_most: 3 L/min}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 12 mm, wall: 2 mm,
     length: 200 mm, heated_length: 190 mm, joint: none, home_made: no, reactions: none}
  - {id: bottle, kind: wash bottle, liquid: lye, liquid_volume: 100 mL, gas_volume: 100 mL,
     dip_depth: 10 mm, dip_tube_bore: 6 mm, joint: none}
  - {id: outlet, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 350 degC, hottest: 350 degC}}
procedure: [{step: run, duration: 10 min, flows: {gas: on}, heat: {furnace: on}}]
"""


@pytest.mark.parametrize(
    ("holds", "more", "cool"),
    [
        ("sodium hydroxide: 10 %, water: 90 %", "", True),
        ("sodium hydroxide: 40 %, water: 60 %", "", False),  # keeps too little of water's vapour
        ("sodium hydroxide: 10 %, water: 90 %", ", bath_temperature: 95 degC", False),
    ],
)
def test_only_gas_that_bubbles_through_a_watery_liquid_is_cooled_by_it(
    holds: str, more: str, cool: bool
) -> None:
    text = HOT.replace("HOLDS", holds).replace("dip_depth: 10 mm", f"dip_depth: 10 mm{more}")
    review = shared_engine().review(loads(text, "x.yaml"))
    (found,) = [m for m in review.measures if m.kind == "corrosion.absorbent_temperature"]
    assert (found.value[0, 0] < 373.15 - 15) == cool


def test_lye_takes_up_no_more_heat_than_the_handbook_says() -> None:
    """Perry's Chemical Engineers' Handbook, specific heats and densities of aqueous solutions, from
    memory: sodium hydroxide 18 and 31 %, potassium hydroxide 13.5 and 23.7 %; cal/(g K), g/mL."""
    from review.plugins.corrosive_vapours.warming import CAPACITY, LYE

    handbook = np.array([(0.835, 1.197), (0.80, 1.338), (0.814, 1.125), (0.75, 1.22)])
    assert CAPACITY < LYE <= 4184 * handbook.prod(axis=1).min()


AMMONIA = """
title: Ammonia warmed out of its solution
reagents:
  solution: {state: liquid, composition: ammonia water 10 %, amount: 20 mL, held: {as: bottle}}
  acid: {state: liquid, composition: {sulfuric acid: 10 %, water: 90 %}, amount: 300 mL,
    held: {as: bottle}}
  gas: {state: gas, composition: {GAS: 100 %}, held: {as: cylinder, volume: 2 L,
    pressure: 5 bar gauge, regulator: 0.2 bar gauge}}
flows:
  gas: {reagent: gas, into: flask, rate: 1 L/min, reference: standard, at_most: 1 L/min}
train:
  - {id: flask, kind: round flask, size: 100 mL round flask, liquid: solution,
     liquid_volume: 20 mL, joint: clipped NS joint}
  - {id: bottle, kind: wash bottle, size: 500 mL wash bottle, joint: clipped NS joint, liquid: acid,
     liquid_volume: 300 mL, dip_depth: 5 mm, dip_tube_bore: 8 mm,
     absorbs: {ammonia: {efficiency: 95 %, capacity: 0.5 mol}}}
  - {id: outlet, kind: outlet, to: hood, inner_diameter: 12 mm}
heat: {bath: {heats: flask, kind: water bath, set_temperature: 70 degC, hottest: 70 degC,
  power: 500 W}}
procedure: [{step: warm, duration: 60 min, heat: {bath: on}, flows: {gas: SET}}]
"""


def _ammonia_taken(gas: str, switched: str) -> float:
    text = AMMONIA.replace("GAS", gas).replace("SET", switched)
    (used,) = (
        m for m in shared_engine().review(loads(text, "x.yaml")).measures
        if m.kind == "corrosion.absorbent_used" and m.of == "ammonia"
    )  # fmt: skip
    return float(used.value[1, 0]) * 0.5


def test_no_more_is_taken_up_than_a_solution_holds_unless_more_comes() -> None:
    """20 mL of 10 % at no more than 1 g/mL hold 0.117 mol; 500 W for an hour would drive 77 mol out
    of an endless flask. 1 L/min of ammonia for an hour brings 2.5 mol more."""
    assert 0.05 <= _ammonia_taken("nitrogen", "off") <= 0.117 * 1.01
    assert _ammonia_taken("ammonia", "on") > 1.0
