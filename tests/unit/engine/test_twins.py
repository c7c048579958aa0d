"""Pairs of set-ups that differ in one point which once made no difference."""

from __future__ import annotations

import pytest

from review import Engine

LINE = """
title: t
reagents: {air: {state: gas, composition: {air: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 100 bar gauge, regulator: 0.2 bar gauge}}}
flows: {feed: {reagent: air, into: pipe, rate: 1 L/min, reference: ambient}}
train:
  - {id: pipe, kind: line, inner_diameter: 10 mm, length: 100 mmPACKING}
  - {id: out, kind: outlet, to: room, inner_diameter: 10 mm}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
"""


@pytest.mark.parametrize(
    ("packing", "loss"),
    [("", 0.0), (", packing: {voidage: 40 %, particle_diameter: 0.5 mm, length: 100 mm}", 1961.0)],
)
def test_a_packing_costs_pressure_in_a_line_too(walked, packing: str, loss: float) -> None:
    """Ergun with the constants of Macdonald et al. for rough grains: 180 x 1.81e-5 x 0.36 x 0.212 /
    (0.064 x 2.5e-7) + 4 x 1.2 x 0.6 x 0.045 / (0.064 x 5e-4) = 19.6 kPa a metre; the empty line
    costs less than a pascal."""
    text = LINE.replace("PACKING", packing)
    pressure = walked(text).places[0].pressure.value[0]
    assert pressure - 101325.0 == pytest.approx(loss, rel=0.05, abs=1.0)


BRANCHED = """
title: Two ways between a hot tube and a bottle
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 100 bar gauge, regulator: 0.2 bar gauge}}, water: {state: liquid, composition: {water: 100 %}}}
flows: {feed: {reagent: gas, into: tube, rate: 100 mL/min, reference: ambient}}
train:
  - {id: tube, kind: reactor, inner_diameter: 30 mm, wall: 2 mm, length: 600 mm, heated_length: 300 mm,
     material: fused quartz}
  - {id: wide, kind: trap, gas_volume: 1 L}
  - {id: narrow, kind: trap, from: tube, gas_volume: VOLUME}
  - {id: bottle, kind: wash bottle, from: [wide, narrow], gas_volume: 150 mL, liquid: water, liquid_volume: 200 mL,
     dip_depth: 20 mm, dip_tube_bore: 6 mm, lift: 100 mm}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 500 degC, cooling_time: 10 min}}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: run, duration: 1 h, flows: {feed: on}, heat: {furnace: on}}
  - {step: rest, duration: 5 h, flows: {feed: off}, heat: {furnace: off}}
"""  # noqa: E501


@pytest.mark.parametrize(("second", "least"), [("10 mL", 10.0), ("2 L", 1000.0)])
def test_liquid_runs_back_by_the_way_that_holds_least(
    engine: Engine, second: str, least: float
) -> None:
    review = engine.review(engine.loads(BRANCHED.replace("VOLUME", second), "x.yaml"), upsets=False)
    (reach,) = [m for m in review.measures if m.kind == "pressure.suckback_reach"]
    assert reach.compared is not None
    assert reach.compared.value[2, 0] > 1e-5
    assert reach.compared.edge[2, 0] == pytest.approx(least * 1e-6)


BUBBLED = """
title: t
reagents:
  air: {state: gas, composition: {air: 100 %}}
  spirit: {state: liquid, composition: {LIQUID}}
flows: {feed: {reagent: air, into: bottle, rate: 1 mL/min, reference: ambient}}
train:
  - {id: bottle, kind: wash bottle, gas_volume: 150 mL, liquid: spirit, liquid_volume: 200 mL,
     dip_depth: 100 mm, dip_tube_bore: 6 mm, lift: 100 mm}
  - {id: out, kind: outlet, to: room, inner_diameter: 10 mm}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
"""


@pytest.mark.parametrize(
    ("liquid", "head"),
    [("ethanol: 100 %", 774.0), ("water: 40 %, ethanol: 60 %", 979.0), ("water: 100 %", 979.0)],
)
def test_a_mixture_weighs_as_its_heaviest_part(walked, liquid: str, head: float) -> None:
    """100 mm of 789 or 998 kg/m3: never too little."""
    pressure = walked(BUBBLED.replace("LIQUID", liquid)).places[0].pressure.value[0]
    assert pressure - 101325.0 == pytest.approx(head, rel=0.01)


def test_what_does_not_flow_costs_no_pressure(walked) -> None:
    text = BUBBLED.replace("LIQUID", "water: 100 %").replace("flows: {feed: on}", "flows: {}")
    pressures = [place.pressure.value.reshape(-1) for place in walked(text).places]
    assert [float(pressure[1]) for pressure in pressures] == [101325.0, 101325.0]


PARTED = """
title: Two ways to the room
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 100 bar gauge, regulator: 0.2 bar gauge}}, water: {state: liquid, composition: {water: 100 %}}}
flows: {feed: {reagent: gas, into: tee, rate: 100 mL/min, reference: ambient}}
train:
  - {id: tee, kind: line, inner_diameter: 10 mm, length: 10 mm}
  - {id: one, from: tee, ONE}
  - {id: other, from: tee, OTHER}
  - {id: out, kind: outlet, from: [one, other], to: room, inner_diameter: 10 mm}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
"""  # noqa: E501
HOSE = "kind: line, inner_diameter: 4 mm, length: LONG"
SEAL = "kind: wash bottle, gas_volume: 150 mL, liquid: water, liquid_volume: 100 mL, dip_tube_bore: 6 mm, dip_depth: DEEP"  # noqa: E501


