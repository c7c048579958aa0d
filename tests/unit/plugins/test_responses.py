"""What an operator is told to do when something fails: the rules that every line must keep.

The rules are general trade practice (common practice, no source): feed before heat, inert gas goes
on, no air to what is hot, nothing opened under pressure, nobody goes to a leak.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from review.plugins.shared.inert import inert_flows

from review import Engine, Overlay, Scenario, load, loads
from review.judge.packed import pack, unpack
from review.judge.stored import measures_from_json, measures_to_json
from tests.support import shared_engine

ROOT = Path(__file__).parents[3]
DEMOS = sorted((ROOT / "scenarios").glob("*.yaml"))
sys.path.insert(0, str(ROOT / "tests" / "generated"))
from generator import scenario as invented  # noqa: E402

BENCH = """
title: hydrogen over a hot bed
reagents:
  fuel: {state: gas, composition: {hydrogen: 100 %},
         held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.5 bar gauge}}
  inert: {state: gas, composition: {N2: 100 %},
          held: {as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.5 bar gauge}}
flows:
  fuel: {reagent: fuel, into: tube, rate: 1 L/min, reference: ambient, at_most: 2 L/min,
         on_power_loss: closes}
  purge: {reagent: inert, into: tube, rate: 1 L/min, reference: ambient, at_most: 2 L/min,
         on_power_loss: stays}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
     length: 600 mm, joint: none, home_made: no, ends: open,
     reactions: [{equation: CuO(s) + H2 -> Cu(s) + H2O, limiting: hydrogen, conversion: 80 %}]}
  - {id: bottle, kind: wash bottle, material: borosilicate glass 3.3, liquid: water,
     liquid_volume: 100 mL, gas_volume: 100 mL, dip_depth: 40 mm, dip_tube_bore: 6 mm, joint: none,
     absorbs: {hydrogen chloride: {efficiency: 90 %}}}
  - {id: outlet, kind: outlet, to: hood}
heat:
  furnace: {heats: tube, kind: tube furnace, set_temperature: 300 degC, hottest: 320 degC}
  flame: {heats: tube, kind: bunsen burner, set_temperature: 300 degC, hottest: 320 degC,
          fuel: fuel, fuel_rate: 100 mL/min}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: purge, duration: 10 min, flows: {purge: on}}
  - {step: heat, duration: 10 min, flows: {fuel: on}, heat: {furnace: on, flame: on}}
  - {step: run, duration: 10 min, flows: {purge: off}}
  - {step: cool, duration: 60 min, flows: {fuel: off, purge: on}, heat: {furnace: off, flame: off}}
safeguards:
  - {kind: flow switch, reveals: fuel, takes: 5 s}
