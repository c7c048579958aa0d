"""The walk: steps in order over runs, with what one step leaves behind carried to the next.

Cell 0 is the stated steady plan with its own gas already in every item; the procedure starts at
cell 1 with air everywhere, cold and with fresh absorbents.

Runs in which nothing has begun yet are all alike: one of them is walked for all.

A step is played in stages, each of which reads what the ones before it found: heat, flow, liquids,
rest, pressure, air. No flow is a state of its own: an item without flow keeps its gas, and while it
cools it draws gas from its open end, or liquid from a bottle on the way.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.boiling import held_moles
from review.walk.charge import at_once, lasting
from review.walk.feeds import Reader
from review.walk.flowing import Flow, flowing
from review.walk.heating import Heating, heating
from review.walk.liquids import Liquids, liquids
from review.walk.pressing import Pressures, Supply, pressing, supplying
from review.walk.procedure import BEGUN_AGAIN
from review.walk.resolve import Resolved
from review.walk.rest import Rest, resting
from review.walk.room import Air, airing
from review.walk.runs import PLAN, Runs
from review.walk.state import Cell, Moment, State, fractions, moment, put, take
from review.walk.valves import turned

__all__ = ["Cell", "Walk"]


class Walk:
    """All cells of all runs of one chunk."""

    def __init__(self, resolved: Resolved, runs: Runs) -> None:
        self.resolved, self.runs = resolved, runs
        self.cells: list[Cell] = []
        self._known: dict[int, ItemView] = {}
        with np.errstate(all="ignore"):  # NaN says what is missing; a warning adds nothing
            self._play()

    def _play(self) -> None:
        state = self._start(self.runs)
        self.cells.append(self._shared(0, self._filled(state), before=False)[0])
        self._begun_again(state)
        for cell in range(1, len(self.resolved.steps) + 1):
            late = self.runs.late_at(cell)
            done, state = self._shared(cell, state, before=late.size > 0)
            if late.size:
                again, after = self._step(
                    cell, self.runs.subset(late), take(state, late), before=False
                )
                put(done, late, again)
                put(state, late, after)
            self.cells.append(done)

    def _begun_again(self, state: State) -> None:
        """What a run finds that is begun again at once after a step: heat, gas, spent absorbents.

        What is fed and what stands in vessels is filled up again.
        """
        after = self.runs.number(BEGUN_AGAIN, 1)
        if after is None or not after.any():
            return
        plan = Runs(self.runs.base, [PLAN])
        fresh = now = self._start(plan)
        for cell in range(1, int(after.max()) + 1):
            _, now = self._step(cell, plan, now, before=False)
            where = np.flatnonzero(after == cell)
            again = replace(now, left=fresh.left, drawn=fresh.drawn)
            put(state, where, take(again, np.zeros(where.size, dtype=int)))

    def _start(self, runs: Runs) -> State:
        size = runs.size
        items, species = self.resolved.graph.size, len(self.resolved.species)
        number = Reader(runs, 1, False)
        ambient, pressure = number("ambient.temperature"), number("ambient.pressure")
        air = self.resolved.air
        return State(
            filling=np.broadcast_to(air[None, :, None], (items, species, size)).copy(),
            high=np.broadcast_to(ambient, (items, size)).copy(),
            low=np.broadcast_to(ambient, (items, size)).copy(),
            used=np.zeros((items, species, size)),
            room_caught=np.broadcast_to(air[:, None], (species, size)).copy(),
            room_uncaught=np.broadcast_to(air[:, None], (species, size)).copy(),
            pulled=np.zeros((items, size)),
            resting=np.zeros((items, size)),
            shut=np.broadcast_to(pressure, (items, size)).copy(),
            left=held_moles(self.resolved, number),
            caught=np.zeros((items, species, size)),
            drawn=np.zeros((len(self.resolved.scenario.flows), size)),
        )

    def _filled(self, air: State) -> State:
        """The state of the stated plan: items hold what flows through them."""
        cell, _ = self._shared(0, air, before=False)
        moving = cell.moving[:, None, :] > 0
        filling = np.where(moving, cell.outlet, air.filling)
        return replace(air, filling=filling, high=cell.hot, low=cell.low)

    def _shared(self, cell: int, state: State, *, before: bool) -> tuple[Cell, State]:
        """A step of all runs; of those in which nothing has begun only one is walked."""
        walked, of = self.runs.walked_at(cell, before=before)
        if walked.size == self.runs.size:
            return self._step(cell, self.runs, state, before=before)
        done, after = self._step(cell, self.runs.subset(walked), take(state, walked), before=before)
        return take(done, of), take(after, of)

    def _step(self, cell: int, runs: Runs, state: State, *, before: bool) -> tuple[Cell, State]:
        at = moment(self.resolved, cell, runs, state, before=before)
        heat = heating(at)
        flow = flowing(at, heat, self._known if runs is self.runs else {})
        liquid = liquids(at, flow)
        supply = supplying(at, flow)
        rest = resting(at, heat, flow, supply)
        pressure = pressing(at, heat, flow, liquid, supply, rest.gust)
        air = airing(at, flow, liquid, pressure.pressure)
        done = _done(at, heat, flow, liquid, supply, rest, pressure, air)
        after = State(
            filling=rest.filling,
            high=np.where(np.isnan(heat.high), flow.hot_now, heat.high),
            low=rest.low,
            used=flow.used,
            room_caught=air.caught,
            room_uncaught=air.uncaught,
            pulled=rest.still.pulled,
            resting=1 - flow.moving,
            shut=pressure.kept,
            left=liquid.left,
            caught=liquid.caught,
            drawn=flow.drawn,
        )
        skipped = np.flatnonzero(at.duration == 0)
        put(after, skipped, take(state, skipped))
        return done, after


def _shut(at: Moment, flow: Flow) -> FloatArray:
    """1 where valves shut every way to an item from upstream, (items, runs)."""
    ways, out = turned(at, flow.given.edges), np.zeros_like(flow.moving)
    for i, before in enumerate(at.resolved.graph.upstream):
        if before and all((j, i) in ways for j in before):
            out[i] = np.max([ways[j, i] for j in before], axis=0) <= 0
    return out


def _done(
    at: Moment,
    heat: Heating,
    flow: Flow,
    liquid: Liquids,
    supply: Supply,
    rest: Rest,
    pressure: Pressures,
    air: Air,
) -> Cell:
    """What checks read of a step, from what its stages found."""
    start, end = flow.start, flow.end
    once = at_once(at.resolved, at.number)
    return Cell(
        old=at.state.filling,
        inlet=fractions(start.inlet),
        outlet=fractions(start.outlet),
        outlet_middle=fractions(flow.middle.outlet),
        outlet_end=fractions(end.outlet),
        over_liquid=liquid.over,
        drawn_from=rest.still.source,
        exposed=rest.still.exposed,
        shut=_shut(at, flow),
        drawn_fraction=rest.drawn_fraction,
        liquid_drawn=rest.still.liquid,
        moving=flow.moving,
        flow=start.outlet.sum(axis=1),
        came=start.inlet.sum(axis=1),
        hot=flow.hot,
        gas_in=start.gas_in,
        gas_out=start.gas_out,
        wall_out=start.wall_out,
        low=rest.low,
        cold=heat.cold,
        pressure=pressure.pressure,
        volume=flow.volume,
        leaves=start.leaves,
        outward=flow.given.outward,
        used=flow.used,
        fed=np.array([f.sum(axis=0) for f in flow.feeds.values()]).reshape(
            len(flow.feeds), air.caught.shape[1]
        ),
        lasts=lasting(at.resolved, at.number, once),
        once=once,
        delivered=supply.rate,
        supply=supply.most,
        vapour=liquid.vapour,
        vapour_lasts=liquid.lasts,
        liquid_temperature=liquid.temperature,
        condensed=liquid.condensed,
        converged=np.minimum(start.converged, end.converged),
        room_caught=air.most_caught,
        room_uncaught=air.most_uncaught,
        least_oxygen_caught=air.least_caught,
        least_oxygen_uncaught=air.least_uncaught,
        hood_exhaust=air.exhaust,
        into_hood=air.into_hood,
        into_room=air.into_room,
        spilled_hood=air.spilled_hood,
        amount_hood=air.amount_hood,
        amount_room=air.amount_room,
    )
