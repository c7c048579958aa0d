"""The walk: steps in order over runs, with what one step leaves behind carried to the next.

Cell 0 is the stated steady plan with its own gas already in every item; the procedure starts at
cell 1 with air everywhere, cold and with fresh absorbents.

No flow is a state of its own: an item without flow keeps its gas, and while it cools it draws gas
from its open end, or liquid from a bottle on the way. How far a step heats or cools is bracketed:
`high` is never too cold (a source that was on stays hot unless its cooling time is given), `low`
never too hot.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.walk.feeds import Reader, escaping_fuel, feed_flows, setting
from review.walk.resolve import Resolved
from review.walk.room import Room, room_step, start_room
from review.walk.runs import Runs
from review.walk.still import Surroundings, still
from review.walk.train import Conditions, Flowing, solve, spread_pressure
from review.walk.views import item_views

#: Mixing factor of a purge that nobody has measured (NFPA 69 annex, from memory).
UNPROVEN_MIXING = 0.25


@dataclass(slots=True)
class State:
    """What carries from step to step, over runs."""

    filling: FloatArray
    high: FloatArray
    low: FloatArray
    used: FloatArray
    room: FloatArray
    pulled: FloatArray
    resting: FloatArray
    shut: FloatArray
    """Pressure of the gas, without vapour, where it is shut in, Pa absolute; else the room's."""


@dataclass(slots=True)
class Cell:
    """What one step did, over runs. Arrays (items, species, runs) and (items, runs) unless said.

    The gas at an item passes through these compositions: `old` (what filled it before), `inlet`
    and `outlet` at the start of the step, `outlet_end` once a reactor is warm and when an
    absorbent is spent by its end; where nothing flows, `over_liquid` (saturated with the vapour of
    what it holds) and `drawn_from` (what comes in, see `review.walk.still`).
    """

    old: FloatArray
    inlet: FloatArray
    outlet: FloatArray
    outlet_end: FloatArray
    over_liquid: FloatArray
    drawn_from: FloatArray
    exposed: FloatArray
    drawn_fraction: FloatArray
    liquid_drawn: FloatArray
    moving: FloatArray
    flow: FloatArray
    hot: FloatArray
    gas_in: FloatArray
    gas_out: FloatArray
    wall_out: FloatArray
    low: FloatArray
    pressure: FloatArray
    volume: FloatArray
    leaves: FloatArray
    used: FloatArray
    residual: FloatArray
    delivered: FloatArray
    """Molar rate that the supplies go on delivering into each item, mol/s."""
    supply: FloatArray
    """Highest pressure the supplies upstream of each item can reach, Pa absolute."""
    converged: FloatArray
    """(runs,): 0 where vapour and pressure did not settle in two passes."""
    room: FloatArray
    """(species, runs) mole fraction in the room at the end."""
    hood: FloatArray
    """(species, runs) mole fraction in the hood's exhaust."""


