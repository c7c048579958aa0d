"""The resolved set-up as a check sees it: every number over the trial axis.

A trial is one (cell, run); arrays have shape ``(trials,)`` with all runs of cell 0 first. Checks
read places and numbers here and hand measures back; nothing here knows what is hazardous.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property, reduce
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from review.interface import setup as interface
from review.interface.measure import (
    ESTIMATED,
    LACKS,
    MISSING,
    OK,
    OUTSIDE,
    FloatArray,
    Measure,
    Quantity,
    StatusArray,
)
from review.interface.plugin import Kind
from review.physics.columns import marks
from review.reference.finding import vapour_pressure
from review.walk.graph import most_before
from review.walk.known import (
    Known,
    bed_lacks,
    endless,
    unbounded,
    unmetered,
    unpressing,
    unregulated,
)
from review.walk.place import Place
from review.walk.resolve import Resolved
from review.walk.runs import Runs
from review.walk.steps import Walk

_Found = TypeVar("_Found")

#: What may not be known of a walked set-up.
MAY_LACK = ("volume", "hot", "over_liquid", "delivered", "supply", "room_caught", "room_uncaught")
#: Why what a poured charge lets out is not known, as the checks of a charge say it.
UNWEIGHED = "the mass, or amount and density, of what makes it, which the file does not state"
BLOCKED = "pressure in {} where its way out is blocked, as hot as it may get: a lower hottest"


class Walked(Known):
    """A scenario walked over the runs of one chunk."""

    def __init__(
        self,
        resolved: Resolved,
        runs: Runs,
        limits: Mapping[str, float],
        contact: Callable[[str], Sequence[Measure]],
    ) -> None:
        self.resolved, self.runs = resolved, runs
        self._limits, self._measures = limits, contact
        self._walk = Walk(resolved, runs)
        self._stacked: dict[str, FloatArray] = {}

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """All items in the order of the file."""
        each = range(self.resolved.graph.size)
        return tuple(Place(self, self.resolved, self.stacked, i) for i in each)

    @cached_property
    def shape(self) -> tuple[int, int]:
        """(cells, runs)."""
        return len(self._walk.cells), self.runs.size

    @property
    def trials(self) -> int:
        """Length of the trial axis."""
        return self.shape[0] * self.shape[1]

    @cached_property
    def failed(self) -> NDArray[np.bool_]:
        """True in trials where a failure has begun."""
        upset = np.array([overlay.case == "upset" for overlay in self.runs.overlays])
        begun = np.arange(self.shape[0])[:, None] >= self.runs.start
        return np.asarray((upset & begun).reshape(-1))

    def stacked(self, field: str) -> FloatArray:
        """A field of `review.walk.state.Cell` over all trials: (..., trials)."""
        found = self._stacked.get(field)
        if found is None:
            parts = [np.asarray(getattr(cell, field)) for cell in self._walk.cells]
            found = np.concatenate(parts, axis=-1)
            found.flags.writeable = False  # what one check could change, others would read
            self._stacked[field] = found
            for n, cell in enumerate(self._walk.cells):  # it is kept once, not twice
                setattr(cell, field, found[..., n * self.runs.size : (n + 1) * self.runs.size])
        return found

    def distinct(
        self, place: interface.Place, at: Iterable[str], before: Iterable[str] = ()
    ) -> tuple[interface.Setup, interface.Place]:
        """See the protocol; here itself, with each of its trials."""
        return self, place

    def marks(self, field: str) -> NDArray[np.uint64]:
        """A mark for what each item is in a field in each trial, (items, trials)."""
        found = self._marks.get(field)
        if found is None:
            bits = np.ascontiguousarray(self.stacked(field)).view(np.uint64)
            found = bits if bits.ndim < 3 else marks(np.moveaxis(bits, 1, 0))
            self._marks[field] = found
        return found

    @cached_property
    def _marks(self) -> dict[str, NDArray[np.uint64]]:
        return {}

    def spread(self, quantity: Quantity) -> Quantity:
        """A quantity over all trials: itself, but where only those that differ are looked at."""
        return quantity

    def over_all(self, value: Any) -> Any:
        """An array (..., trials) over all trials: itself, as with `spread`."""
        return value

    @cached_property
    def engine_status(self) -> StatusArray:
        """`outside range` where vapour and pressure did not settle in two passes, or where the
        shares of branches are contradicted by what the branches cost in pressure."""
        settled = self.stacked("converged") > 0
        return np.where(settled, np.uint8(OK), np.uint8(OUTSIDE))

    def quantity(self, value: Any, name: str, unit: str, source: str) -> Quantity:
        """An engine number as a quantity with the engine's status."""
        spread = np.asarray(value, dtype=np.float64)
        if spread.shape != (self.trials,):
            spread = np.broadcast_to(spread, (self.trials,))
        if np.count_nonzero(np.isnan(spread)) and self.lacking:
            source = LACKS + self.lacking
        return Quantity.of(spread, self.engine_status, name=name, unit=unit, source=source)

    @cached_property
    def lacking(self) -> str:
        """What the engine had to do without: why one of its numbers may be missing.
        A bed whose pressure loss cannot be worked out leaves all else open: it is told alone."""
        came = ~np.isnan(self.stacked("delivered")).reshape(-1, self.trials).any(axis=0)
        pressure = self.stacked("pressure").reshape(len(self.places), -1, self.trials)
        unpressed = np.asarray((np.isnan(pressure) & came).any(axis=(1, 2)))
        beds = [
            f"{lost} of the packing of {p.id}"
            for p in self.places if unpressed[p.index] for lost in bed_lacks(p.model)
        ]  # fmt: skip
        hot = {p.id for p in self.places if np.isnan(self.stacked("hot")[p.index]).any()}
        flows = [n for n in self.scenario.flows if not self._is_known(f"flows.{n}.at_most")]
        flows = flows if np.isnan(self.stacked("delivered")).any() else []
        scenario = self.scenario
        left = [*endless(scenario, flows), *unbounded(scenario, hot), *unregulated(scenario)]
        if alone := beds or [*left, *unmetered(self.scenario)]:
            return "; ".join(alone)
        lost = [np.isnan(self.stacked(name)).reshape(-1, self.trials) for name in MAY_LACK]
        where = np.any(np.concatenate(lost), axis=0)
        if where.any() and self._poured[where].all():
            return UNWEIGHED
        found: list[str] = []
        for place in self.places:
            if np.isnan(self.stacked("volume")[place.index]).any():
                found.append(f'gas volume of {place.id} (write such as "capacity: 250 mL")')
            if place.id in hot:
                found.append(f"temperature of {place.id}")
            if np.isnan(self.stacked("over_liquid")[place.index]).any() and place.model.liquid:
                liquid = place.model.liquid
                found.append(f"vapour over {liquid} in {place.id} (it boils, or no data)")
        if np.isnan(self.stacked("delivered")).any():
            found.append("rate of a flow")
        if np.isnan(self.stacked("supply")).any():
            found.append(unpressing(scenario))
        if (np.isnan(self.stacked("room_caught")) | np.isnan(self.stacked("room_uncaught"))).any():
            known = all(self._is_known(f"ventilation.{x}") for x in ("room_volume", "air_changes"))
            found.append(
                "how much vapour gets into the room (give each vessel its capacity or gas_volume, "
                "each outlet its inner_diameter)" if known else "room volume or air changes "
                '(such as "room_volume: 60 m3" and "air_changes: 4 / hour" under ventilation)'
            )  # fmt: skip
        if not found and unpressed.any():
            shut = [p.id for p in self.places if unpressed[p.index] and p.model.liquid]
            found = [BLOCKED.format(p) for p in shut] or ["geometry that the pressure loss needs"]
        return "; ".join(found)

    @property
    def _poured(self) -> NDArray[np.bool_]:
        """Trials in which all that a generator is made of meets at once, of what weight ever."""
        each = [~(self.number(f"flows.{n}.poured").value <= 0) for n in self.scenario.flows]
        return np.asarray(np.any([np.zeros(self.trials, dtype=bool), *each], axis=0))

    def _is_known(self, path: str) -> bool:
        return not np.isnan(self.number(path).value).any()

    def once(self, work: Callable[[interface.Setup], _Found]) -> _Found:
        """See the protocol: what a function finds of this set-up, found once."""
        if work not in self._found:
            self._found[work] = work(self)
        found: _Found = self._found[work]
        return found

    @cached_property
    def _found(self) -> dict[Callable[[interface.Setup], Any], Any]:
        return {}

    def number(self, path: str) -> Quantity:
        """A number of the scenario by its path, over trials; missing where it is not given."""
        found = self._numbers.get(path)
        if found is None:
            found = self._numbers[path] = self._number(path).read_only()
        return found

    @cached_property
    def _numbers(self) -> dict[str, Quantity]:
        return {}

    def _number(self, path: str) -> Quantity:
        value = self.runs.over_cells(path, self.shape[0])
        if value is None:
            return Quantity.of(
                np.full(self.trials, np.nan), name=path, source="not given in the scenario"
            )
        if self.scenario.is_assumed(path):
            return Quantity.of(value, np.uint8(ESTIMATED), name=path, source="assumed in the file")
        if path in self.resolved.presumed:
            return Quantity.of(value, name=path, source="not stated: the worst that is made")
        return Quantity.of(value, name=path, source="scenario")

    def duration(self, cell: int) -> FloatArray:
        """How long a cell lasts, s, over runs; cell 0 is the stated plan."""
        path = "duration" if cell == 0 else self.resolved.steps[cell - 1].duration_path
        found = self.runs.number(path, cell)
        return np.full(self.runs.size, np.nan) if found is None else found

    def limit(self, name: str) -> Quantity:
        """A limit of the ruleset by its name; missing where no layer gives it."""
        value = self._limits.get(name)
        if value is None:
            return Quantity.missing(name, why="not given by any ruleset layer")
        return Quantity.of(value, name=name, source=f"ruleset limit {name}")

    def measures(self, kind: str) -> Sequence[Measure]:
        """Measures of a kind that the computation said it needs."""
        return self._measures(kind)

    def air(self, point: str) -> FloatArray:
        """Air around the train, (species, trials), at a named point."""
        return self.stacked({"room": "room_caught", "hood": "hood_exhaust"}.get(point, point))

    def segments(self, place: interface.Place) -> list[tuple[str, FloatArray, FloatArray]]:
        """The mixing lines the gas at an item passes along, as (name, from, to)."""
        old, inlet = place.composition("old"), place.composition("inlet")
        outlet, end = place.composition("outlet"), place.composition("outlet_end")
        moving = place.moving > 0
        new = _where(moving, inlet, old)
        lines = [("old gas to new gas", old, new)]
        if self._differ(place, "inlet", "outlet"):
            products = _where(moving, outlet, old)
            lines.append(("old gas to products", old, products))
            lines.append(("through the item", new, products))
        middle = place.composition("outlet_middle")
        changes = [
            ("start of the step", "outlet"), ("warm and wet", "outlet_middle"),
            ("end of it", "outlet_end"),
        ]  # fmt: skip
        for (before, first), (after, second) in pairwise(changes):
            if self._differ(place, first, second):
                was = _where(moving, place.composition(first), old)
                becomes = _where(moving, place.composition(second), old)
                lines.append((f"{before} to {after}", was, becomes))
        rest = old
        stands = place.model.liquid is not None
        if stands or ~(self.stacked("condensed")[place.index] <= 0).all():
            rest = _where(~moving, place.composition("over_liquid"), old)
            lines.append(("vapour over the liquid", old, rest))
        exposed = self.stacked("exposed")[place.index] > 0
        if exposed.any():
            drawn = _where(exposed, place.composition("drawn_from"), rest)
            lines.append(("what comes in", rest, drawn))
            if rest is not old:
                lines.append(("what comes in, to the old gas", old, drawn))
            lines += self._beside(place, drawn)
            broken = exposed & moving
            if broken.any():
                gases = {"new gas": inlet, "products": outlet, "warm gas": middle, "last gas": end}
                for name, gas in gases.items():
                    meets = _where(broken, drawn, old)
                    lines.append((f"what comes in, to the {name}", meets, _where(broken, gas, old)))
        lines += self._condensing(place, new)
        return lines

    def _differ(self, place: interface.Place, one: str, other: str) -> bool:
        """Whether two compositions at an item are not the same in every trial."""
        return not np.array_equal(self.marks(one)[place.index], self.marks(other)[place.index])

    def _beside(
        self, place: interface.Place, drawn: FloatArray
    ) -> list[tuple[str, FloatArray, FloatArray]]:
        """Lines from what comes into an item at rest to gas that flows past upstream of it.

        Behind a joint that has opened the gas goes another way, and still finds its way in.
        """
        lines = []
        for j in self.resolved.graph.upstream[place.index]:
            past = (self.stacked("moving")[j] > 0) & ~(place.moving > 0)
            past &= self.stacked("shut")[place.index] <= 0
            if past.any():
                gas = _where(past, self.stacked("outlet")[j], drawn)
                name = self.resolved.graph.ids[j]
                lines.append((f"what comes in, to the gas of {name}", drawn, gas))
        return lines

    def passing(self, place: interface.Place) -> list[FloatArray]:
        """Gases that items upstream held before the step and that pass through this one."""
        old, moving = place.composition("old"), place.moving > 0
        told, moves = self.marks("old"), self.stacked("moving")
        found: list[FloatArray] = []
        known = {told[place.index].tobytes()}
        for j in reversed(place.before):
            flows = moving & (moves[j] > 0)
            passes = np.where(flows, told[j], told[place.index]).tobytes()
            if passes not in known:
                known.add(passes)
                found.append(_where(flows, self.stacked("old")[j], old))
        return found

    def comes(self, place: interface.Place) -> FloatArray:
        """See the protocol: the most of each species in any gas that comes to an item."""
        found = self._stacked.get(asked := f"what comes to {place.id}")
        if found is None:
            ends = [end for _, start, stop in self.segments(place) for end in (start, stop)]
            passes = np.where(place.moving > 0, self._passed[place.index], -np.inf)
            found = self._stacked[asked] = reduce(np.maximum, [*ends, passes])
            found.flags.writeable = False
        return found

    @cached_property
    def _passed(self) -> FloatArray:
        moves = self.stacked("moving")[:, None] > 0
        return most_before(self.resolved.graph, np.where(moves, self.stacked("old"), -np.inf))

    def _condensing(
        self, place: interface.Place, gas: FloatArray
    ) -> list[tuple[str, FloatArray, FloatArray]]:
        """The line to the same gas with every vapour cut to saturation at the outlet's cold."""
        cut = gas
        for i, substance in enumerate(self.species):
            if substance.phase_at_20C == "gas" or (gas[i] <= 0).all():
                continue
            coldest = np.minimum(place.gas_out.value, place.coldest.value)
            pressure, inside = vapour_pressure(substance, coldest)
            # Beyond its curve all of it may: every mixture on the way is on the line.
            most = np.where(inside, pressure, 0.0) / place.pressure.value
            if (gas[i] <= most).all():
                continue
            cut = cut.copy()
            cut[i] = np.where(gas[i] <= 0, 0.0, np.minimum(gas[i], most))
        if cut is gas:
            return []
        total = cut.sum(axis=0)
        return [("vapour condensing", gas, cut / np.where(total == 0, 1.0, total))]

    def measure(
        self,
        kind: Kind,
        quantity: Quantity,
        at: str,
        of: str = "",
        note: str = "",
    ) -> Measure:
        """A quantity over trials as a measure of `kind` at a place."""
        value, status = quantity.value, quantity.status
        if value.shape != (self.trials,):
            value = np.broadcast_to(value, (self.trials,))
            status = np.broadcast_to(status, (self.trials,))
        value, status = value.reshape(self.shape), status.reshape(self.shape)
        if quantity.source and np.count_nonzero(status == MISSING):
            note = f"{quantity.source}; {note}" if note else quantity.source
        return Measure(
            kind=kind.id,
            at=at,
            of=of,
            unit=kind.unit,
            value=value,
            status=status,
            method=kind.method,
            note=note,
            working=quantity,
            compared=None if quantity.compared is None else quantity.compared.mapped(self._shaped),
        )

    def _shaped(self, value: FloatArray) -> FloatArray:
        return np.broadcast_to(value, (self.trials,)).reshape(self.shape)


def _where(condition: NDArray[np.bool_], yes: FloatArray, no: FloatArray) -> FloatArray:
    return yes if condition.all() else np.where(condition, yes, no)
