"""A liquid that a pump feeds stands beside the train in its bottle, which may be dropped.

Common practice, no source: a small bottle of it in the room is ordinary, a large one is not.
"""

import pytest

from review import loads
from tests.practice.score import PASSES
from tests.practice.test_plain import GLASS, HOSE, PTFE, gas, liquid, steps, text
from tests.support import shared_engine

INTO_A_TUBE = HOSE.format("mixer", "PTFE", PTFE).replace(", in: hood", "")
FEED = (
    "inert: {reagent: gas, into: mixer, rate: 1 L/min, reference: standard, at_most: 2 L/min, "
    "instrument: {kind: mass flow controller, calibration_gas: nitrogen}, on_power_loss: stays}, "
    "add: {reagent: liquid, into: mixer, rate: 0.01 mL/min, at_most: 0.02 mL/min, "
    "shut_off_pressure: 0.2 bar gauge, on_power_loss: closes}"
)
RUN = steps(
    "duration: 5 min, flows: {inert: on}", "duration: 20 min, flows: {add: on}",
    "duration: 5 min, flows: {add: off}", "duration: 5 min, flows: {inert: off}",
)  # fmt: skip


def fed(composition: str, amount: str, where: str = "room", more: str = "") -> str:
    trap = f"{{id: bottle, kind: safety bottle, {GLASS}, capacity: 500 mL, {PTFE}}}"
    mixer = INTO_A_TUBE.replace("home_made: no", f"home_made: no, in: {where}")
    out = "{id: outlet, kind: outlet, to: hood, inner_diameter: 8 mm}"
    return text(
        f"{gas('nitrogen: 100 %')}, {liquid(composition, amount)}", [mixer, trap, out], RUN, FEED,
        more,
    )  # fmt: skip


DANGEROUS = {
    "chloroform": fed("chloroform: 100 %", "2.5 L"),
    "benzene": fed("benzene: 100 %", "2.5 L"),
    "strong ammonia water": fed("ammonia: 25 %, water: 75 %", "2.5 L"),
    "chloroform of which nobody says how much": fed("chloroform: 100 %", "2.5 L").replace(
        "amount: 2.5 L, ", ""
    ),
    "ether beside a burner": fed("diethyl ether: 100 %", "500 mL").replace(
        "ignition_sources: none in the room",
        "ignition_sources: {burner: {kind: flame, distance: 0.5 m}}",
    ),
}
ORDINARY = {
    "acetone": fed("acetone: 100 %", "50 mL"),
    "water": fed("water: 100 %", "500 mL"),
    "chloroform in the hood": fed("chloroform: 100 %", "250 mL", "hood"),
}


@pytest.mark.parametrize("name", DANGEROUS)
def test_a_large_bottle_is_dropped_though_a_pump_empties_it(name: str) -> None:
    assert shared_engine().review(loads(DANGEROUS[name])).verdict not in PASSES


@pytest.mark.parametrize("name", ORDINARY)
def test_a_small_bottle_or_one_in_the_hood_is_allowed(name: str) -> None:
    review = shared_engine().review(loads(ORDINARY[name]))
    assert review.verdict in PASSES, [
        (f.criterion, f.at, f.trial) for f in review.findings if f.grade != "acceptable"
    ]
