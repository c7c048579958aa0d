"""Beakers and tubes that differ in what is in them: the dangerous refused, the ordinary allowed.

Whoever works with gases and liquids knows what each of these does; common practice, no source. A
refusal may be 'cannot be judged'.
"""

from __future__ import annotations

import pytest

from review import loads
from tests.practice.score import PASSES
from tests.support import shared_engine

BENCH = """
title: one thing
operators: 2
ambient: {temperature: 20 degC, pressure: 1 atm}
frame: stands by itself on the bench
ignition_sources: none in the room
safeguards: [{kind: second person}, {kind: spectacles}, {kind: gloves}, {kind: free way out},
  {kind: extinguisher, agent: carbon dioxide}, {kind: residual-current device},
  {kind: earthed frame}, {kind: cylinder restraint}, {kind: eyewash, within: 10 s},
  {kind: polished ends}, {kind: waste container}]
"""
AIR = {
    "small room": "ventilation: {room_volume: 30 m3, air_changes: 0.5 / hour}\n",
    "room": "ventilation: {room_volume: 150 m3, air_changes: 4 / hour}\n",
    "hood": "ventilation: {room_volume: 150 m3, air_changes: 4 / hour, hood: {opening_width: "
    "1.2 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes, heat_inside: yes}}\n",
}  # fmt: skip
HEAT = (
    "heat: {{it: {{heats: {}, kind: {}, set_temperature: {} degC, hottest: {} degC, "
    "cooling_time: 30 min}}}}\n"
)


def steps(hot: int, flow: str, minutes: int) -> str:
    on = ", ".join(filter(None, (flow, "heat: {it: on}" if hot else "")))
    return f"procedure: [{{step: run, duration: {minutes} min{', ' if on else ''}{on}}}]\n"


def beaker(holds: str, where: str, hot: int = 0, ml: int = 100, state: str = "liquid") -> str:
    """An open beaker of 80 mm for half an hour, on a hot plate or cold."""
    to = "hood" if where == "hood" else "room"
    return (
        BENCH
        + f"reagents: {{it: {{state: {state}, composition: {{{holds}}}, held: {{as: bottle}}}}}}\n"
        "train:\n- {id: beaker, kind: vessel, material: borosilicate glass 3.3, "
        "gas_volume: 300 mL, "
        f"liquid: it, liquid_volume: {ml} mL, inner_diameter: 80 mm, rating: 0.3 bar gauge, "
        f"joint: none, home_made: no, in: {to}}}\n"
        f"- {{id: mouth, kind: outlet, to: {to}, inner_diameter: 80 mm}}\n"
        + (HEAT.format("beaker", "hot plate", hot, hot + 40) if hot else "")
        + steps(hot, "", 30) + AIR[where]
    )  # fmt: skip


def tube(gas: str, where: str, hot: int = 0, material: str = "fused quartz", more: str = "") -> str:
    """100 mL/min of a gas from a cylinder through a hose and a tube, hot or cold."""
    to = "hood" if where == "hood" else "room"
    return (
        BENCH
        + f"reagents: {{g: {{state: gas, composition: {{{gas}}}, held: {{as: cylinder, "
        "volume: 2 L, pressure: 50 bar gauge, regulator: 0.2 bar gauge}}}\n"
        "flows: {f: {reagent: g, into: hose, "
        "rate: 100 mL/min, reference: ambient, at_most: 1 L/min, instrument: {kind: float meter, "
        "calibration_gas: air}}}\ntrain:\n- {id: hose, kind: line, material: PTFE, "
        "inner_diameter: 6 mm, wall: 1 mm, length: 800 mm, rating: 5 bar gauge, "
        "joint: clipped hose, home_made: no}\n"
        f"- {{id: tube, kind: reactor, material: {material}, inner_diameter: 16 mm, wall: 2 mm, "
        "length: 600 mm, heated_length: 200 mm, ends: open, joint: screw-thread connector, "
        "joint_material: PTFE, joint_rating: 0.5 bar gauge, home_made: no, "
        f"reactions: none{more}}}\n"
        f"- {{id: out, kind: outlet, to: {to}, inner_diameter: 6 mm}}\n"
        + (HEAT.format("tube", "tube furnace", hot, hot + 20) if hot else "")
        + steps(hot, "flows: {f: on}", 30) + AIR[where]
    )  # fmt: skip


