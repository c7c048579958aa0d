"""The graph: order, what can leave, how a flow splits when a way is closed."""

from __future__ import annotations

import numpy as np
import pytest
from review.plugins.standard_items.kinds import KINDS

from review import Overlay, loads
from review.walk.graph import build_graph
from review.walk.train import can_leave

GAS = (
    "title: t\nreagents: {gas: {state: gas, composition: {argon: 100 %}}}\n"
    "flows: {feed: {reagent: gas, into: in, rate: 1 mol/h}}\n"
)
BRANCHED = GAS + (
    "train:\n"
    "- {id: merge, kind: junction, from: [left, right], gas_volume: 1 mL}\n"
    "- {id: out, kind: outlet, to: hood}\n"
    "- {id: right, kind: junction, from: in, share: {in: 30 %}, gas_volume: 1 mL}\n"
    "- {id: in, kind: junction, from: [], gas_volume: 1 mL}\n"
    "- {id: left, kind: junction, from: in, share: {in: 70 %}, gas_volume: 1 mL}\n"
)
THREE = GAS + (
    "train:\n"
    "- {id: in, kind: junction, from: [], gas_volume: 1 mL}\n"
    "- {id: a, kind: outlet, to: hood, from: in, share: {in: 20 %}}\n"
    "- {id: b, kind: outlet, to: hood, from: in, share: {in: 30 %}}\n"
    "- {id: c, kind: outlet, to: room, from: in, share: {in: 50 %}}\n"
)
FEED = 1 / 3600  # mol/s


def graph_of(text: str):
    scenario = loads(text)
    kinds = {kind.id: kind for kind in KINDS}
    return build_graph(scenario, [kinds[item.kind] for item in scenario.train])


def test_every_item_comes_after_all_that_feeds_it() -> None:
    graph = graph_of(BRANCHED)
    order = [graph.ids[i] for i in graph.order]
    assert order[0] == "in"
    assert order[-2:] == ["merge", "out"]
    assert sorted(order[1:3]) == ["left", "right"]


def test_upstream_of_an_item_is_all_whose_gas_reaches_it() -> None:
    graph = graph_of(BRANCHED)
    names = {n: {graph.ids[i] for i in graph.all_upstream(graph.ids.index(n))} for n in graph.ids}
    assert names["in"] == {"in"}
    assert names["left"] == {"in", "left"}
    assert names["out"] == {"in", "left", "right", "merge", "out"}


def test_what_can_leave_in_each_run() -> None:
    graph = graph_of(BRANCHED)
    closed = ["", "left", "out", "in", "merge"]
    own = np.array([[0.0 if name == shut else 1.0 for shut in closed] for name in graph.ids])
    found = can_leave(graph, own, np.zeros_like(own))
    leaves = {name: found[i].tolist() for i, name in enumerate(graph.ids)}
    assert leaves == {
        "in": [1, 1, 0, 0, 0],
        "left": [1, 0, 0, 1, 0],
        "right": [1, 1, 0, 1, 0],
        "merge": [1, 1, 0, 1, 0],
        "out": [1, 1, 0, 1, 1],
    }


def test_a_joint_that_opens_lets_out_what_a_blocked_end_keeps_in() -> None:
    graph = graph_of(BRANCHED)
    own = np.array([[0.0 if name == "out" else 1.0] for name in graph.ids])
    opened = np.array([[1.0 if name == "left" else 0.0] for name in graph.ids])
    found = can_leave(graph, own, opened)[:, 0]
    leaves = dict(zip(graph.ids, found.tolist(), strict=True))
    assert leaves == {"in": 1, "left": 1, "right": 0, "merge": 0, "out": 0}


def blocked(*names: str) -> Overlay:
    return Overlay(
        id=f"blocked:{names}", title="blocked", case="upset",
        changes={f"train.{name}.blocked": 1.0 for name in names},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("shut", "shares"),
    [
        ((), (0.2, 0.3, 0.5)),
        (("a",), (0.0, 0.375, 0.625)),
        (("c",), (0.4, 0.6, 0.0)),
        (("a", "b"), (0.0, 0.0, 1.0)),
        (("a", "b", "c"), (0.0, 0.0, 0.0)),
    ],
)
def test_a_split_shares_out_over_the_ways_that_are_open(walked, shut, shares) -> None:
    setup = walked(THREE, [blocked(*shut)] if shut else [])
    flows = [place.flow.value.reshape(setup.shape)[0, -1] for place in setup.places]
    assert flows[1:] == pytest.approx([share * FEED for share in shares], rel=1e-12)
    assert flows[0] == pytest.approx(sum(shares) * FEED, rel=1e-12)


def test_a_closed_valve_is_a_blocked_way(walked) -> None:
    text = THREE.replace("id: a, kind: outlet", "id: a, kind: outlet, open: no")
    setup = walked(text)
    assert [place.flow.value[0] / FEED for place in setup.places] == pytest.approx(
        [1, 0, 0.375, 0.625]
    )
    assert setup.places[1].leaves[0] == 0


def test_both_branches_come_together_again(walked) -> None:
    setup = walked(BRANCHED, [blocked("left")])
    place = {p.id: p.flow.value.reshape(setup.shape)[0] / FEED for p in setup.places}
    assert place["left"].tolist() == pytest.approx([0.7, 0])
    assert place["right"].tolist() == pytest.approx([0.3, 1])
    assert place["merge"].tolist() == pytest.approx([1, 1])


def test_a_dead_end_reaches_its_supplys_pressure(walked) -> None:
    text = THREE.replace("rate: 1 mol/h", "rate: 1 mol/h, shut_off_pressure: 2 bar absolute")
    setup = walked(text, [blocked("a", "b", "c")])
    pressure = setup.places[0].pressure.value.reshape(setup.shape)[0]
    assert pressure.tolist() == pytest.approx([101325.0, 2e5], rel=1e-5)
