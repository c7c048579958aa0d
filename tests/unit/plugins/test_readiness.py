"""Purges, cooling, order and credit for safeguards, worked by hand.

The set-up is `tests/checks/scenarios/ready.yaml`: 1 L/min through 1 L, so that with the mixing
factor 0.25 (NFPA 69, from memory) the old gas falls by a factor e in 240 s.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from review import Engine, Review, loads
from review.interface.measure import MISSING, OK, STATUS_NAMES
from review.interface.result import Outcome
from tests.support import shared_engine

READY = Path(__file__).parents[2] / "checks" / "scenarios" / "ready.yaml"
TEXT = READY.read_text(encoding="utf-8")
#: Without the bottle, which counts as poured into the vessel and moistens the gas.
LYE = TEXT[TEXT.index("  lye:\n") : TEXT.index("flows:\n")]
DRY = ((LYE, ""), (", holds: lye", ""))
SWITCH = "senses: pressure, alarm: 50 mbar gauge, closes: [feed, purge],\n     response_time: 1 s"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def review_of(engine: Engine, *changes: tuple[str, str], upsets: bool = False) -> Review:
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    review = engine.review(loads(text, "ready"), upsets=upsets)
    assert not review.failures
    return review


def at(review: Review, kind: str, place: str, cell: int, of: str = "", run: int = 0) -> float:
    (found,) = [m for m in review.measures if (m.kind, m.at, m.of) == (kind, place, of)]
    return float(found.value[cell, run])


def outcome(review: Review, run: str) -> Outcome:
    (found,) = [o for o in review.outcomes if o.run == run]
    return found


def test_two_volumes_are_purged_as_one(engine):
    """A second litre in series doubles the time: 2 x 240 ln(20.95/6) = 600.2 s of 600 s."""
    second = "  - {id: second, kind: vessel, gas_volume: 1 L, joint: none}\n  - {id: outlet"
    review = review_of(engine, ("  - {id: outlet", second), *DRY)
    assert at(review, "readiness.purge_ratio", "flush", 2) == pytest.approx(
        480 * math.log(20.95 / 6) / 600, rel=1e-4
    )


def test_a_volume_before_a_branch_is_purged_by_all_that_flows(engine):
    """1 L sees the whole litre a minute, a hose of 3.14 mL one part in 17 (Hagen-Poiseuille: 1 to
    16), as slowly as 53.4 mL would be: 240 (1 + 0.0534) ln(20.95/6) s of 600 s."""
    line = "  - {id: ID, kind: line, inner_diameter: BORE mm, length: 1 m, joint: none"
    ways = (
        line.replace("ID", "wide").replace("BORE", "4") + "}\n"
        + line.replace("ID", "narrow").replace("BORE", "2") + ", from: vessel}\n"
        + "  - {id: outlet, from: [wide, narrow]"
    )  # fmt: skip
    review = review_of(engine, ("  - {id: outlet", ways), *DRY)
    assert at(review, "readiness.purge_ratio", "flush", 2) == pytest.approx(
        240 * 1.0534 * math.log(20.95 / 6) / 600, rel=5e-3
    )


STEAM = """
title: t
reagents:
  steam: {state: gas, composition: {nitrogen: 90 %, water: 10 %}}
  iron: {state: solid, composition: {iron: 100 %}, amount: 5 g}
flows: {feed: {reagent: steam, into: tube, rate: 1 L/min, reference: ambient}}
train:
  - {id: tube, kind: reactor, gas_volume: 1 L, inner_diameter: 50 mm, length: 510 mm,
     joint: none, material: fused quartz,
     reactions: [{equation: 3 Fe(s) + 4 H2O -> Fe3O4(s) + 4 H2, limiting: water, conversion: 80 %}]}
  - {id: outlet, kind: outlet, to: hood}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 25 degC}}
procedure:
  - {step: purge, duration: 600 s, flows: {feed: on}}
  - {step: run, duration: 600 s, heat: {furnace: on}}
"""


def test_a_purge_before_fuel_that_forms_there_has_a_time(engine):
    """The purge gas becomes fuel by the declared reaction. Of oxygen no more may be left than 60 %
    of hydrogen's 5 % (NFPA 69, from memory): at least 240 ln(20.95/3) = 466 s of the 600 s."""
    shares = []
    for seconds in (600, 6000):
        text = STEAM.replace("duration: 600 s, flows", f"duration: {seconds} s, flows")
        review = engine.review(loads(text, "t"), upsets=False)
        shares.append(at(review, "readiness.purge_ratio", "purge", 2))
    assert shares[0] >= 466 / 600
    assert shares[1] == pytest.approx(shares[0] / 10)


