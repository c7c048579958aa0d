"""The solids of declared reactions: which lie in an item, and how much is made of them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import numpy as np

from review import FloatArray, Material, Place, Setup, Substance, UnknownName

Member = Substance | Material
#: Mole fraction from which on a gas counts as having come.
COME = 1e-6
#: What takes the oxide off a metal, how much of it, and from which temperature on, K: nickel and
#: cobalt catalysts are reduced from about 200 degC (common practice, no source).
REDUCING, SOME, WARM = ("hydrogen", "carbon monoxide"), 0.001, 423.15
#: Mole fraction of oxygen in the gas that covers such a metal without a fire, with a margin.
THIN = 0.05


def find(setup: Setup, text: str) -> Member | None:
    with suppress(UnknownName):
        return setup.reference.substance(text)
    with suppress(UnknownName):
        return setup.reference.material(text)
    return None


def reacting(setup: Setup, place: Place) -> Iterator[str]:
    """The solids of declared reactions that are not named as a part of the item as well.

    What reacts and is in the file as a solution alone, here or let in here, is no solid: its share
    of that liquid counts, as it does where no equation names it.
    """
    made_of = {name for name, part in place.parts if part == "packing"}
    dissolved = _dissolved_only(setup, place)
    for terms in place.equations:
        for term in terms:
            if term.substance is None and term.text not in made_of:
                reacts = term.coefficient < 0 and "(s)" not in term.text
                if not (reacts and getattr(find(setup, term.text), "name", "") in dissolved):
                    yield term.text


def _dissolved_only(setup: Setup, place: Place) -> set[str]:
    """Names of what a liquid holds that is here or is let in, and no solid of the file."""
    lets_in = {f.reagent for f in setup.scenario.flows.values() if f.into == place.id}
    lets_in |= {name for name, at in setup.scenario.let_in if at == place.id}
    wet, dry = set(place.liquid), {name for name, _ in place.parts} | set(place.solids)
    for name, reagent in setup.scenario.reagents.items():
        into = wet if name in lets_in and reagent.state == "liquid" else dry
        if into is wet or reagent.state == "solid":
            into |= {setup.reference.substance(one).name for one in reagent.composition}
    return wet - {getattr(find(setup, name), "name", name) for name in dry}


def made(setup: Setup, place: Place, text: str) -> FloatArray:
    """1 in trials in which a solid of a declared reaction may lie in an item, (trials,).

    What only reactions here make of gases that come is not there before these have come for the
    first time; what else the file names, or what makes it of no gas, always is. A procedure that is
    begun again finds it there.
    """
    member = find(setup, text)
    named = {
        name
        for r in setup.scenario.reagents.values()
        if r.state != "gas"
        for one in r.composition
        for name in (one, getattr(find(setup, one), "name", one))
    }
    comes = np.zeros(setup.trials, dtype=bool)
    for terms in place.equations:
        mine = [t for t in terms if t.substance is None and find(setup, t.text) == member]
        rows = [
            setup.rows[t.substance.name]
            for t in terms
            if t.coefficient < 0 and t.substance is not None and t.substance.name in setup.rows
        ]
        uses = any(t.coefficient < 0 for t in mine)
        stands = terms not in setup.reactions.get(place.id, ()) or not rows
        if uses or (mine and stands) or {text, getattr(member, "name", text)} & named:
            return np.ones(setup.trials)
        if mine:
            comes |= ~(setup.comes(place)[rows].min(axis=0) <= COME)
    cells = comes.reshape(setup.shape)
    cells[1:] = np.logical_or.accumulate(cells[1:], axis=0)
    again = [overlay.id.startswith("begun again") for overlay in setup.runs.overlays]
    return np.asarray((cells | np.array(again)).reshape(-1), dtype=np.float64)


def reduced(setup: Setup, place: Place, above: float = WARM) -> FloatArray:
    """1 in trials of the plan with gas on its way through an item, before whose step a metal that
    lies there lost its oxide, (trials,); what little a failure lets in makes no such fire."""
    rows = [setup.rows[name] for name in REDUCING if name in setup.rows]
    found = np.zeros(setup.shape)
    if rows:
        comes = ~(setup.comes(place)[rows].max(axis=0) < SOME) & ~(place.hottest.value < above)
        cells = np.logical_or.accumulate(comes.reshape(setup.shape)[1:], axis=0)
        stays = [name for name in setup.rows if setup.reference.substance(name).oxidiser]
        air = place.composition("inlet")[[setup.rows[name] for name in stays]].sum(axis=0)
        swept = ~(place.moving <= 0) & ~(air < THIN)  # no slug of it that stood in a line
        found[2:] = cells[:-1] & swept.reshape(setup.shape)[2:]
        found[:, [overlay.case == "upset" for overlay in setup.runs.overlays]] = 0.0
    return found.reshape(-1)


def made_of(setup: Setup, place: Place, name: str) -> float:
    """Mass of a solid that the declared reactions of an item make at the most, kg: by the equations
    of the solids that the file has, or of the gas that flows bring in any run; infinite where it
    does not say how much, or where some that no gas made lies there."""
    found, bounded = 0.0, False
    for terms in setup.reactions.get(place.id, ()):
        solids = [(t.coefficient, find(setup, t.text)) for t in terms if t.substance is None]
        gives = [(n, one) for n, one in solids if n > 0 and one is not None and one.name == name]
        if not gives:
            continue
        takes = [(n, one) for n, one in solids if n < 0 and isinstance(one, Substance)]
        most = [
            stock(setup, one.name) / one.molar_mass * gives[0][0] / -n * gives[0][1].molar_mass
            for n, one in takes
            if isinstance(gives[0][1], Substance)
        ]
        if not takes and isinstance(gives[0][1], Substance) and name not in _lies(setup, place):
            each = gives[0][0] * gives[0][1].molar_mass
            most = [
                _brought(setup, place, t.substance.name) / -t.coefficient * each
                for t in terms
                if t.coefficient < 0 and t.substance is not None
            ]
        found, bounded = found + min(most, default=np.inf), True
    return found if bounded and found >= 0 else np.inf


def _lies(setup: Setup, place: Place) -> set[str]:
    """Names of what an item is packed with, holds or has as its catalyst."""
    catalysts = [
        each.material or name
        for name, each in setup.scenario.catalysts.items()
        if each.in_ == place.id
    ]  # fmt: skip
    named = [*catalysts, *(name for name, _ in place.parts), *place.solids, *place.unplaced]
    return {getattr(find(setup, name), "name", name) for name in named}


def _brought(setup: Setup, place: Place, name: str) -> float:
    """The most of a gas that may come here in any run, mol: its largest share of all that flows
    bring by then; without end where nobody knows, or where it comes undiluted."""
    if name not in setup.rows:
        return np.inf
    share = float(setup.comes(place)[setup.rows[name]].max())
    fed = setup.stacked("fed").sum(axis=0).reshape(setup.shape)[1:]
    lasts = np.array([setup.duration(n) for n in range(1, setup.shape[0])])
    most = float(np.where(fed == 0, 0.0, fed * lasts).sum(axis=0).max())
    return share / (1.0 - share) * most if share < 1.0 and most < np.inf else np.inf


def stock(setup: Setup, name: str) -> float:
    """The most of a solid in all reagents that hold it, kg; infinite where one does not say."""
    found = []
    for reagent, said in setup.scenario.reagents.items():
        holds = {setup.reference.substance(text).name for text in said.composition}
        if said.state != "gas" and name in holds:
            known = said.amount is not None and said.amount.by == "mass"
            amount = setup.number(f"reagents.{reagent}.amount").value.max()
            found.append(amount if known else np.inf)
    return float(sum(found)) if found else np.inf
