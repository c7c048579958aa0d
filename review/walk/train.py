"""The train: a directed graph of items with balances, temperatures and pressures over runs.

Knows no item kind by name; everything special about an item is asked of its kind. Topology never
differs between runs: a closed or blocked place is a share of zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from review.interface.items import Gas, ItemKind, ItemView
from review.interface.measure import FloatArray
from review.physics import heat as heat_physics
from review.physics.flow import upstream_pressure
from review.walk.condensing import caught, condense, condensing_at, stays
from review.walk.graph import Graph
from review.walk.properties import Properties
from review.walk.sharing import ROUNDS, SETTLED, Routes, balanced, settled, shared, unstated
from review.walk.suction import Sucked, pressures
from review.walk.worked import Worked

#: The loss of an unheated line to still air is taken where its surface is this much warmer than the
#: room, K: warmer pieces lose more, and colder ones harm nobody.
COOL_SURFACE = 20.0

#: Glass conducts better when hot, by radiation through it too; up to twice its figure at room
#: temperature below 1000 degC (from memory).
HOT_GLASS = 2.0

#: Nusselt number of fully developed laminar flow at constant wall temperature, the lowest there
#: is in a round bore: it keeps the gas hot longest (Incropera & DeWitt, chapter 8).
LAMINAR_NUSSELT = 3.66

#: How much better than by its correlations a wall may warm a fast gas, and how many bores beyond
#: the heated zone it is still as hot: a judgement, above what both are off by.
WARMS_BETTER, STILL_HOT = 1.5, 5.0

#: What a condenser leaves of a vapour below this share of it is rounding.
WHOLE = 1e-9


@dataclass(slots=True)
class Conditions:
    """What drives the train in one cell, over runs."""

    feeds: list[tuple[int, FloatArray]]
    open: FloatArray
    outward: FloatArray
    shares: dict[tuple[int, int], FloatArray]
    heated: dict[int, FloatArray]
    ambient_temperature: FloatArray
    ambient_pressure: FloatArray
    sucked: Sucked | None = None
    edges: Mapping[tuple[int, int], FloatArray] = field(default_factory=dict)
    """1 where a valve's way is open, 0 where it is shut; what is not there is open."""
    worked: Worked = field(default_factory=Worked)

    def end_of(self, index: int, *made_of: ArrayLike) -> FloatArray:
        """Gas and wall at the bare end of a heated item; passes and steps mostly agree."""
        rows = np.array(np.broadcast_arrays(*made_of), dtype=np.float64)
        return self.worked.of(
            ("bare end", index), rows, lambda r: np.array(heat_physics.bare_end(*r))
        )


@dataclass(slots=True)
class Flowing:
    """The solved train in one cell: arrays (items, species, runs) and (items, runs)."""

    inlet: FloatArray
    outlet: FloatArray
    absorbed: FloatArray
    condensed: FloatArray
    """What condensers take out of the gas, mol/s; it runs back or on as liquid."""
    pressure: FloatArray
    gas_in: FloatArray
    gas_out: FloatArray
    wall_hot: FloatArray
    wall_out: FloatArray
    leaves: FloatArray
    converged: FloatArray


def can_leave(
    graph: Graph,
    own_open: FloatArray,
    outward: FloatArray,
    edges: Mapping[tuple[int, int], FloatArray] | None = None,
) -> FloatArray:
    """1 where gas at an item finds an open way out, else 0; shape (items, runs).

    The way leads to an end, or out of a joint that has opened (`outward` 1).
    """
    leaves = np.zeros_like(own_open)
    for i in reversed(graph.order):
        if graph.kinds[i].is_end:
            leaves[i] = own_open[i]
        else:
            for k in graph.downstream[i]:
                leaves[i] = np.maximum(leaves[i], leaves[k] * (edges or {}).get((i, k), 1.0))
            leaves[i] = np.maximum(leaves[i], outward[i]) * own_open[i]
    return leaves


