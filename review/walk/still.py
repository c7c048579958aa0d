"""Items without flow: what comes back in, what is pressed in, and liquid that is drawn back.

An item without flow keeps its gas, but not its peace: through an open end air comes in, from a
neighbour that flows its gas does, a supply that cannot leave presses its gas in, and while hot gas
contracts or a soluble one dissolves, a bottle's liquid is drawn back until it is empty and lets
air follow. How much comes in is bounded from above; everything that comes in is mixed in every
proportion at its front.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.graph import Graph
from review.walk.train import Flowing


@dataclass(slots=True)
class Surroundings:
    """What stands around the still items in one cell; (items, runs) or (items, species, runs)."""

    open: FloatArray
    ways: Mapping[tuple[int, int], FloatArray]
    """0 where a valve shuts the way from one item to the next; what is not there is open."""
    moving: FloatArray
    filling: FloatArray
    outlet: FloatArray
    stands: FloatArray
    """Gas in an item in flow: what enters it, before it is taken up, and what it adds."""
    contraction: FloatArray
    soluble: FloatArray
    volume: FloatArray
    cold_volume: FloatArray
    """What the volume holds once it has cooled, at the room's temperature and pressure, m3."""
    pulled: FloatArray
    pressed: NDArray[np.bool_]
    """Whether a supply presses into an item without a way out."""
    feed: FloatArray
    air: FloatArray
    gust: FloatArray
    """What wind presses with on the gas behind each item, Pa."""


@dataclass(slots=True)
class Still:
    """`exposed` 1 where `source` comes in; liquid drawn back and volume pulled so far, m3."""

    exposed: FloatArray
    source: FloatArray
    liquid: FloatArray
    pulled: FloatArray


def still(graph: Graph, views: Sequence[ItemView], solved: Flowing, around: Surroundings) -> Still:
    """Where something comes into items without flow, and what."""
    liquid, pulled, emptied = _suck_back(graph, views, solved, around)
    heads = [kind.seal_head(view) for kind, view in zip(graph.kinds, views, strict=True)]
    shut = np.array([k.holds_back(v) for k, v in zip(graph.kinds, views, strict=True)]) > 0
    sealed = ((np.array(heads) > 0) & ~(np.array(heads) < around.gust)) | shut
    exposed, source = _through_open_ends(graph, views, around, sealed & ~emptied)
    _from_neighbours(graph, around, exposed, source)
    pressed = around.pressed
    source = np.where(pressed[:, None, :], around.feed, source)
    exposed = np.where(pressed, 1.0, exposed)
    return Still(exposed, source, liquid, pulled)


def _suck_back(
    graph: Graph, views: Sequence[ItemView], solved: Flowing, around: Surroundings
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Liquid drawn out of each bottle, the gas volume behind it, and whether it is emptied.

    Contraction adds up from step to step for as long as nothing flows; the lift of the liquid
    counts against the sum once. Gas that the liquid takes up vanishes into it altogether. Of the
    lift h only the gas that is left makes anything, as it expands: with n what is left and S what
    the cold volume would hold, (P - h)(S - V_l) = P n, so V_l = S - n - n h/(P - h). Wind that
    presses on the liquid lifts its part of h.
    """
    liquid = np.zeros_like(around.moving)
    pulled = np.zeros_like(around.moving)
    emptied = np.zeros(around.moving.shape, dtype=bool)
    for k, (kind, view) in enumerate(zip(graph.kinds, views, strict=True)):
        held = kind.held_liquid(view)
        if view.has("lifted"):
            held = held * (1 - view.get("lifted"))
        if not (held > 0).any():
            continue
        before = [j for j in graph.all_upstream(k) if j != k]
        if not before:
            continue
        pulls = _drawing(graph, views, k)[before]
        taken = (around.filling[before] * around.soluble[k]).sum(axis=1)
        dissolves = np.where(
            around.pulled[k] > 0, 0.0, (around.volume[before] * taken * pulls).sum(axis=0)
        )
        at_rest = around.moving[k] <= 0
        shrinks = (around.contraction[before] * pulls).sum(axis=0)
        pull = np.where(at_rest, around.pulled[k] + shrinks + dissolves, 0.0)
        room = (np.nan_to_num(around.cold_volume[before], nan=0.0) * pulls).sum(axis=0)
        head, pressure = kind.seal_head(view) - around.gust[k], solved.pressure[k]
        expands = np.where(head >= pressure, np.inf, head / (pressure - head))
        left = np.maximum(room - pull, 0.0)
        lifted = np.where(left > 0, left * expands, 0.0)
        pulled[k] = pull
        liquid[k] = np.where(at_rest, np.clip(pull - lifted, 0.0, held), 0.0)
        emptied[k] = at_rest & ~(pull - lifted < held)
    return liquid, pulled, emptied


def _drawing(graph: Graph, views: Sequence[ItemView], k: int) -> FloatArray:
    """1 where an item upstream of k can draw on it: no check valve that closes stands between."""
    reach = np.zeros((graph.size, views[0].size))
    reach[k] = 1.0
    for i in reversed(graph.order):
        for m in graph.downstream[i]:
            through = reach[m] * (1 - graph.kinds[m].holds_back(views[m]))
            reach[i] = np.maximum(reach[i], through)
    return reach


def _through_open_ends(
    graph: Graph,
    views: Sequence[ItemView],
    around: Surroundings,
    sealed: NDArray[np.bool_],
) -> tuple[FloatArray, FloatArray]:
    """What comes back against the direction of flow, from open ends, open joints and side flows."""
    moving, open_here = around.moving, around.open
    exposed = np.zeros_like(moving)
    reach = np.zeros_like(moving)
    source = around.filling.copy()
    for i in reversed(graph.order):
        if graph.kinds[i].is_end:
            reach[i] = open_here[i]
            source[i] = np.where(reach[i] > 0, around.air, source[i])
        for k in graph.downstream[i]:
            through = (moving[k] > 0) | ((reach[k] > 0) & ~sealed[k])
            through &= around.ways.get((i, k), 1.0) > 0
            comes = np.where(moving[k] > 0, around.stands[k], source[k])
            opened = through & (open_here[i] > 0)
            source[i] = np.where(opened, comes, source[i])
            reach[i] = np.maximum(reach[i], np.where(opened, 1.0, 0.0))
        numbers = views[i].numbers
        opened = np.maximum(numbers["open_outward"], numbers["open_inward"])
        source[i] = np.where(opened > 0, around.air, source[i])
        reach[i] = np.maximum(reach[i], opened)
        # Where gas comes out and air comes in at once, they meet although gas flows.
        broken = np.minimum(numbers["open_outward"], numbers["open_inward"]) > 0
        exposed[i] = np.where(broken, 1.0, reach[i] * (1 - moving[i]))
    return exposed, source


def _from_neighbours(
    graph: Graph, around: Surroundings, exposed: FloatArray, source: FloatArray
) -> None:
    """Dead legs: gas of a neighbour upstream finds its way in; no purge reaches them."""
    for i in graph.order:
        for j in graph.upstream[i]:
            idle = (around.moving[i] <= 0) & (exposed[i] <= 0) & (around.open[j] > 0)
            idle &= around.ways.get((j, i), 1.0) > 0
            comes = idle & ((around.moving[j] > 0) | (exposed[j] > 0))
            gas = np.where(around.moving[j] > 0, around.outlet[j], source[j])
            source[i] = np.where(comes, gas, source[i])
            exposed[i] = np.where(comes, 1.0, exposed[i])
