"""Reactions in a held liquid that neither take nor make a gas: the balance knows gases alone.

Such a reaction is taken out of the balance where it makes no other vapour than water's and what the
liquid holds anyway: the liquid then counts as it was poured in, never thinner. Its heat is not
judged, which a note says.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress

from review.reference.finding import Reference, Substance, UnknownName
from review.scenario import Scenario
from review.scenario.apparatus import Reaction
from review.scenario.models import ItemModel
from review.walk.reactions import no_gas, parse_equation


def settled(scenario: Scenario, reference: Reference, notes: list[str]) -> Scenario:
    """The scenario without reactions in liquids that make no gas.

    An item that declares another reaction too keeps all of them.
    """
    present, train = _present(scenario, reference), []
    for item in scenario.train:
        calm = [_in_liquid(scenario, item, each, reference, present) for each in item.reactions]
        if calm and all(calm):
            notes.append(f'the heat of what reacts in the liquid of "{item.id}" is not judged')
            item = item.model_copy(update={"reactions": type(item.reactions)()})
        train.append(item)
    return scenario.model_copy(update={"train": train}) if notes else scenario


def _in_liquid(
    scenario: Scenario,
    item: ItemModel,
    reaction: Reaction,
    reference: Reference,
    present: Sequence[Substance],
) -> bool:
    """Whether a reaction is of what an item's liquid holds and makes no gas and no new vapour."""
    if item.liquid is None:
        return False
    # A partner may stand ready in another vessel, as in a burette.
    held = _named([item.liquid], reference)
    for reagent in scenario.reagents.values():
        held |= _named(reagent.composition, reference) if reagent.state == "liquid" else set()
    try:
        terms = parse_equation(reaction.equation, reference, present)
        limiting = reference.substance(reaction.limiting).name
    except (ValueError, UnknownName):
        return False
    vapours = {t.substance.name for t in terms if t.substance and t.coefficient < 0}
    made = [t for t in terms if t.substance and t.coefficient > 0]
    made_new = {t.substance.name for t in made if t.substance} - {"water"} - held
    # One that a vapour limits the balance knows, and what it declares counts.
    return limiting not in vapours and vapours <= held and not made_new and bool(no_gas(made))


def _present(scenario: Scenario, reference: Reference) -> list[Substance]:
    """What the reagents consist of, as far as it is known."""
    found = list[Substance]()
    for reagent in scenario.reagents.values():
        for text in reagent.composition:
            with suppress(UnknownName):
                found.append(reference.substance(text))
    return found


def _named(texts: Sequence[str] | dict[str, float], reference: Reference) -> set[str]:
    found = set[str]()
    for text in texts:
        with suppress(UnknownName):
            found.add(reference.substance(text).name)
    return found
