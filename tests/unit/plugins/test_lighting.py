"""Hydrogen and carbon monoxide over a bed that lights them, catalyst by the file or not.

That such beds light far below autoignition (500 and 605 degC): Hutchings et al., Appl. Catal. A 166
(1998) 143 for carbon monoxide; Doebereiner for platinum; the rest from memory.
"""

from __future__ import annotations

import pytest

from tests.support import shared_engine

TEXT = """
title: Gas over a bed
reagents:
  nitrogen: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L, pressure: 150 bar gauge,
    regulator: 0.1 bar gauge}}
  fuel: {state: gas, composition: {GAS}, held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge,
    regulator: 0.1 bar gauge}}
  bed: {state: solid, composition: {SOLID: 100 %}, amount: 5 g}
flows:
  inert: {reagent: nitrogen, into: tube, rate: 500 mL/min, reference: standard, at_most: 1 L/min, instrument: &meter
    {kind: mass flow controller, calibration_gas: nitrogen}}
  feed: {reagent: fuel, into: tube, rate: 100 mL/min, reference: standard, at_most: 200 mL/min, instrument: *meter}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm, length: 700 mm,
     heated_length: 200 mm, ends: open, joint: screw-thread connector, joint_material: PTFE, home_made: no}
  - {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: HOT degC, hottest: HOT degC}}
procedure:
  - {step: purge, duration: 20 min, flows: {inert: on}}
  - {step: heat, duration: 30 min, heat: {furnace: on}}
  - {step: run, duration: 60 min, flows: {inert: off, feed: on}}
  - {step: sweep, duration: 20 min, flows: {feed: off, inert: on}}
  - {step: cool, duration: 120 min, heat: {furnace: off}}
"""  # noqa: E501


def lit(text: str) -> bool:
    engine = shared_engine()
    review = engine.review(engine.loads(text, "x.yaml"))
    worst = max(
        f.value for f in review.findings
        if f.kind == "ignition.surface_to_autoignition" and f.at == "tube"
    )  # fmt: skip
    return bool(worst >= 1)


@pytest.mark.parametrize(
    ("metal", "stated", "hot", "lights"),
    [("platinum", 480, 150, True), ("nickel", 480, 250, True), ("nickel", 480, 120, False),
     ("nickel", 110, 120, True), ("alumina", 480, 250, False)],
)  # fmt: skip
def test_a_light_off_is_believed_so_far(metal: str, stated: int, hot: int, lights: bool) -> None:
    text = TEXT.replace("GAS", "hydrogen: 100 %").replace("SOLID", metal).replace("HOT", str(hot))
    text += f"catalysts: {{{metal}: {{in: tube, light_off: {stated} degC}}}}\n"
    assert lit(text) is lights


@pytest.mark.parametrize(
    ("gas", "solid", "hot", "lights"),
    [
        ("hydrogen: 100 %", "copper oxide", 250, True),
        ("hydrogen: 100 %", "nickel", 160, True),
        ("hydrogen: 100 %", "palladium on carbon", 60, True),
        ("carbon monoxide: 100 %", "hopcalite", 150, True),
        ("carbon monoxide: 60 %, nitrogen: 40 %", "cobalt oxide", 200, True),
        ("methanol: 60 %, nitrogen: 40 %", "platinum", 100, True),
        ("hydrogen: 100 %", "tin dioxide", 310, True),
        ("hydrogen: 100 %", "tin dioxide", 200, False),
        ("hydrogen: 100 %", "alumina", 250, False),
        ("methane: 100 %", "copper oxide", 250, False),
        ("hydrogen: 100 %", "copper oxide", 40, False),
        ("hydrogen: 5 %, nitrogen: 95 %", "copper oxide", 250, False),
        ("hydrogen: 5 %, argon: 95 %", "copper oxide", 250, False),
        ("hydrogen: 10 %, argon: 90 %", "copper oxide", 250, True),
    ],
)
def test_a_bed_lights_what_is_more_than_weak(gas: str, solid: str, hot: int, lights: bool) -> None:
    text = TEXT.replace("GAS", gas).replace("SOLID", solid).replace("HOT", str(hot))
    assert lit(text) is lights