def test_the_purge_gas_brings_oxygen_of_its_own(engine):
    """With 2 % oxygen in the nitrogen: 240 ln((20.95 - 2)/(6 - 2)) = 373.3 s; with 7 %: never."""
    gas = "composition: {nitrogen: 100 %}"
    some = review_of(engine, (gas, "composition: {nitrogen: 98 %, oxygen: 2 %}"))
    assert at(some, "readiness.purge_ratio", "flush", 2) == pytest.approx(373.3 / 600, rel=1e-3)
    much = review_of(engine, (gas, "composition: {nitrogen: 93 %, oxygen: 7 %}"))
    assert at(much, "readiness.order", "feed", 2, "purge before fuel") == 1


def test_a_step_that_needs_no_purge_needs_no_time(engine):
    review = review_of(engine)
    for cell, step in enumerate(("feed", "warm"), 2):
        assert at(review, "readiness.purge_ratio", step, cell + 1) == 0


def test_no_time_is_given_to_other_steps(engine):
    """The ratio of one step is told in the step after it alone."""
    review = review_of(engine)
    (found,) = [m for m in review.measures if (m.kind, m.at) == ("readiness.purge_ratio", "flush")]
    assert [bool(v) for v in found.value[:, 0]] == [False, False, True, False, False, False]


def test_an_estimated_limiting_oxygen_is_an_estimated_purge(engine):
    """Argon inerts less than nitrogen, by the ratio of heat capacities: an estimate."""
    review = review_of(engine, ("composition: {nitrogen: 100 %}", "composition: {argon: 100 %}"))
    (found,) = [m for m in review.measures if (m.kind, m.at) == ("readiness.purge_ratio", "flush")]
    assert STATUS_NAMES[found.status[2, 0]] == "estimated"


def test_cooling_by_hand(engine):
    """600 ln((100 - 20)/(60 - 20)) = 415.9 s of 1200 s; from 50 degC nothing is needed."""
    review = review_of(engine)
    assert at(review, "readiness.cooling_ratio", "cool", 5, "plate") == pytest.approx(
        600 * math.log(2) / 1200
    )
    mild = review_of(engine, ("set_temperature: 100 degC", "set_temperature: 50 degC"))
    assert at(mild, "readiness.cooling_ratio", "cool", 5, "plate") == 0


def test_reversing_the_steps_names_the_step(engine):
    review = review_of(
        engine,
        ("{step: flush, duration: 10 min, flows: {purge: on}}",
         "{step: feed, duration: 10 min, flows: {feed: on}}"),
        ("{step: feed, duration: 10 min, flows: {purge: off, feed: on}}",
         "{step: flush, duration: 10 min, flows: {feed: off, purge: on}}"),
        ("before: feed", "before: flush"),
        ("flows: {feed: off, purge: on}, heat: {plate: off}", "heat: {plate: off}"),
    )  # fmt: skip
    wrong = {
        (f.at, f.of)
        for f in review.findings
        if f.criterion == "readiness.order" and f.grade == "unacceptable"
    }
    assert wrong == {("feed", "purge before fuel")}


# Credit. A blocked outlet lets the pressure rise to the supply's 0.5 bar, and the vessel holds 0.2
# bar: refused alone. 1 L/min at 20 degC and 1 atm into 1 L at 100 degC is 101325/60 x 373.15/293.15
# = 2149.6 Pa/s. At most 80 % of the rating may be in use before, so 4000 Pa are left: 1.861 s.
BLOCKED = "blocked:outlet:feed"


def closing(review: Review) -> float:
    run = [r.id for r in review.trials.runs].index(BLOCKED)
    return at(review, "readiness.closing_margin", "pressure switch 2", 2, run=run)


def test_a_quick_safeguard_makes_it_tolerable(engine):
    # Cold throughout, since what is shut in and then heated bursts whoever closed it: 101325/60 =
    # 1688.8 Pa/s, so 2.369 s.
    cold = ("heat: {plate: on}", "heat: {plate: off}")
    review = review_of(engine, cold, upsets=True)
    assert closing(review) == pytest.approx(2.369, rel=1e-3)
    found = outcome(review, BLOCKED)
    assert found.grade == "tolerable"
    assert found.credit == "pressure switch closes feed, purge"
    hot = outcome(review_of(engine, upsets=True), BLOCKED)
    assert hot.grade == "unacceptable"  # 373.15/293.15 of an atmosphere is 0.277 bar over
    without = review_of(engine, (f"  - {{kind: pressure switch, {SWITCH}}}\n", ""), upsets=True)
    assert outcome(without, BLOCKED).grade == "unacceptable"


def test_a_slow_safeguard_earns_nothing(engine):
    review = review_of(engine, ("response_time: 1 s", "response_time: 3 s"), upsets=True)
    assert closing(review) == pytest.approx(1.861 / 3, rel=1e-3)
    found = outcome(review, BLOCKED)
    assert found.grade == "unacceptable"
    assert "no credit, it is too slow or too small by a factor of 1.61" in found.credit


