"""How gas shares itself out over branches: as their losses have it, where nobody states the shares.

Every branch of a split begins at one pressure. What is stated is played as stated, and not believed
where the losses contradict it; nor are equal shares, where a branch has no loss to go by.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.graph import Graph

Routes = dict[tuple[int, int], FloatArray]

#: Losses of two branches may differ by this factor and the shares still be believed (a judgement),
#: and by so much where there is hardly any loss at all, Pa.
AS_GOOD_AS, HARDLY = 1.5, 1.0

#: Loss goes with the flow to a power between 1 (laminar) and 2 (turbulent). Halfway between, each
#: round leaves a third of what the shares are off by.
POWER = 1.5
#: Rounds at most, the change of a share that ends them, and the share that is none: so little
#: does not bubble through a seal.
ROUNDS, SETTLED, NOTHING = 20, 1e-4, 1e-6
#: Loss of what stands open, Pa: so little that it decides only where the others have none either.
OPENED = 1e-3
#: Halvings in search of the pressure before the branches: to a billionth of what it may be.
HALVINGS = 40


def unstated(graph: Graph, shares: Iterable[tuple[int, int]]) -> list[int]:
    """Items behind which ways part and nobody states how much goes where."""
    stated = {i for i, _ in shares}
    return [i for i, to in enumerate(graph.downstream) if len(to) > 1 and i not in stated]


def shared(
    graph: Graph, views: Sequence[ItemView], i: int, routes: Routes, pressure: FloatArray,
    ambient: FloatArray, outward: FloatArray,
) -> Routes:  # fmt: skip
    """Shares behind an item that come nearer to one pressure before all of its open branches.

    With C behind a branch and h the liquid in it, its loss L at a share s is taken as a s^1.5; the
    pressure P before them is the one at which the shares ((P - C - h)/a)^(1/1.5) make up the whole.
    Where the loss of an open branch is not known, or none, the shares stay as they were: but one
    whose joint stands open costs no more than it comes to.
    """
    targets = graph.downstream[i]
    now = np.array([routes[i, k] for k in targets])
    whole, open_ = now.sum(axis=0), now > 0
    behind = np.array(
        [_behind(graph, views, targets, k, pressure, ambient, outward) for k in targets]
    )
    loss = pressure[list(targets)] - behind
    # All gas leaves at the first thing of a branch whose joint stands open.
    none = (np.abs(loss) <= HARDLY) & (outward[list(targets)] > 0)
    loss = np.where(none & (none.sum(axis=0) == 1), np.maximum(loss, OPENED), loss)
    part = now / whole
    each = loss / part**POWER
    known = np.where(open_, loss > 0, True).all(axis=0) & (open_.sum(axis=0) > 1)
    low = np.where(open_, behind, np.inf).min(axis=0)
    high = np.where(open_, behind + each, -np.inf).max(axis=0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        more = _passing(middle, behind, each, open_).sum(axis=0) > 1
        low, high = np.where(more, low, middle), np.where(more, middle, high)
    found = np.maximum(_passing(high, behind, each, open_), np.where(open_, NOTHING / 10, 0.0))
    found = found / found.sum(axis=0) * whole
    return {(i, k): np.where(known, found[n], now[n]) for n, k in enumerate(targets)}


def _passing(
    pressure: FloatArray, behind: FloatArray, each: FloatArray, open_: NDArray[np.bool_]
) -> FloatArray:
    passing = (np.maximum(pressure - behind, 0.0) / each) ** (1 / POWER)
    return np.where(open_, np.nan_to_num(passing), 0.0)


def _behind(
    graph: Graph, views: Sequence[ItemView], targets: Sequence[int], k: int, pressure: FloatArray,
    ambient: FloatArray, outward: FloatArray,
) -> FloatArray:  # fmt: skip
    """Pressure that a branch works against whatever flows in it: where it joins others, ends or
    stands open, and the liquid that it has to bubble through."""
    others = [t for t in targets if t != k]

    def common(x: int) -> bool:
        return any(t in graph.before[x] for t in others)

    def after(x: int) -> FloatArray:
        found = ambient
        for y in graph.downstream[x]:
            found = np.maximum(found, pressure[y] if common(y) else after(y))
        found = np.where(outward[x] > 0, ambient, found)
        return np.asarray(found + graph.kinds[x].static_head(views[x]))

    return after(k)


def settled(graph: Graph, i: int, routes: Routes) -> Routes:
    """The same without what is next to nothing."""
    targets = graph.downstream[i]
    now = np.array([routes[i, k] for k in targets])
    whole = now.sum(axis=0)
    kept = np.where(now > NOTHING * whole, now, 0.0)
    total = kept.sum(axis=0)
    kept = kept * np.where(total > 0, whole / np.where(total > 0, total, 1.0), 0.0)
    return {(i, k): kept[n] for n, k in enumerate(targets)}


def balanced(
    graph: Graph,
    routes: Routes,
    pressure: FloatArray,
    outlet: FloatArray,
    ambient: FloatArray,
) -> FloatArray:
    """1 where branches that share a flow cost about the same pressure, else 0, (runs,).

    All branches begin at one pressure: shares, stated or equal, that cost one of them much more
    than another are not those that flow.
    """
    out = np.ones_like(ambient)
    for i, targets in enumerate(graph.downstream):
        if len(targets) < 2:
            continue
        costs = np.array([pressure[k] - ambient for k in targets])
        open_ = np.array([routes[i, k] > 0 for k in targets])
        most = np.where(open_, costs, -np.inf).max(axis=0)
        least = np.where(open_, costs, np.inf).min(axis=0)
        flows = (outlet[i].sum(axis=0) != 0) & (open_.sum(axis=0) > 1)
        believed = most <= AS_GOOD_AS * least + HARDLY
        out = np.where(flows & ~believed, 0.0, out)
    return out
