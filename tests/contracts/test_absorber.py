"""The absorber by hand.

Stated for the tests: acid gas 60 umol/s with 25 % hydrogen chloride, so 15 umol/s of it and
45 umol/s of nitrogen; efficiency 80 %, capacity 12 mmol; heat 30 min, cool 40 min.

heat:  15e-6 mol/s * 0.8 * 1800 s = 21.6 mmol taken up at the starting rate, more than 12 mmol,
       so it runs out after 12e-3 / 12e-6 = 1000 s, in the middle of the step.
"""

import numpy as np
import pytest

from review import Overlay

ACID, TAKEN, CAPACITY = 15e-6, 12e-6, 12e-3


@pytest.fixture(scope="module")
def parts(walked, scenario):
    def of(*overlays):
        walk, at = walked(scenario, *overlays)
        index = walk.resolved.index
        return walk.cells, at["absorber"], index["hydrogen chloride"], index["nitrogen"]

    return of


def nitrogen_flow(scenario_cell):
    """Float meter in order: 600 or 500 mL/min at 20 degC and 1 atm, read on air's scale.

    Q sqrt(M_air / M_N2); M 28.965 and 28.014 g/mol; amount P Q / (R T).
    """
    reading = {"heat": 600e-6 / 60, "cool": 500e-6 / 60}[scenario_cell]
    volume = reading * np.sqrt(28.965 / 28.0134)
    return 101325.0 * volume / (8.31446261815324 * 293.15)


def test_used_is_rate_times_duration_times_efficiency(parts):
    cells, i, acid, _ = parts()
    assert cells[1].used[i, acid, 0] == 0.0
    assert cells[2].used[i, acid, 0] == pytest.approx(TAKEN * 1800, rel=1e-12)
    # Spent: in the last step nothing more is taken up.
    assert cells[3].used[i, acid, 0] == pytest.approx(TAKEN * 1800, rel=1e-12)
    # Only what the absorber is for: nothing else, nowhere else.
    rest = cells[3].used.copy()
    rest[i, acid] = 0.0
    assert not rest.any()


def test_composition_before_and_after_it_runs_out(parts):
    """Ratios to nitrogen, which passes unchanged: the liquid's vapour cancels.

    heat: nitrogen = meter + 45e-6 (acid gas) + 60e-6 (fuel: 60 % of 100 umol/s).
    before: 3e-6 (a fifth of 15e-6) over it; after: 15e-6 over it.
    """
    cells, i, acid, inert = parts()
    nitrogen = nitrogen_flow("heat") + 45e-6 + 60e-6
    heat = cells[2]
    assert heat.inlet[i, acid, 0] / heat.inlet[i, inert, 0] == pytest.approx(ACID / nitrogen, 1e-6)
    before = heat.outlet[i, acid, 0] / heat.outlet[i, inert, 0]
    after = heat.outlet_end[i, acid, 0] / heat.outlet_end[i, inert, 0]
    assert before == pytest.approx(0.2 * ACID / nitrogen, rel=1e-6)
    assert after == pytest.approx(ACID / nitrogen, rel=1e-6)
    # The last step begins as the one before ended: no absorption from its start to its end.
    nitrogen = nitrogen_flow("cool") + 45e-6
    for point in (cells[3].outlet, cells[3].outlet_end):
        assert point[i, acid, 0] / point[i, inert, 0] == pytest.approx(ACID / nitrogen, rel=1e-6)


def change(what, value):
    path = f"train.absorber.absorbs.hydrogen chloride.{what}"
    return Overlay(id=what, title=what, case="window", changes={path: value})


def test_after_it_ran_out_equals_no_absorption(parts):
    cells, i, *_ = parts(change("efficiency", 0.0), change("capacity", 0.0))
    for other in (1, 2):
        np.testing.assert_allclose(
            cells[2].outlet_end[..., 0], cells[2].outlet_end[..., other], rtol=1e-12, atol=0
        )
        np.testing.assert_allclose(
            cells[3].outlet[..., 0], cells[3].outlet[..., other], rtol=1e-12, atol=0
        )
    assert (cells[2].outlet[i, :, 0] != cells[2].outlet[i, :, 1]).any()


@pytest.mark.parametrize(
    ("capacity", "spent_in_heat", "spent_in_cool"),
    # 21.6 mmol by the end of heat; cool adds 12e-6 * 2400 = 28.8, so 50.4 mmol in all.
    [
        (21.5e-3, True, True),
        (21.7e-3, False, True),
        (50.3e-3, False, True),
        (50.5e-3, False, False),
    ],
)
def test_the_step_in_which_it_runs_out(parts, capacity, spent_in_heat, spent_in_cool):
    cells, i, acid, inert = parts(change("capacity", capacity))
    for cell, spent in ((cells[2], spent_in_heat), (cells[3], spent_in_cool)):
        came, left = (
            point[i, acid, 1] / point[i, inert, 1] for point in (cell.inlet, cell.outlet_end)
        )
        assert left / came == pytest.approx(1.0 if spent else 0.2, rel=1e-9)
    used = TAKEN * (1800 if spent_in_heat else 4200)
    assert cells[3].used[i, acid, 1] == pytest.approx(used, rel=1e-12)


@pytest.mark.parametrize(("strength", "spent"), [("10 %", False), ("1 %", True), ("0.1 %", True)])
def test_an_unknown_capacity_counts_as_two_fifths_of_what_the_lye_binds(
    walked, edited, scenario, strength, spent
):
    """100 mL of 10 % lye hold 0.25 mol or more, two fifths exceed 21.6 mmol; of 1 % it does not."""

    def forget(data):
        absorber = next(item for item in data["train"] if item["id"] == "absorber")
        del absorber["absorbs"]["hydrogen chloride"]["capacity"]
        data["reagents"]["lye"]["composition"] = {"water": "rest", "sodium hydroxide": strength}

    walk, at = walked(edited(forget))
    acid, i = walk.resolved.index["hydrogen chloride"], at["absorber"]
    heat = walk.cells[2]
    taken_up = heat.outlet_end[i, acid, 0] < heat.inlet[i, acid, 0] * 0.9
    assert taken_up == (not spent)


def test_without_a_duration_the_stated_settings_last_as_long_as_the_procedure(walked, edited):
    """60 + 1800 + 2400 s at 12e-6 mol/s: 51.12 mmol, never nothing; so it is spent by the end."""
    walk, at = walked(edited(lambda data: data.pop("duration")))
    acid, i = walk.resolved.index["hydrogen chloride"], at["absorber"]
    stated = walk.cells[0]
    assert stated.used[i, acid, 0] == pytest.approx(51.12e-3, rel=1e-12)
    inert = walk.resolved.index["nitrogen"]
    left = stated.outlet_end[i, acid, 0] / stated.outlet_end[i, inert, 0]
    came = stated.inlet[i, acid, 0] / stated.inlet[i, inert, 0]
    assert left == pytest.approx(came, rel=1e-12)
