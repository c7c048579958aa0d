"""What a check sees of a set-up that was walked: protocols, which `review.walk` implements.

A trial is one (cell, run); arrays have shape ``(trials,)`` with all runs of cell 0 first. A number
of the engine is a `Quantity` with its status.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol, TypeVar

from numpy.typing import NDArray

from review.interface.items import ItemKind
from review.interface.measure import FloatArray, Measure, Quantity, StatusArray
from review.interface.plugin import Kind, Overlay
from review.reference.finding import Material, Reference, Substance
from review.scenario import Scenario
from review.scenario.models import ItemModel, Reagent

_Found = TypeVar("_Found")


class Term(Protocol):
    """One side's term of a reaction: products positive; no substance for a solid."""

    @property
    def coefficient(self) -> float: ...
    @property
    def text(self) -> str: ...
    @property
    def formula(self) -> str: ...
    @property
    def substance(self) -> Substance | None: ...
    @property
    def solid(self) -> bool: ...


class Step(Protocol):
    """One step that is played."""

    @property
    def name(self) -> str: ...
    @property
    def duration_path(self) -> str: ...


#: What `Setup.stacked` gives, over all items (or flows, where said) and trials. Mole fractions
#: (items, species, trials): `old` what filled each item before the step, `inlet` and `outlet_end`
#: what flows in and, at the end of the step, out, `drawn_from` what comes in where nothing flows.
#: Plain (items, trials): `exposed` 1 where something comes in so, `shut` 1 where valves shut every
#: way to it from upstream, `moving` 1 where gas flows,
#: `flow` what leaves, mol/s, `delivered` rate of all supplies upstream, mol/s, `hot` hottest
#: surface, K, `pressure`, Pa absolute, `volume` of the gas, m3. Per flow (flows, trials): `fed`
#: what it brings, mol/s, `lasts` how long what it is held in lasts, s, `once` what all that
#: makes it gives if it meets at once, mol.
Stack = Literal[
    "old", "inlet", "outlet_end", "drawn_from", "exposed", "shut", "moving", "flow", "delivered",
    "hot", "pressure", "volume", "fed", "lasts", "once",
]  # fmt: skip


class Runs(Protocol):
    """The plan, failures and samples, each as what it changes."""

    @property
    def overlays(self) -> tuple[Overlay, ...]: ...
    @property
    def size(self) -> int: ...
    def changes(self, prefix: str) -> bool: ...


class Place(Protocol):
    """One item over all trials."""

    @property
    def id(self) -> str: ...
    @property
    def index(self) -> int: ...
    @property
    def model(self) -> ItemModel: ...
    @property
    def kind(self) -> ItemKind: ...
    @property
    def material(self) -> Material | None: ...
    @property
    def seals(self) -> tuple[tuple[str | None, int], ...]: ...
    @property
    def parts(self) -> tuple[tuple[str, str], ...]: ...
    @property
    def equations(self) -> tuple[tuple[Term, ...], ...]: ...
    @property
    def made(self) -> tuple[tuple[Term, ...], ...]: ...
    @property
    def solids(self) -> Mapping[str, float]: ...
    @property
    def unplaced(self) -> frozenset[str]: ...
    @property
    def liquid(self) -> Mapping[str, float]: ...
    @property
    def is_end(self) -> bool: ...
    @property
    def pressure(self) -> Quantity: ...
    @property
    def hottest(self) -> Quantity: ...
    @property
    def coldest(self) -> Quantity: ...
    @property
    def cold(self) -> FloatArray: ...
    @property
    def gas_in(self) -> Quantity: ...
    @property
    def gas_out(self) -> Quantity: ...
    @property
    def wall_out(self) -> Quantity: ...
    @property
    def ends(self) -> Quantity: ...
    @property
    def volume(self) -> Quantity: ...
    @property
    def flow(self) -> Quantity: ...
    @property
    def delivered(self) -> Quantity: ...
    @property
    def supply(self) -> Quantity: ...
    @property
    def drawn_fraction(self) -> Quantity: ...
    @property
    def liquid_drawn(self) -> Quantity: ...
    @property
    def leaves(self) -> FloatArray: ...
    @property
    def outward(self) -> FloatArray: ...
    @property
    def moving(self) -> FloatArray: ...
    @property
    def before(self) -> tuple[int, ...]: ...
    @property
    def upstream(self) -> tuple[int, ...]: ...
    @property
    def downstream(self) -> tuple[int, ...]: ...
    @property
    def exposed(self) -> FloatArray: ...
    @property
    def came(self) -> FloatArray: ...
    @property
    def condensed(self) -> FloatArray: ...
    @property
    def vapour_lasts(self) -> FloatArray: ...
    @property
    def liquid_temperature(self) -> FloatArray: ...
    @property
    def taken_up(self) -> frozenset[str]: ...
    def bound(self, substance: Substance) -> float: ...
    def rivals(self, substance: Substance) -> Mapping[str, float]: ...
    def strength(self, temperature: FloatArray) -> Quantity: ...
    def lies_here(self, reagent: Reagent) -> bool: ...
    def permeance(self, gas: str) -> Quantity: ...
    def number(self, field: str) -> Quantity: ...
    def used(self, substance: Substance) -> Quantity: ...
    def composition(self, point: str) -> FloatArray: ...


