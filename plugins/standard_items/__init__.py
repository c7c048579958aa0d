"""The built-in item kinds: junctions, lines, reactors, bottles, traps, columns, ends."""

from __future__ import annotations

from review import Check, Computation, ItemKind, Overlay, Reference, Scenario, hookimpl

from . import kinds
from . import measures as train_measures
from . import upsets as failures


@hookimpl
def check() -> Check:
    """Describe what the item kinds cover."""
    return Check(
        id="standard_items",
        title="The gas train",
        version="1",
        covers=(
            "flow, composition, temperature, pressure and contact time at every item",
            "gas held, air or liquid drawn back where nothing flows",
        ),
        not_covered=(
            "pulsating flow, condensation that blocks a line, reactions nobody declared",
            "reverse flow through the train; mixing inside an item beyond a stated factor",
        ),
        sources=(
            "Churchill (1977) friction factor; Ergun (1952) packed bed",
            "NFPA 69, annex on purging (from memory)",
        ),
    )


@hookimpl
def item_kinds() -> list[ItemKind]:
    """The kinds a scenario may name."""
    return list(kinds.KINDS)


@hookimpl
def measures() -> list[Computation]:
    """Numbers of the train itself, for reading and for site rules."""
    return [train_measures.TRAIN]


@hookimpl
def upsets(scenario: Scenario, reference: Reference) -> list[Overlay]:
    """Single failures of flows, outlets, ventilation and heat."""
    return failures.upsets(scenario, reference)
