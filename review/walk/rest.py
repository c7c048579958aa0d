"""The rest stage: what comes into items without flow, and what fills every item after the step."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.walk.against import against_flow
from review.walk.flowing import Flow
from review.walk.gusts import gusts
from review.walk.heating import Heating
from review.walk.pressing import Supply
from review.walk.state import Moment, fractions
from review.walk.still import Still, Surroundings, still
from review.walk.suction import leaking
from review.walk.valves import turned


@dataclass(frozen=True, slots=True)
class Rest:
    """Items without flow, (items, runs)."""

    low: FloatArray
    """What each may have cooled to by the end of the step, K."""
    still: Still
    drawn_fraction: FloatArray
    """Share of the gas that what comes in has replaced by the end."""
    filling: FloatArray
    """(items, species, runs) what fills each item after the step, moving or not."""
    gust: FloatArray
    """What wind presses on the ends with at most, Pa, (runs,)."""


def resting(at: Moment, heat: Heating, flow: Flow, supply: Supply) -> Rest:
    """What is drawn or pressed into items at rest, and what a purge has left in the others."""
    resolved, state = at.resolved, at.state
    moving, size = flow.moving, at.runs.size
    low = np.where(np.isnan(heat.low), np.minimum(state.low, flow.hot_now), heat.low)
    # What was at rest already has shrunk already; what just came to rest may still be hot.
    from_t = np.maximum(np.where(state.resting > 0, state.low, state.high), low)
    shrinks = flow.volume * at.ambient_temperature * np.maximum(1 / low - 1 / from_t, 0.0)
    around = Surroundings(
        open=flow.given.open,
        ways=turned(at, flow.given.edges),
        moving=moving,
        filling=state.filling,
        outlet=fractions(flow.start.outlet),
        stands=fractions(np.maximum(flow.start.inlet, flow.start.outlet)),
        contraction=np.where(moving > 0, 0.0, shrinks),
        soluble=_soluble(at, flow.views),
        volume=flow.volume,
        cold_volume=flow.volume * at.ambient_temperature / low,
        pulled=state.pulled,
        pressed=supply.shut,
        feed=_pressed_in(at, flow),
        air=np.broadcast_to(resolved.air[:, None], (len(resolved.species), size)),
        gust=gusts(at, flow),
    )
    # Of an item whose room is not known all may shrink, unless it is as warm as it was.
    against = against_flow(at, flow, np.where(from_t <= low, 0.0, shrinks), around.gust)
    idle = still(resolved.graph, flow.views, flow.start, around)
    idle = _leaking(at, flow, _with_air(idle, against.hot, around), around)
    ambient = at.ambient_pressure
    drawn = gas_physics.drawn_in_fraction(low, from_t) * (1 - moving)
    drawn = np.where(supply.shut, 1 - ambient / np.maximum(supply.most, ambient), drawn)
    left, swept = _purged(at, flow)
    after = fractions(flow.end.outlet)
    swept = after + (swept - after) * left[:, None, :]
    # Of gas that may burn and air, which both are there, the gas is what the next step is left.
    burns = [n for n, s in enumerate(resolved.species) if s.combustible is not False]
    airy = against.through * ~(after[:, burns].sum(axis=1) > 0)
    # What a purge has left of other gases stays in it: air takes the place of the purge gas alone,
    # which may be any gas that is inert.
    inert = np.array([bool(s.inert) for s in resolved.species])[:, None]
    others = np.where((around.air > 0) | inert, 0.0, swept)
    aired = others + around.air * (1 - others.sum(axis=1))[:, None, :]
    swept = swept + (aired - swept) * airy[:, None, :]
    comes = (drawn * idle.exposed)[:, None, :]
    kept = state.filling + (idle.source - state.filling) * comes
    filling = np.where(moving[:, None, :] > 0, swept, kept)
    return Rest(low, idle, drawn, filling, around.gust.max(axis=0, initial=0.0))


def _with_air(idle: Still, against: FloatArray, around: Surroundings) -> Still:
    """What comes in, with the air that comes in against a flow."""
    share = against[:, None, :]
    mixed = around.outlet + (around.air - around.outlet) * share
    exposed = np.where(against > 0, 1.0, idle.exposed)
    return replace(idle, exposed=exposed, source=np.where(share > 0, mixed, idle.source))


def _leaking(at: Moment, flow: Flow, idle: Still, around: Surroundings) -> Still:
    """What comes in, with the air that comes in where the train is sucked."""
    drawn = flow.given.sucked
    if drawn is None:
        return idle
    graph, species = at.resolved.graph, at.resolved.species
    burns = [n for n, s in enumerate(species) if s.combustible is not False]
    fuel = np.zeros_like(flow.moving)
    for name, feed in flow.feeds.items():
        brings = ~(feed[burns].sum(axis=0) <= 0)
        for i in range(graph.size):
            if flow.targets[name] in graph.before[i]:
                fuel[i] = np.maximum(fuel[i], brings)
    opened = np.array([view.numbers["open_inward"] for view in flow.views])
    airy = leaking(graph, drawn, opened, fuel) > 0
    source = np.where(airy[:, None, :], around.air, idle.source)
    return replace(idle, exposed=np.where(airy, 1.0, idle.exposed), source=source)


def _soluble(at: Moment, views: list[ItemView]) -> FloatArray:
    """Share of each species that an item's liquid takes up, (items, species, runs).

    What the file says that it absorbs, and what dissolves in it or binds to it as the data know,
    whether or not the file says so; steam and other vapours condense.
    """
    resolved, room = at.resolved, at.ambient_temperature
    out = np.zeros((len(views), len(resolved.species), views[0].size))
    for i, view in enumerate(views):
        for a in view.absorptions:
            out[i, a.species] = np.where(a.efficiency > 0, 1.0, 0.0)
        kind, liquid = resolved.graph.kinds[i], tuple(resolved.liquids.get(view.model.id, ()))
        if not liquid or not (kind.held_liquid(view) > 0).any():
            continue
        for n, substance in enumerate(resolved.species):
            boils = substance.number("boiling_point")
            taken = kind.vanishes(liquid, substance.name)
            out[i, n] = np.maximum(out[i, n], np.where(boils <= room, float(taken), 1.0))
    return out


def _pressed_in(at: Moment, flow: Flow) -> FloatArray:
    """Gas that the supplies upstream of each item would press in, (items, species, runs)."""
    graph = at.resolved.graph
    into = np.zeros_like(flow.start.inlet)
    for name, feed in flow.feeds.items():
        into[flow.targets[name]] += feed
    total = np.array([into[list(graph.all_upstream(i))].sum(axis=0) for i in range(graph.size)])
    # Where nothing is fed in upstream, what presses comes from the feeds of other branches.
    own = total.sum(axis=1, keepdims=True)
    pressed = fractions(np.where(own == 0, into.sum(axis=0), total))
    for k in (k for k in range(graph.size) if len(graph.upstream[k]) > 1):
        if at.runs.changes(f"train.{graph.ids[k]}.pushed_back"):
            _from_other_branches(at, flow, k, into, pressed)
    return pressed


def _from_other_branches(
    at: Moment, flow: Flow, k: int, into: FloatArray, pressed: FloatArray
) -> None:
    """The gas that presses out of each branch before an item into the others; changed in place.

    It comes as far as a check valve that closes; a liquid does not hold what a supply presses.
    """
    graph = at.resolved.graph
    on = at.number(f"train.{graph.ids[k]}.pushed_back") > 0
    for j in graph.upstream[k]:
        mine = set(graph.all_upstream(j))
        shared = {i for m in graph.upstream[k] if m != j for i in graph.all_upstream(m)}
        other = into[sorted(shared - mine)].sum(axis=0)
        comes = on & (other.sum(axis=0) != 0) & ~(graph.kinds[k].holds_back(flow.views[k]) > 0)
        reach: dict[int, FloatArray] = {}
        for i in reversed([i for i in graph.order if i in mine - shared]):
            ways = [reach[m] for m in graph.downstream[i] if m in reach]
            through = np.any([*ways, comes & (i == j)], axis=0)
            through = through & ~(graph.kinds[i].holds_back(flow.views[i]) > 0)
            reach[i] = through & (flow.given.open[i] > 0)
            pressed[i] = np.where(reach[i], fractions(other), pressed[i])


def _purged(at: Moment, flow: Flow) -> tuple[FloatArray, FloatArray]:
    """Share of the old gas left at each item by the end of the step, and what that gas is.

    The gas an item holds is flushed through all volumes upstream of it in series, taken as one
    volume with the unproven mixing factor, so what is left is the gas that all of them held, by
    volume. Items without flow upstream are dead legs and are not counted.
    """
    graph, moving, filling = at.resolved.graph, flow.moving, at.state.filling
    out = np.ones_like(moving)
    held, flows = filling.copy(), flow.start.outlet.sum(axis=1)
    own = np.where(moving > 0, flow.volume, 0.0)
    mixed = own[:, None, :] * filling  # of each item, then of all before it as well
    for i in graph.order:
        before = list(graph.all_upstream(i))
        each = own[before]
        swept = each.sum(axis=0)
        if len(before) > 1:
            if len(graph.upstream[i]) == 1:  # it is the last of those before it, itself included
                mixed[i] += mixed[graph.upstream[i][0]]
            else:
                mixed[i] = (each[:, None, :] * filling[before]).sum(axis=0)
            held[i] = np.where(swept == 0, filling[i], mixed[i] / np.where(swept == 0, 1, swept))
        rate = flows[i] * gas_physics.R * at.ambient_temperature / at.ambient_pressure
        swept = gas_physics.swept_volume(each, flows[before], flows[i])
        left = gas_physics.mixing_residual(
            rate, at.duration, swept, gas_physics.UNPROVEN_MIXING
        )
        out[i] = np.where(moving[i] > 0, left, 1.0)
    return out, held
