"""What a generator can give before its charge is used: the gas that the reagents in it make.

A charge follows from the generator's equation and the amounts of what reacts, the one that runs out
first; where no reagent of the file reacts by it, it is the stated amount of the gas. Without either
nothing bounds it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.reference.data import parse_formula
from review.reference.finding import Reference
from review.scenario.models import Reagent
from review.walk.feeds import Reader, at_the_most, composition
from review.walk.reactions import Term, stoichiometry
from review.walk.resolve import Resolved

#: Strong acid poured on metal or carbide has given most of its gas after so long, s (a judgement,
#: no source: 100 mL of it on zinc make some 8 L a minute).
WHILE_IT_FROTHS = 60.0
#: What reacts alone, and then by current only: hydrogen from water, ozone from oxygen.
ALONE = (["H2O"], ["O2"])
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
            made = _made(resolved, reagent, number)
            known = _stated(resolved, flow.reagent, number) if made is None else made
            if known is not None:
                out[n] = np.where(np.isnan(known), np.inf, known)
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


def lasting(resolved: Resolved, number: Reader, once: FloatArray) -> FloatArray:
    """How long each generator's fresh charge goes on at the most that the file says, s.

    (flows, runs); 0 of what has no charge that could react all at once, NaN where nobody says how
    much there is or what it gives at most. `once` is what `at_once` says of them.
    """
    out = once.copy()
    for n, name in enumerate(resolved.scenario.flows):
        if not (out[n] == 0).all():
            most = at_the_most(resolved, name, number).sum(axis=0)
            out[n] = np.where(most > 0, out[n] / np.where(most > 0, most, 1.0), np.nan)
    return out


def at_once(resolved: Resolved, number: Reader, overheated: bool = False) -> FloatArray:
    """Gas that each generator's fresh charge makes if all of it meets at once, mol, (flows, runs).

    0 of what has no charge that could, NaN where nobody says how much there is. What two solids
    make, or what becomes of water or oxygen alone, takes heat or current: where something heats
    them they count too if they are `overheated`.
    """
    heated = {heat.heats for heat in resolved.scenario.heat.values() if overheated}
    fresh = charges(resolved, number)
    out = np.zeros_like(fresh)
    for n, flow in enumerate(resolved.scenario.flows.values()):
        reagent = resolved.scenario.reagents[flow.reagent]
        if reagent.held is None or reagent.held.as_ != "generator":
            continue
        loose = _loose(resolved, flow.into)
        by_itself = _by_itself(resolved, reagent, loose)
        if by_itself is None:  # nobody says what reacts: all of what may lie in it
            masses = [
                _mass(resolved.reference, each, resolved.scenario.reagents[each], number)
                for each in loose
            ]
            mass = resolved.properties.molar_masses @ composition(resolved, flow.reagent, number)
            fresh[n] = np.fmin(fresh[n], np.sum(masses, axis=0) / mass)
            by_itself = bool(loose)
        if by_itself or flow.into in heated:
            holds_none = resolved.scenario.item(flow.into).liquid is None
            inside = _inside(flow.into, number, holds_none=holds_none)
            meets = _made(resolved, reagent, number, inside)
            fresh[n] = fresh[n] if meets is None else np.fmin(fresh[n], meets)
            out[n] = np.where(np.isfinite(fresh[n]), fresh[n], np.nan)
    return out


def _inside(item: str, number: Reader, *, holds_none: bool) -> FloatArray:
    """What a vessel can hold, m3; NaN where nobody says, or not how much liquid stands in it."""
    capacity, liquid = number(f"train.{item}.capacity"), number(f"train.{item}.liquid_volume")
    if holds_none:
        liquid = np.nan_to_num(liquid, nan=0.0)
    return np.fmax(capacity, number(f"train.{item}.gas_volume") + liquid)


def _by_itself(resolved: Resolved, reagent: Reagent, loose: Sequence[str]) -> bool | None:
    """Whether a generator's reaction needs no heat or current from outside; None: no equation."""
    assert reagent.held is not None
    try:
        terms = stoichiometry(reagent.held.equation or "", resolved.reference)
    except ValueError:
        return None
    react = [t.formula for t in terms if t.coefficient < 0]
    wet = any(t.coefficient < 0 and not t.solid for t in terms)
    liquid = any(resolved.scenario.reagents[name].state == "liquid" for name in loose)
    return (wet or liquid) and react not in ALONE


def _loose(resolved: Resolved, into: str) -> list[str]:
    """Liquids and solids that stand in no other item."""
    items = resolved.scenario.train
    elsewhere = {item.liquid for item in items if item.id != into}
    elsewhere |= {item.packing.material for item in items if item.packing is not None}
    elsewhere |= {flow.reagent for flow in resolved.scenario.flows.values()}
    elsewhere |= {catalyst.material for catalyst in resolved.scenario.catalysts.values()}
    reagents = resolved.scenario.reagents.items()
    return [name for name, r in reagents if r.state != "gas" and name not in elsewhere]


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


def _made(
    resolved: Resolved, reagent: Reagent, number: Reader, room: FloatArray | None = None
) -> FloatArray | None:
    """What the equation makes of the reagents of which the file states how much there is, mol.

    With `room`, the volume of the vessel it is made in: of no liquid can more react at once.
    """
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
        if term.coefficient < 0 and (found := list(_present(resolved, term, number, room)))
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


def _present(
    resolved: Resolved, term: Term, number: Reader, room: FloatArray | None
) -> Iterable[FloatArray]:
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
                if room is not None and reagent.state == "liquid":
                    mass = np.fmin(mass, room * _density(resolved.reference, name, reagent, number))
                yield share * mass / substance.molar_mass


def _mass(reference: Reference, name: str, reagent: Reagent, number: Reader) -> FloatArray:
    """All of a reagent, kg, as dense as its densest component where no density is stated."""
    stated = reagent.amount
    amount = number(f"reagents.{name}.amount")
    if stated is None or stated.by == "mass":
        return amount
    if stated.by == "molar":
        return amount * max(reference.substance(text).molar_mass for text in reagent.composition)
    return amount * _density(reference, name, reagent, number)


def _density(reference: Reference, name: str, reagent: Reagent, number: Reader) -> FloatArray:
    """As stated, else that of its densest component, kg/m3."""
    density = number(f"reagents.{name}.density")
    known = [reference.substance(text).number("liquid_density") for text in reagent.composition]
    return np.asarray(np.where(np.isnan(density), np.max(known), density))
