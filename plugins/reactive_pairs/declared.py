"""Whether what two partners do is what the run is for: a declared reaction or a generator's."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review import Pair, Place, Setup, UnknownName

from .present import Presence

#: Classes of what is nothing but lye or lime.
LYE = {"caustic", "lye"}
#: What equations write for it.
LYES = {"sodium hydroxide", "NaOH", "calcium hydroxide", "Ca(OH)2", "potassium hydroxide", "KOH"}


def declared(setup: Setup, place: Place, pair: Pair, a: Presence, b: Presence | None) -> bool:
    """Whether a reaction of the two is declared in the item: it is what the run is for.

    A gas that the pair makes has to be among its products, so that what is breathed is judged. Of
    two that are no gas only a generator's equation counts: the balance of a reactor converts what
    flows in, and would make nothing of them. Of two gases one or both may also be what the reaction
    gives: what they make beside it comes from its own products. A metal that a declared acid
    dissolves meets the acid's water as well; no alkali metal is one. Lime and lye do the same in
    such an equation. A catalyst stands in no equation.
    """
    phases = {one.phase for one in (a, b) if one is not None}
    if pair.harm in ("ignites", "explodes") and phases & {"wall", "seal"}:
        return False  # no run is meant to burn what holds its gas
    both = [one.member for one in (a, b) if one is not None]
    names = {one.name for one in both}
    metals = {one.name for one in both if "active metal" in (one.classes or ())}
    dissolved = set(place.liquid) - {"water"}
    names -= _catalysts(setup, place) & {one.name for one in both if one is not a.member}
    condensed = b is not None and "gas" not in (a.phase, b.phase)
    for terms in place.made if pair.makes and condensed else place.equations:
        reactants, products = (_named(terms, side) for side in (-1, 1))
        gases = b is not None and a.phase == b.phase == "gas" and reactants & _words(a, b)
        known = {
            one.member.name
            for one in (a, b)
            if one is not None
            and _words(one) & (reactants | products if gases else reactants)
        }
        if LYES & reactants:
            known |= {one.name for one in both if one.classes and set(one.classes) <= LYE}
        in_acid = names - metals == {"water"} and metals <= known and bool(dissolved & reactants)
        if (known == names or in_acid) and (not pair.makes or products & set(pair.makes)):
            return True
    return False


def undone(
    setup: Setup, place: Place, pair: Pair, a: Presence, b: Presence | None
) -> NDArray[np.bool_]:
    """Where a gas and what it passes are both made by one declared reaction out of the gas that
    they would make again, and no more of the one comes from elsewhere, (trials,).

    Iron that hydrogen reduces stands in the steam that it makes: the two undo the reaction at most,
    and give no more hydrogen than came.
    """
    none = np.zeros(setup.trials, dtype=bool)
    if b is None or not pair.makes or a.phase != "gas" or a.member.name not in setup.rows:
        return none
    for terms in place.equations:
        reactants, products = (_named(terms, side) for side in (-1, 1))
        back = _words(a) & products and _words(b) & products and set(pair.makes) <= reactants
        if back and b.member.name not in _catalysts(setup, place):
            comes = place.composition("inlet")[setup.rows[a.member.name]]
            return np.asarray(comes <= pair.least[0])
    return none


def _words(*ones: Presence) -> set[str]:
    """Names and formulae of what is present."""
    members = [one.member for one in ones]
    return ({m.name for m in members} | {getattr(m, "formula", "") for m in members}) - {""}


def _catalysts(setup: Setup, place: Place) -> set[str]:
    """Names of the substances that are stated as catalysts in an item."""
    found = set()
    for name, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ == place.id:
            with suppress(UnknownName):
                found.add(setup.reference.substance(catalyst.material or name).name)
    return found


def _named(terms: Iterable[Any], side: int) -> set[str]:
    """Every name of what stands on one side of an equation, -1 for what reacts."""
    found = set()
    for term in terms:
        if term.coefficient * side > 0:
            found |= {term.text, term.formula}
            if term.substance is not None:
                found.add(term.substance.name)
    return found
