"""The resolved set-up as a check sees it: every number over the trial axis.

A trial is one (cell, run); arrays have shape ``(trials,)`` with all runs of cell 0 first. Checks
read places and numbers here and hand measures back; nothing here knows what is hazardous.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemKind
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
    is_recording,
)
from review.interface.plugin import Kind
from review.physics.columns import marks
from review.physics.permeation import permeability, permeance
from review.reference.data import at_temperature
from review.reference.finding import Material, Reference, Substance, vapour_pressure
from review.scenario import Scenario
from review.scenario.models import ItemModel, Reagent
from review.walk.reactions import Term, stoichiometry
from review.walk.resolve import Resolved
from review.walk.runs import Runs
from review.walk.state import Cell
from review.walk.steps import Walk

BALANCE = "balance of the train"

#: Wall of a hose where none is stated, m: no thinner one is sold (common practice, no source).
THINNEST = 0.5e-3


class Place:
    """One item over all trials. Quantities carry the engine's status."""

    def __init__(self, setup: Setup, index: int) -> None:
        self._setup, self.index = setup, index
        self.id = setup.resolved.graph.ids[index]
        self.model: ItemModel = setup.scenario.train[index]
        self.kind: ItemKind = setup.resolved.graph.kinds[index]

    @property
    def material(self) -> Material | None:
        """What it is made of; None where the scenario does not say."""
        name = self.model.material
        return None if name is None else self._setup.reference.material(name)

    def strength(self, temperature: FloatArray) -> Quantity:
        """Tensile stress allowed in its material at each temperature (K), Pa; missing without one.

        That of unharmed parts only where the scenario says "home_made: no". What is home-made loses
        with temperature as much of its own strength as unharmed material does.
        """
        if self.material is None:
            return Quantity.missing(f"allowable stress of {self.id}", "Pa", why="no material")
        sound = self.material.datum("allowable_stress")
        name = "allowable_stress"
        if self.model.home_made != "no":
            name = "allowable_stress_home_made"
        datum = self.material.datum(name)
        found = Quantity.of_datum(
            datum, f"{name.replace('_', ' ')} of {self.material.name}", temperature
        )
        if datum.stated or not sound.stated:
            return found
        left = at_temperature(sound, temperature) / sound.stated[0][1]
        return found.revised(found.value * np.where(left > 1, 1.0, left), found.status)

    @property
    def seals(self) -> tuple[tuple[str | None, int], ...]:
        """Material of the joint at the inlet end (0) and outlet end (1); None: nobody says.

        A stated `joint_material` counts, else what the kind of joint implies; empty for one piece.
        """
        model, setup = self.model, self._setup
        seal = "unknown" if model.joint is None else setup.reference.joint(model.joint).seal
        if seal == "none":
            return ()
        if model.joint_material is not None:
            seal = model.joint_material
        elif seal == "unknown":
            return ((None, 0), (None, 1))
        elif seal == "wall" or (seal == "hose" and self._soft):
            return ((model.material, 0), (model.material, 1))
        if seal != "hose":
            return ((seal, 0), (seal, 1))
        graph, found = setup.resolved.graph, []
        for end, side in enumerate((graph.upstream, graph.downstream)):
            near = (setup.places[i] for i in side[self.index])
            hoses = [place.model.material for place in near if place._soft]
            found += [(hose, end) for hose in hoses or [None]]
        return tuple(found)

    @property
    def parts(self) -> tuple[tuple[str, str], ...]:
        """What gas and liquid touch here, by name: (name, `wall`, `packing` or `seal`).

        A lining counts in place of the wall, and a catalyst by its material, else by its own name.
        """
        model = self.model
        found = [(model.lining or model.material, "wall")]
        if model.packing is not None:
            found.append((model.packing.material, "packing"))
        for name, catalyst in self._setup.scenario.catalysts.items():
            if catalyst.in_ == self.id:
                found.append((catalyst.material or name, "packing"))
        found += [(name, "seal") for name, _ in self.seals]
        return tuple(dict.fromkeys((name, part) for name, part in found if name is not None))

    @cached_property
    def equations(self) -> tuple[tuple[Term, ...], ...]:
        """What reacts here by the file: declared reactions, and what a generator makes here."""
        return (*self._setup.resolved.reactions.get(self.id, ()), *self.made)

    @cached_property
    def made(self) -> tuple[tuple[Term, ...], ...]:
        """What generators make here, by their equations: their gas is a flow of the balance."""
        setup, found = self._setup, list[tuple[Term, ...]]()
        for flow in setup.scenario.flows.values():
            held = setup.scenario.reagents[flow.reagent].held
            if flow.into == self.id and held is not None and held.equation is not None:
                with suppress(ValueError):
                    found.append(stoichiometry(held.equation, setup.reference))
        return tuple(found)

    def lies_here(self, reagent: Reagent) -> bool:
        """Whether the file puts a solid reagent here: a reaction, catalyst or packing names it."""
        named = {name for name, part in self.parts if part == "packing"}
        for terms in self.equations:
            named |= {text for term in terms for text in (term.text, term.formula)}
        known = [self._setup.reference.substance(name) for name in reagent.composition]
        return any(s.name in named or s.formula in named for s in known)

    @cached_property
    def solids(self) -> Mapping[str, float]:
        """Mass fraction of each component of the solid reagents that lie here, or may.

        One that no item names may lie in any item that is heated, else in any vessel or bed.
        """
        setup, found = self._setup, dict[str, float]()
        heated = {heat.heats for heat in setup.scenario.heat.values()}
        held = {place.model.liquid for place in setup.places}
        for key, reagent in setup.scenario.reagents.items():
            # What an item holds counts there as its liquid, molten or not.
            if reagent.state != "solid" or self.is_end or key in held:
                continue
            if any(place.lies_here(reagent) for place in setup.places):
                here = self.lies_here(reagent)
            else:
                here = self.id in heated if heated else self.kind.holds_liquid or self.kind.packed
            for text, share in reagent.composition.items() if here else ():
                name = setup.reference.substance(text).name
                found[name] = max(found.get(name, 0.0), share)
        return found

    def permeance(self, gas: str) -> Quantity:
        """What its wall lets through of a gas, mol/(s Pa); 0 where it is no hose of a polymer.

        A wall that is not stated is the thinnest sold, half a millimetre.
        """
        name = f"permeance of {self.id} for {gas}"
        if not self._soft or self.model.length is None:
            return self._setup.quantity(0.0, name, "mol/(s Pa)", "no wall of a polymer")
        assert self.material is not None
        wall = self.number("wall").value
        found = permeance(
            permeability(self.material.name, gas), self.number("inner_diameter").value,
            np.where(np.isnan(wall), THINNEST, wall), self.number("length").value,
            self.hottest.value,
        )  # fmt: skip
        lost = np.isnan(found)
        status = np.where(lost, np.uint8(MISSING), np.uint8(ESTIMATED))
        return Quantity.of(found, status, name=name, unit="mol/(s Pa)", source="table of polymers")

    @property
    def _soft(self) -> bool:
        return self.material is not None and self.material.kind == "polymer"

    @cached_property
    def liquid(self) -> Mapping[str, float]:
        """Mass fraction of each component of the liquid it holds; empty where it holds none."""
        reference = self._setup.reference
        moles = self._setup.resolved.liquids.get(self.id, {})
        masses = {n: x * reference.substance(n).molar_mass for n, x in moles.items()}
        total = sum(masses.values())
        return {name: mass / total for name, mass in masses.items()} if total > 0 else {}

    @property
    def is_end(self) -> bool:
        """Whether gas leaves the train here."""
        return self.kind.is_end

    def _of(self, field: str, name: str, unit: str) -> Quantity:
        return self._setup.quantity(
            self._setup.stacked(field)[self.index], f"{name} at {self.id}", unit, BALANCE
        )

    @property
    def pressure(self) -> Quantity:
        """Absolute pressure at the inlet, Pa; of a dead end, the supply's."""
        return self._of("pressure", "pressure", "Pa")

    @property
    def hottest(self) -> Quantity:
        """Hottest surface the gas touches here during the step, K; never too cold."""
        return self._of("hot", "hottest surface", "K")

    @property
    def coldest(self) -> Quantity:
        """Temperature the item may have fallen to by the end of the step, K."""
        return self._of("low", "lowest temperature", "K")

    @property
    def cold(self) -> FloatArray:
        """Surface kept colder than the room, by a bath or as stated, K; NaN where none is."""
        return np.asarray(self._setup.stacked("cold")[self.index])

    @property
    def gas_in(self) -> Quantity:
        """Gas temperature at the inlet, K."""
        return self._of("gas_in", "gas temperature at the inlet", "K")

    @property
    def gas_out(self) -> Quantity:
        """Gas temperature at the outlet end, K."""
        return self._of("gas_out", "gas temperature at the outlet", "K")

    @property
    def wall_out(self) -> Quantity:
        """Wall temperature at the outlet end, K."""
        return self._of("wall_out", "wall temperature at the outlet", "K")

    @property
    def ends(self) -> Quantity:
        """Hottest of gas and wall at its two ends, where its joints sit, K."""
        stacked, i = self._setup.stacked, self.index
        at_ends = [stacked(field)[i] for field in ("gas_in", "gas_out", "wall_out")]
        name = f"hottest end of {self.id}"
        return self._setup.quantity(np.max(at_ends, axis=0), name, "K", BALANCE)

    @property
    def volume(self) -> Quantity:
        """Gas volume, m3."""
        return self._of("volume", "gas volume", "m3")

    @property
    def flow(self) -> Quantity:
        """Molar flow leaving, mol/s."""
        return self._of("flow", "molar flow", "mol/s")

    @property
    def delivered(self) -> Quantity:
        """Molar rate all supplies upstream go on delivering, mol/s."""
        return self._of("delivered", "rate of the supplies", "mol/s")

    @property
    def supply(self) -> Quantity:
        """Highest pressure the supplies upstream can reach, Pa absolute."""
        return self._of("supply", "highest supply pressure", "Pa")

    @property
    def drawn_fraction(self) -> Quantity:
        """Share of the gas replaced by what is drawn in while cooling without flow."""
        return self._of("drawn_fraction", "share drawn in", "1")

    @property
    def liquid_drawn(self) -> Quantity:
        """Liquid drawn back out of this bottle, m3."""
        return self._of("liquid_drawn", "liquid drawn back", "m3")

    @property
    def leaves(self) -> FloatArray:
        """1 where gas finds an open way out, else 0."""
        return np.asarray(self._setup.stacked("leaves")[self.index])

    @property
    def moving(self) -> FloatArray:
        """1 where gas flows, else 0."""
        return np.asarray(self._setup.stacked("moving")[self.index])

    def number(self, field: str) -> Quantity:
        """A field of the item in the scenario, by its name there."""
        return self._setup.number(f"train.{self.id}.{field}")

    def used(self, substance: Substance) -> Quantity:
        """Moles of a substance its absorbent has taken up by the end of the step."""
        i = self._setup.resolved.index[substance.name]
        return self._setup.quantity(
            self._setup.stacked("used")[self.index, i],
            f"{substance.name} taken up by {self.id}",
            "mol",
            BALANCE,
        )

    def composition(self, point: str) -> FloatArray:
        """Mole fractions (species, trials) at a point of the step: see `Setup.segments`."""
        return np.asarray(self._setup.stacked(point)[self.index])

    @property
    def before(self) -> tuple[int, ...]:
        """Indices of all items whose gas can reach this one, itself included."""
        return self._setup.resolved.graph.all_upstream(self.index)


