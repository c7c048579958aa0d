"""The item-kind protocol: what a kind of train item does to the gas that flows through it.

A kind answers four questions over runs: how much gas it holds, what leaves it, what pressure it
costs, and which materials the gas touches. Kinds come from plugins; the train knows none by name.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.reference.finding import Material, Substance, vapour_pressure
from review.reference.solutions import Solution
from review.scenario.models import ItemModel as Item


@dataclass(frozen=True, slots=True)
class Reaction:
    """A declared reaction: stoichiometry over the species (products positive)."""

    equation: str
    limiting: int
    coefficients: FloatArray
    conversion: FloatArray
    selectivity: FloatArray


@dataclass(frozen=True, slots=True)
class Absorption:
    """What a liquid takes up of one species: share, and moles until it is spent.

    `credited` is false for a pair without a source; then nothing is absorbed.
    """

    species: int
    efficiency: FloatArray
    capacity: FloatArray
    rivals: tuple[tuple[int, float], ...] = ()
    """Other species that the same absorbent binds, and how much of the capacity a mole of each
    takes, mol."""

    def used(self, held: FloatArray) -> FloatArray:
        """What is used of its capacity, mol, by all that is held, (species, runs)."""
        return np.asarray(held[self.species] + sum(held[k] * share for k, share in self.rivals))


@dataclass(frozen=True, slots=True)
class Vapour:
    """One volatile component of a held liquid; `share` is its activity, at most 1."""

    species: int
    substance: Substance
    share: float
    solution: Solution | None = None
    """Its sourced partial pressures over this solution, instead of `share` of its own."""

    @property
    def lowest(self) -> float:
        """Coldest that its vapour pressure is known at, K; NaN without a curve."""
        curve = self.substance.curve("vapour_pressure")
        if curve.state != "known":
            return float("nan")
        return min(curve.low, self.substance.number("boiling_point"))

    @property
    def highest(self) -> float:
        """Hottest that its vapour pressure is known at, K; NaN without a curve."""
        curve = self.substance.curve("vapour_pressure")
        return curve.high if curve.state == "known" else float("nan")

    def pressure(self, temperature: FloatArray) -> FloatArray:
        """Partial pressure over the liquid, Pa; NaN where it is not known.

        Colder than the curve, as at its cold end, which is more; hotter, as at its hot end, which
        is less than there would be but more than any open vessel bears: it boils.
        """
        if self.solution is not None:
            return self.solution.partial_pressure(self.substance.name, temperature)
        curve = self.substance.curve("vapour_pressure")
        if curve.state == "none":
            return np.where(np.isnan(temperature), np.nan, 0.0)
        if curve.state != "known":
            return np.full(np.shape(temperature), np.nan)
        held = np.clip(temperature, curve.low, curve.high)
        pressure, _ = vapour_pressure(self.substance, held)
        boiling = self.substance.number("boiling_point")
        # A solid that becomes gas below the start of its curve (carbon dioxide) boils there.
        below = (temperature < curve.low) & (boiling < curve.low)
        pressure = np.where(below & (temperature < boiling), 0.0, pressure)
        return np.asarray(self.share * pressure)


@dataclass(frozen=True, slots=True)
class ItemView:
    """One item in numbers: every field of the scenario over runs, and what it holds."""

    model: Item
    numbers: Mapping[str, FloatArray]
    size: int
    material: Material | None = None
    reactions: tuple[Reaction, ...] = ()
    absorptions: tuple[Absorption, ...] = ()
    vapours: tuple[Vapour, ...] = ()
    liquid_density: float = float("nan")
    ambient: FloatArray | None = None
    """Temperature of the room, K."""
    room_pressure: FloatArray | None = None
    """Pressure of the room, Pa."""
    active: FloatArray | None = None
    heated: FloatArray | None = None
    cold: FloatArray | None = None
    """Temperature of a surface kept colder than the room, K, NaN where it is not."""
    here: FloatArray | None = None
    """1 where a component of the held liquid is left, 0 where it is used up; (vapours, runs)."""
    boils_at: FloatArray | None = None
    """Boiling point where the liquid boils in this step, K, else infinite."""

    def get(self, name: str) -> FloatArray:
        """A field over runs, NaN where the scenario does not give it."""
        found = self.numbers.get(name)
        return np.full(self.size, np.nan) if found is None else found

    @property
    def liquid_temperature(self) -> FloatArray:
        """Temperature of the held liquid, K: its bath, else the room, or what heats it."""
        bath = self.get("bath_temperature")
        room = np.full(self.size, np.nan) if self.ambient is None else self.ambient
        still = np.where(np.isnan(bath), room, bath)
        warm = still if self.heated is None else np.maximum(still, self.heated)
        return warm if self.boils_at is None else np.minimum(warm, self.boils_at)

    def partial_pressures(self, temperature: FloatArray | None = None) -> FloatArray:
        """Vapour pressure of each volatile component over the liquid, (vapours, runs), Pa.

        At the temperature of what heats or holds it if none is given; above the pressure on it
        the liquid boils. 0 where a component is used up, NaN where no curve is known.
        """
        at = self.liquid_temperature if temperature is None else temperature
        out = np.array([vapour.pressure(at) for vapour in self.vapours])
        return out if self.here is None else np.where(self.here > 0, out, 0.0)

    def has(self, name: str) -> bool:
        """Whether the scenario gives this field."""
        return name in self.numbers


@dataclass(frozen=True)
class Gas:
    """The gas at one item over runs: molar flow by species (species, runs), K, Pa absolute."""

    species: tuple[Substance, ...]
    molar_masses: FloatArray
    viscosities: FloatArray
    flow: FloatArray
    temperature: FloatArray
    pressure: FloatArray

    @cached_property
    def total(self) -> FloatArray:
        """Molar flow of the mixture, mol/s."""
        return np.asarray(self.flow.sum(axis=0))

    @cached_property
    def volume_flow(self) -> FloatArray:
        """Actual volume flow at this temperature and pressure, m3/s."""
        return np.asarray(gas_physics.R * self.total * self.temperature / self.pressure)

    @cached_property
    def density(self) -> FloatArray:
        """Mixture density, kg/m3; NaN without flow."""
        mass = self.molar_masses @ self.flow
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(mass / self.volume_flow)

    @cached_property
    def viscosity(self) -> FloatArray:
        """An upper bound, Pa s: the most viscous species present, taken 10 % higher.

        Mixtures of light and heavy gases can be a few per cent more viscous than either; above
        300 K the growth is taken as proportional to temperature, faster than any gas here. Too
        high a viscosity gives too high a pressure, which is the hazardous side.
        """
        present = np.where(self.flow > 0, self.viscosities[:, None], 0.0).max(axis=0)
        return np.asarray(1.1 * present * np.maximum(self.temperature / 300.0, 1.0))


@dataclass(frozen=True, slots=True)
class Transfer:
    """What leaves an item and what its liquid took up, mol/s, shape (species, runs)."""

    outflow: FloatArray
    absorbed: FloatArray


#: What is a sphere by its name, in the languages of the words.
ROUND = ("round", "rundkolben")
#: Ware that is filled to its mark; the share of it that counts as left there, and how far above it
#: the liquid may be read (a judgement, no source: a 50 mL burette holds 3 mL over its zero).
GRADUATED = ("burette", "measuring cylinder", "graduated cylinder", "volumetric flask")
ABOVE_THE_MARK, OVER_THE_MARK = 0.01, 0.1


def vessel_volume(item: ItemView) -> FloatArray:
    """Gas volume of a vessel, m3: as stated, else its room less its liquid.

    Its room is its capacity; else a cylinder of its bore and height (or length); else, of a round
    flask, a sphere of its bore. NaN where nobody knows it or the liquid fills it, but for what is
    filled to its mark, such as a burette.
    """
    if item.has("gas_volume"):
        return item.get("gas_volume")
    bore = item.get("inner_diameter")
    if item.has("capacity"):
        room = item.get("capacity")
    elif item.has("height") or item.has("length"):
        tall = item.get("height") if item.has("height") else item.get("length")
        room = np.pi / 4 * bore**2 * tall
    elif any(word in item.model.kind.casefold() for word in ROUND):
        room = np.pi / 6 * bore**3
    else:
        room = np.full(item.size, np.nan)
    left = room - (item.get("liquid_volume") if item.has("liquid_volume") else 0.0)
    if item.model.kind.casefold() not in GRADUATED:
        return np.where(left > 0, left, np.nan)
    marked = np.where(left >= -OVER_THE_MARK * room, ABOVE_THE_MARK * room, np.nan)
    return np.where(left > ABOVE_THE_MARK * room, left, marked)


@dataclass(frozen=True)
class ItemKind:
    """Base of all item kinds; a plugin subclasses it and overrides what differs.

    `requires` names scenario fields that must be given (`a|b`: one of them); `id` is the trade
    word in the file and `synonyms` are what else the trade calls it.
    """

    id: str = ""
    title: str = ""
    requires: tuple[str, ...] = ()
    is_end: bool = field(default=False)
    holds_liquid: bool = field(default=True)
    """Whether a liquid may stand in it; in a bare tube it may not."""
    packed: bool = field(default=False)
    """Whether what fills it costs pressure: its kind reckons with `packing`."""
    bare_ends: int = field(default=2)
    """How many ends share what a heater leaves bare of its length; 1: it is closed at the other."""
    synonyms: tuple[str, ...] = ()
    presumed: tuple[tuple[str, float], ...] = ()
    """Lengths that count where the file states none, m: the least that is made."""

    def volume(self, item: ItemView) -> FloatArray:
        """Gas volume, m3; NaN where it cannot be known."""
        return vessel_volume(item)

    def transfer(self, item: ItemView, gas: Gas, spent: FloatArray) -> Transfer:
        """What leaves after the declared reactions, uptake and the held liquid's own vapour.

        `spent` (species, runs) is 1 where an absorbent is used up.
        """
        taken = absorb(item, react(item, gas.flow), spent)
        return Transfer(saturate(item, taken.outflow, gas.pressure), taken.absorbed)

    def pressure_loss(self, item: ItemView, gas: Gas) -> FloatArray:
        """Pressure loss of the flowing gas at outlet density, Pa."""
        return np.zeros(item.size)

    def static_head(self, item: ItemView) -> FloatArray:
        """Head of liquid the flowing gas must push aside, Pa; it adds without compression."""
        return np.zeros(item.size)

    def cooling_length(self, item: ItemView, heated: bool) -> FloatArray | None:
        """Length of tube along which the gas cools before it leaves, m; None = leaves as hot."""
        return None

    def bath(self, item: ItemView) -> FloatArray | None:
        """Temperature of a liquid the gas bubbles through, K (NaN: ambient); None = no liquid."""
        return None

    def seal_head(self, item: ItemView) -> FloatArray:
        """Height of liquid that must be lifted before gas can come back through, Pa; 0 = open."""
        return np.zeros(item.size)

    def holds_back(self, item: ItemView) -> FloatArray:
        """1 where nothing that is drawn or pressed from behind gets through, as a check valve."""
        return np.zeros(item.size)

    def held_liquid(self, item: ItemView) -> FloatArray:
        """Volume of liquid that can be drawn back, m3; 0 if none."""
        return np.zeros(item.size)

    def credits_absorption(self, liquid: tuple[str, ...], substance: str) -> bool:
        """Whether a source says that this liquid takes this substance up."""
        return False

    def vanishes(self, liquid: tuple[str, ...], substance: str) -> bool:
        """Whether this liquid takes this substance up, credited or not, and is drawn back by it."""
        return self.credits_absorption(liquid, substance)

    def binds(self, moles: Mapping[str, float], substance: str) -> float:
        """Moles of a gas that a kilogram of its liquid surely binds; NaN: nobody knows.

        moles: of each component of the liquid in that kilogram.
        """
        return float("nan")

    def takes(self, moles: Mapping[str, float], bed: str | None, of: str, other: str) -> float:
        """How much of what it can bind of one gas a mole of another takes, mol; 0: none.

        moles: of each component of the liquid in a kilogram. bed: what it is packed with.
        """
        return 0.0

    def wetted(self, item: ItemView) -> tuple[str, ...]:
        """Names of the materials the gas touches."""
        return () if item.model.material is None else (item.model.material,)


#: How often reactions that form what others use are gone through beyond their number.
CYCLES = 3


#: Void share of a bed of grains where none is stated: equal spheres at random leave at least 0.36
#: (random close packing, from memory), grains of mixed sizes less (a judgement, no source).
LEAST_VOIDAGE = 0.30


def voidage(item: ItemView) -> FloatArray | None:
    """Void share of an item's packing; of grains that state none the least there is; else None."""
    if item.has("packing.voidage"):
        return item.get("packing.voidage")
    return np.full(item.size, LEAST_VOIDAGE) if item.has("packing.particle_diameter") else None


