"""Topology is the same in all runs; what is blocked has no flow and the supply's pressure."""

import numpy as np
import pytest

from review import Overlay


def window(name, **changes):
    return Overlay(id=name, title=name, case="window", changes=changes)


def blocked(item, step=None):
    case = "window" if step is None else "upset"
    return Overlay(
        id=f"blocked {item}", title=f"blocked {item}", case=case,
        changes={f"train.{item}.blocked": 1.0}, from_step=step,
    )  # fmt: skip


def test_every_run_has_the_same_places(engine, scenario, batch, plain, keyed):
    alone = keyed(engine.review(scenario, upsets=False).measures)
    every = keyed(plain.measures)
    assert alone.keys() <= every.keys() and keyed(batch.measures).keys() <= every.keys()
    # A pair is named where it meets; where only a failure brings it together, none in the plan.
    for key in every.keys() - (alone.keys() & keyed(batch.measures).keys()):
        assert key[0] == "reactive.pair"
        assert (every[key].value[:, 0] == 0).all(), key
    for m in (*batch.measures, *plain.measures):
        assert m.value.shape[0] == 1 + len(batch.trials.steps)


def test_gas_is_neither_lost_nor_made_on_the_way(walked, scenario, samples, upset):
    """What the two ways carry is what the tube gives and what the trap gets, in every run."""
    walk, at = walked(scenario, upset, *samples, blocked("wide way"), blocked("outlet", 2))
    for cell in walk.cells:
        ways = cell.flow[at["wide way"]] + cell.flow[at["narrow way"]]
        np.testing.assert_allclose(ways, cell.flow[at["tube"]], rtol=1e-12)
        np.testing.assert_allclose(cell.flow[at["trap"]], ways, rtol=1e-12)
        for item in ("inlet", "feed hose"):
            np.testing.assert_allclose(cell.flow[at[item]], cell.flow[at["tube"]], rtol=1e-12)
    assert walk.cells[1].flow[at["tube"], 0] > 0


def test_shares_are_as_stated_and_renormalised_where_one_way_is_blocked(walked, scenario):
    """60 % and 40 % are stated; 30 % against 40 % is 3/7; what is blocked goes the other way."""
    walk, at = walked(
        scenario, blocked("wide way"), blocked("narrow way"),
        window("less", **{"train.wide way.share.tube": 0.3}),
    )  # fmt: skip
    for cell in walk.cells[:4]:
        tube = cell.flow[at["tube"]]
        wide, narrow = cell.flow[at["wide way"]] / tube, cell.flow[at["narrow way"]] / tube
        np.testing.assert_allclose(wide, [0.6, 0.0, 1.0, 3 / 7], rtol=1e-12)
        np.testing.assert_allclose(narrow, [0.4, 1.0, 0.0, 4 / 7], rtol=1e-12)
        np.testing.assert_allclose(tube, tube[0], rtol=1e-12)


# Supplies, gauge: nitrogen 0.2 bar (regulator), fuel 0.25 bar (stated), acid 0.15 bar (regulator).
SUPPLY = {1: 101325 + 20000, 2: 101325 + 25000, 3: 101325 + 20000}


@pytest.mark.parametrize("step", [1, 2, 3])
def test_a_blocked_outlet_stops_all_flow_at_the_pressure_of_the_supply(walked, scenario, step):
    walk, at = walked(scenario, blocked("outlet", step))
    for number in range(step, 4):
        cell = walk.cells[number]
        assert (cell.flow[:, 1] == 0).all() and (cell.moving[:, 1] == 0).all()
        upstream = [i for name, i in at.items() if name != "outlet"]
        np.testing.assert_allclose(cell.pressure[upstream, 1], SUPPLY[number], rtol=1e-12)
    for number in range(step):
        np.testing.assert_array_equal(
            walk.cells[number].pressure[:, 1], walk.cells[number].pressure[:, 0]
        )


def test_a_blocked_way_in_the_middle_stops_what_is_before_it(walked, scenario):
    walk, at = walked(scenario, blocked("absorber", 2))
    cell = walk.cells[2]
    before = [at[n] for n in ("inlet", "feed hose", "tube", "wide way", "narrow way", "trap")]
    assert (cell.flow[:, 1] == 0).all()
    np.testing.assert_allclose(cell.pressure[before, 1], SUPPLY[2], rtol=1e-12)
    # Behind the plug nothing pushes: the room's own pressure.
    np.testing.assert_allclose(cell.pressure[at["tail hose"], 1], 101325, rtol=1e-12)


def test_the_measures_say_so(plain):
    column = [r.id for r in plain.trials.runs].index("blocked:outlet:heat")
    for m in plain.measures:
        if m.kind == "train.pressure" and m.at != "outlet":
            np.testing.assert_allclose(m.value[2, column], SUPPLY[2], rtol=1e-12)
        if m.kind == "train.contact_time":
            assert m.value[2, column] == np.inf