class Walk:
    """All cells of all runs of one chunk."""

    def __init__(self, resolved: Resolved, runs: Runs) -> None:
        self.resolved, self.runs = resolved, runs
        self.cells: list[Cell] = []
        self._known: dict[int, ItemView] = {}
        with np.errstate(all="ignore"):  # NaN says what is missing; a warning adds nothing
            self._play()

    def _play(self) -> None:
        state = self._start()
        self.cells.append(self._step(0, self.runs, self._filled(state), before=False)[0])
        for cell in range(1, len(self.resolved.steps) + 1):
            late = self.runs.late_at(cell)
            done, state = self._step(cell, self.runs, state, before=late.size > 0)
            if late.size:
                again, after = self._step(
                    cell, self.runs.subset(late), _take(state, late), before=False
                )
                _put(done, late, again)
                _put(state, late, after)
            self.cells.append(done)

    def _start(self) -> State:
        size = self.runs.size
        items, species = self.resolved.graph.size, len(self.resolved.species)
        number = Reader(self.runs, 1, False)
        ambient, pressure = number("ambient.temperature"), number("ambient.pressure")
        air = self.resolved.air
        return State(
            filling=np.broadcast_to(air[None, :, None], (items, species, size)).copy(),
            high=np.broadcast_to(ambient, (items, size)).copy(),
            low=np.broadcast_to(ambient, (items, size)).copy(),
            used=np.zeros((items, species, size)),
            room=start_room(air, size),
            pulled=np.zeros((items, size)),
            resting=np.zeros((items, size)),
            shut=np.broadcast_to(pressure, (items, size)).copy(),
        )

    def _filled(self, air: State) -> State:
        """The state of the stated plan: items hold what flows through them."""
        cell, _ = self._step(0, self.runs, air, before=False)
        moving = cell.moving[:, None, :] > 0
        filling = np.where(moving, cell.outlet, air.filling)
        return replace(air, filling=filling, high=cell.hot, low=cell.low)

    def _step(self, cell: int, runs: Runs, state: State, *, before: bool) -> tuple[Cell, State]:
        resolved, graph = self.resolved, self.resolved.graph
        number = Reader(runs, cell, before)
        ambient_t, ambient_p = number("ambient.temperature"), number("ambient.pressure")
        duration = number("duration" if cell == 0 else resolved.steps[cell - 1].duration_path)
        skipped = np.flatnonzero(duration == 0)
        heated, low_end, high_end, started, active = self._heat(
            cell, runs, number, state, ambient_t, duration
        )
        known = self._known if runs is self.runs else {}
        views = item_views(resolved, runs, cell, started, heated, before=before, known=known)
        feeds = feed_flows(resolved, runs, cell, before=before)
        targets = {name: graph.ids.index(f.into) for name, f in resolved.scenario.flows.items()}
        given = Conditions(
            feeds=[(targets[name], flow) for name, flow in feeds.items()],
            open=self._open(views),
            outward=np.array([v.numbers["open_outward"] for v in views]),
            shares=self._shares(views),
            heated=heated,
            ambient_temperature=ambient_t,
            ambient_pressure=ambient_p,
        )
        spent = _spent(views, state.used)
        passes = 2 if any(v.vapours for v in views) else 1
        solved = solve(graph, views, resolved.properties, given, spent, passes)
        later = {i: replace(views[i], active=a) for i, a in active.items() if views[i].reactions}
        end_views = [later.get(i, view) for i, view in enumerate(views)]
        warms = any(not np.array_equal(started[i], active[i]) for i in later)
        end = solved
        if warms:
            end = solve(graph, end_views, resolved.properties, given, spent, passes)
        most = np.maximum(solved.absorbed, end.absorbed)
        used = state.used + np.where(most == 0, 0.0, most * duration)
        spent_end = _spent(views, used)
        if not np.array_equal(spent_end, spent):
            end = solve(graph, end_views, resolved.properties, given, spent_end, passes)
        volume = np.array([k.volume(v) for k, v in zip(graph.kinds, views, strict=True)])
        # A flow nobody knows counts as flowing, so that what it brings is unknown, not absent.
        moving = ((solved.inlet.sum(axis=1) != 0) | (solved.outlet.sum(axis=1) != 0)).astype(float)
        now_hot = np.maximum(solved.wall_hot, np.where(moving > 0, solved.gas_in, 0.0))
        hot = np.maximum(now_hot, _heated_rows(heated, state.high, now_hot))
        low = np.where(np.isnan(low_end), np.minimum(state.low, now_hot), low_end)
        delivered, supply = self._supply(runs, cell, number, feeds, targets, before)
        # What was at rest already has shrunk already; what just came to rest may still be hot.
        from_t = np.maximum(np.where(state.resting > 0, state.low, state.high), low)
        shrinks = np.maximum(1 / low - 1 / from_t, 0.0)
        around = Surroundings(
            open=given.open,
            moving=moving,
            filling=state.filling,
            outlet=_fractions(solved.outlet),
            contraction=np.where(moving > 0, 0.0, volume * ambient_t * shrinks),
            soluble=self._soluble(views),
            volume=volume,
            pulled=state.pulled,
            delivered=delivered,
            feed=self._feed(feeds, targets, runs.size),
            air=np.broadcast_to(resolved.air[:, None], (len(resolved.species), runs.size)),
        )
        idle = still(graph, views, solved, around)
        shut = (solved.leaves <= 0) & (delivered != 0)
        drawn = gas_physics.drawn_in_fraction(low, from_t) * (1 - moving)
        drawn = np.where(shut, 1 - ambient_p / np.maximum(supply, ambient_p), drawn)
        over_liquid = self._over_liquid(views, state.filling, solved.pressure)
        residual, swept = self._residual(
            solved, volume, moving, state.filling, ambient_t, ambient_p, duration
        )
        done = Cell(
            old=state.filling,
            inlet=_fractions(solved.inlet),
            outlet=_fractions(solved.outlet),
            outlet_end=_fractions(end.outlet),
            over_liquid=over_liquid,
            drawn_from=idle.source,
            exposed=idle.exposed,
            drawn_fraction=drawn,
            liquid_drawn=idle.liquid,
            moving=moving,
            flow=solved.outlet.sum(axis=1),
            hot=hot,
            gas_in=solved.gas_in,
            gas_out=solved.gas_out,
            wall_out=solved.wall_out,
            low=low,
            pressure=solved.pressure,
            volume=volume,
            leaves=solved.leaves,
            used=used,
            residual=residual,
            delivered=delivered,
            supply=supply,
            converged=np.minimum(solved.converged, end.converged),
            room=state.room,
            hood=state.room,
        )
        done.pressure = np.where(shut, np.maximum(supply, ambient_p), done.pressure)
        spread_pressure(graph, done.pressure, solved.leaves)
        alone = (solved.leaves <= 0) & (delivered == 0)
        kept = state.shut * _growth(alone, volume, state.high, hot)
        closed = kept + self._vapour_pressure(views)
        done.pressure = np.where(alone, np.maximum(done.pressure, closed), done.pressure)
        boils = np.isnan(over_liquid).any(axis=1) & (solved.leaves <= 0)
        done.pressure = np.where(boils, np.nan, done.pressure)
        room = Room(resolved, number, duration)
        room.escaping = escaping_fuel(resolved, runs, cell, before=before)
        emitted = np.maximum(solved.outlet, end.outlet)
        done.hood, after_room = room_step(room, emitted, graph, state.room)
        done.room = np.maximum(state.room, after_room)
        end_hot = np.where(np.isnan(high_end), now_hot, high_end)
        after = State(
            filling=_refill(done, swept),
            high=end_hot,
            low=low,
            used=used,
            room=after_room,
            pulled=idle.pulled,
            resting=1 - moving,
            shut=np.where(
                alone,
                state.shut * _growth(alone, volume, state.high, end_hot),
                np.where(shut, np.maximum(supply, ambient_p), ambient_p),
            ),
        )
        _put(after, skipped, _take(state, skipped))
        return done, after

    def _heat(
        self,
        cell: int,
        runs: Runs,
        number: Reader,
        state: State,
        ambient: FloatArray,
        duration: FloatArray,
    ) -> tuple[
        dict[int, FloatArray],
        FloatArray,
        FloatArray,
        dict[int, FloatArray],
        dict[int, FloatArray],
    ]:
        """Hot-zone temperature of heated items, and their brackets at the end of the step.

        Also where a declared reaction has its heat from the start of the step on, and where by its
        end: while an item warms its feed leaves as it came.

        A source that is switched off still heats what flows past; its item cools as exp(-t/tau)
        with the stated cooling time, and for the hazard without one: not at all where heat
        ignites, at once where cooling draws air in.
        """
        heated: dict[int, FloatArray] = {}
        started: dict[int, FloatArray] = {}
        active: dict[int, FloatArray] = {}
        rows = (self.resolved.graph.size, runs.size)
        low, high = np.full(rows, np.nan), np.full(rows, np.nan)
        for name, heat in self.resolved.scenario.heat.items():
            i = self.resolved.graph.ids.index(heat.heats)
            start = state.high[i]
            tau = number(f"heat.{name}.cooling_time")
            fade = np.where(duration == 0, 1.0, np.exp(-duration / tau))
            cool_high = np.where(np.isnan(fade), start, ambient + (start - ambient) * fade)
            cool_low = np.where(
                np.isnan(fade), ambient, ambient + (state.low[i] - ambient) * fade
            )
            stated = f"heat.{name}.set_temperature"
            if stated not in self.resolved.base:
                stated = f"heat.{name}.hottest"
            target = setting(self.resolved, "heat", name, stated, cell, number)
            lit = np.where(target == 0, 0.0, number(f"heat.{name}.delivered")) > 0
            most = number(f"heat.{name}.at_hottest")
            target = np.where(most > 0, number(f"heat.{name}.hottest"), target)
            at = np.where(lit, np.maximum(target, start), start)
            end_high = np.where(lit, np.maximum(target, cool_high), cool_high)
            end_low = np.where(lit, target, cool_low)
            on = lit.astype(float)
            before = heated.get(i)
            heated[i] = at if before is None else np.maximum(before, at)
            high[i] = end_high if before is None else np.maximum(high[i], end_high)
            low[i] = end_low if before is None else np.maximum(low[i], end_low)
            warm = on * ((start >= target - 1.0) | (cell == 0))
            started[i] = np.maximum(started.get(i, np.zeros(runs.size)), warm)
            active[i] = np.maximum(active.get(i, np.zeros(runs.size)), on)
        for i, item in enumerate(self.resolved.scenario.train):
            if item.temperature is None:
                continue
            kept = number(f"train.{item.id}.temperature")
            heated[i] = np.maximum(heated[i], kept) if i in heated else kept
            high[i] = np.fmax(high[i], kept)
            low[i] = np.fmax(low[i], kept)
            started.setdefault(i, np.ones(runs.size))
            active.setdefault(i, np.ones(runs.size))
        for i, name in enumerate(self.resolved.graph.ids):
            if name in self.resolved.exhaustible:  # a solid that is used up stops reacting
                active.setdefault(i, np.ones(runs.size))
                started[i] = np.zeros(runs.size)
        return heated, low, high, started, active

    def _open(self, views: list[ItemView]) -> FloatArray:
        out = []
        for view in views:
            blocked = view.numbers["blocked"]
            out.append((1.0 if view.model.open else 0.0) * (1 - np.minimum(blocked, 1.0)))
        return np.array(out)

    def _shares(self, views: list[ItemView]) -> dict[tuple[int, int], FloatArray]:
        ids = self.resolved.graph.ids
        return {
            (ids.index(source), k): view.numbers[f"share.{source}"]
            for k, view in enumerate(views)
            for source in view.model.share
        }

    def _soluble(self, views: list[ItemView]) -> FloatArray:
        """Share of each species that an item's liquid takes up, (items, species, runs)."""
        out = np.zeros((len(views), len(self.resolved.species), views[0].size))
        for i, view in enumerate(views):
            for a in view.absorptions:
                out[i, a.species] = np.where(a.efficiency > 0, 1.0, 0.0)
        return out

    def _feed(
        self, feeds: dict[str, FloatArray], targets: dict[str, int], size: int
    ) -> FloatArray:
        """Gas that the supplies upstream of each item would press in, (items, species, runs)."""
        graph = self.resolved.graph
        into = np.zeros((graph.size, len(self.resolved.species), size))
        for name, flow in feeds.items():
            into[targets[name]] += flow
        total = np.array([into[list(graph.all_upstream(i))].sum(axis=0) for i in range(graph.size)])
        return _fractions(total)

    def _vapour_pressure(self, views: list[ItemView]) -> FloatArray:
        """Vapour pressure over what each item holds, Pa; 0 without liquid, (items, runs)."""
        return np.array(
            [
                view.partial_pressures().sum(axis=0) if view.vapours else np.zeros(view.size)
                for view in views
            ]
        )

    def _over_liquid(
        self, views: list[ItemView], filling: FloatArray, pressure: FloatArray
    ) -> FloatArray:
        """What stands over a liquid at rest: the old gas saturated with its vapour.

        NaN where the liquid would boil or its vapour pressure is not known.
        """
        out = filling.copy()
        for i, view in enumerate(views):
            if not view.vapours:
                continue
            share = view.partial_pressures() / pressure[i]
            full = share.sum(axis=0)
            ids = [v.species for v in view.vapours]
            dry = filling[i].copy()
            dry[ids] = 0.0
            dry_total = dry.sum(axis=0)
            out[i] = dry * (1 - full) / np.where(dry_total > 0, dry_total, 1.0)
            out[i][ids] = share
            out[i] = np.where(full < 1, out[i], np.nan)
        return out

    def _supply(
        self,
        runs: Runs,
        cell: int,
        number: Reader,
        feeds: dict[str, FloatArray],
        targets: dict[str, int],
        before: bool,
    ) -> tuple[FloatArray, FloatArray]:
        """Rates that go on and the pressure they can reach, at each item for all its upstream."""
        graph = self.resolved.graph
        rate = np.zeros((graph.size, runs.size))
        most = np.zeros((graph.size, runs.size))
        for name, flow in feeds.items():
            total = flow.sum(axis=0)
            limit = number(f"flows.{name}.shut_off_pressure")
            reagent = self.resolved.scenario.flows[name].reagent
            regulator = number(f"reagents.{reagent}.held.regulator")
            limit = np.where(np.isnan(limit), regulator, limit)
            failed = number(f"flows.{name}.regulator_failed")
            limit = np.where(failed > 0, number(f"reagents.{reagent}.held.pressure"), limit)
            i = targets[name]
            rate[i] += total
            most[i] = np.where(total == 0, most[i], np.maximum(most[i], limit))
        rates = np.array([rate[list(graph.all_upstream(i))].sum(axis=0) for i in range(graph.size)])
        highest = np.array(
            [most[list(graph.all_upstream(i))].max(axis=0) for i in range(graph.size)]
        )
        return rates, highest

    def _residual(
        self,
        solved: Flowing,
        volume: FloatArray,
        moving: FloatArray,
        filling: FloatArray,
        ambient_t: FloatArray,
        ambient_p: FloatArray,
        duration: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Share of the old gas left at each item by the end of the step, and what it is.

        The gas an item holds is flushed through all volumes upstream of it in series, taken as
        one volume with the unproven mixing factor, so what is left is the gas that all of them
        held, by volume. Items without flow upstream are dead legs and are not counted.
        """
        graph = self.resolved.graph
        out = np.ones_like(moving)
        held = filling.copy()
        for i in range(graph.size):
            before = list(graph.all_upstream(i))
            each = np.where(moving[before] > 0, volume[before], 0.0)
            swept = each.sum(axis=0)
            if len(before) > 1:
                mixed = (each[:, None, :] * filling[before]).sum(axis=0)
                held[i] = np.where(swept == 0, filling[i], mixed / np.where(swept == 0, 1, swept))
            flow = solved.outlet[i].sum(axis=0) * gas_physics.R * ambient_t / ambient_p
            with np.errstate(invalid="ignore", divide="ignore"):
                left = gas_physics.mixing_residual(flow, duration, swept, UNPROVEN_MIXING)
            out[i] = np.where(moving[i] > 0, left, 1.0)
        return out, held


def _fractions(flow: FloatArray) -> FloatArray:
    total = flow.sum(axis=-2, keepdims=True)
    return np.asarray(flow / np.where(total == 0, 1.0, total))


def _heated_rows(
    heated: dict[int, FloatArray], start: FloatArray, otherwise: FloatArray
) -> FloatArray:
    out = otherwise.copy()
    for i in heated:
        out[i] = np.maximum(start[i], otherwise[i])
    return out


def _spent(views: list[ItemView], used: FloatArray) -> FloatArray:
    """1 where an absorbent is used up; unknown capacity counts as used up from the start."""
    out = np.zeros_like(used)
    for i, view in enumerate(views):
        for a in view.absorptions:
            with np.errstate(invalid="ignore"):
                out[i, a.species] = np.where(used[i, a.species] < a.capacity, 0.0, 1.0)
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


def _refill(cell: Cell, held: FloatArray) -> FloatArray:
    """What fills each item after the step; `held` is the old gas that was swept along."""
    moving = cell.moving[:, None, :] > 0
    left = cell.residual[:, None, :]
    swept = cell.outlet_end + (held - cell.outlet_end) * left
    drawn = cell.drawn_fraction[:, None, :] * cell.exposed[:, None, :]
    still = cell.old + (cell.drawn_from - cell.old) * drawn
    return np.where(moving, swept, still)


def _take(state: State, where: np.ndarray[tuple[int], np.dtype[np.intp]]) -> State:
    return State(**{f.name: getattr(state, f.name)[..., where] for f in fields(state)})


def _put(
    target: Cell | State, where: np.ndarray[tuple[int], np.dtype[np.intp]], source: Cell | State
) -> None:
    for f in fields(target):
        array = np.array(getattr(target, f.name))
        array[..., where] = getattr(source, f.name)
        setattr(target, f.name, array)
