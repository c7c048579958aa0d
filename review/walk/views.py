"""Every item of one cell in numbers, with its reactions, absorbents and vapours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from review.interface.items import Absorption, ItemView, Reaction, Vapour
from review.interface.measure import FloatArray
from review.scenario.models import ItemModel as Item
from review.walk.feeds import Reader
from review.walk.heating import Heating
from review.walk.resolve import Resolved
from review.walk.runs import Runs
from review.walk.taking import WATER
from review.walk.valves import lifted


def item_views(
    resolved: Resolved,
    runs: Runs,
    cell: int,
    heat: Heating,
    *,
    before: bool,
    known: dict[int, ItemView],
) -> list[ItemView]:
    """Every item in numbers at one cell, as hot, as cold and as ready to react as it then is.

    Items that no overlay touches are the same in every cell of these runs and are kept in `known`.
    Where the line is lifted out of a liquid, the item before it lets all its gas out (`ends_here`).
    """
    number = Reader(runs, cell, before)
    shared = runs.changes("ambient.")
    views = []
    for i, item in enumerate(resolved.scenario.train):
        view = known.get(i)
        if view is None:
            view = _view(resolved, item, number)
            if not shared and not runs.changes(f"train.{item.id}."):
                known[i] = view
        if i in heat.heated or i in heat.started:
            view = replace(view, active=heat.started.get(i), heated=heat.heated.get(i))
        if i in heat.bath:
            view = replace(view, numbers={**view.numbers, "bath_temperature": heat.bath[i]})
        if not np.isnan(heat.cold[i]).all():
            view = replace(view, cold=heat.cold[i])
        views.append(view)
    for k, up in lifted(resolved, cell, number).items():
        views[k] = replace(views[k], numbers={**views[k].numbers, "lifted": up})
        for j in resolved.graph.upstream[k]:
            own = views[j].numbers
            lets_out = np.maximum(own["open_outward"], up)
            ends = {"open_outward": lets_out, "ends_here": up}
            views[j] = replace(views[j], numbers={**own, **ends})
    return views


def _view(resolved: Resolved, item: Item, number: Reader) -> ItemView:
    prefix = f"train.{item.id}."
    values = {path[len(prefix) :]: number(path) for path in resolved.paths[item.id]}
    material = None if item.material is None else resolved.reference.material(item.material)
    return ItemView(
        model=item,
        numbers=values,
        size=number.runs.size,
        material=material,
        reactions=_reactions(resolved, item, number),
        absorptions=_absorptions(resolved, item, number),
        vapours=vapours(resolved, resolved.liquids.get(item.id, {})),
        liquid_density=_held_density(resolved, item),
        ambient=number("ambient.temperature"),
        room_pressure=number("ambient.pressure"),
    )


def _reactions(resolved: Resolved, item: Item, number: Reader) -> tuple[Reaction, ...]:
    out = []
    for n, terms in enumerate(resolved.reactions[item.id]):
        coefficients = np.zeros(len(resolved.species))
        for term in terms:
            if term.substance is not None and term.substance.name in resolved.index:
                coefficients[resolved.index[term.substance.name]] += term.coefficient
        declared = item.reactions[n]
        limiting = resolved.reference.substance(declared.limiting).name
        path = f"train.{item.id}.reactions.{n}."
        out.append(
            Reaction(
                declared.equation,
                resolved.index[limiting],
                coefficients,
                np.where(number(f"train.{item.id}.complete") > 0, 1.0, number(path + "conversion"))
                * number(f"train.{item.id}.reacting"),
                number(path + "selectivity"),
            )
        )
    return tuple(out)


def _absorptions(resolved: Resolved, item: Item, number: Reader) -> tuple[Absorption, ...]:
    out = []
    for text in item.absorbs:
        substance = resolved.reference.substance(text)
        if substance.name not in resolved.index:
            continue
        path = f"train.{item.id}.absorbs.{text}."
        efficiency = number(path + "efficiency") * number(f"train.{item.id}.absorbing")
        if (item.id, substance.name) not in resolved.credited:
            efficiency = np.zeros_like(efficiency)
        stated = number(path + "capacity")
        capacity = np.where(
            np.isnan(stated), _bound(resolved, item, substance.name, number), stated
        )
        others = resolved.rivals.get((item.id, substance.name), {})
        rivals = tuple((resolved.index[name], share) for name, share in others.items())
        out.append(Absorption(resolved.index[substance.name], efficiency, capacity, rivals))
    return tuple(out)


def _bound(resolved: Resolved, item: Item, gas: str, number: Reader) -> FloatArray:
    """What the held liquid surely binds of a gas where the file states no capacity, mol."""
    dense = number(f"reagents.{item.liquid}.density")
    mass = number(f"train.{item.id}.liquid_volume") * np.where(np.isnan(dense), WATER, dense)
    return np.asarray(mass * resolved.binding.get((item.id, gas), np.nan))


#: Organic vapours over water are stronger than Raoult's law says; infinite-dilution activity
#: coefficients of ethanol and acetone in water are 4 to 8 (from memory), taken as 10, and never
#: more than the pure liquid's vapour.
IN_WATER = 10.0


def vapours(resolved: Resolved, liquid: Mapping[str, float]) -> tuple[Vapour, ...]:
    """What a liquid of these mole fractions gives off: sourced partial pressures, else by Raoult.

    A dissolved solid gives off nothing.
    """
    watery = liquid.get("water", 0.0) >= 0.5
    masses = {n: x * resolved.reference.substance(n).molar_mass for n, x in liquid.items()}
    out = []
    for name, share in liquid.items():
        if name not in resolved.index:
            continue
        substance = resolved.species[resolved.index[name]]
        table = resolved.reference.solution(name, "water") if "water" in liquid else None
        if table is not None:
            strength = masses[name] / sum(masses.values())
            out.append(Vapour(resolved.index[name], substance, share, table.at(strength)))
            continue
        if watery and substance.combustible is not False:
            share = min(1.0, IN_WATER * share)
        out.append(Vapour(resolved.index[name], substance, share))
    return tuple(out)


def _held_density(resolved: Resolved, item: Item) -> float:
    found = [
        resolved.reference.substance(name).number("liquid_density")
        for name in resolved.liquids.get(item.id, {})
    ]
    known = [x for x in found if not np.isnan(x)]
    return max(known) if known else float("nan")