def tube_volume(item: ItemView) -> FloatArray:
    """Volume of a bore, pi/4 d2 L times the void share of its packing, m3."""
    bore = np.pi / 4 * item.get("inner_diameter") ** 2
    length = item.get("length")
    volume = bore * length
    void = voidage(item)
    if void is not None:
        packed = item.get("packing.length") if item.has("packing.length") else length
        volume = volume - bore * np.minimum(packed, length) * (1 - void)
    return np.asarray(volume)


def react(item: ItemView, flow: FloatArray) -> FloatArray:
    """Apply the declared reactions, mol/s (species, runs).

    Each converts its share of what there is of its limiting species, what other reactions form
    included, so consecutive and parallel reactions feed on one another in any order of the list.
    What several want more of than there is they share in proportion.
    """
    if not item.reactions:
        return flow
    nu = np.array([r.coefficients for r in item.reactions])
    made, taken = np.maximum(nu, 0.0), np.maximum(-nu, 0.0)
    active = item.active if item.active is not None else np.ones(item.size)
    share = np.array([r.conversion * r.selectivity * active for r in item.reactions])
    limiting = [r.limiting for r in item.reactions]
    per = np.array([taken[n, k] for n, k in enumerate(limiting)])[:, None]
    extent = np.zeros((len(limiting), item.size))
    for _ in range(len(limiting) + CYCLES):
        there = flow + made.T @ extent
        wanted = share * there[limiting] / per
        used = taken.T @ wanted
        enough = np.ones_like(there)
        np.divide(there, used, out=enough, where=used > there)
        least = [np.min(enough[taken[n] > 0], axis=0) for n in range(len(limiting))]
        extent = wanted * np.array(least)
    return np.maximum(flow + nu.T @ extent, 0.0)