def split(
    graph: Graph,
    shares: dict[tuple[int, int], FloatArray],
    leaves: FloatArray,
    outward: FloatArray,
    edges: Mapping[tuple[int, int], FloatArray] | None = None,
) -> dict[tuple[int, int], FloatArray]:
    """Share of each item's outflow on each edge, renormalised over the open ones.

    Behind a joint that has opened nothing flows on.
    """
    out: dict[tuple[int, int], FloatArray] = {}
    for i, targets in enumerate(graph.downstream):
        if len(targets) == 1:
            way = (edges or {}).get((i, targets[0]), 1.0)
            out[i, targets[0]] = leaves[targets[0]] * way * (1 - outward[i])
            continue
        raw = [
            shares.get((i, k), np.ones_like(leaves[k])) * leaves[k] * (edges or {}).get((i, k), 1.0)
            for k in targets
        ]
        total = np.sum(raw, axis=0) if raw else np.zeros(0)
        for k, part in zip(targets, raw, strict=True):
            share = np.divide(part, total, out=np.zeros_like(part), where=total > 0)
            out[i, k] = share * (1 - outward[i])
    return out


def solve(
    graph: Graph,
    views: Sequence[ItemView],
    properties: Properties,
    given: Conditions,
    spent: FloatArray,
    passes: int,
) -> Flowing:
    """Balances, temperatures and pressures of the train in one cell.

    Vapour depends on pressure and pressure on vapour: `passes` is 2 where a liquid gives off
    vapour, else 1; what moved by more than 1 % between the passes is flagged as not converged.
    Where ways part and nobody states the shares, they are sought over again and again.
    """
    leaves = can_leave(graph, given.open, given.outward, given.edges)
    routes = split(graph, given.shares, leaves, given.outward, given.edges)
    sought = [] if given.sucked is not None else unstated(graph, given.shares)
    found = _solved(graph, views, properties, given, spent, passes, routes)
    for _ in range(ROUNDS if sought else 0):
        last = dict(routes)
        for i in sought:
            routes |= shared(
                graph, views, i, routes, found.pressure, given.ambient_pressure, given.outward
            )
        found = _solved(graph, views, properties, given, spent, passes, routes)
        if all(np.abs(routes[way] - last[way]).max() <= SETTLED for way in routes):
            break
    if sought:
        for i in sought:
            routes |= settled(graph, i, routes)
        found = _solved(graph, views, properties, given, spent, passes, routes)
    return found


