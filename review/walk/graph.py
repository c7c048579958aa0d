"""Which items stand before and behind each, and in what order gas comes to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from review.interface.items import ItemKind
from review.interface.measure import FloatArray
from review.scenario import Scenario


@dataclass(frozen=True, slots=True)
class Graph:
    """Items in flow order with their neighbours by index."""

    ids: tuple[str, ...]
    kinds: tuple[ItemKind, ...]
    upstream: tuple[tuple[int, ...], ...]
    downstream: tuple[tuple[int, ...], ...]
    order: tuple[int, ...]
    destinations: tuple[str, ...]
    before: tuple[tuple[int, ...], ...]

    @property
    def size(self) -> int:
        """Number of items."""
        return len(self.ids)

    def all_upstream(self, index: int) -> tuple[int, ...]:
        """Every item whose gas can reach this one, itself included, in flow order."""
        return self.before[index]


def build_graph(scenario: Scenario, kinds: Sequence[ItemKind]) -> Graph:
    """The graph in topological order; the scenario has already refused cycles."""
    ids = tuple(item.id for item in scenario.train)
    index = {name: i for i, name in enumerate(ids)}
    upstream = tuple(tuple(index[name] for name in item.from_) for item in scenario.train)
    downstream: list[list[int]] = [[] for _ in ids]
    for i, sources in enumerate(upstream):
        for j in sources:
            downstream[j].append(i)
    destinations = tuple(item.to or "" for item in scenario.train)
    order: list[int] = []
    waiting = {i: len(sources) for i, sources in enumerate(upstream)}
    ready = [i for i, n in waiting.items() if n == 0]
    while ready:
        i = ready.pop(0)
        order.append(i)
        for k in downstream[i]:
            waiting[k] -= 1
            if waiting[k] == 0:
                ready.append(k)
    targets = tuple(tuple(d) for d in downstream)
    reached: dict[int, set[int]] = {}
    for i in order:
        reached[i] = {i}.union(*(reached[j] for j in upstream[i]))
    before = tuple(tuple(j for j in order if j in reached[i]) for i in range(len(ids)))
    return Graph(ids, tuple(kinds), upstream, targets, tuple(order), destinations, before)


def most_before(graph: Graph, value: FloatArray) -> FloatArray:
    """The most of each item and of all those before it, (items, ...)."""
    found = value.copy()
    for i in graph.order:
        for j in graph.upstream[i]:
            np.maximum(found[i], found[j], out=found[i])
    return found