def absorb(item: ItemView, flow: FloatArray, spent: FloatArray) -> Transfer:
    """Take up each absorbed species until its absorbent is spent."""
    absorbed = np.zeros_like(flow)
    for a in item.absorptions:
        absorbed[a.species] = flow[a.species] * a.efficiency * (1 - spent[a.species])
    return Transfer(flow - absorbed, absorbed)


def saturate(item: ItemView, flow: FloatArray, pressure: FloatArray) -> FloatArray:
    """Add vapour of the held liquid until its partial pressure is reached.

    n_v = n_dry p_v / (P - sum p_v). A liquid that boils feeds its vapour by itself: what is in
    `flow` then stays, as it does where nothing else flows.
    """
    if not item.vapours:
        return flow
    ids = [v.species for v in item.vapours]
    partial = item.partial_pressures()
    room = pressure - partial.sum(axis=0)
    dry = flow.sum(axis=0) - flow[ids].sum(axis=0)
    boils = np.isfinite(item.boils_at) if item.boils_at is not None else False
    with np.errstate(invalid="ignore", divide="ignore"):
        carried = np.where(room > 0, dry * partial / room, np.nan)
    carried = np.where(dry == 0, flow[ids], carried)
    out = flow.copy()
    out[ids] = np.where(boils, flow[ids], carried)
    return out
