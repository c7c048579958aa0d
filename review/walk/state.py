"""What the stages of one step work on and leave behind; every array is over runs last."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import FloatArray
from review.walk.feeds import Reader
from review.walk.resolve import Resolved
from review.walk.runs import Runs

#: How long the stated settings last where no duration is given: a working day, s.
WORKING_DAY = 8 * 3600.0


@dataclass(slots=True)
class State:
    """What carries from step to step, over runs."""

    filling: FloatArray
    high: FloatArray
    low: FloatArray
    used: FloatArray
    room_caught: FloatArray
    """(species, runs) mole fraction in the room with a working hood that catches everything."""
    room_uncaught: FloatArray
    """The same with a hood that catches nothing."""
    pulled: FloatArray
    resting: FloatArray
    shut: FloatArray
    """Pressure of the gas, without vapour, where it is shut in, Pa absolute; else the room's."""
    left: FloatArray
    """(items, species, runs) what is left of each held liquid, mol."""
    caught: FloatArray
    """(items, species, runs) what each cold trap has caught, mol."""
    drawn: FloatArray
    """(flows, runs) what each flow has brought so far, mol."""


@dataclass(slots=True)
class Cell:
    """What one step did, over runs. Arrays (items, species, runs) and (items, runs) unless said.

    The gas at an item passes through these compositions: `old` (what filled it before), `inlet`
    and `outlet` at the start of the step, `outlet_middle` once a reactor is warm and before any
    liquid has ended, `outlet_end` when it has and when an
    absorbent is spent by its end; where nothing flows, `over_liquid` (saturated with the vapour of
    what it holds) and `drawn_from` (what comes in, see `review.walk.still`).
    """

    old: FloatArray
    inlet: FloatArray
    outlet: FloatArray
    outlet_middle: FloatArray
    outlet_end: FloatArray
    over_liquid: FloatArray
    drawn_from: FloatArray
    exposed: FloatArray
    shut: FloatArray
    """1 where valves shut every way to it from upstream."""
    drawn_fraction: FloatArray
    liquid_drawn: FloatArray
    moving: FloatArray
    flow: FloatArray
    came: FloatArray
    """What comes in, mol/s."""
    hot: FloatArray
    gas_in: FloatArray
    gas_out: FloatArray
    wall_out: FloatArray
    low: FloatArray
    cold: FloatArray
    """Surface kept colder than the room, K; NaN where none is."""
    pressure: FloatArray
    volume: FloatArray
    leaves: FloatArray
    outward: FloatArray
    """1 where all gas leaves at an opened joint or at the end of a line lifted out of a liquid."""
    used: FloatArray
    fed: FloatArray
    """(flows, runs) what each declared flow brings in, mol/s, in the order of the file."""
    lasts: FloatArray
    """(flows, runs) how long a generator's charge goes on at the most it is said to give, s."""
    once: FloatArray
    """(flows, runs) gas that a generator's charge makes if all of it meets at once, mol."""
    delivered: FloatArray
    """Molar rate that the supplies go on delivering into each item, mol/s."""
    supply: FloatArray
    """Highest pressure the supplies that reach each item can give, Pa absolute."""
    vapour: FloatArray
    """(items, species, runs) vapour that a held liquid gives off by itself, mol/s."""
    vapour_lasts: FloatArray
    """How long it goes on, s; at most until the liquid is gone."""
    liquid_temperature: FloatArray
    """Temperature of the held liquid, K; NaN without one."""
    condensed: FloatArray
    """(items, species, runs) what a cold surface has taken out of the gas by the end, mol."""
    converged: FloatArray
    """(runs,): 0 where vapour and pressure did not settle in two passes."""
    room_caught: FloatArray
    """(species, runs) highest mole fraction in the room, hood catching everything."""
    room_uncaught: FloatArray
    """The same, hood catching nothing."""
    least_oxygen_caught: FloatArray
    """(runs,) lowest mole fraction of oxygen in the room, hood catching everything."""
    least_oxygen_uncaught: FloatArray
    """The same, hood catching nothing."""
    hood_exhaust: FloatArray
    """(species, runs) mole fraction in the hood's exhaust."""
    into_hood: FloatArray
    """(species, runs) what is let into the hood, m3/s at room conditions."""
    into_room: FloatArray
    """(species, runs) what is let into the room, m3/s at room conditions."""
    spilled_hood: FloatArray
    """(species, runs) what is spilled in the hood, m3/s at room conditions."""
    amount_hood: FloatArray
    """(species, runs) all that is let into the hood in the step, spills aside, m3."""
    amount_room: FloatArray
    """(species, runs) all that is let into the room in the step, spills aside, m3."""


_Record = TypeVar("_Record", Cell, State)


@dataclass(frozen=True, slots=True)
class Moment:
    """One cell about to be played: what was left by the one before, and how to read its numbers."""

    resolved: Resolved
    cell: int
    runs: Runs
    before: bool
    state: State
    number: Reader
    duration: FloatArray

    @property
    def ambient_temperature(self) -> FloatArray:
        """Temperature of the room, K."""
        return self.number("ambient.temperature")

    @property
    def ambient_pressure(self) -> FloatArray:
        """Pressure of the room, Pa absolute."""
        return self.number("ambient.pressure")


def moment(resolved: Resolved, cell: int, runs: Runs, state: State, *, before: bool) -> Moment:
    """The moment before a cell; `before` leaves out what only begins once it has settled."""
    number = Reader(runs, cell, before)
    path = "duration" if cell == 0 else resolved.steps[cell - 1].duration_path
    return Moment(resolved, cell, runs, before, state, number, number(path))


def take(of: _Record, where: NDArray[np.intp]) -> _Record:
    """The same of other runs."""
    return type(of)(**{f.name: np.asarray(getattr(of, f.name))[..., where] for f in fields(of)})


def put(target: Cell | State, where: NDArray[np.intp], source: Cell | State) -> None:
    """Write the runs of `source` into those of `target`."""
    for f in fields(target):
        array = np.array(getattr(target, f.name))
        array[..., where] = getattr(source, f.name)
        setattr(target, f.name, array)


def fractions(flow: FloatArray) -> FloatArray:
    """Mole fractions along the species axis; zeros where there is nothing."""
    total = flow.sum(axis=-2, keepdims=True)
    return np.asarray(flow / np.where(total == 0, 1.0, total))