class Setup(Protocol):
    """A scenario walked over the runs of one chunk."""

    @property
    def runs(self) -> Runs: ...
    @property
    def scenario(self) -> Scenario: ...
    @property
    def reference(self) -> Reference: ...
    @property
    def species(self) -> tuple[Substance, ...]: ...
    @property
    def places(self) -> Sequence[Place]: ...
    @property
    def shape(self) -> tuple[int, int]: ...
    @property
    def trials(self) -> int: ...
    @property
    def failed(self) -> NDArray[Any]: ...
    @property
    def engine_status(self) -> StatusArray: ...
    @property
    def lacking(self) -> str: ...
    @property
    def rows(self) -> Mapping[str, int]:
        """The row of each species in arrays of compositions, by its name."""
        ...

    @property
    def steps(self) -> Sequence[Step]:
        """The steps that are played, in order: cell 1 onwards, the last when all is off."""
        ...

    @property
    def reactions(self) -> Mapping[str, tuple[tuple[Term, ...], ...]]:
        """The declared reactions of each item, by its name, balanced."""
        ...

    @property
    def liquids(self) -> Mapping[str, Mapping[str, float]]:
        """Mole fraction of each component of the liquid in each item that holds one."""
        ...

    @property
    def bottled(self) -> Mapping[str, Mapping[str, float]]:
        """Mole fraction of each component of each liquid reagent, by its name."""
        ...

    @property
    def fresh_air(self) -> FloatArray:
        """Mole fractions of dry air, (species,)."""
        ...

    @property
    def heat_capacities(self) -> FloatArray:
        """cp/R of each species as a gas, polynomials of T/1000 K, (species, coefficients)."""
        ...

    def states(self, path: str) -> bool:
        """Whether the file gives a number at this path."""
        ...

    def paths(self, prefix: str) -> Sequence[str]:
        """The paths of all numbers that begin so."""
        ...

    def stacked(self, field: Stack) -> FloatArray:
        """One field of all items at once, trials last: see `Stack`."""
        ...

    def quantity(self, value: Any, name: str, unit: str, source: str) -> Quantity: ...
    def number(self, path: str) -> Quantity: ...
    def once(self, work: Callable[[Setup], _Found]) -> _Found:
        """What a function finds of this set-up: the same each time, so that it is found once."""
        ...

    def duration(self, cell: int) -> FloatArray: ...
    def limit(self, name: str) -> Quantity: ...
    def spread(self, quantity: Quantity) -> Quantity: ...
    def over_all(self, value: Any) -> Any: ...
    def distinct(
        self, place: Place, at: Iterable[str], before: Iterable[str] = ()
    ) -> tuple[Setup, Place]:
        """The trials that differ at a place: in the fields `at` it, of `review.walk.state.Cell`,
        and in the fields `before` it, of all items that its gas comes from.

        A set-up and the place in it, for what looks at each trial by itself; what its `measure`
        gives is of all trials. Where the working is kept, this set-up itself.
        """
        ...

    def measures(self, kind: str) -> Sequence[Measure]: ...
    def air(self, point: str) -> FloatArray:
        """Air around the train, (species, trials), at a named point.

        Mole fractions, the highest of the step: `room` with a working hood that catches everything,
        `room_uncaught` with one that catches nothing; in the exhaust of the `hood`. What is let
        out beside people, m3/s at room conditions: `into_hood`, `into_room`, and in the whole step,
        m3: `amount_hood`, `amount_room`; spilled in the hood, m3/s: `spilled_hood`. Without the
        species axis:
        `least_oxygen_caught` and `least_oxygen_uncaught`.
        """
        ...

    def segments(self, place: Place) -> list[tuple[str, FloatArray, FloatArray]]:
        """The mixing lines the gas at an item passes along, as (name, from, to).

        Each end is an array (species, trials) of mole fractions; along a line every mixture of
        its two ends occurs. Lines that are a point in every trial are left out. The lines: from
        the gas held here to the new gas, before and after its reaction; the reaction itself; what
        changes while a reactor warms or an absorbent is spent; vapour that condenses; and where
        nothing flows, vapour over a liquid and what comes in. The first is always the one from
        the old gas to the new. Gas held upstream passes through too: see `passing`.
        """
        ...

    def comes(self, place: Place) -> FloatArray:
        """The most of each species in any gas that an item holds or that comes to it, an end of
        `segments` or of `passing`, (species, trials); NaN where one is not known."""
        ...

    def passing(self, place: Place) -> list[FloatArray]:
        """Gases that items upstream held before the step and that pass through this one.

        Each is an array (species, trials), equal to the gas held here where nothing passes. Any
        two of them, and the old and the new gas here, can meet.
        """
        ...

    def measure(
        self, kind: Kind, quantity: Quantity, at: str, of: str = "", note: str = ""
    ) -> Measure: ...


@dataclass(frozen=True, slots=True)
class Computation:
    """One function that computes measures of one or more kinds.

    `needs` names kinds whose measures must exist first; `limits` names entries of the ruleset's
    limits that the function reads through ``setup.limit(name)``.
    """

    kinds: tuple[Kind, ...]
    compute: Callable[[Setup], Iterable[Measure]]
    needs: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