@pytest.mark.parametrize(
    "switch",
    [
        SWITCH.replace(",\n     response_time: 1 s", ""),
        SWITCH.replace(", alarm: 50 mbar gauge", ""),
        SWITCH.replace("50 mbar gauge", "1 bar gauge"),
        SWITCH.replace("senses: pressure, alarm: 50 mbar gauge, ", ""),
        SWITCH.replace("senses: pressure", "senses: feed"),
    ],
    ids=["no response time", "no alarm", "alarm above the supply", "senses nothing", "the feed"],
)
def test_a_safeguard_that_cannot_be_shown_to_act_earns_nothing(engine, switch):
    review = review_of(engine, (SWITCH, switch), upsets=True)
    assert math.isnan(closing(review))
    found = outcome(review, BLOCKED)
    assert found.grade == "unacceptable"
    assert "no credit" in found.credit and "not known" in found.credit


def test_it_is_not_credited_for_what_it_does_not_notice(engine):
    review = review_of(engine, upsets=True)
    assert "no credit" in outcome(review, "ventilation lost:feed").credit


# Hydrogen comes while the vessel is hot. If the purge fails unseen it meets air there: refused.
HOT = (
    ("methane: 10 %", "hydrogen: 10 %"),
    ("flows: {purge: off, feed: on}}", "flows: {purge: off, feed: on}, heat: {plate: on}}"),
    ("step: warm, duration: 20 min, heat: {plate: on}", "step: warm, duration: 20 min"),
    ("set_temperature: 100 degC", "set_temperature: 360 degC"),
    ("hottest: 110 degC", "hottest: 365 degC"),
    ("step: flush, duration: 10 min", "step: flush, duration: 20 min"),
    ("step: cool, duration: 20 min", "step: cool, duration: 60 min"),
    ("borosilicate glass 3.3", "fused quartz"),
)  # fmt: skip
UNPURGED = "flow lost:purge:flush"


def test_a_look_before_the_fuel_comes_is_credited(engine):
    review = review_of(engine, *HOT, upsets=True)
    run = [r.id for r in review.trials.runs].index(UNPURGED)
    # The flush lasts 1200 s, the look takes 60 s.
    assert at(review, "readiness.reveal_margin", "flow check 1", 1, run=run) == 20
    found = outcome(review, UNPURGED)
    assert found.grade == "tolerable"
    assert "flow check looked at before step feed" in found.credit
    assert "flow check looked at before step feed: no credit" not in found.credit


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (", takes: 1 min", "", "not known"),
        ("takes: 1 min", "takes: 30 min", "too slow or too small by a factor of 1.5"),
        ("kind: flow check", "kind: smell of the gas", "not known"),
        ("kind: flow check", "kind: detector", "not known"),
        ("kind: flow check", "kind: detector, senses: carbon monoxide, alarm: 25 ppm, at: room",
         "not known"),
        ("kind: flow check", "kind: detector, senses: hydrogen, alarm: 30 % LFL, at: room",
         "not known"),
        ("kind: flow check", "kind: detector, senses: hydrogen, alarm: 10 % LFL, at: cellar",
         "not known"),
    ],
    ids=["takes not given", "slow", "odour", "senses nothing", "wrong gas", "late alarm", "place"],
)  # fmt: skip
def test_a_look_that_cannot_be_shown_to_help_earns_nothing(engine, old, new, why):
    review = review_of(engine, *HOT, (old, new), upsets=True)
    found = outcome(review, UNPURGED)
    assert found.grade == "unacceptable"
    assert "no credit" in found.credit and why in found.credit


def test_a_detector_shows_only_what_brings_its_gas(engine):
    """No hydrogen is let out while the purge is missing; with the feed not stopped there is."""
    changes = (
        ("kind: flow check, reveals: [purge], before: feed",
         "kind: detector, senses: hydrogen, alarm: 1 ppm, at: hood, reveals: [purge, feed]"),
        ("flows: {feed: off, purge: on}, heat: {plate: off}}\n",
         "flows: {feed: off, purge: on}, heat: {plate: off}}\n  - {step: rest, duration: 1 h}\n"),
    )  # fmt: skip
    review = review_of(engine, *HOT, *changes, upsets=True)
    assert "no credit" in outcome(review, UNPURGED).credit
    (found,) = [m for m in review.measures if m.kind == "readiness.reveal_margin"]
    runs = [r.id for r in review.trials.runs]
    assert found.status[1, runs.index(UNPURGED)] == MISSING
    assert found.status[4, runs.index("flow not stopped:feed:cool")] == OK
    assert found.value[4, runs.index("flow not stopped:feed:cool")] == 60  # 60 min over 1 min
