"""What boils and runs back: a condenser that stands over the vessel, with nothing to catch it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.scenario.words import folded
from review.walk.condensing import condense
from review.walk.graph import Graph
from review.walk.state import Moment

#: Words for a condenser that lets its liquid run back; of another it is said by `vertical`.
STANDS = frozenset(("reflux condenser", "allihn condenser", "dimroth condenser", "coil condenser"))
#: Kinds of items that may stand between vessel and condenser, or behind it: none keeps liquid.
BETWEEN, BEHIND = ("junction", "column", "line", "vessel"), ("column", "line", "junction", "outlet")


def runs_back(at: Moment, views: Sequence[ItemView], i: int, flow: FloatArray) -> FloatArray:
    """What of the vapour that boils in an item its reflux condenser lets run back into it.

    `flow` and the result (species, runs), mol/s. As much as the condenser condenses of that vapour;
    none where a joint on the way is open or a part is blocked or broken, and none where something
    behind the condenser could catch what is condensed.
    """
    way = _way(at.resolved.graph, views, i)
    if not way:
        return np.zeros_like(flow)
    pressure = np.broadcast_to(at.ambient_pressure, flow.shape[1:])
    liquid, _ = condense(views[way[-1]], at.resolved.properties, flow, pressure)
    shut = ("open_outward", "open_inward", "blocked")
    whole = np.all([~(views[k].numbers[name] > 0) for k in way for name in shut], axis=0)
    return np.where(whole, np.minimum(np.nan_to_num(liquid), flow), 0.0)


def _way(graph: Graph, views: Sequence[ItemView], i: int) -> list[int]:
    """The items from a vessel to the condenser over it, both too; empty where none stands there."""
    way = [i]
    while len(graph.downstream[way[-1]]) == 1:
        k = graph.downstream[way[-1]][0]
        if k in way:
            return []
        model = views[k].model
        way.append(k)
        if views[k].has("coolant_temperature"):
            stands = folded(model.kind) in STANDS or model.orientation == "vertical"
            return way if stands and _nothing_catches(graph, k) else []
        if graph.kinds[k].id not in BETWEEN or model.liquid is not None:
            return []
    return []


def _nothing_catches(graph: Graph, condenser: int) -> bool:
    """Whether all that stands behind a condenser lets gas out and keeps no liquid."""
    waiting, seen = list(graph.downstream[condenser]), set[int]()
    while waiting:
        k = waiting.pop()
        if graph.kinds[k].id not in BEHIND:
            return False
        waiting += [each for each in graph.downstream[k] if each not in seen]
        seen.add(k)
    return True