def _solved(
    graph: Graph,
    views: Sequence[ItemView],
    properties: Properties,
    given: Conditions,
    spent: FloatArray,
    passes: int,
    routes: Routes,
) -> Flowing:
    """The same with given shares of each item's outflow on each way."""
    size = given.ambient_pressure.shape[0]
    items = graph.size
    pressure = np.broadcast_to(given.ambient_pressure, (items, size)).copy()
    if given.sucked is not None:
        pressure = given.sucked.estimate(given.ambient_pressure)
    leaves = can_leave(graph, given.open, given.outward, given.edges)
    shape = (items, len(properties.species), size)
    converged = np.ones(size)
    for number in range(passes):
        inlet, outlet, absorbed = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        condensed = np.zeros(shape)
        gas_in, gas_out = np.empty((items, size)), np.empty((items, size))
        wall_hot, wall_out = np.empty((items, size)), np.empty((items, size))
        for target, flow in given.feeds:
            inlet[target] += flow * leaves[target]
        for i in graph.order:
            gas_in[i] = given.ambient_temperature
            wall_in = given.ambient_temperature
            for j in graph.upstream[i]:
                inlet[i] += outlet[j] * routes[j, i]
                reaches = routes[j, i] > 0
                gas_in[i] = np.maximum(gas_in[i], np.where(reaches, gas_out[j], 0.0))
                wall_in = np.maximum(wall_in, wall_out[j])
            came = properties.gas(inlet[i], gas_in[i], pressure[i])
            warm = _temperatures(graph.kinds[i], views[i], properties, given, i, came, wall_in)
            gas_out[i], wall_hot[i], wall_out[i] = warm.gas_out, warm.wall_hot, warm.wall_out
            gas = properties.gas(inlet[i], np.maximum(gas_in[i], wall_hot[i]), pressure[i])
            transfer = graph.kinds[i].transfer(views[i], gas, spent[i])
            outlet[i], absorbed[i] = transfer.outflow, transfer.absorbed
            kept = stays(graph.kinds[i], views[i], properties, inlet[i], outlet[i],
                         pressure[i], given.ambient_temperature)  # fmt: skip
            outlet[i], absorbed[i] = outlet[i] - kept, absorbed[i] + kept
            if views[i].has("coolant_temperature"):
                condensed[i], cold = condense(views[i], properties, outlet[i], pressure[i])
                gone = condensed[i] >= outlet[i] * (1 - WHOLE)
                outlet[i] = np.where(gone, 0.0, outlet[i] - condensed[i])
                gas_out[i] = np.where(cold, condensing_at(views[i]), gas_out[i])
                wall_out[i] = np.where(cold, condensing_at(views[i]), wall_out[i])
            elif views[i].cold is not None:
                kind, room = graph.kinds[i], given.ambient_temperature
                condensed[i] = caught(kind, views[i], properties, outlet[i], pressure[i], room)
                outlet[i] -= condensed[i]
        last = pressure
        more = outlet.sum(axis=1) >= inlet.sum(axis=1)
        larger = np.where(more[:, None, :], outlet, inlet)
        pressure = _pressures(graph, views, properties, given, larger, gas_in, wall_hot)
        if given.sucked is not None:
            hot = np.maximum(gas_in, wall_hot)
            room = given.ambient_pressure
            below = pressures(graph, views, properties, given.sucked, room, larger, hot)
            pressure = np.where(given.sucked.on > 0, below, pressure)
        if (pressure == last).all():  # another pass would find the same
            break
        if number:
            moved = np.abs(pressure / last - 1).max(axis=0)
            converged = np.where(moved > 0.01, 0.0, 1.0)
    converged = converged * balanced(graph, routes, pressure, outlet, given.ambient_pressure)
    return Flowing(
        inlet, outlet, absorbed, condensed, pressure, gas_in, gas_out, wall_hot, wall_out, leaves,
        converged,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Warmth:
    """Temperatures of one item in flow, K, (runs,)."""

    gas_out: FloatArray
    wall_hot: FloatArray
    """The wall where it is hottest."""
    wall_out: FloatArray


def _temperatures(
    kind: ItemKind,
    view: ItemView,
    properties: Properties,
    given: Conditions,
    index: int,
    came: Gas,
    wall_in: FloatArray,
) -> Warmth:
    """Gas and wall temperatures of one item that this gas enters.

    A heated item is at its heat source's temperature in the heated zone; from there gas and wall
    cool together along what is left of it. A bath sets the gas to its own temperature.
    """
    ambient = given.ambient_temperature
    hot = given.heated.get(index)
    start_gas, start_wall = came.temperature, wall_in
    if hot is not None:
        start_gas = np.maximum(start_gas, hot)
        start_wall = np.maximum(start_wall, hot)
    bath = kind.bath(view)
    if bath is not None:
        liquid = np.where(np.isnan(bath), ambient, bath)
        return Warmth(liquid if hot is None else np.maximum(liquid, hot), start_wall, ambient)
    warm = np.maximum(start_gas, start_wall) > ambient + 1.0
    length = kind.cooling_length(view, hot is not None)
    if length is None or not warm.any():
        return Warmth(start_gas, start_wall, start_wall)
    bore, wall = view.get("inner_diameter"), view.get("wall")
    known = None if view.material is None else view.material.datum("conductivity").value
    conductivity = np.nan if known is None else known
    outer = bore + 2 * wall
    gas = properties.gas(came.flow, start_gas, came.pressure)
    fractions = gas.flow / np.where(gas.total > 0, gas.total, 1.0)
    k_gas = (properties.conductivities @ fractions) * (start_gas / 300.0) ** 0.7
    k_gas = np.where(k_gas > 0, k_gas, 0.02)
    carried = properties.heat_capacity_flow(gas.flow, start_gas)
    shines = None if view.material is None else view.material.datum("emissivity").value
    emissivity = 0.0 if shines is None else shines
    conductivity = np.maximum(conductivity, 1e-3)
    if hot is not None:
        glass = view.material is not None and view.material.kind == "glass"
        gas_end, wall_end = given.end_of(
            index, length, np.maximum(start_gas, start_wall), ambient, carried, k_gas, bore, outer,
            conductivity * (HOT_GLASS if glass else 1.0), emissivity,
        )  # fmt: skip
        fast = _warmed(view, gas, came.temperature, k_gas, carried)
        gas_end = np.where(np.isnan(fast), gas_end, np.minimum(fast, gas_end))
    else:
        gas_end, wall_end = heat_physics.cooling_line(
            length, length, start_gas, start_wall, ambient, carried,
            LAMINAR_NUSSELT * k_gas / bore, np.pi * bore,
            heat_physics.still_air(ambient + COOL_SURFACE, ambient, outer, emissivity),
            np.pi * outer, conductivity, np.maximum(np.pi / 4 * (outer**2 - bore**2), 1e-9),
        )  # fmt: skip
    # Without length, wall or material to reckon with, gas and wall leave as hot as they were.
    use = warm & (length > 0) & ~np.isnan(wall * conductivity)
    return Warmth(
        np.where(use, gas_end, start_gas), start_wall, np.where(use, wall_end, start_wall)
    )


def _warmed(
    view: ItemView, gas: Gas, came: FloatArray, k_gas: FloatArray, carried: FloatArray
) -> FloatArray:
    """How warm gas gets at most in the heated zone of an empty tube, K, (runs,).

    T = Tw - (Tw - T0) exp(-NTU), NTU = Nu k pi L / (m cp), where Nu is the higher of Hausen's for
    laminar flow and 0.023 Re^0.8 Pr^0.4 (Dittus-Boelter; Incropera & DeWitt, chapter 8). NaN where
    a bed lies in it, something reacts or the zone is not stated.
    """
    wall = gas.temperature
    if view.model.packing is not None or view.reactions or not view.has("heated_length"):
        return np.full(view.size, np.nan)
    bore = view.get("inner_diameter")
    zone = view.get("heated_length") + STILL_HOT * bore
    some = np.where(carried == 0, np.nan, carried)
    mass = gas.molar_masses @ gas.flow
    laminar = heat_physics.entrance_nusselt(4 / np.pi * some / (k_gas * zone))
    reynolds = 4 * mass / (np.pi * bore * gas.viscosity)
    prandtl = gas.viscosity * some / mass / k_gas
    turbulent = 0.023 * reynolds**0.8 * prandtl**0.4
    nusselt = WARMS_BETTER * np.maximum(laminar, turbulent)
    units = nusselt * k_gas * np.pi * zone / some
    return np.asarray(wall - (wall - came) * np.exp(-units))


def _pressures(
    graph: Graph,
    views: Sequence[ItemView],
    properties: Properties,
    given: Conditions,
    flow: FloatArray,
    gas_in: FloatArray,
    wall_hot: FloatArray,
) -> FloatArray:
    """Absolute pressure at each item's inlet, marched back from the ends.

    Losses of flow are integrated isothermally, so a large drop needs no special case; a head of
    liquid adds as it is.
    """
    pressure = np.empty((graph.size, given.ambient_pressure.shape[0]))
    for i in reversed(graph.order):
        behind = given.ambient_pressure
        for k in graph.downstream[i]:
            behind = np.maximum(behind, np.where(given.outward[i] > 0, 0.0, pressure[k]))
        gas = properties.gas(flow[i], np.maximum(gas_in[i], wall_hot[i]), behind)
        moving = gas.total != 0  # a flow nobody knows is none that can be left out
        loss = graph.kinds[i].pressure_loss(views[i], gas)
        loss = np.where(moving, loss, 0.0)
        head = np.where(moving, graph.kinds[i].static_head(views[i]), 0.0)
        # The narrowest bore it is known to have; without one it is taken as wide.
        bore = np.fmin(views[i].get("inner_diameter"), views[i].get("dip_tube_bore"))
        area = np.pi / 4 * np.where(np.isnan(bore), np.inf, bore) ** 2
        velocity = np.where(moving, gas.volume_flow, 0.0) / area
        density = np.where(moving, gas.density, 1.0)
        pressure[i] = upstream_pressure(behind, loss, velocity, density) + head
    return pressure


def spread_pressure(graph: Graph, pressure: FloatArray, leaves: FloatArray) -> None:
    """Items without a way out stand at the pressure of what feeds them; changed in place."""
    for i in graph.order:
        for j in graph.upstream[i]:
            pressure[i] = np.where(
                leaves[i] <= 0, np.maximum(pressure[i], pressure[j]), pressure[i]
            )