@pytest.mark.parametrize(
    ("one", "other", "share"),
    [
        (HOSE.replace("LONG", "1 m"), HOSE.replace("LONG", "1 m"), 0.5),
        (HOSE.replace("LONG", "1 m"), HOSE.replace("LONG", "3 m"), 0.75),
        (SEAL.replace("DEEP", "20 mm"), SEAL.replace("DEEP", "50 mm"), 1.0),
        (HOSE.replace("LONG", "1 m"), SEAL.replace("DEEP", "50 mm"), 1.0),
    ],
    ids=["alike", "three times as long", "deeper", "hose and seal"],
)
def test_gas_parts_as_the_losses_of_its_ways_have_it(walked, one, other, share) -> None:
    """Hagen-Poiseuille: as one over the length; nothing bubbles below a deeper tube's end. Said
    otherwise, the losses contradict it."""
    setup = walked(PARTED.replace("ONE", one).replace("OTHER", other))
    tee, first, second, _ = setup.places
    parts = [p.flow.value[0] / tee.flow.value[0] for p in (first, second)]
    assert parts == pytest.approx([share, 1 - share], abs=0.03)  # and damp
    assert bool(second.moving[0] > 0) is (share < 1)
    assert tee.pressure.status[0] == 0
    wrong = 0.2 if share > 0.3 else 0.8
    said = PARTED.replace("ONE", f"{one}, share: {{tee: {wrong}}}")
    said = said.replace("OTHER", f"{other}, share: {{tee: {1 - wrong}}}")
    assert walked(said).places[0].pressure.status[0] != 0


LIT = """
title: Hydrogen over platinum
reagents: {gas: {state: gas, composition: {hydrogen: 3 %, air: 97 %}, held: {as: cylinder,
  volume: 10 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}}}
flows: {feed: {reagent: gas, into: tube, rate: 200 mL/min, reference: ambient}}
train:
  - {id: tube, kind: reactor, inner_diameter: 20 mm, wall: 2 mm, length: 300 mm,
     material: borosilicate glass 3.3, packing: {voidage: 60 %, particle_diameter: 3 mm, length: 50 mm}}
  - {id: out, kind: outlet, to: hood, inner_diameter: 4 mm, length: 300 mm}
catalysts: {bed: {material: platinum, in: tube, light_off: LIGHTS}}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure: [{step: run, duration: 10 min, flows: {feed: on}}]
"""  # noqa: E501


@pytest.mark.parametrize(
    ("lights", "refused"),
    [("-40 degC", True), ("-1 degC", True), ("5 degC", True), ("200 degC", False)],
)
def test_a_catalyst_that_lights_off_in_the_cold_is_lit(
    engine: Engine, lights: str, refused: bool
) -> None:
    """At 20 degC: below zero, where a share of a temperature in degC turns its sign, as above."""
    review = engine.review(engine.loads(LIT.replace("LIGHTS", lights), "x.yaml"), upsets=False)
    grades = {f.grade for f in review.findings if f.criterion == "ignition.hot_surface"}
    assert ("unacceptable" in grades) is refused


SIDEWAYS = """
title: A way beside the tube
reagents: {gas: {state: gas, composition: {hydrogen: 100 %}, held: {as: cylinder, volume: 10 L,
  pressure: 100 bar gauge, regulator: 0.2 bar gauge}}}
flows: {feed: {reagent: gas, into: tap, rate: 50 mL/min, reference: ambient}}
train:
  - {id: tap, kind: three-way valve, gas_volume: 2 mL}
  - {id: tube, kind: line, from: tap, inner_diameter: 4 mm, length: 1 m}
  - {id: out, kind: outlet, to: hood, inner_diameter: 4 mm, length: 500 mm}
  - {id: beside, kind: outlet, from: tap, to: hood, inner_diameter: 10 mm}
procedure: [{step: run, duration: 10 min, flows: {feed: on}, valves: {tap: WAY}}]
"""


@pytest.mark.parametrize(("way", "mixed"), [("tube", False), ("beside", True)])
def test_no_air_comes_by_the_way_that_a_valve_shuts(engine: Engine, way: str, mixed: bool) -> None:
    """50 mL/min of hydrogen keep no air out of 10 mm (gravity exchange), and a tap turned away from
    that shuts it out; what stands beside it burns with none of the gas that goes the other way."""
    text = SIDEWAYS.replace("WAY", way)
    review = engine.review(engine.loads(text, "x.yaml"), upsets=False)
    assert not review.failures
    [margin] = [m for m in review.measures if (m.kind, m.at) == ("flammability.margin", "beside")]
    burns = not bool((margin.value[:2] > 0).all())
    assert burns is mixed


@pytest.mark.parametrize("rate", ["1 L/min", "30 L/min"])
def test_a_hose_that_ends_outdoors_costs_what_a_hose_costs(walked, rate: str) -> None:
    """Named as a line before an opening, or as the outlet itself: Hagen-Poiseuille, 128 x 1.81e-5 x
    1.67e-5/(pi x (4e-3)^4) = 48 Pa a metre at 1 L/min; our gas counts as viscous as its argon
    and a tenth more."""
    start = LINE[: LINE.index("train:")].replace("into: pipe", "into: tube")
    start = start.replace("1 L/min", rate) + "train:\n  - {id: tube, kind: trap, gas_volume: 1 L}\n"
    named = start + "  - {id: way out, kind: outlet, to: room, inner_diameter: 4 mm, length: 1 m}\n"
    apart = start + (
        "  - {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m}\n"
        "  - {id: way out, kind: outlet, to: room, inner_diameter: 200 mm}\n"  # no loss of its own
    )
    over = [walked(text).places[0].pressure.value[0] - 101325.0 for text in (named, apart)]
    assert over[0] == pytest.approx(over[1], rel=1e-6)
    if rate == "1 L/min":
        assert 48.0 < over[0] < 1.5 * 48.0
