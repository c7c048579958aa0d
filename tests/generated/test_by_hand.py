"""Two set-ups worked out by hand: steps left out or swapped, and hydrogen lost in a hot tube."""

from __future__ import annotations

import numpy as np
import pytest

from review import Engine, loads
from review.interface.measure import Measure
from review.interface.result import STATED_PLAN
from review.scenario import InputError
from review.walk.procedure import AFTERWARDS
from review.walk.resolve import resolve
from review.walk.runs import Runs
from review.walk.steps import Walk

STEPS = """
title: Hydrogen over an oxide, three steps
reagents:
  hydrogen mix: {state: gas, composition: {hydrogen: 5 %, nitrogen: 95 %}}
  nitrogen: {state: gas, composition: {nitrogen: 100 %}}
flows:
  mix: {reagent: hydrogen mix, into: tube, rate: 60 mL/min, reference: normal}
  purge: {reagent: nitrogen, into: tube, rate: 120 mL/min, reference: normal}
train:
  - {id: tube, kind: reactor, material: fused quartz, inner_diameter: 16 mm, wall: 2 mm,
     length: 600 mm, heated_length: 200 mm, ends: open, joint: none}
  - {id: outlet, kind: outlet, to: hood}
heat:
  furnace: {heats: tube, kind: tube furnace, set_temperature: 300 degC, hottest: 320 degC,
            cooling_time: 10 min}
procedure:
  - {step: first, duration: 10 min, flows: {purge: on}}
  - {step: second, duration: 20 min, flows: {mix: on, purge: 30 mL/min}, heat: {furnace: on}}
  - {step: third, duration: 30 min, flows: {mix: off}, heat: {furnace: off}}
"""
#: 1 mL/min at 0 degC and 1 atm in mol/s: p V / (R T).
ONE = 101325.0 * 1e-6 / 60 / (8.314462618 * 273.15)
MIX, FULL, LESS = 60 * ONE, 120 * ONE, 30 * ONE

#: What each cell is by hand: minutes, mix, purge, whether the furnace is on. A setting lasts until
#: a step that is played changes it; everything is off at first.
PLAYED = {
    "plan": [(10, 0, FULL, 0), (20, MIX, LESS, 1), (30, 0, LESS, 0)],
    # Second is played first: its own settings; first then turns the purge up and leaves the rest.
    "swapped:first:second": [(20, MIX, LESS, 1), (10, MIX, FULL, 1), (30, 0, FULL, 0)],
    # Third before second turns off what is off; the end then leaves the mix and the furnace on.
    "swapped:second:third": [(10, 0, FULL, 0), (30, 0, FULL, 0), (20, MIX, LESS, 1)],
    "skipped:first": [(0, 0, 0, 0), (20, MIX, LESS, 1), (30, 0, LESS, 0)],
    # Nothing is set in a step left out: the purge stays as the first step left it.
    "skipped:second": [(10, 0, FULL, 0), (0, 0, FULL, 0), (30, 0, FULL, 0)],
    "skipped:third": [(10, 0, FULL, 0), (20, MIX, LESS, 1), (0, MIX, LESS, 1)],
}


@pytest.mark.parametrize("name", PLAYED)
def test_a_step_left_out_or_swapped_is_the_other_order(engine: Engine, name: str) -> None:
    scenario = loads(STEPS)
    found = [o for o in engine.overlays(scenario) if o.id == name]
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    runs = Runs(resolved.base, found)
    walk = Walk(resolved, runs)
    hydrogen = resolved.index["hydrogen"]
    hot = False
    for cell, (minutes, mix, purge, furnace) in enumerate(PLAYED[name], 1):
        duration = runs.number(resolved.steps[cell - 1].duration_path, cell)
        assert duration is not None and duration[0] == pytest.approx(60 * minutes)
        at_tube = walk.cells[cell]
        assert at_tube.flow[0, 0] == pytest.approx(mix + purge, rel=1e-6)
        share = 0.05 * mix / (mix + purge) if mix + purge else 0.0
        assert at_tube.outlet[0, hydrogen, 0] == pytest.approx(share, abs=1e-12)
        hot = hot or furnace == 1  # a tube once hot is hot at the start of the next step
        assert at_tube.hot[0, 0] == pytest.approx(573.15 if hot else 293.15)
    afterwards = walk.cells[-1]
    assert afterwards.flow[0, 0] == 0.0


def test_a_skipped_or_swapped_step_begins_with_its_own_place(engine: Engine) -> None:
    starts = {o.id: o.from_step for o in engine.overlays(loads(STEPS))}
    assert [starts[name] for name in PLAYED] == [None, 1, 2, 1, 2, 3]