class Setup:
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

    @property
    def scenario(self) -> Scenario:
        """The scenario as loaded."""
        return self.resolved.scenario

    @property
    def reference(self) -> Reference:
        """Substances, materials and joints."""
        return self.resolved.reference

    @property
    def species(self) -> tuple[Substance, ...]:
        """Every substance that can be in the gas, in the order of composition arrays."""
        return self.resolved.species

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """All items in the order of the file."""
        return tuple(Place(self, i) for i in range(self.resolved.graph.size))

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
        upset = np.array([overlay.case != "plan" for overlay in self.runs.overlays])
        begun = np.arange(self.shape[0])[:, None] >= self.runs.start[None, :]
        return np.asarray((upset & begun).reshape(-1))

    def stacked(self, field: str) -> FloatArray:
        """A field of `review.walk.state.Cell` over all trials: (..., trials)."""
        found = self._stacked.get(field)
        if found is None:
            parts = [np.asarray(getattr(cell, field)) for cell in self._walk.cells]
            found = np.concatenate(parts, axis=-1)
            found.flags.writeable = False  # what one check could change, others would read
            self._stacked[field] = found
        return found

    def distinct(
        self, place: Place, at: Iterable[str], before: Iterable[str] = ()
    ) -> tuple[Setup, Place]:
        """The trials that differ at a place: in the fields `at` it, of `review.walk.state.Cell`,
        and in the fields `before` it, of all items that its gas comes from.

        A set-up and the place in it, for what looks at each trial by itself; what its `measure`
        gives is of all trials. Where the working is kept, this set-up itself.
        """
        from review.walk.distinct import Distinct  # which is a Setup

        if is_recording():
            return self, place
        told = [self.marks(field)[place.index] for field in at]
        told += [self.marks(field)[i] for field in before for i in place.before]
        some = Distinct(self, told)
        return some, some.places[place.index]

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

        A bed whose pressure loss cannot be worked out leaves all else open: it is told alone.
        """
        pressure = self.stacked("pressure").reshape(len(self.places), -1)
        unpressed = np.asarray(np.isnan(pressure).any(axis=1))
        beds = [
            f"{lost} of the packing of {p.id}"
            for p in self.places if unpressed[p.index] for lost in _bed_lacks(p.model)
        ]  # fmt: skip
        if beds:
            return "; ".join(beds)
        found: list[str] = []
        for place in self.places:
            if np.isnan(self.stacked("volume")[place.index]).any():
                found.append(f"gas volume of {place.id}")
            if np.isnan(self.stacked("hot")[place.index]).any():
                found.append(f"temperature of {place.id}")
            if np.isnan(self.stacked("over_liquid")[place.index]).any() and place.model.liquid:
                liquid = place.model.liquid
                found.append(f"vapour over {liquid} in {place.id} (it boils, or no data)")
        if np.isnan(self.stacked("delivered")).any():
            found.append("rate of a flow")
        if np.isnan(self.stacked("supply")).any():
            found.append("pressure that a supply can reach (regulator or shut_off_pressure)")
        if (np.isnan(self.stacked("room_caught")) | np.isnan(self.stacked("room_uncaught"))).any():
            found.append("room volume or air changes")
        if not found and unpressed.any():
            found.append("geometry that the pressure loss needs")
        return "; ".join(found)

    def number(self, path: str) -> Quantity:
        """A number of the scenario by its path, over trials; missing where it is not given."""
        parts = [self.runs.number(path, cell) for cell in range(self.shape[0])]
        if any(part is None for part in parts):
            return Quantity.of(
                np.full(self.trials, np.nan), name=path, source="not given in the scenario"
            )
        value = np.concatenate([part for part in parts if part is not None])
        if self.scenario.is_assumed(path):
            return Quantity.of(value, np.uint8(ESTIMATED), name=path, source="assumed in the file")
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
        """Air around the train, (species, trials), at a named point.

        Mole fractions, the highest of the step: `room` with a working hood that catches everything,
        `room_uncaught` with one that catches nothing; in the exhaust of the `hood`. What is let
        out beside people, m3/s at room conditions: `into_hood`, `into_room`, and in the whole step,
        m3: `amount_hood`, `amount_room`; spilled in the hood, m3/s: `spilled_hood`. Without the
        species axis:
        `least_oxygen_caught` and `least_oxygen_uncaught`.
        """
        return self.stacked({"room": "room_caught", "hood": "hood_exhaust"}.get(point, point))

    def segments(self, place: Place) -> list[tuple[str, FloatArray, FloatArray]]:
        """The mixing lines the gas at an item passes along, as (name, from, to).

        Each end is an array (species, trials) of mole fractions; along a line every mixture of
        its two ends occurs. Lines that are a point in every trial are left out. The lines: from
        the gas held here to the new gas, before and after its reaction; the reaction itself; what
        changes while a reactor warms or an absorbent is spent; vapour that condenses; and where
        nothing flows, vapour over a liquid and what comes in. The first is always the one from
        the old gas to the new. Gas held upstream passes through too: see `passing`.
        """
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

    def _differ(self, place: Place, one: str, other: str) -> bool:
        """Whether two compositions at an item are not the same in every trial."""
        return not np.array_equal(self.marks(one)[place.index], self.marks(other)[place.index])

    def _beside(self, place: Place, drawn: FloatArray) -> list[tuple[str, FloatArray, FloatArray]]:
        """Lines from what comes into an item at rest to gas that flows past upstream of it.

        Behind a joint that has opened the gas goes another way, and still finds its way in.
        """
        lines = []
        for j in self.resolved.graph.upstream[place.index]:
            past = (self.stacked("moving")[j] > 0) & ~(place.moving > 0)
            if past.any():
                gas = _where(past, self.stacked("outlet")[j], drawn)
                name = self.resolved.graph.ids[j]
                lines.append((f"what comes in, to the gas of {name}", drawn, gas))
        return lines

    def passing(self, place: Place) -> list[FloatArray]:
        """Gases that items upstream held before the step and that pass through this one.

        Each is an array (species, trials), equal to the gas held here where nothing passes. Any
        two of them, and the old and the new gas here, can meet.
        """
        old, moving = place.composition("old"), place.moving > 0
        told = self.marks("old")
        found: list[FloatArray] = []
        known = [told[place.index]]
        for j in reversed(place.before):
            flows = moving & (self.stacked("moving")[j] > 0)
            passes = np.where(flows, told[j], told[place.index])
            if any(np.array_equal(passes, other) for other in known):
                continue
            known.append(passes)
            found.append(_where(flows, self.stacked("old")[j], old))
        return found

    def _condensing(
        self, place: Place, gas: FloatArray
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


def _bed_lacks(item: ItemModel) -> Iterator[str]:
    """What of an item's packing is not stated, without which it has no pressure loss."""
    packing = item.packing
    if packing is not None:
        if packing.voidage is None and packing.particle_diameter is None:
            yield "voidage"
        if packing.particle_diameter is None and packing.fibre_diameter is None:
            yield "particle_diameter or fibre_diameter"
        if packing.length is None and item.length is None:
            yield "length"


def _where(condition: NDArray[np.bool_], yes: FloatArray, no: FloatArray) -> FloatArray:
    return yes if condition.all() else np.where(condition, yes, no)


__all__ = ["Cell", "Place", "Setup"]