"""


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.fixture(scope="module")
def bench(engine: Engine) -> dict[str, Overlay]:
    """The failures of a bench with fuel, inert gas, heat, reaction and wash bottle, by kind."""
    return {o.id.split(":")[0]: o for o in failures(engine, loads(BENCH))}


def failures(engine: Engine, scenario: Scenario) -> Iterator[Overlay]:
    return (o for o in engine.overlays(scenario) if o.case == "upset")


def test_every_failure_of_every_demo_says_what_is_seen_and_done(engine: Engine) -> None:
    scenarios = [*map(load, DEMOS), *(loads(invented(start)) for start in range(40)), loads(BENCH)]
    kinds = set()
    for scenario in scenarios:
        for upset in failures(engine, scenario):
            kinds.add(upset.id.split(":")[0])
            for text in (upset.sign, upset.response):
                assert text[-1:] == "." and "\n" not in text and "  " not in text, upset
                assert len(text) <= 240, upset
                assert not re.search(r"\bsafe", text, re.I), upset
            assert upset.response[0].isupper()
    assert len(kinds) >= 18


def test_nothing_is_ever_opened_to_air(engine: Engine) -> None:
    for scenario in [*map(load, DEMOS), loads(BENCH)]:
        for upset in failures(engine, scenario):
            text = upset.response.lower()
            for harmless in ("let no air in", "never air", "open nothing", "open no joint"):
                text = text.replace(harmless, "")
            assert not re.search(r"\bair\b|\bopen\b|\bwindow", text.replace("shut air", "")), upset


def test_feed_goes_off_before_heat_and_inert_gas_goes_on(bench: dict[str, Overlay]) -> None:
    for kind, upset in bench.items():
        text = upset.response.lower()
        if kind in ("blocked", "flow at its most", "flow lost", "flow not stopped"):
            continue  # asked for below
        if kind == "hoses exchanged":
            assert "shut every flow" in text and "let purge flow" not in text, upset
            continue  # what flows as the inert gas may be the fuel
        assert "shut fuel" in text or kind == "flame out", upset
        assert "shut purge" not in text, upset
        if kind not in ("regulator failed", "flame out"):
            assert "let purge flow" in text, upset
            assert text.index("shut fuel") < text.index(" off"), upset
            assert text.index(" off") < text.index("let purge flow"), upset


def test_a_plug_stops_every_flow_first_inert_gas_too(bench: dict[str, Overlay]) -> None:
    text = bench["blocked"].response
    assert text.startswith("Shut every flow at its supply, inert gas too, then heat off.")
    assert "open no joint under pressure" in text
    assert "let purge flow" not in text


def test_inert_gas_lost_is_not_fuel_lost(engine: Engine) -> None:
    upsets = {o.id: o for o in failures(engine, loads(BENCH))}
    inert, fuel = upsets["flow lost:purge:purge"], upsets["flow lost:fuel:run"]
    assert "Else shut fuel, heat off." in inert.response
    assert "let no air in" in inert.response and "let purge flow" not in inert.response
    assert "Else shut fuel by hand" in fuel.response and "let purge flow" in fuel.response
    assert "do not shut it off" in upsets["flow at its most:purge:purge"].response
    assert "Shut fuel at the supply" in upsets["flow at its most:fuel:run"].response


def test_liquid_that_climbs_back_meets_inert_gas_never_air(bench: dict[str, Overlay]) -> None:
    said = "If liquid climbs back, let in purge, never air."
    for kind in ("flow lost", "heat lost", "joint open inward"):
        assert said in bench[kind].response


def test_a_flow_is_inert_only_if_all_of_it_is(engine: Engine) -> None:
    mixed = BENCH.replace("{N2: 100 %}", "{N2: 98 %, hydrogen: 2 %}")
    for upset in failures(engine, loads(mixed)):
        assert "let purge flow" not in upset.response, upset


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("joint open outward", "Do not go to the leak."),
        ("joint open outward", "leave, close the door, call"),
        ("broken", "leave, close the door, call"),
        ("ventilation lost", "Leave, close the door, call."),
        ("regulator failed", "Shut the cylinder valve"),
        ("flame out", "No switch, no spark, no relighting"),
        ("reaction complete", "heat off alone does not"),
        ("heat at its most", "a reaction may go on heating by itself"),
        ("no reaction", "Do not heat more"),
        ("skipped", "Do not catch up in a hurry"),
        ("swapped", "begin again with the first step"),
    ],
)
def test_what_a_hazard_asks_for(bench: dict[str, Overlay], kind: str, said: str) -> None:
    assert said in bench[kind].response


def test_when_the_power_fails_what_stops_and_what_goes_on_is_named(
    bench: dict[str, Overlay], engine: Engine
) -> None:
    sign = bench["power lost"].sign
    assert "Stops: fuel, furnace and ventilation." in sign
    assert "Goes on, if it was on: purge and flame." in sign
    assert "every heat source off" in bench["power lost"].response
    closing = BENCH.replace("on_power_loss: stays", "on_power_loss: closes")
    lost = [o for o in failures(engine, loads(closing)) if o.id.startswith("power lost")]
    assert all("let no air in" in o.response for o in lost)
    assert all("let purge flow" not in o.response for o in lost)


def changed(*changes: tuple[str, str]) -> Scenario:
    text = BENCH
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return loads(text)


SATURATOR = """train:
  - {id: saturator, kind: wash bottle, material: borosilicate glass 3.3, liquid: methanol,
     liquid_volume: 100 mL, gas_volume: 100 mL, dip_depth: 40 mm, dip_tube_bore: 6 mm, joint: none}
