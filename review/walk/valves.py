"""Valves by step: which items are open, and which way a valve of three ways leads; and out of which
liquids the end of the line is lifted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from review.interface.measure import FloatArray
from review.scenario.models import Scenario
from review.walk.feeds import Reader
from review.walk.procedure import main_step
from review.walk.resolve import Resolved
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
    for k, up in lifted(at.resolved, at.cell, at.number).items():
        edges |= {(j, k): 1.0 - up for j in at.resolved.graph.upstream[k]}
    named = stated(scenario)
    if not named:
        return out, edges
    step = _step(scenario, at.cell, len(at.resolved.steps))
    for name in named:
        i = ids.index(name)
        path = f"settings.{step}.valves.{name}"
        out[i] = at.number(f"{path}.open")
        for k in at.resolved.graph.downstream[i]:
            edges[i, k] = edges.get((i, k), 1.0) * at.number(f"{path}.to.{ids[k]}")
        for j in at.resolved.graph.upstream[i]:
            edges[j, i] = edges.get((j, i), 1.0) * at.number(f"{path}.to.{ids[j]}")
    return out, edges


def turned(at: Moment, edges: Edges) -> Edges:
    """The edges that a valve's position decides: nothing comes by one that is shut. The end of a
    line that is lifted out of a liquid stands in the air instead."""
    out_of = lifted(at.resolved, at.cell, at.number)
    return {way: open_ for way, open_ in edges.items() if way[1] not in out_of}


def lifted(resolved: Resolved, cell: int, number: Reader) -> dict[int, FloatArray]:
    """1 where the line stands out of an item's liquid, by the item's index, (runs,)."""
    scenario = resolved.scenario
    named = dict.fromkeys(name for step in scenario.procedure for name in step.lifted)
    if not named:
        return {}
    step = _step(scenario, cell, len(resolved.steps))
    ids = resolved.graph.ids
    return {ids.index(name): number(f"settings.{step}.lifted.{name}") for name in named}


def _step(scenario: Scenario, cell: int, steps: int) -> str:
    """The step whose positions hold in a cell."""
    index = cell - 1 - (cell == steps) if cell else main_step(scenario)
    return scenario.procedure[index].step
