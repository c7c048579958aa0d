"""What absorbents take up: for which pairs a source says so, how much they surely bind, and what
else uses them up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from review.interface.items import ItemKind
from review.reference.finding import Reference, Substance, UnknownName
from review.scenario import Scenario
from review.scenario.yaml import Where

#: A solution without a stated density is no denser than water, kg/m3: it binds less.
WATER = 1000.0


def credited(
    scenario: Scenario,
    reference: Reference,
    kinds: Sequence[ItemKind],
    liquids: Mapping[str, Mapping[str, float]],
) -> frozenset[tuple[str, str]]:
    """Pairs of item and species whose absorption the item's kind has a source for."""
    out = set()
    for item, kind in zip(scenario.train, kinds, strict=True):
        holds = [*liquids.get(item.id, ())]
        if item.packing is not None and item.packing.material is not None:
            with suppress(UnknownName):
                holds.append(reference.substance(item.packing.material).name)
        for text in item.absorbs:
            substance = reference.substance(text)
            if kind.credits_absorption(tuple(holds), substance.name):
                out.add((item.id, substance.name))
    return frozenset(out)


def binding(
    scenario: Scenario,
    reference: Reference,
    kinds: Sequence[ItemKind],
    liquids: Mapping[str, Mapping[str, float]],
    credited: frozenset[tuple[str, str]],
) -> dict[tuple[str, str], float]:
    """Moles of each such gas that a kilogram of its item's liquid surely binds."""
    out = {}
    for item, kind in zip(scenario.train, kinds, strict=True):
        moles = _per_mass(reference, liquids.get(item.id, {}))
        if moles:
            for at, gas in credited:
                if at == item.id:
                    out[at, gas] = kind.binds(moles, gas)
    return out


def rivals(
    scenario: Scenario,
    reference: Reference,
    kinds: Sequence[ItemKind],
    liquids: Mapping[str, Mapping[str, float]],
    credited: frozenset[tuple[str, str]],
    species: Sequence[Substance],
) -> dict[tuple[str, str], dict[str, float]]:
    """In a liquid every other gas takes its part; on a bed those it is for share it already."""
    out: dict[tuple[str, str], dict[str, float]] = {}
    for item, kind in zip(scenario.train, kinds, strict=True):
        moles = _per_mass(reference, liquids.get(item.id, {}))
        bed = None
        if item.packing is not None and item.packing.material is not None:
            with suppress(UnknownName):
                bed = reference.substance(item.packing.material).name
        for at, gas in credited:
            for other in (s.name for s in species if at == item.id and s.name != gas):
                if moles or (at, other) not in credited:
                    share = kind.takes(moles, bed, gas, other)
                    if share > 0:
                        out.setdefault((at, gas), {})[other] = share
    return out


def _per_mass(reference: Reference, fractions: Mapping[str, float]) -> dict[str, float]:
    """Moles of each component in a kilogram of a liquid; empty where there is none."""
    mass = sum(x * reference.substance(name).molar_mass for name, x in fractions.items())
    return {name: x / mass for name, x in fractions.items()} if mass > 0 else {}


#: A stated capacity may lie below what counts without one by so much: rounding.
ROUNDED = 0.95


def too_little(
    scenario: Scenario, reference: Reference, surely: Mapping[tuple[str, str], float]
) -> Iterator[tuple[Where, str]]:
    """Stated capacities below what the liquid surely binds (`binding`) at the strength that is
    stated too: where each stands in the file, and what to write."""
    for i, item in enumerate(scenario.train):
        for text, stated in item.absorbs.items():
            if stated.capacity is None or item.liquid_volume is None:
                continue
            reagent = scenario.reagents.get(item.liquid or "")
            dense = WATER if reagent is None or reagent.density is None else reagent.density
            per_mass = surely.get((item.id, reference.substance(text).name), 0.0)
            least = item.liquid_volume * dense * per_mass
            if stated.capacity < ROUNDED * least:
                said = f"at the strength stated the liquid binds {least:.2g} mol: leave this out, "
                said += "or state how strong it is now, if it is partly used"
                yield ("train", i, "absorbs", text, "capacity"), said
