"""One item of a walked set-up as a check sees it: its numbers over all trials."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cached_property

import numpy as np

from review.interface import setup as interface
from review.interface.items import ItemKind
from review.interface.measure import (
    ESTIMATED,
    MISSING,
    FloatArray,
    Quantity,
)
from review.physics.permeation import permeability, permeance
from review.reference.data import at_temperature
from review.reference.finding import Material, Substance
from review.scenario.models import ItemModel, Reagent
from review.walk.reactions import stoichiometry
from review.walk.resolve import Resolved

BALANCE = "balance of the train"


#: Wall of a hose where none is stated, m: no thinner one is sold (common practice, no source).
THINNEST = 0.5e-3
#: The polymer that lets most gas through.
LETS_MOST = "silicone rubber"


class Place:
    """One item over all trials. Quantities carry the engine's status."""

    def __init__(
        self,
        setup: interface.Setup,
        resolved: Resolved,
        stacked: Callable[[str], FloatArray],
        index: int,
    ) -> None:
        self._setup, self._resolved, self.index = setup, resolved, index
        self._stacked = stacked
        self.id = resolved.graph.ids[index]
        self.model: ItemModel = setup.scenario.train[index]
        self.kind: ItemKind = resolved.graph.kinds[index]
        self._known: dict[str, Quantity] = {}

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
        said = f"{name.replace('_', ' ')} of {self.material.name}"
        if self.model.home_made == "unknown":
            said = f'strength of {self.material.name}: "home_made: no" is not stated'
        found = Quantity.of_datum(datum, said, temperature)
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
        elif seal == "wall" or (seal == "hose" and _soft(self)):
            return ((model.material, 0), (model.material, 1))
        if seal != "hose":
            return ((seal, 0), (seal, 1))
        found = []
        for end, side in enumerate((self.upstream, self.downstream)):
            near = (setup.places[i] for i in side)
            hoses = [place.model.material for place in near if _soft(place)]
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
    def equations(self) -> tuple[tuple[interface.Term, ...], ...]:
        """What reacts here by the file: declared reactions, and what a generator makes here."""
        return (*self._setup.reactions.get(self.id, ()), *self.made)

    @cached_property
    def made(self) -> tuple[tuple[interface.Term, ...], ...]:
        """What generators make here, by their equations: their gas is a flow of the balance."""
        setup, found = self._setup, list[tuple[interface.Term, ...]]()
        solids = [
            setup.reference.substance(text)
            for reagent in setup.scenario.reagents.values()
            if reagent.state == "solid"
            for text in reagent.composition
        ]
        for flow in setup.scenario.flows.values():
            held = setup.scenario.reagents[flow.reagent].held
            if flow.into == self.id and held is not None and held.equation is not None:
                with suppress(ValueError):
                    found.append(stoichiometry(held.equation, setup.reference, solids))
        return tuple(found)

    def lies_here(self, reagent: Reagent) -> bool:
        """Whether the file puts a solid reagent here: a reaction, catalyst or packing names it."""
        reference = self._setup.reference
        named = {name for name, part in self.parts if part == "packing"}
        for name in tuple(named):
            with suppress(LookupError):  # a material, or nobody's name
                named.add(reference.substance(name).name)
        for terms in self.equations:
            named |= {text for term in terms for text in (term.text, term.formula)}
        known = [reference.substance(name) for name in reagent.composition]
        return any(s.name in named or s.formula in named for s in known)

    @property
    def solids(self) -> Mapping[str, float]:
        """Mass fraction of each component of the solid reagents that lie here, or may.

        One that no item names may lie in any item that is heated, else in any vessel or bed.
        """
        return self._lying[0]

    @property
    def unplaced(self) -> frozenset[str]:
        """Those of `solids` that may lie here because the file puts them nowhere."""
        return self._lying[1]

    @cached_property
    def _lying(self) -> tuple[Mapping[str, float], frozenset[str]]:
        setup, found, nowhere = self._setup, dict[str, float](), set[str]()
        heated = {heat.heats for heat in setup.scenario.heat.values()}
        held = {place.model.liquid for place in setup.places}
        for key, reagent in setup.scenario.reagents.items():
            # What an item holds counts there as its liquid, molten or not.
            if reagent.state != "solid" or self.is_end or key in held:
                continue
            placed = any(place.lies_here(reagent) for place in setup.places)
            if placed:
                here = self.lies_here(reagent)
            else:
                here = self.id in heated if heated else self.kind.holds_liquid or self.kind.packed
            for text, share in reagent.composition.items() if here else ():
                name = setup.reference.substance(text).name
                found[name] = max(found.get(name, 0.0), share)
                nowhere |= set() if placed else {name}
        return found, frozenset(nowhere)

    def permeance(self, gas: str) -> Quantity:
        """What its wall lets through of a gas, mol/(s Pa); 0 where it is no hose of a polymer.

        A wall that is not stated is the thinnest sold, half a millimetre, a line of which nobody
        says what it is made of a hose of the polymer that lets most through.
        """
        found = self._known.get(f"permeance {gas}")
        if found is None:
            found = self._known[f"permeance {gas}"] = self._permeance(gas).read_only()
        return found

    def _permeance(self, gas: str) -> Quantity:
        name = f"permeance of {self.id} for {gas}"
        unnamed = self.material is None and self.kind.id == "line"
        if not (unnamed or _soft(self)) or self.model.length is None:
            return self._setup.quantity(0.0, name, "mol/(s Pa)", "no wall of a polymer")
        polymer = LETS_MOST if self.material is None else self.material.name
        wall = self.number("wall").value
        found = permeance(
            permeability(polymer, gas), self.number("inner_diameter").value,
            np.where(np.isnan(wall), THINNEST, wall), self.number("length").value,
            self.hottest.value,
        )  # fmt: skip
        lost = np.isnan(found)
        status = np.where(lost, np.uint8(MISSING), np.uint8(ESTIMATED))
        return Quantity.of(found, status, name=name, unit="mol/(s Pa)", source="table of polymers")

    @cached_property
    def liquid(self) -> Mapping[str, float]:
        """Mass fraction of each component of the liquid it holds; empty where it holds none."""
        reference = self._setup.reference
        moles = self._setup.liquids.get(self.id, {})
        masses = {n: x * reference.substance(n).molar_mass for n, x in moles.items()}
        total = sum(masses.values())
        return {name: mass / total for name, mass in masses.items()} if total > 0 else {}

    @property
    def is_end(self) -> bool:
        """Whether gas leaves the train here."""
        return self.kind.is_end

    def _cells(self, field: str) -> FloatArray:
        """A field of `review.walk.state.Cell` at this item, (..., trials)."""
        return np.asarray(self._stacked(field)[self.index])

    def _of(self, field: str, name: str, unit: str) -> Quantity:
        found = self._known.get(field)
        if found is None:
            found = self._known[field] = self._setup.quantity(
                self._cells(field), f"{name} at {self.id}", unit, BALANCE
            ).read_only()
        return found

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
        return self._cells("cold")

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
        at_ends = [self._cells(field) for field in ("gas_in", "gas_out", "wall_out")]
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
        return self._cells("leaves")

    @property
    def outward(self) -> FloatArray:
        """1 where all its gas leaves at an opened joint, or at an end lifted out of a liquid."""
        return self._cells("outward")

    @property
    def moving(self) -> FloatArray:
        """1 where gas flows, else 0."""
        return self._cells("moving")

    def number(self, field: str) -> Quantity:
        """A field of the item in the scenario, by its name there."""
        return self._setup.number(f"train.{self.id}.{field}")

    def used(self, substance: Substance) -> Quantity:
        """Moles of a substance its absorbent has taken up by the end of the step."""
        i = self._setup.rows[substance.name]
        return self._setup.quantity(
            self._stacked("used")[self.index, i],
            f"{substance.name} taken up by {self.id}",
            "mol",
            BALANCE,
        )

    def composition(self, point: str) -> FloatArray:
        """Mole fractions (species, trials) at a point of the step: see `Setup.segments`."""
        return self._cells(point)

    @property
    def before(self) -> tuple[int, ...]:
        """Indices of all items whose gas can reach this one, itself included."""
        return self._resolved.graph.all_upstream(self.index)

    @property
    def upstream(self) -> tuple[int, ...]:
        """Indices of the items that it follows directly."""
        return self._resolved.graph.upstream[self.index]

    @property
    def downstream(self) -> tuple[int, ...]:
        """Indices of the items that follow it directly."""
        return self._resolved.graph.downstream[self.index]

    @property
    def exposed(self) -> FloatArray:
        """1 where gas comes in from elsewhere although none flows, `drawn_from` its composition."""
        return self._cells("exposed")

    @property
    def came(self) -> FloatArray:
        """Molar flow entering, mol/s."""
        return self._cells("came")

    @property
    def condensed(self) -> FloatArray:
        """What condenses here of each species, mol/s, (species, trials)."""
        return self._cells("condensed")

    @property
    def vapour_lasts(self) -> FloatArray:
        """How long its liquid gives off vapour, s; infinite where it does not."""
        return self._cells("vapour_lasts")

    @property
    def liquid_temperature(self) -> FloatArray:
        """Of the liquid it holds, K."""
        return self._cells("liquid_temperature")

    @property
    def taken_up(self) -> frozenset[str]:
        """Names of the gases that a source says its absorbent takes up."""
        return frozenset(gas for item, gas in self._resolved.credited if item == self.id)

    def bound(self, substance: Substance) -> float:
        """Moles of a gas that a kilogram of its liquid surely binds; NaN where no source says."""
        return self._resolved.binding.get((self.id, substance.name), np.nan)

    def rivals(self, substance: Substance) -> Mapping[str, float]:
        """What else takes up its absorbent for a gas, and how much a mole of each takes, mol."""
        return self._resolved.rivals.get((self.id, substance.name), {})


def _soft(place: interface.Place) -> bool:
    return place.material is not None and place.material.kind == "polymer"
