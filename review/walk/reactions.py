"""Reaction equations: reading, balancing over the elements, and coefficients over species."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass

from review.reference.data import HYDRATE
from review.reference.finding import Reference, Substance, UnknownName, parse_formula

_TERM = re.compile(r"^(?P<count>\d+(\.\d+)?)?\s*(?P<name>.+?)\s*(?P<phase>\((s|l|g|aq)\))?$")


@dataclass(frozen=True, slots=True)
class Term:
    """One side's term: coefficient (products positive), the gas substance or None for a solid."""

    coefficient: float
    text: str
    formula: str
    substance: Substance | None
    solid: bool = False
    """Marked (s), or a solid at 20 degC by the data."""


def stoichiometry(
    text: str, reference: Reference, present: Collection[Substance] = ()
) -> tuple[Term, ...]:
    """The same of an equation in which nothing needs to be known but its formula."""
    return _read(text, reference, known=False, present=present)


def parse_equation(
    text: str, reference: Reference, present: Collection[Substance] = ()
) -> tuple[Term, ...]:
    """Read ``CuO(s) + H2 -> Cu(s) + H2O`` into terms; ValueError says what is wrong.

    A term is a formula or a substance's name with an optional count before it and phase after it.
    Terms marked (s) take no part in the gas and need no reference data. The elements must balance.
    A formula that several substances have means the one of them that is `present`.

    >>> [t.coefficient for t in parse_equation("2 H2 + O2 -> 2 H2O", Reference())]
    [-2.0, -1.0, 2.0]
    """
    return _read(text, reference, known=True, present=present)


def _read(
    text: str, reference: Reference, *, known: bool, present: Collection[Substance] = ()
) -> tuple[Term, ...]:
    sides = re.split(r"\s*(?:->|→)\s*", text.strip())
    if len(sides) != 2 or not all(sides):
        raise ValueError(f'reaction "{text}" needs one "->" between its two sides')
    terms: list[Term] = []
    for sign, side in zip((-1.0, 1.0), sides, strict=True):
        for part in re.split(r"\s+\+\s+", side):
            terms.append(_term(sign, part, reference, known, present))
    _balance(text, terms)
    return tuple(terms)


def _term(
    sign: float, part: str, reference: Reference, known: bool, present: Collection[Substance]
) -> Term:
    match = _TERM.match(part.strip())
    if match is None:
        raise ValueError(f'"{part}" is no term of a reaction')
    name = match["name"]
    count = sign * float(match["count"] or 1)
    if match["phase"] == "(s)":
        return _solid(count, name, reference, present)
    try:
        there = _among(present, name)
        substance = there or reference.substance(name)
        if not substance.can_be_gas:
            solid = substance.phase_at_20C == "solid"
            own = name if HYDRATE.match(name) else substance.formula
            return Term(count, name if there is None else there.name, own, None, solid)
    except UnknownName as unknown:
        if not known:
            parse_formula(name)
            return Term(count, name, name, None)
        if unknown.why:
            raise ValueError(unknown.why) from None
        hint = f" (did you mean {unknown.nearest[0]!r}?)" if unknown.nearest else ""
        with suppress(ValueError):
            if len(parse_formula(name)) > 1:
                hint = f' (a solid that no data file knows is written "{name}(s)")'
        raise ValueError(
            f'"{name}" in a reaction is neither a known substance nor an unambiguous formula{hint}'
        ) from None
    return Term(count, name, substance.formula, substance)


def given_off(terms: Iterable[Term], equation: str, item: str) -> str:
    """How to write a solid or liquid that gives off gas; '' where a gas reacts."""
    gases = [t.coefficient for t in terms if t.substance and t.substance.phase_at_20C == "gas"]
    vapours = [t.coefficient for t in terms if t.substance]
    if not vapours or min(gases or vapours) < 0:
        return ""
    return (
        "; of a solid or liquid that gives off gas write that gas as a reagent, "
        f"'held: {{as: generator, equation: {equation}, rate: 10 mL/min, limited_by: heat}}', "
        f"with a flow into {item}"
    )


def no_gas(terms: Iterable[Term]) -> str:
    """What to write of a reaction in a liquid that makes no gas; '' of another one."""
    gases = [t.text for t in terms if t.substance and t.substance.phase_at_20C == "gas"]
    return "" if gases else (
        "; of what reacts in a liquid and makes no gas write 'reactions: none': what meets there "
        "is judged by what the reagents are, the heat of this reaction is not"
    )


def net(terms: Sequence[Term], substance: Substance) -> float:
    """What an equation makes of a substance less what it takes."""
    return sum(t.coefficient for t in terms if t.substance and t.substance.name == substance.name)


def _among(present: Collection[Substance], name: str) -> Substance | None:
    """The only one of these substances with this formula, in whatever order of its atoms."""
    try:
        atoms = parse_formula(name)
    except ValueError:
        return None
    found = [s for s in present if s.elements == atoms]
    return found[0] if len(found) == 1 else None


def _solid(
    count: float, name: str, reference: Reference, present: Collection[Substance]
) -> Term:
    """A term marked (s): a solid, known or not, that takes no part in the gas.

    One whose formula has its atoms in another order is that of the solids at hand.
    """
    try:
        substance = reference.substance(name)
    except UnknownName:
        parse_formula(name)
        solids = [s for s in present if s.phase_at_20C == "solid"]
        same = _among(solids, name)
        return Term(count, name if same is None else same.name, name, None, solid=True)
    if substance.phase_at_20C in ("gas", "liquid"):
        raise ValueError(
            f'"{name}" is marked (s), but {substance.name} is a {substance.phase_at_20C} at 20 degC'
        )
    own = name if HYDRATE.match(name) else substance.formula
    return Term(count, name, own, None, solid=True)


def _balance(text: str, terms: list[Term]) -> None:
    totals: dict[str, float] = {}
    for term in terms:
        for element, count in parse_formula(term.formula).items():
            totals[element] = totals.get(element, 0.0) + term.coefficient * count
    off = {element: n for element, n in totals.items() if abs(n) > 1e-6}
    if off:
        said = ", ".join(
            f"{abs(n):g} {element} too many on the {'right' if n > 0 else 'left'}"
            for element, n in sorted(off.items())
        )
        raise ValueError(f'reaction "{text}" is not balanced: {said}')
