"""What reaches a train from outside: wind, another supply's hose, another branch's gas.

Each failure has its twins: two set-ups that differ in one point, and only one of them meets it.
"""

from __future__ import annotations

import pytest

from review import Engine, FloatArray, Review

ENVELOPE = "flammability.margin"
FUEL = "flammability.fuel_to_lower_limit"


def reviewed(engine: Engine, text: str) -> Review:
    return engine.review(engine.loads(text, "x.yaml"))


def ids(review: Review) -> list[str]:
    return [each.id for each in review.trials.runs]


def values(review: Review, kind: str, at: str, run: str, of: str = "") -> FloatArray:
    """Over the cells, in one run."""
    (found,) = [m for m in review.measures if (m.kind, m.at, m.of) == (kind, at, of)]
    return found.value[:, ids(review).index(run)]


def differs(review: Review, kind: str, at: str, run: str, step: int) -> bool:
    """Whether a failure changes a measure in a step."""
    return bool(
        values(review, kind, at, run)[step] != values(review, kind, at, "plan")[step]
    )


# Wind. A gale stands on the outlet with 0.5 x 1.204 x 20.6^2 = 255 Pa, which takes 0.25 % of the
# gas before it: of 10.06 L, 25 mL; twice that is where air is found. A hose of 4 mm holds 12.6 mL
# a metre: through one of 1 m it comes into the bulb, in one of 6 m (75 mL) it stays.
WINDY = """
title: Hydrogen through a bulb and out of a window
reagents: {gas: {state: gas, composition: {hydrogen: 100 %}}}
flows: {feed: {reagent: gas, into: flask, rate: 500 mL/min, reference: ambient}}
train:
  - {id: flask, kind: trap, gas_volume: 10 L}
  - {id: bulb, kind: trap, gas_volume: 50 mL}
  - {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m}
  - {id: out, kind: outlet, to: outdoors, inner_diameter: 4 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: flush, duration: 10 h, flows: {feed: on}}
  - {step: run, duration: 10 min}
"""


@pytest.mark.parametrize(
    ("changed", "comes_in"),
    [
        ({}, True),
        ({"length: 1 m": "length: 6 m"}, False),
        ({"gas_volume: 10 L": "gas_volume: 1 L"}, False),
        ({"kind: line, inner_diameter: 4 mm, length: 1 m": "kind: check valve, gas_volume: 1 mL, "
          "cracking_pressure: 0.01 bar gauge"}, False),
    ],
    ids=["short hose", "long hose", "little gas before it", "check valve"],
)  # fmt: skip
def test_wind_brings_air_as_far_as_it_squeezes_the_gas(
    engine: Engine, changed: dict[str, str], comes_in: bool
) -> None:
    text = WINDY
    for old, new in changed.items():
        assert old in text
        text = text.replace(old, new)
    review = reviewed(engine, text)
    assert differs(review, ENVELOPE, "bulb", "wind:out", 2) is comes_in


def test_no_wind_blows_in_a_room(engine: Engine) -> None:
    review = reviewed(engine, WINDY.replace("to: outdoors", "to: room"))
    assert not any(each.startswith("wind") for each in ids(review))


# 255 Pa lift 26 mm of water: a bottle whose liquid has to climb 20 mm runs back, with 150 mm not.
BUBBLED = """
title: Nitrogen bubbled out of a window
reagents: {gas: {state: gas, composition: {nitrogen: 100 %}}, water: {state: liquid, composition: {water: 100 %}}}
flows: {feed: {reagent: gas, into: flask, rate: 500 mL/min, reference: ambient}}
train:
  - {id: flask, kind: trap, gas_volume: 10 L}
  - {id: bottle, kind: wash bottle, gas_volume: 150 mL, liquid: water, liquid_volume: 100 mL, dip_depth: 10 mm, dip_tube_bore: 6 mm, lift: LIFT}
  - {id: out, kind: outlet, to: outdoors, inner_diameter: 6 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: flush, duration: 1 h, flows: {feed: on}}
  - {step: rest, duration: 10 min, flows: {feed: off}}
"""  # noqa: E501


