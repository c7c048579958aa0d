"""Mixtures of a scenario written out: whoever says `air` has said its nitrogen and oxygen.

Done once, before anything is resolved, so that two ways of saying the same thing are one thing.
"""

from __future__ import annotations

from collections.abc import Mapping

from review.reference.finding import Reference, UnknownName
from review.scenario import Problem, Scenario
from review.scenario.models import Reagent
from review.scenario.yaml import Where


def written_out(scenario: Scenario, reference: Reference, problems: list[Problem]) -> Scenario:
    """The scenario with each mixture replaced by its substances; what is wrong goes to `problems`.

    A composition keeps its own basis: shares of another basis are turned by molar masses. A held
    liquid that is a mixture becomes a liquid reagent of that name. Names that no mixture has stay.
    """
    reagents: dict[str, Reagent] = {}
    for name, reagent in scenario.reagents.items():
        try:
            composition = _composition(reagent, reference)
        except _Wrong as wrong:
            path: Where = ("reagents", name, "composition", wrong.name)
            problems.append(scenario.problem(path, str(wrong), at_key=True))
            composition = {n: x for n, x in reagent.composition.items() if n != wrong.name}
        if composition is not None:
            reagents[name] = reagent.model_copy(update={"composition": composition})
    train = list(scenario.train)
    for i, item in enumerate(train):
        if item.liquid is None or item.liquid in scenario.reagents:
            continue
        label = item.liquid.replace(".", ",")  # a point separates the parts of a path
        while label in scenario.reagents:
            label += "'"
        said = {item.liquid: 1.0}
        held = Reagent.model_construct(state="liquid", basis="mass", composition=said)
        try:
            composition = _composition(held, reference)
        except _Wrong as wrong:
            problems.append(scenario.problem(("train", i, "liquid"), str(wrong)))
            train[i] = item.model_copy(update={"liquid": None})
            continue
        if composition is not None:
            reagents[label] = held.model_copy(update={"composition": composition})
            train[i] = item.model_copy(update={"liquid": label})
    if not reagents and not problems:
        return scenario
    return scenario.model_copy(
        update={"reagents": {**scenario.reagents, **reagents}, "train": train}
    )


class _Wrong(ValueError):
    """A mixture that cannot stand where it does."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name = name


def _composition(reagent: Reagent, reference: Reference) -> dict[str, float] | None:
    """Fractions of the substances in the reagent's basis, None where no mixture stands in it."""
    parts: dict[str, Mapping[str, float]] = {}
    for text in reagent.composition:
        try:
            mixture, strength = reference.mixture(text)
            if mixture.state != reagent.state:
                raise ValueError(f"{mixture.name} is a {mixture.state}, no {reagent.state}")
            given = mixture.parts(strength)
            parts[text] = _in_basis(given, mixture.basis, reagent, reference)
        except UnknownName:
            continue
        except ValueError as error:
            raise _Wrong(text, str(error)) from None
    if not parts:
        return None
    total: dict[str, float] = {}
    for text, share in reagent.composition.items():
        for component, part in parts.get(text, {_own_name(text, reference): 1.0}).items():
            total[component] = total.get(component, 0.0) + float(share) * part
    return total


def _in_basis(
    parts: Mapping[str, float], basis: str, reagent: Reagent, reference: Reference
) -> Mapping[str, float]:
    wanted = "mole" if reagent.state == "gas" and reagent.basis == "volume" else reagent.basis
    if wanted == basis:
        return parts
    if wanted == "volume":
        raise ValueError(f"its composition counts by {basis}: write basis {basis}, not volume")
    masses = {name: reference.substance(name).molar_mass for name in parts}
    turned = {n: x * masses[n] if wanted == "mass" else x / masses[n] for n, x in parts.items()}
    total = sum(turned.values())
    return {name: x / total for name, x in turned.items()}


def _own_name(text: str, reference: Reference) -> str:
    try:
        return reference.substance(text).name
    except UnknownName:
        return text  # reported where names are resolved, at its place
