"""What a generator can give before its charge is used: the gas that the reagents in it make.

A charge is a stated amount of the gas, or follows from the generator's equation and the stated
amounts of what reacts: the one that runs out first bounds it. Without either nothing bounds it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.reference.data import parse_formula
from review.reference.finding import Reference
from review.scenario.models import Reagent
from review.walk.feeds import Reader, composition
from review.walk.reactions import Term, stoichiometry
from review.walk.resolve import Resolved

#: Share of a charge that is left when it counts as used up: rounding.
NOTHING = 1e-9


def charges(resolved: Resolved, number: Reader) -> FloatArray:
    """Gas that each flow's reagent can still give when it is fresh, mol, (flows, runs).

    Infinite where nothing bounds it: cylinders run empty by another reckoning.
    """
    flows = resolved.scenario.flows.values()
    out = np.full((len(flows), number.runs.size), np.inf)
    for n, flow in enumerate(flows):
        reagent = resolved.scenario.reagents[flow.reagent]
        if reagent.held is not None and reagent.held.as_ == "generator":
            known = [_stated(resolved, flow.reagent, number), _made(resolved, reagent, number)]
            bounds = [np.where(np.isnan(k), np.inf, k) for k in known if k is not None]
            out[n] = np.min(bounds, axis=0) if bounds else np.inf
    return out


def shared(resolved: Resolved, drawn: FloatArray) -> FloatArray:
    """What all flows of the same reagent have drawn together, (flows, runs)."""
    of = [flow.reagent for flow in resolved.scenario.flows.values()]
    same = np.array([[a == b for b in of] for a in of], dtype=float).reshape(len(of), len(of))
    return np.asarray(same @ drawn)


def left(resolved: Resolved, number: Reader, drawn: FloatArray) -> FloatArray:
    """What is left of each flow's charge, mol, (flows, runs); 0 once it is used up."""
    fresh = charges(resolved, number)
    rest = fresh - shared(resolved, drawn)
    used_up = np.isfinite(fresh) & (rest <= NOTHING * fresh)
    return np.asarray(np.where(used_up, 0.0, rest))


def _stated(resolved: Resolved, name: str, number: Reader) -> FloatArray | None:
    """The amount of the gas that the file states, mol."""
    reagent = resolved.scenario.reagents[name]
    if reagent.amount is None:
        return None
    amount = number(f"reagents.{name}.amount")
    if reagent.amount.by == "mass":
        return np.asarray(
            amount / (resolved.properties.molar_masses @ composition(resolved, name, number))
        )
    if reagent.amount.by == "volume":
        room = number("ambient.pressure"), number("ambient.temperature")
        return np.asarray(gas_physics.amount(room[0], amount, room[1]))
    return amount


def _made(resolved: Resolved, reagent: Reagent, number: Reader) -> FloatArray | None:
    """What the equation makes of the reagents of which the file states how much there is, mol."""
    held = reagent.held
    if held is None or held.equation is None:
        return None
    reference = resolved.reference
    try:
        terms = stoichiometry(held.equation, reference)
    except ValueError:
        return None
    gases = [_elements(reference.substance(t).formula) for t in reagent.composition]
    made = sum(t.coefficient for t in terms if t.coefficient > 0 and _is(t, gases))
    bounds = [
        np.sum(found, axis=0) / -term.coefficient * made
        for term in terms
        if term.coefficient < 0 and (found := list(_present(resolved, term, number)))
    ]
    return np.min(bounds, axis=0) if bounds and made > 0 else None


def _is(term: Term, formulas: Sequence[dict[str, float]]) -> bool:
    own = _elements(term.formula)
    return bool(own) and own in formulas


def _elements(formula: str) -> dict[str, float]:
    """What a formula counts; nothing of what has none, such as soda lime."""
    try:
        return parse_formula(formula)
    except ValueError:
        return {}


def _present(resolved: Resolved, term: Term, number: Reader) -> Iterable[FloatArray]:
    """Every stated amount of what reacts, mol; NaN where a reagent holds it but not how much."""
    for name, reagent in resolved.scenario.reagents.items():
        if reagent.state == "gas":
            continue
        substances = {t: resolved.reference.substance(t) for t in reagent.composition}
        for text, substance in substances.items():
            if _is(term, [_elements(substance.formula)]):
                share = number(f"reagents.{name}.composition.{text}")
                if reagent.basis == "mole":
                    masses = sum(
                        number(f"reagents.{name}.composition.{t}") * s.molar_mass
                        for t, s in substances.items()
                    )
                    share = share * substance.molar_mass / masses
                elif reagent.basis == "volume":
                    share = np.ones_like(share)  # never too little
                mass = _mass(resolved.reference, name, reagent, number)
                yield share * mass / substance.molar_mass


def _mass(reference: Reference, name: str, reagent: Reagent, number: Reader) -> FloatArray:
    """All of a reagent, kg, as dense as its densest component where no density is stated."""
    stated = reagent.amount
    amount = number(f"reagents.{name}.amount")
    if stated is None or stated.by == "mass":
        return amount
    substances = [reference.substance(text) for text in reagent.composition]
    if stated.by == "molar":
        return amount * max(s.molar_mass for s in substances)
    density = number(f"reagents.{name}.density")
    known = [s.number("liquid_density") for s in substances]
    return amount * np.where(np.isnan(density), np.max(known), density)