@pytest.mark.parametrize(("lift", "runs_back"), [("20 mm", True), ("150 mm", False)])
def test_wind_lifts_the_liquid_of_a_low_bottle(
    engine: Engine, lift: str, runs_back: bool
) -> None:
    """It squeezes the 10 L by what it presses more than the column: (255 - 196) Pa of 1 atm."""
    review = reviewed(engine, BUBBLED.replace("LIFT", lift))
    drawn = values(review, "pressure.suckback_reach", "bottle", "wind:out")
    assert drawn[2] == pytest.approx(5.9e-4 if runs_back else 0.0, rel=0.02)


# Two branches join one line; when it is blocked, each supply presses into the other's branch.
JOINED = """
title: Hydrogen and oxygen join one line
reagents:
  fuel: {state: gas, composition: {hydrogen: 100 %}}
  oxygen: {state: gas, composition: {oxygen: 100 %}}
flows:
  fuel: {reagent: fuel, into: fuel line, rate: 100 mL/min, reference: ambient}
  oxygen: {reagent: oxygen, into: oxygen line, rate: 10 mL/min, reference: ambient}
train:
  - {id: fuel line, kind: line, from: [], inner_diameter: 4 mm, length: 1 m}
  - {id: oxygen line, kind: line, from: [], inner_diameter: 4 mm, length: 1 m}
  - {id: stop, kind: KIND, from: oxygen line, gas_volume: 1 mL}
  - {id: joint, kind: junction, from: [fuel line, stop], gas_volume: 1 mL}
  - {id: out, kind: outlet, to: room, inner_diameter: 4 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure: [{step: run, duration: 10 min, flows: {fuel: on, oxygen: on}}]
"""
CHECK = "check valve, cracking_pressure: 0.01 bar gauge"


@pytest.mark.parametrize(("kind", "comes"), [("trap", True), (CHECK, False)])
def test_the_gas_of_one_branch_is_pressed_into_the_other(
    engine: Engine, kind: str, comes: bool
) -> None:
    """Into oxygen that stands before a check valve no hydrogen comes; into the fuel oxygen does."""
    review = reviewed(engine, JOINED.replace("KIND", kind))
    run = "pushed back:joint:run"
    assert bool(values(review, FUEL, "oxygen line", run)[1] > 0.0) is comes
    assert values(review, FUEL, "oxygen line", "blocked:joint:run")[1] == 0.0
    assert differs(review, ENVELOPE, "fuel line", run, 1)


@pytest.mark.parametrize("same", ["reagent: fuel, into: oxygen line", "into: fuel line"])
def test_branches_that_bring_one_gas_push_nothing_new(engine: Engine, same: str) -> None:
    text = JOINED.replace("KIND", "trap")
    one = text.replace("reagent: oxygen, into: oxygen line", same if "reagent" in same else
                       "reagent: oxygen, into: joint")  # fmt: skip
    assert one != text
    pushed = [each for each in ids(reviewed(engine, one)) if each.startswith("pushed back")]
    assert pushed == []


# A dead leg beside a bottle that takes the gas up holds the gas as it comes, not as it leaves.
BESIDE = """
title: Two gases led into one bottle
reagents:
  acid: {state: gas, composition: {hydrogen chloride: 5 %, nitrogen: rest}}
  inert: {state: gas, composition: {nitrogen: 100 %}}
  lye: {state: liquid, composition: {sodium hydroxide: 10 %, water: 90 %}}
flows:
  acid: {reagent: acid, into: acid line, rate: 100 mL/min, reference: ambient}
  inert: {reagent: inert, into: inert line, rate: 100 mL/min, reference: ambient}
train:
  - {id: acid line, kind: line, from: [], inner_diameter: 4 mm, length: 1 m, material: PTFE}
  - {id: inert line, kind: line, from: [], inner_diameter: 4 mm, length: 1 m, material: aluminium}
  - {id: bottle, kind: wash bottle, from: [acid line, inert line], gas_volume: 150 mL, liquid: lye,
     liquid_volume: 100 mL, dip_depth: 20 mm, dip_tube_bore: 6 mm, lift: 150 mm, absorbs: {hydrogen chloride: {efficiency: 100 %}}}
  - {id: out, kind: outlet, to: room, inner_diameter: 4 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure: [{step: run, duration: 60 min, flows: {acid: on}}]
"""  # noqa: E501


