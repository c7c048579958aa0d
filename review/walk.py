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

from review.items import ItemView
from review.measure import FloatArray
from review.physics import gas as gas_physics
from review.resolve import Resolved, _reader, feed_flows, item_views, setting
from review.room import Room, room_step, start_room
from review.runs import Runs
from review.train import Conditions, Flowing, solve

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


@dataclass(slots=True)
class Cell:
    """What one step did, over runs. Arrays (items, species, runs) and (items, runs) unless said.

    The gas at an item passes through these compositions: `old` (what filled it before), `inlet`
    and `outlet` at the start of the step, `outlet_end` once a reactor is warm and when an
    absorbent is spent by its end, and `drawn_from` (what comes back through an open end where
    nothing flows).
    """

    old: FloatArray
    inlet: FloatArray
    outlet: FloatArray
    outlet_end: FloatArray
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
        ambient = _reader(self.runs, 1, False)("ambient.temperature")
        air = self.resolved.air
        return State(
            filling=np.broadcast_to(air[None, :, None], (items, species, size)).copy(),
            high=np.broadcast_to(ambient, (items, size)).copy(),
            low=np.broadcast_to(ambient, (items, size)).copy(),
            used=np.zeros((items, species, size)),
            room=start_room(air, size),
        )

    def _filled(self, air: State) -> State:
        """The state of the stated plan: items hold what flows through them."""
        cell, _ = self._step(0, self.runs, air, before=False)
        moving = cell.moving[:, None, :] > 0
        filling = np.where(moving, cell.outlet, air.filling)
        return State(filling, cell.hot, cell.low, air.used, air.room)

    def _step(self, cell: int, runs: Runs, state: State, *, before: bool) -> tuple[Cell, State]:
        resolved, graph = self.resolved, self.resolved.graph
        number = _reader(runs, cell, before)
        ambient_t, ambient_p = number("ambient.temperature"), number("ambient.pressure")
        duration = number("duration" if cell == 0 else resolved.steps[cell - 1].duration_path)
        skipped = np.flatnonzero(duration == 0)
        heated, low_end, high_end, started, active = self._heat(
            cell, runs, number, state, ambient_t, duration
        )
        known = self._known if runs is self.runs else {}
        views = item_views(resolved, runs, cell, started, before=before, known=known)
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
        moving = (solved.outlet.sum(axis=1) > 0).astype(float)
        now_hot = np.maximum(solved.wall_hot, np.where(moving > 0, solved.gas_in, 0.0))
        hot = np.maximum(now_hot, _heated_rows(heated, state.high, now_hot))
        low = np.where(np.isnan(low_end), np.minimum(state.low, now_hot), low_end)
        exposed, source, liquid = self._still(views, solved, state, moving, low, volume, ambient_t)
        delivered, supply = self._supply(runs, cell, number, feeds, targets, before)
        done = Cell(
            old=state.filling,
            inlet=_fractions(solved.inlet),
            outlet=_fractions(solved.outlet),
            outlet_end=_fractions(end.outlet),
            drawn_from=source,
            exposed=exposed,
            drawn_fraction=gas_physics.drawn_in_fraction(low, state.high) * (1 - moving),
            liquid_drawn=liquid,
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
            residual=self._residual(solved, volume, moving, ambient_t, ambient_p, duration),
            delivered=delivered,
            supply=supply,
            converged=np.minimum(solved.converged, end.converged),
            room=state.room,
            hood=state.room,
        )
        self._dead_end_pressure(done, ambient_p)
        room = Room(resolved, number, duration)
        emitted = np.maximum(solved.outlet, end.outlet)
        done.hood, after_room = room_step(room, emitted, graph, state.room)
        done.room = np.maximum(state.room, after_room)
        after = State(
            filling=_refill(done),
            high=np.where(np.isnan(high_end), now_hot, high_end),
            low=low,
            used=used,
            room=after_room,
        )
        _put(after, skipped, _take(state, skipped))
        return done, after

    def _heat(
        self,
        cell: int,
        runs: Runs,
        number: _reader,
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

    def _still(
        self,
        views: list[ItemView],
        solved: Flowing,
        state: State,
        moving: FloatArray,
        low: FloatArray,
        volume: FloatArray,
        ambient: FloatArray,
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Where air or other gas can come back in, what comes, and liquid drawn from bottles."""
        graph, size = self.resolved.graph, moving.shape[1]
        air = np.broadcast_to(self.resolved.air[:, None], (len(self.resolved.species), size))
        outlet = _fractions(solved.outlet)
        exposed = np.zeros((graph.size, size))
        source = state.filling.copy()
        liquid = np.zeros((graph.size, size))
        open_here = self._open(views)
        contraction = np.maximum(1 / low - 1 / np.maximum(state.high, low), 0.0) * (1 - moving)
        drawn = np.nan_to_num(volume, nan=0.0) * ambient * contraction
        reach = np.zeros((graph.size, size))
        for i in reversed(graph.order):
            kind = graph.kinds[i]
            if kind.is_end:
                reach[i] = open_here[i]
                source[i] = np.where(reach[i] > 0, air, source[i])
            for k in graph.downstream[i]:
                sealed = kind_seals(graph.kinds[k], views[k])
                through = (moving[k] > 0) | ((reach[k] > 0) & ~sealed)
                comes = np.where(moving[k] > 0, outlet[k], source[k])
                opened = through & (open_here[i] > 0)
                source[i] = np.where(opened, comes, source[i])
                reach[i] = np.maximum(reach[i], np.where(opened, 1.0, 0.0))
            opened = np.maximum(
                views[i].numbers["open_outward"], views[i].numbers["open_inward"]
            )
            source[i] = np.where(opened > 0, air, source[i])
            reach[i] = np.maximum(reach[i], opened)
            exposed[i] = reach[i] * (1 - moving[i])
        for k, (kind, view) in enumerate(zip(graph.kinds, views, strict=True)):
            head = kind.seal_head(view)
            held = kind.held_liquid(view)
            if not (held > 0).any():
                continue
            before = [j for j in graph.all_upstream(k) if j != k]
            pull = drawn[before].sum(axis=0)
            room = np.nan_to_num(volume[before], nan=0.0).sum(axis=0)
            lifted = room * head / solved.pressure[k]
            liquid[k] = np.clip(pull - lifted, 0.0, held) * (1 - moving[k])
        return exposed, source, liquid

    def _supply(
        self,
        runs: Runs,
        cell: int,
        number: _reader,
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
            most[i] = np.where(total > 0, np.maximum(most[i], limit), most[i])
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
        ambient_t: FloatArray,
        ambient_p: FloatArray,
        duration: FloatArray,
    ) -> FloatArray:
        """Share of the old gas left at each item by the end of the step.

        The gas an item holds is flushed through all volumes upstream of it in series, taken as
        one volume with the unproven mixing factor; items without flow upstream are dead legs and
        their gas is not counted as flushed.
        """
        graph = self.resolved.graph
        out = np.ones_like(moving)
        for i in range(graph.size):
            before = list(graph.all_upstream(i))
            swept = (volume[before] * moving[before]).sum(axis=0)
            flow = solved.outlet[i].sum(axis=0) * gas_physics.R * ambient_t / ambient_p
            with np.errstate(invalid="ignore", divide="ignore"):
                left = gas_physics.mixing_residual(flow, duration, swept, UNPROVEN_MIXING)
            out[i] = np.where(moving[i] > 0, left, 1.0)
        return out

    def _dead_end_pressure(self, cell: Cell, ambient: FloatArray) -> None:
        """Where gas is fed in and cannot leave, the supply's own pressure is reached."""
        shut = (cell.leaves <= 0) & (cell.delivered > 0)
        cell.pressure = np.where(shut, np.maximum(cell.supply, ambient), cell.pressure)


def kind_seals(kind: object, view: ItemView) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether liquid in an item closes the way back for gas."""
    from review.items import ItemKind

    assert isinstance(kind, ItemKind)
    return np.asarray(kind.seal_head(view) > 0)


def _fractions(flow: FloatArray) -> FloatArray:
    total = flow.sum(axis=-2, keepdims=True)
    return np.asarray(flow / np.where(total > 0, total, 1.0))


def _heated_rows(
    heated: dict[int, FloatArray], start: FloatArray, otherwise: FloatArray
) -> FloatArray:
    out = otherwise.copy()
    for i in heated:
        out[i] = np.fmax(start[i], otherwise[i])
    return out


def _spent(views: list[ItemView], used: FloatArray) -> FloatArray:
    """1 where an absorbent is used up; unknown capacity counts as used up from the start."""
    out = np.zeros_like(used)
    for i, view in enumerate(views):
        for a in view.absorptions:
            with np.errstate(invalid="ignore"):
                out[i, a.species] = np.where(used[i, a.species] < a.capacity, 0.0, 1.0)
    return out


def _refill(cell: Cell) -> FloatArray:
    """What fills each item after the step."""
    moving = cell.moving[:, None, :] > 0
    left = cell.residual[:, None, :]
    swept = cell.outlet_end + (cell.old - cell.outlet_end) * left
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
