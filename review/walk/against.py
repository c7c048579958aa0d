"""Air that comes in against the flow of gas: a trickle does not keep it out.

From every open end air finds its way upstream by diffusion, in openings wider than 6 mm by gravity
exchange, where hot gas contracts faster than new gas comes, and where wind blows. A liquid seal
stops it. What has no stated bore hinders nothing: a narrow outlet has to be said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics import openings
from review.walk.flowing import Flow
from review.walk.gusts import blown
from review.walk.heating import cryogen
from review.walk.properties import Properties
from review.walk.state import Moment, fractions
from review.walk.valves import turned

#: Bore up to which surface and viscous forces stop gravity exchange, m (a judgement).
STILL_BORE = 6e-3

#: Time constant of cooling where none is stated, s: a thin tube whose burner is taken away (a
#: judgement). The shorter, the faster gas contracts.
FASTEST_COOLING = 60.0

#: Diffusivities may be so many times larger than computed (the method's own comparison, 10 %).
AUTHORS_ERROR = 1.1

#: Share of air that is none.
NO_AIR = 1e-4


@dataclass(frozen=True, slots=True)
class Against:
    """Share of air that stands in items in flow because it comes against it, (items, runs)."""

    hot: FloatArray
    """As far in as the heated zone, or at the inlet where nothing heats."""
    through: FloatArray
    """At the inlet."""


def against_flow(at: Moment, flow: Flow, contraction: FloatArray, gust: FloatArray) -> Against:
    """Where a flow does not keep air out.

    `contraction` is the volume at room conditions by which each item's gas shrinks in the step,
    m3; `gust` what wind presses with behind each item, Pa. Never too low: what is not known lets
    air in.
    """
    graph, ambient = at.resolved.graph, at.ambient_temperature
    own = np.zeros_like(flow.moving)
    reach = np.zeros_like(flow.moving)
    shrinking = contraction / _cooling_times(at)
    ways = turned(at, flow.given.edges)
    for i in reversed(graph.order):
        view, kind = flow.views[i], graph.kinds[i]
        arriving = np.zeros(at.runs.size)
        for k in graph.downstream[i]:
            arriving = np.maximum(arriving, reach[k] * ways.get((i, k), 1.0))
        if kind.is_end:
            arriving = np.ones(at.runs.size)
        elif view.has("ends_here"):
            arriving = np.maximum(arriving, view.get("ends_here"))
        arriving = arriving * (flow.given.open[i] > 0)
        if not arriving.any():
            continue
        sealed = (kind.seal_head(view) > 0) | (kind.holds_back(view) > 0)
        molar = flow.start.outlet[i].sum(axis=0)
        pulled = shrinking[list(graph.all_upstream(i))].sum(axis=0)
        out = molar * gas_physics.R * ambient / at.ambient_pressure
        behind = np.where(pulled <= 0, 0.0, np.clip(1 - out / pulled, 0.0, 1.0))
        behind = np.where(np.isnan(behind), 1.0, behind)
        inner, whole = _through(at, flow, i, view, molar)
        keeps = sealed & (flow.moving[i] > 0)
        reach[i] = np.where(keeps, 0.0, arriving * np.maximum(whole, behind))
        at_end = kind.is_end and not view.has("gas_volume")
        own[i] = 0.0 if at_end else np.where(keeps, 0.0, arriving * np.maximum(inner, behind))
    moving = flow.moving > 0
    blows, blows_through = blown(at, flow, gust)
    own, reach = np.maximum(own, blows), np.maximum(reach, blows_through)
    through = np.where(own <= 0, 0.0, reach)
    return Against(np.where(own <= NO_AIR, 0.0, own) * moving, through * moving)


def _through(
    at: Moment, flow: Flow, i: int, view: ItemView, molar: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Share of the air at its mouth that passes an item: to its heated zone, and all through it."""
    bore = view.get("inner_diameter")
    for narrow in ("packing.particle_diameter", "packing.fibre_diameter", "channel_diameter"):
        if view.has(narrow):
            bore = np.fmin(bore, view.get(narrow))
    if not view.has("inner_diameter"):
        nothing = np.ones(at.runs.size)
        return nothing, nothing
    temperature, pressure = flow.start.gas_out[i], at.ambient_pressure
    rate = molar * gas_physics.R * temperature / pressure
    section = np.pi / 4 * view.get("inner_diameter") ** 2
    properties = at.resolved.properties
    gas = fractions(flow.start.outlet[i])
    density = (properties.molar_masses @ gas) * pressure / (gas_physics.R * temperature)
    air = openings.AIR_MASS * pressure / (gas_physics.R * at.ambient_temperature)
    exchange = openings.gravity_exchange(bore, density, air)
    runs_in = ~(bore <= STILL_BORE) & ~(rate >= exchange) & (_settled(at, flow, i) <= 0)
    fastest = _fastest(properties, gas, temperature, pressure)
    # A hole hinders diffusion as a bore of an eighth of pi of its width does, each side.
    length = view.get("length") if view.has("length") else np.pi / 8 * bore
    heated = flow.given.heated.get(i) is not None
    bare = at.resolved.graph.kinds[i].cooling_length(view, heated)
    shares = []
    for way in (length if bare is None else bare, length):
        share = openings.back_diffused(rate / section, way, fastest)
        shares.append(np.where(runs_in | np.isnan(share), 1.0, share))
    return shares[0], shares[1]


def _settled(at: Moment, flow: Flow, i: int) -> FloatArray:
    """1 where an end is the mouth of vessels that a boiling cryogen fills with gas colder and
    heavier than air: what comes in at the top does not sink into it."""
    graph, out = at.resolved.graph, np.ones(at.runs.size)
    air = openings.AIR_MASS / at.ambient_temperature
    masses = at.resolved.properties.molar_masses
    for j in graph.upstream[i]:
        if j not in flow.boiling.feeds or not cryogen(at, j):
            return np.zeros(at.runs.size)
        gas = masses @ fractions(flow.boiling.feeds[j][None])[0]
        out = np.where(gas / flow.boiling.points[j] > air, out, 0.0)
    return out if graph.kinds[i].is_end and graph.upstream[i] else np.zeros(at.runs.size)


def _fastest(
    properties: Properties, gas: FloatArray, temperature: FloatArray, pressure: FloatArray
) -> FloatArray:
    """The largest diffusivity in air of what is in a gas, m2/s."""
    each = openings.diffusivity_in_air(
        temperature,
        pressure,
        properties.molar_masses[:, None],
        properties.diffusion_volumes[:, None],
    )
    return np.asarray(AUTHORS_ERROR * np.where(gas > 0, each, 0.0).max(axis=0))


def _cooling_times(at: Moment) -> FloatArray:
    """Time constant with which each item's gas may cool, s, (items, runs)."""
    graph = at.resolved.graph
    out = np.full((graph.size, at.runs.size), FASTEST_COOLING)
    for name, heat in at.resolved.scenario.heat.items():
        stated = at.number(f"heat.{name}.cooling_time")
        out[graph.ids.index(heat.heats)] = np.where(np.isnan(stated), FASTEST_COOLING, stated)
    return out
