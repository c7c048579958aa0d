"""The pressure stage: what supplies can press, and what gas that is shut in comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray
from review.physics.gas import R
from review.walk.feeds import drawn_by, pumping
from review.walk.flowing import Flow
from review.walk.graph import Graph
from review.walk.heating import Heating
from review.walk.lifting import lifted
from review.walk.liquids import Liquids
from review.walk.relief import relieved
from review.walk.state import Moment
from review.walk.train import can_leave, spread_pressure


@dataclass(frozen=True, slots=True)
class Supply:
    """What the supplies of each item go on doing, (items, runs)."""

    rate: FloatArray
    """Molar rate they go on delivering, mol/s."""
    most: FloatArray
    """Highest pressure they can reach, Pa absolute."""
    shut: NDArray[np.bool_]
    """Whether they press into an item without a way out."""
    relief: FloatArray
    """Pressure that reliefs hold with all that is brought, Pa absolute; infinite without one."""


@dataclass(frozen=True, slots=True)
class Pressures:
    """Absolute pressures by the end of the stage, Pa, (items, runs)."""

    pressure: FloatArray
    kept: FloatArray
    """Of the gas without vapour, where it stays shut in; else the room's."""


def supplying(at: Moment, flow: Flow) -> Supply:
    """Rates that go on and the pressure they can reach, at each item for all its upstream."""
    graph, number = at.resolved.graph, at.number
    rate = np.zeros((graph.size, at.runs.size))
    most = np.zeros((graph.size, at.runs.size))
    for n, (name, feed) in enumerate(flow.feeds.items()):
        total = feed.sum(axis=0)
        limit = number(f"flows.{name}.shut_off_pressure")
        held = f"reagents.{at.resolved.scenario.flows[name].reagent}.held"
        limit = np.where(np.isnan(limit), number(f"{held}.regulator"), limit)
        if drawn_by(at.resolved, name):
            limit = np.fmin(limit, at.ambient_pressure)
        failed = number(f"flows.{name}.regulator_failed")
        limit = np.where(failed > 0, number(f"{held}.pressure"), limit)
        i = flow.targets[name]
        rate[i] += total
        limit = np.fmin(limit, np.fmin(_charged(at, flow, n, i), lifted(at, flow, name, i)))
        most[i] = np.where(total == 0, most[i], np.maximum(most[i], limit))
    reach = [list(graph.all_upstream(i)) for i in range(graph.size)]
    rates = np.array([rate[before].sum(axis=0) for before in reach])
    highest = np.array([most[before].max(axis=0) for before in reach])
    closed = flow.start.leaves <= 0
    # Gas that cannot leave presses on everything it is connected with, upstream too.
    pressed = _connected(flow, graph, np.where(np.isnan(rates), 1.0, np.abs(rates)))
    highest = np.where(closed, np.maximum(highest, _connected(flow, graph, most)), highest)
    relief = relieved(at, flow)
    # A relief that lets out all that is brought bounds a supply that nobody knows as well.
    highest = np.where(np.isfinite(relief), np.fmin(highest, relief), highest)
    shut = closed & (pressed != 0)
    for p, pressure in _pushed(at):
        for i in (k for k in range(graph.size) if p in graph.before[k] and k != p):
            highest[i] = np.maximum(highest[i], pressure)
    for p, pressure in _driven_back(at, flow):
        for i in graph.before[p]:
            highest[i] = np.where(pressure == 0, highest[i], np.maximum(highest[i], pressure))
            shut[i] |= pressure != 0
    return Supply(rates, highest, shut, relief)


#: What drives an ejector at a pressure that is stated.
PIPED = ("compressed air", "steam")

#: Most that the house's water presses with, Pa gauge (EN 806-2 and fittings of class PN 10, from
#: memory).
TAP = 1.0e6

#: Most that a motor pump presses with where its way out is shut, Pa gauge: small diaphragm pumps
#: used as compressors reach 2.5 to 4 bar (makers' data sheets, from memory).
PUMPED = 4.0e5


def _pushed(at: Moment) -> Iterator[tuple[int, FloatArray]]:
    """What a pump that runs presses with into what stands behind it, Pa; 0 where it is off.

    The `shut_off_pressure` of the air that it draws says less or more. One whose drive nobody
    states counts as a motor pump here, and as a water jet where its drain is shut.
    """
    scenario = at.resolved.scenario
    for p, item in enumerate(scenario.train):
        if item.suction is None or item.suction.drive == "water":
            continue
        most = np.full(at.runs.size, np.nan)
        for name in scenario.flows:
            if item.id in drawn_by(at.resolved, name):
                most = np.fmax(most, at.number(f"flows.{name}.shut_off_pressure"))
        other = at.ambient_pressure + PUMPED
        if item.suction.drive in PIPED:
            other = at.number(f"train.{item.id}.suction.drive_pressure")
        most = np.where(np.isnan(most), other, most)
        yield p, np.where(pumping(at.resolved, item.id, at.cell, at.number) > 0, most, 0.0)


def _driven_back(at: Moment, flow: Flow) -> Iterator[tuple[int, FloatArray]]:
    """Pressure of what drives a pump whose exhaust is shut, Pa; 0 elsewhere.

    A jet's drain is a wide open pipe: it is shut only where the file says so, by no failure.
    """
    scenario = at.resolved.scenario
    for p, item in enumerate(scenario.train):
        if item.suction is None or item.suction.drive == "motor":
            continue
        piped = item.suction.drive in PIPED
        ends = [each for each in scenario.train if item.id in each.from_]
        if piped or not any(each.open for each in ends):
            driven = pumping(at.resolved, item.id, at.cell, at.number) > 0
            pressure = at.number(f"train.{item.id}.suction.drive_pressure")
            if not piped:
                pressure = np.where(np.isnan(pressure), at.ambient_pressure + TAP, pressure)
            yield p, np.where(driven & (flow.start.leaves[p] <= 0), pressure, 0.0)