DANGEROUS = {
    "benzene open": beaker("benzene: 100 %", "small room"),
    "carbon disulfide on a plate": beaker("carbon disulfide: 100 %", "hood", 120),
    "ether on a plate": beaker("diethyl ether: 100 %", "room", 80),
    "acetone on a hot plate": beaker("acetone: 100 %", "small room", 300),
    "ammonium nitrate on a plate": beaker("ammonium nitrate: 100 %", "hood", 250, 15, "solid"),
    "picric acid on a plate": beaker("picric acid: 100 %", "hood", 200, 15, "solid"),
    "permanganate and glycerol": beaker("potassium permanganate: 50 %, glycerol: 50 %", "room"),
    "strong peroxide boiled": beaker("hydrogen peroxide: 50 %, water: 50 %", "hood", 150),
    "sodium in water": beaker("sodium: 5 %, water: 95 %", "room"),
    "hydride in water": beaker("lithium aluminium hydride: 5 %, water: 95 %", "hood"),
    "nitric acid and acetone": beaker("nitric acid: 60 %, acetone: 40 %", "hood"),
    "perchloric acid and ethanol": beaker(
        "perchloric acid: 40 %, ethanol: 30 %, water: 30 %", "hood"
    ),
    "bleach and ammonia": beaker("sodium hypochlorite: 5 %, ammonia: 5 %, water: 90 %", "hood"),
    "bleach and acid": beaker(
        "sodium hypochlorite: 5 %, hydrogen chloride: 5 %, water: 90 %", "room"
    ),
    "azide and acid": beaker("sodium azide: 5 %, hydrogen chloride: 5 %, water: 90 %", "hood"),
    "cyanide and acid": beaker("potassium cyanide: 5 %, acetic acid: 5 %, water: 90 %", "hood"),
    "phosphorus in air": beaker("phosphorus: 100 %", "room", 0, 6, "solid"),
    "mercury warmed": beaker("mercury: 100 %", "small room", 150, 8),
    "wax above its flash point": beaker("paraffin wax: 100 %", "hood", 250, 50, "solid"),
    "silicon tetrachloride open": beaker("silicon tetrachloride: 100 %", "small room"),
    "sulfuryl chloride open": beaker("sulfuryl chloride: 100 %", "hood"),
    "furan open": beaker("furan: 100 %", "hood"),
    "piranha": beaker("sulfuric acid: 80 %, hydrogen peroxide: 5 %, water: 15 %", "hood"),
    "bromine open": beaker("bromine: 100 %", "small room"),
    "iodine warmed": beaker("iodine: 100 %", "small room", 80, 10, "solid"),
    "formalin warmed": beaker("formaldehyde: 37 %, water: 63 %", "small room", 90),
    "ammonia water warmed": beaker("ammonia: 25 %, water: 75 %", "small room", 70),
    "nitromethane on a plate": beaker("nitromethane: 100 %", "hood", 200),
    "hydrazine on a plate": beaker("hydrazine: 100 %", "hood", 150),
    "nitrous oxide over hot copper": tube("nitrous oxide: 100 %", "hood", 500, "copper"),
    "silane": tube("silane: 5 %, argon: 95 %", "room"),
    "phosphine": tube("phosphine: 1 %, nitrogen: 99 %", "room"),
    "arsine": tube("arsine: 0.1 %, hydrogen: 99.9 %", "hood"),
    "ozone": tube("ozone: 5 %, oxygen: 95 %", "room"),
    "hydrogen fluoride in glass": tube(
        "hydrogen fluoride: 10 %, nitrogen: 90 %", "hood", 0, "borosilicate glass 3.3"
    ),
    "hydrogen and chlorine": tube("hydrogen: 50 %, chlorine: 50 %", "hood"),
    "carbon monoxide": tube("carbon monoxide: 100 %", "room"),
    "hydrogen sulfide": tube("hydrogen sulfide: 5 %, nitrogen: 95 %", "small room"),
    "hydrogen into hot air": tube("hydrogen: 100 %", "hood", 600),
    "methane burnt hot": tube("methane: 8 %, oxygen: 19 %, nitrogen: 73 %", "hood", 700),
    "oxygen over polyethylene": tube(
        "oxygen: 100 %", "hood", 200,
        more=", packing: {voidage: 50 %, particle_diameter: 2 mm, length: 50 mm, "
        "material: polyethylene}",
    ),
    "chlorine over hot iron": tube("chlorine: 100 %", "hood", 300, "carbon steel"),
    "hydrogen chloride": tube("hydrogen chloride: 100 %", "room"),
    "vinyl chloride": tube("vinyl chloride: 100 %", "room"),
    "ethylene oxide hot": tube("ethylene oxide: 100 %", "hood", 300),
    "glass at 900 degC": tube("nitrogen: 100 %", "room", 900, "borosilicate glass 3.3"),
}  # fmt: skip
ORDINARY = {
    "nitrogen": tube("nitrogen: 100 %", "room"),
    "nitrogen, hot tube": tube("nitrogen: 100 %", "room", 300),
    "air, hot tube": tube("air: 100 %", "room", 300),
    "helium": tube("helium: 100 %", "room"),
    "oxygen, cold quartz": tube("oxygen: 100 %", "room"),
    "carbon dioxide": tube("carbon dioxide: 100 %", "room"),
    "thin hydrogen, hot tube": tube("hydrogen: 2 %, nitrogen: 98 %", "hood", 300),
    "thin carbon monoxide": tube("carbon monoxide: 0.5 %, nitrogen: 99.5 %", "hood", 300),
    "a trace of sulfur dioxide": tube("sulfur dioxide: 0.01 %, nitrogen: 99.99 %", "hood"),
    "lean methane in air": tube("methane: 0.5 %, oxygen: 20.9 %, nitrogen: 78.6 %", "hood", 300),
    "acetone in the hood": beaker("acetone: 100 %", "hood", 0, 20),
    "methanol in the hood": beaker("methanol: 100 %", "hood", 0, 20),
    "toluene in the hood": beaker("toluene: 100 %", "hood", 0, 20),
    "ethanol, a little": beaker("ethanol: 100 %", "room", 0, 50),
    "vinegar": beaker("acetic acid: 5 %, water: 95 %", "room"),
    "dilute hydrochloric acid": beaker("hydrogen chloride: 10 %, water: 90 %", "room", 0, 50),
    "dilute lye": beaker("sodium hydroxide: 10 %, water: 90 %", "room"),
    "dilute peroxide": beaker("hydrogen peroxide: 3 %, water: 97 %", "room"),
    "dilute ammonia in the hood": beaker("ammonia: 2 %, water: 98 %", "hood", 0, 50),
    "sulfuric acid, cold": beaker("sulfuric acid: 98 %, water: 2 %", "room", 0, 50),
    "wax melted": beaker("paraffin wax: 100 %", "hood", 90, 50, "solid"),
    "strong phosphoric acid": beaker("phosphoric acid: 85 %, water: 15 %", "room"),
    "dilute perchloric acid": beaker("perchloric acid: 10 %, water: 90 %", "hood"),
    "dilute hydriodic acid": beaker("hydrogen iodide: 10 %, water: 90 %", "hood"),
    "ammonium nitrate dissolved": beaker("ammonium nitrate: 25 %, water: 75 %", "room"),
    "manganese dioxide": beaker("manganese dioxide: 100 %", "room", 0, 20, "solid"),
    "bleach by its strength": beaker('"sodium hypochlorite solution 12.5 %": 100 %', "room"),
    "bleach by itself": beaker("sodium hypochlorite: 5 %, water: 95 %", "room"),
    "water boiled": beaker("water: 100 %", "room", 120),
    "salt water boiled": beaker("sodium chloride: 10 %, water: 90 %", "room", 120),
    "glycerol warmed": beaker("glycerol: 100 %", "room", 80),
    "paraffin oil warmed": beaker("paraffin oil: 100 %", "room", 80),
    "soda": beaker("sodium carbonate: 10 %, water: 90 %", "room"),
}


@pytest.mark.parametrize("name", DANGEROUS)
def test_what_is_dangerous_is_refused(name: str) -> None:
    assert shared_engine().review(loads(DANGEROUS[name])).verdict not in PASSES


@pytest.mark.parametrize("name", ORDINARY)
def test_what_is_ordinary_is_allowed(name: str) -> None:
    assert shared_engine().review(loads(ORDINARY[name])).verdict in PASSES