"""


def test_inert_gas_that_takes_up_fuel_before_the_heat_is_fuel(engine: Engine) -> None:
    """Nitrogen through methanol feeds methanol: let it flow, and the hot bed goes on being fed."""
    through = changed(
        ("train:\n", SATURATOR), ("purge: {reagent: inert, into: tube", "purge: {reagent: inert, "
        "into: saturator"),
    )  # fmt: skip
    for upset in failures(engine, through):
        assert "let purge flow" not in upset.response, upset
        assert "let in purge" not in upset.response, upset
    absorbing = SATURATOR.replace(
        "joint: none}", "joint: none, absorbs: {water: {efficiency: 9 %}}}"
    )
    also = changed(
        ("train:\n", absorbing), ("purge: {reagent: inert, into: tube", "purge: {reagent: inert, "
        "into: saturator"),
    )  # fmt: skip
    assert inert_flows(also) == []
    beside = changed(("train:\n", SATURATOR))
    assert any("let purge flow" in upset.response for upset in failures(engine, beside))


@pytest.mark.parametrize("liquid", ["water", "sulfuric acid"])
def test_a_drying_bottle_before_the_heat_leaves_gas_inert(engine: Engine, liquid: str) -> None:
    through = changed(
        ("train:\n", SATURATOR.replace("methanol", liquid)),
        ("purge: {reagent: inert, into: tube", "purge: {reagent: inert, into: saturator"),
    )
    assert any("let purge flow" in upset.response for upset in failures(engine, through))


def test_a_liquid_behind_the_heat_leaves_gas_inert(engine: Engine) -> None:
    """Stopping it would draw the liquid towards what is hot."""
    behind = changed(("liquid: water,", "liquid: methanol,"))
    assert any("let purge flow" in upset.response for upset in failures(engine, behind))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("inert: {state: gas,", "inert: {state: liquid,"),
        ("{N2: 100 %}", "{carbon dioxide: 100 %}"),
    ],
)  # fmt: skip
def test_what_is_liquid_or_only_smothers_is_not_inert(engine: Engine, old: str, new: str) -> None:
    for upset in failures(engine, changed((old, new))):
        assert "let purge flow" not in upset.response, upset


def test_nitrogen_is_not_inert_to_hot_magnesium() -> None:
    """Magnesium burns on in nitrogen, to its nitride; in argon it does not."""
    bed = (
        "flows:\n  fuel",
        "  bed: {state: solid, composition: {magnesium: 100 %}}\nflows:\n  fuel",
    )
    assert inert_flows(changed(bed)) == []
    assert inert_flows(changed(bed, ("{N2: 100 %}", "{argon: 100 %}"))) == ["purge"]


def test_a_plug_is_told_from_a_lost_flow_before_anything_flows(engine: Engine) -> None:
    """Its meter falls to zero too: inert gas let in would raise the pressure behind it."""
    for upset in failures(engine, loads(BENCH)):
        if upset.id.startswith("flow lost"):
            blocked = "If the pressure climbs, it is a blockage: shut every flow, then heat off. "
            assert upset.response.startswith(f"{blocked}Else shut")


def test_a_gas_that_cannot_be_throttled_is_shut_before_something_bursts(
    bench: dict[str, Overlay], engine: Engine
) -> None:
    upsets = {o.id: o for o in failures(engine, loads(BENCH))}
    said = upsets["flow at its most:purge:purge"].response
    assert said.endswith("if the pressure still climbs, shut purge at its supply too.")


def test_a_lost_flow_is_not_asked_to_flow(engine: Engine) -> None:
    upsets = {o.id: o for o in failures(engine, loads(BENCH))}
    assert "let in purge" not in upsets["flow lost:purge:purge"].response


@pytest.mark.parametrize("kind", ["joint open outward", "broken"])
def test_nothing_is_switched_amid_gas(bench: dict[str, Overlay], kind: str) -> None:
    assert "heat off at a switch away from the gas" in bench[kind].response


def test_every_feed_is_shut_where_one_regulator_fails_and_no_gas_is_inert(engine: Engine) -> None:
    oxygen = changed(("{N2: 100 %}", "{oxygen: 100 %}"))
    failed = [o for o in failures(engine, oxygen) if o.id.startswith("regulator failed")]
    assert failed and all("shut fuel and purge, heat off" in o.response for o in failed)


def test_every_heat_source_goes_off_when_one_fails(bench: dict[str, Overlay]) -> None:
    for kind in ("heat lost", "heat at its most"):
        assert "all other heat off" in bench[kind].response


def test_a_room_without_air_is_left_where_a_liquid_burns(engine: Engine) -> None:
    spirit = load(ROOT / "scenarios" / "diethyl_ether_on_a_hot_plate.yaml")
    lost = [o for o in failures(engine, spirit) if o.id.startswith("ventilation lost")]
    assert lost and all("eave, close the door, call." in o.response for o in lost)


def test_a_reaction_without_a_feed_is_not_said_to_stop_with_it(engine: Engine) -> None:
    alone = changed(("{state: gas, composition: {hydrogen: 100 %}", "{state: gas, composition: "
                     "{argon: 100 %}"))  # fmt: skip
    for upset in failures(engine, alone):
        assert "Shutting the feed stops it" not in upset.response


def test_a_lone_inert_flow_is_shut_like_any_other(engine: Engine) -> None:
    for upset in failures(engine, load(ROOT / "scenarios" / "nitrogen_dried.yaml")):
        assert "let nitrogen flow" not in upset.response
        assert "heat" not in upset.response and "cold" not in upset.response


def test_a_failure_with_a_safeguard_keeps_its_lines(engine: Engine) -> None:
    upsets = {o.id: o for o in failures(engine, loads(BENCH))}
    countered = [o for o in upsets.values() if o.counters]
    assert countered
    for each in countered:
        failure = upsets[each.counters]
        assert (each.sign, each.response) == (failure.sign, failure.response)


def test_the_lines_stay_with_stored_measures(engine: Engine) -> None:
    review = engine.review(loads(BENCH))
    assert any(run.sign and run.response for run in review.trials.runs)
    plain = json.loads(json.dumps(measures_to_json(review.measures, review.trials)))
    assert measures_from_json(plain)[1] == review.trials
    packed = pack(review.measures, review.trials, review.kinds)
    assert unpack(packed)[1] == review.trials


def test_lines_that_are_no_text_cost_a_plugin_its_upset(tmp_path: Path) -> None:
    plugin = tmp_path / "odd.py"
    plugin.write_text(
        "from review import Check, Overlay, hookimpl\n"
        "@hookimpl\ndef check():\n"
        "    return Check('odd', 'Odd', '1', ('a',), ('b',), ('c',))\n"
        "@hookimpl\ndef upsets(scenario):\n"
        "    return [Overlay('u', 'u', 'upset', {'flows.fuel.rate': 0.0}, 1, response=3)]\n"
    )
    review = Engine(plugin_files=[plugin]).review(loads(BENCH))
    assert "its sign and its response must be text" in review.failures[0].reason


def test_no_sign_is_of_a_thing_that_the_set_up_does_not_have(engine: Engine) -> None:
    """Detector, thermometer, bubbles, the gauge of a hood: each only where the file states one."""
    scenarios = [*map(load, DEMOS), loads(BENCH)]
    met = set()
    for scenario in scenarios:
        kinds = " ".join(f"{each.kind} {each.senses or ''}" for each in scenario.safeguards)
        hood = scenario.ventilation is not None and scenario.ventilation.hood is not None
        has = {
            "detector": "detector" in kinds,
            "thermometer": "thermo" in kinds or "temperature" in kinds,
            "ubbles": any(item.dip_depth is not None for item in scenario.train),
            "hood": hood,
        }
        for upset in failures(engine, scenario):
            for thing, there in has.items():
                met.add((thing, there))
                if not there:
                    assert thing not in upset.sign, (scenario.title, upset.id)
    assert len(met) >= 7


def test_a_flow_without_a_meter_has_no_meter_that_falls(engine: Engine) -> None:
    text = BENCH.replace(
        "on_power_loss: closes}", "on_power_loss: closes, instrument: {kind: none}}"
    )
    signs = {u.id: u.sign for u in failures(engine, loads(text)) if u.id.startswith("flow lost")}
    assert all(("meter" in sign) == (":purge:" in id) for id, sign in signs.items()) and signs