def test_looking_at_a_flow_shows_no_step_of_the_same_name(engine: Engine) -> None:
    """Somebody who sees that gas flows does not see that a step was left out."""
    text = STEPS.replace("step: first", "step: purge")
    text += "safeguards:\n  - {kind: look at the meter, reveals: purge, takes: 10 s}\n"
    countered = {o.counters.split(":")[0] for o in engine.overlays(loads(text)) if o.counters}
    assert "flow lost" in countered
    assert not countered & {"skipped", "swapped"}


@pytest.mark.parametrize("name", [AFTERWARDS, STATED_PLAN])
def test_no_step_takes_the_name_of_one_that_the_review_adds(name: str) -> None:
    with pytest.raises(InputError, match=name):
        loads(STEPS.replace("step: third", f"step: {name}"))


#: The tube cools from 900 to 600 degC: (600 - 20) / (900 - 20) = exp(-t / 60 min), t = 1500.8 s.
COOLED = 3600 * np.log(880 / 580)
LOST = f"""
title: Neat hydrogen in an open quartz tube at 900 degC
reagents:
  hydrogen:
    state: gas
    composition: {{hydrogen: 100 %}}
    held: {{as: cylinder, volume: 2 L, pressure: 100 bar gauge, regulator: 0.1 bar gauge}}
flows:
  hydrogen: {{reagent: hydrogen, into: tube, rate: 200 mL/min, reference: standard,
             at_most: 1 L/min}}
train:
  - {{id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
     length: 600 mm, heated_length: 250 mm, home_made: no, ends: open, joint: none}}
  - {{id: mouth, kind: outlet, to: hood}}
heat:
  furnace: {{heats: tube, kind: tube furnace, set_temperature: 900 degC, hottest: 900 degC,
            cooling_time: 60 min}}
ventilation:
  room_volume: 120 m3
  air_changes: 4 / hour
  hood: {{opening_width: 1.2 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes}}
procedure:
  - {{step: fill, duration: 60 min, flows: {{hydrogen: on}}}}
  - {{step: run, duration: 60 min, heat: {{furnace: on}}}}
  - {{step: cool, duration: {COOLED} s, heat: {{furnace: off}}}}
"""
LOSS = "flow lost:hydrogen:run:midway"


def test_hydrogen_lost_in_a_hot_tube_draws_air_in(engine: Engine) -> None:
    """By hand: cooling from Th to T at one pressure, the share drawn in is 1 - T / Th.

    At 600 degC that is 1 - 873.15 / 1173.15 = 0.256. Kept gas 0.744: below hydrogen's upper limit
    in air of 75 % or more, so the mean mixture itself is inside the envelope.
    """
    scenario = loads(LOST)
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    runs = Runs(resolved.base, [o for o in engine.overlays(scenario) if o.id == LOSS])
    fill, run, cool = Walk(resolved, runs).cells[1:4]
    tube, hydrogen = resolved.graph.ids.index("tube"), resolved.index["hydrogen"]
    assert fill.moving[tube, 0] == 1 and run.moving[tube, 0] == 0
    assert run.old[tube, hydrogen, 0] > 0.99
    assert cool.hot[tube, 0] == pytest.approx(1173.15)
    assert cool.low[tube, 0] == pytest.approx(873.15)
    assert cool.drawn_fraction[tube, 0] == pytest.approx(0.256, abs=5e-4)
    assert cool.drawn_from[tube, resolved.index["oxygen"], 0] == pytest.approx(0.2095)
    upper = engine.reference.substance("hydrogen").datum("upper_limit_air").value
    assert upper is not None and 1 - cool.drawn_fraction[tube, 0] < upper


def test_hydrogen_lost_in_a_hot_tube_is_refused(engine: Engine) -> None:
    """900 degC over the lowest published autoignition of hydrogen, 400 degC, is 2.25."""
    review = engine.review(loads(LOST))
    assert review.verdict == "must not proceed"
    column = [run.id for run in review.trials.runs].index(LOSS)

    def of(kind: str) -> Measure:
        return next(m for m in review.measures if m.kind == kind and m.at == "tube")

    for cell in (2, 3):  # the rest of the run, and while it cools
        assert of("ignition.surface_to_autoignition").value[cell, column] == pytest.approx(2.25)
        assert of("flammability.margin").value[cell, column] < 0
    outcome = next(o for o in review.outcomes if o.run == LOSS)
    assert (outcome.grade, outcome.criterion) == ("unacceptable", "ignition.hot_surface")
    assert outcome.at == "tube" and outcome.step in ("run", "cool")
    assert outcome.value == pytest.approx(2.25)
    envelope = [f for f in review.findings if f.criterion == "flammability.envelope"]
    inside = [f for f in envelope if f.at == "tube" and f.case == "upset"]
    assert inside and all(f.grade != "acceptable" and f.value < 0 for f in inside)