@pytest.mark.parametrize(("on", "comes"), [("acid: on", True), ("inert: on", False)])
def test_what_an_absorber_takes_up_stands_in_the_leg_beside_it(
    engine: Engine, on: str, comes: bool
) -> None:
    review = reviewed(engine, BESIDE.replace("acid: on", on))
    found = [
        m for m in review.measures
        if (m.kind, m.at, m.of) == (
            "corrosion.rating", "inert line", "aluminium and hydrogen chloride"
        )
    ]  # fmt: skip
    assert any(bool(~(m.value[1, 0] <= 0)) for m in found) is comes


# Hoses. Outlets of the valves of hydrogen and nitrogen cylinders differ; their hoses need not.
HOSES = """
title: Hydrogen and nitrogen by hose
reagents:
  fuel: {state: gas, composition: {hydrogen: 100 %}, held: FUEL}
  inert: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L, pressure: 100 bar gauge}}
flows:
  feed: {reagent: fuel, into: pipe, rate: 100 mL/min, reference: ambient}
  purge: {reagent: inert, into: pipe, rate: 100 mL/min, reference: ambient}
train:
  - {id: pipe, kind: line, inner_diameter: 6 mm, length: 300 mm}
  - {id: out, kind: outlet, to: room, inner_diameter: 6 mm}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: purge, duration: 10 min, flows: {purge: on}}
  - {step: run, duration: 10 min, flows: {purge: off, feed: on}}
"""  # noqa: E501
CYLINDER = "{as: cylinder, volume: 10 L, pressure: 100 bar gauge}"
SWAP = "hoses exchanged:feed:purge"


@pytest.mark.parametrize("fuel", [CYLINDER, "{as: mains}", "{as: generator, rate: 100 mL/min}"])
def test_the_wrong_gas_comes_by_the_hose(engine: Engine, fuel: str) -> None:
    review = reviewed(engine, HOSES.replace("FUEL", fuel))
    assert values(review, FUEL, "pipe", "plan")[1] == 0.0
    assert values(review, FUEL, "pipe", SWAP)[1] > 1.0


@pytest.mark.parametrize(
    ("feed", "purge", "fit"),
    [("", "", True), ("claw", "", True), ("claw", "claw", True), ("claw", "olive", False)],
)
def test_hoses_of_different_connectors_are_not_exchanged(
    engine: Engine, feed: str, purge: str, fit: bool
) -> None:
    """What nobody says of a connector, it fits."""
    text = HOSES.replace("FUEL", CYLINDER)
    for name, connector in (("fuel", feed), ("inert", purge)):
        if connector:
            text = text.replace(f"reagent: {name},", f"reagent: {name}, connector: {connector},")
    found = {each.id for each in engine.overlays(engine.loads(text, "x.yaml"))}
    assert (SWAP in found) is fit


def test_room_air_and_a_gas_made_in_the_train_come_by_no_hose(engine: Engine) -> None:
    drawn = HOSES.replace("FUEL", "{as: room air}")
    assert SWAP not in {each.id for each in engine.overlays(engine.loads(drawn, "x.yaml"))}


def test_cylinders_that_fit_each_other_are_exchanged_once(engine: Engine) -> None:
    text = HOSES.replace("FUEL", CYLINDER).replace("hydrogen: 100 %", "argon: 100 %")
    found = {each.id for each in engine.overlays(engine.loads(text, "x.yaml"))}
    assert "exchanged:feed:purge" in found and SWAP not in found


@pytest.mark.parametrize(("failure", "shown"), [("flow lost:purge:purge", True), (SWAP, False)])
def test_a_look_at_a_flow_does_not_show_which_gas_it_is(
    engine: Engine, failure: str, shown: bool
) -> None:
    looked = HOSES.replace("FUEL", CYLINDER) + """
safeguards: [{kind: flow check, reveals: [purge, feed], before: run, takes: 20 s}]
"""
    scenario = engine.loads(looked, "x.yaml")
    assert any(each.counters == failure for each in engine.overlays(scenario)) is shown
