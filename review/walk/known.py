"""What a check sees of a set-up before anything is walked: the same in all runs."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence

from review.interface import setup as interface
from review.interface.measure import FloatArray
from review.reference.finding import Reference, Substance
from review.scenario import Scenario
from review.scenario.models import ItemModel
from review.walk.resolve import Resolved


class Known:
    """A scenario with its names looked up."""

    resolved: Resolved

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

    @property
    def rows(self) -> Mapping[str, int]:
        """The row of each species in arrays of compositions."""
        return self.resolved.index

    @property
    def steps(self) -> Sequence[interface.Step]:
        """The steps that are played."""
        return self.resolved.steps

    @property
    def reactions(self) -> Mapping[str, tuple[tuple[interface.Term, ...], ...]]:
        """The declared reactions of each item."""
        return self.resolved.reactions

    @property
    def liquids(self) -> Mapping[str, Mapping[str, float]]:
        """Mole fractions of the liquid in each item."""
        return self.resolved.liquids

    @property
    def bottled(self) -> Mapping[str, Mapping[str, float]]:
        """Mole fractions of each liquid reagent."""
        return self.resolved.bottled

    @property
    def fresh_air(self) -> FloatArray:
        """Mole fractions of dry air."""
        return self.resolved.air

    @property
    def heat_capacities(self) -> FloatArray:
        """cp/R of each species."""
        return self.resolved.properties.heat_capacities

    def states(self, path: str) -> bool:
        """Whether the file gives a number at this path."""
        return path in self.resolved.base

    def paths(self, prefix: str) -> Sequence[str]:
        """The paths of all numbers that begin so."""
        return [path for path in self.resolved.base if path.startswith(prefix)]


#: When a generator gives the most, by what limits it.
OPEN_WIDE = {
    "dropping funnel": " with the funnel's tap wide open", "current": " at the highest current",
    "heat": " when it is heated hardest",
}  # fmt: skip


def bed_lacks(item: ItemModel) -> Iterator[str]:
    """What of an item's packing is not stated, without which it has no pressure loss."""
    packing = item.packing
    if packing is not None:
        if packing.particle_diameter is None and packing.fibre_diameter is None:
            yield (
                "particle_diameter (of a foil or boat 10 mm) or fibre_diameter "
                "(wool 4 um, voidage 85 %)"
            )
        elif packing.voidage is None and packing.particle_diameter is None:
            yield 'voidage (wool, such as "voidage: 85 %")'
        if packing.length is None and item.length is None:
            yield "length"


def unbounded(scenario: Scenario, unknown: Container[str]) -> Iterator[str]:
    """Heaters of which nobody says how hot they get, of the items that are as hot as unknown."""
    for name, heat in scenario.heat.items():
        if heat.heats in unknown and heat.hottest is None:
            yield f'how hot {name} can get (write the most, such as "hottest: 300 degC")'


def endless(scenario: Scenario, flows: Iterable[str]) -> Iterator[str]:
    """Flows of which nobody says how much can come at most."""
    for name in flows:
        held = scenario.reagents[scenario.flows[name].reagent].held
        when = OPEN_WIDE.get(held.limited_by or "", "") if held is not None else ""
        yield (
            f"at_most of {name} (the most that can come{when}, such as "
            '"at_most: 2 L/min", at its flow)'
        )


def unpressing(scenario: Scenario) -> str:
    """The pressure of the supplies of which nobody says how hard they press, with their names."""
    lacking = [
        name
        for name, flow in scenario.flows.items()
        if flow.shut_off_pressure is None
        and ((held := scenario.reagents[flow.reagent].held) is None
             or (held.regulator is None and held.as_ != "room air"))
    ]  # fmt: skip
    liquid = any(scenario.reagents[scenario.flows[n].reagent].state == "liquid" for n in lacking)
    pours = "; what runs in by its weight: 0.1 bar gauge for each metre" if liquid else ""
    named = " and ".join(lacking) or "its flow"
    return (
        f"pressure that a supply can reach (not given: write shut_off_pressure at {named}, "
        f"or regulator where it is held{pours})"
    )


def unregulated(scenario: Scenario) -> Iterator[str]:
    """Gases from a line of the house behind a regulator of which nobody says what presses on it:
    what comes when that fails, and all that follows from it, is not known."""
    used = {flow.reagent for flow in scenario.flows.values()}
    for name in sorted(used):
        held = scenario.reagents[name].held
        if held is not None and held.regulator is not None and held.pressure is None:
            yield (
                f"pressure before the regulator of {name} (write under held what the line or "
                'bottle has, such as "pressure: 8 bar gauge")'
            )


def unmetered(scenario: Scenario) -> Iterator[str]:
    """Burners of which nobody says how much gas goes on when their flame is out."""
    for name, heat in scenario.heat.items():
        reagent = scenario.reagents.get(heat.fuel or "")
        if heat.fuel_rate is None and reagent is not None and reagent.state == "gas":
            yield f'how much gas {name} burns (write such as "fuel_rate: 1 L/min" under heat)'