def _charged(at: Moment, flow: Flow, n: int, i: int) -> FloatArray:
    """Pressure that the rest of a flow's charge makes in the item it enters alone, Pa; else NaN."""
    charge = np.where(np.isinf(flow.charge[n]), np.nan, flow.charge[n])
    return np.asarray(at.ambient_pressure + charge * R * flow.hot[i] / flow.volume[i])


def pressing(
    at: Moment, heat: Heating, flow: Flow, liquid: Liquids, supply: Supply, gust: FloatArray
) -> Pressures:
    """Pressure of every item, and what shut-in gas takes into the next step.

    A liquid that is joined to its supply stands at the higher of supply and vapour; once nothing
    presses in any more, gas and vapour add up. Gas that was pressed in through the liquid itself
    holds its vapour already. Vapour that nobody knows leaves it unknown. `gust` is what wind adds
    wherever gas can leave, Pa.
    """
    ambient, leaves = at.ambient_pressure, flow.start.leaves
    supplied = np.maximum(supply.most, ambient)
    pressed = np.maximum(supplied, liquid.vapour_pressure)
    held = np.where(np.isfinite(supply.relief), supply.relief, np.inf)
    flows = np.minimum(flow.start.pressure, held)
    for i, spilt in flow.spills.items():  # it opens, whatever the train behind it then passes on
        for j in at.resolved.graph.all_upstream(i):
            flows[j] = np.where((spilt != 0) & np.isfinite(held[j]), held[j], flows[j])
    pressure = np.where(supply.shut, pressed, flows)
    spread_pressure(at.resolved.graph, pressure, leaves)
    kept_down = np.minimum(pressure, np.maximum(held, liquid.vapour_pressure))
    pressure = np.where(supply.shut, kept_down, pressure)
    alone = (leaves <= 0) & ~supply.shut
    # What a failure shuts in and the room then warms from the cold, a criterion of its own tells.
    ways = can_leave(at.resolved.graph, flow.built, flow.given.outward, flow.given.edges)
    least = np.where(ways > 0, at.ambient_temperature, 0.0)

    def grown(now: FloatArray) -> FloatArray:
        before, now = np.maximum(at.state.high, least), np.maximum(now, least)
        return at.state.shut * _growth(alone, flow.volume, before, now)

    now = np.where(np.isnan(heat.cold), flow.hot, heat.cold)
    pressure = np.where(alone, np.maximum(pressure, grown(now) + liquid.vapour_pressure), pressure)
    unknown = np.isnan(liquid.vapour_pressure) & (leaves <= 0)
    after = np.where(np.isnan(heat.high), flow.hot_now, heat.high)
    return Pressures(
        pressure=np.where(unknown, np.nan, np.where(leaves > 0, pressure + gust, pressure)),
        kept=np.where(
            alone,
            grown(after),
            np.where(supply.shut, supplied - _within(at, flow, liquid, supplied), ambient),
        ),
    )


def _within(at: Moment, flow: Flow, liquid: Liquids, supplied: FloatArray) -> FloatArray:
    """Share of a supply's pressure that is vapour of the liquid it bubbles through, Pa.

    Bubbles of some millimetres are saturated within a centimetre or two of liquid. Where gas comes
    in over a liquid, or the vapour presses as much as the supply, none is counted.
    """
    graph = at.resolved.graph
    heads = [kind.static_head(view) for kind, view in zip(graph.kinds, flow.views, strict=True)]
    bubbles = (np.array(heads) > 0) & (liquid.vapour_pressure < supplied)
    return np.where(bubbles, liquid.vapour_pressure, 0.0)


def _connected(flow: Flow, graph: Graph, value: FloatArray) -> FloatArray:
    """The largest value anywhere an item is connected with, (items, runs).

    What is shut or blocked is reached from upstream and lets nothing through either way, nor does
    the side that a three-way valve shuts.
    """
    out, open_, ways = value.copy(), flow.given.open, flow.given.edges or {}

    def through(j: int, k: int, past: int, seen: FloatArray) -> FloatArray:
        return np.where((open_[past] > 0) & (np.asarray(ways.get((j, k), 1.0)) > 0), seen, 0.0)

    for _ in range(2):  # down and up again; a second time for branches beside branches
        for k in graph.order:
            for j in graph.upstream[k]:
                out[k] = np.maximum(out[k], through(j, k, j, out[j]))
        for k in reversed(graph.order):
            for j in graph.upstream[k]:
                out[j] = np.maximum(out[j], through(j, k, k, out[k]))
    return out


def _growth(
    shut: NDArray[np.bool_], volume: FloatArray, before: FloatArray, now: FloatArray
) -> FloatArray:
    """Pressure ratio of gas shut in, sum(V/T before) / sum(V/T now) over all that is shut, (runs,).

    One volume that is heated pushes into the cold ones it is connected with.
    """
    first = np.where(shut, volume / before, 0.0).sum(axis=0)
    last = np.where(shut, volume / now, 0.0).sum(axis=0)
    return np.where(last == 0, 1.0, first / np.where(last == 0, 1.0, last))
