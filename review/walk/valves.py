"""Valves by step: which items are open, and which way a valve of three ways leads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from review.interface.measure import FloatArray
from review.scenario.models import Scenario
from review.walk.procedure import main_step
from review.walk.state import Moment

#: Edges of the graph that a valve opens or shuts, by item before and item behind: 1 open, 0 shut.
Edges = Mapping[tuple[int, int], FloatArray]


def stated(scenario: Scenario) -> list[str]:
    """Items whose position some step states."""
    named = {name for step in scenario.procedure for name in step.valves}
    return [item.id for item in scenario.train if item.id in named]


def positions(at: Moment, open_: Sequence[bool]) -> tuple[FloatArray, Edges]:
    """1 where each item is open, (items, runs), and the edges that a position decides.

    `open_` is how it is built; a position stated by a step stays until the next one states it, and
    after the last step.
    """
    scenario, ids = at.resolved.scenario, at.resolved.graph.ids
    out = np.repeat(np.array(open_, dtype=float)[:, None], at.runs.size, axis=1)
    for i, name in enumerate(ids):
        if not open_[i]:
            out[i] = at.number(f"train.{name}.stands_open")
    edges: dict[tuple[int, int], FloatArray] = {}
    named = stated(scenario)
    if not named:
        return out, edges
    last = at.cell == len(at.resolved.steps)
    index = at.cell - 1 - last if at.cell else main_step(scenario)
    step = scenario.procedure[index].step
    for name in named:
        i = ids.index(name)
        path = f"settings.{step}.valves.{name}"
        out[i] = at.number(f"{path}.open")
        for k in at.resolved.graph.downstream[i]:
            edges[i, k] = at.number(f"{path}.to.{ids[k]}")
        for j in at.resolved.graph.upstream[i]:
            edges[j, i] = at.number(f"{path}.to.{ids[j]}")
    return out, edges
