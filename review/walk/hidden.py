"""What a file implies: a light-off nobody believes away, heat where a temperature is stated."""

from __future__ import annotations

import re
from contextlib import suppress

from review.reference.finding import Reference, UnknownName
from review.scenario import Scenario
from review.scenario.models import Heat
from review.scenario.words import Known, Words

#: Metals of groups 8 to 11, and those whose oxides light fuels: of these nobody is believed that
#: they have no light-off temperature. By name and by symbol.
LIGHTS = re.compile(
    r"iron|ruthenium|osmium|cobalt|rhodium|iridium|nickel|palladium|platinum|copper|silver|gold"
    r"|mangan|vanad|chrom|ceri|raney|\b(?:Fe|Ru|Os|Co|Rh|Ir|Ni|Pd|Pt|Cu|Ag|Au|Mn|V|Cr|Ce)"
    r"(?:\d|O|\b|/)",
)

#: The same as elements of a substance that the data know.
LIGHTING = frozenset(
    {"Fe", "Ru", "Os", "Co", "Rh", "Ir", "Ni", "Pd", "Pt", "Cu", "Ag", "Au", "Mn", "V", "Cr", "Ce"}
)  # fmt: skip


def doubted(scenario: Scenario, reference: Reference) -> Scenario:
    """The scenario with the light-off unknown of catalysts that have one whatever the file says."""
    found = {
        name: catalyst.model_copy(update={"light_off": "unknown"})
        for name, catalyst in scenario.catalysts.items()
        if catalyst.light_off == "none"
        and any(_lights(text, reference) for text in (name, catalyst.material) if text)
    }
    if not found:
        return scenario
    return scenario.model_copy(update={"catalysts": {**scenario.catalysts, **found}})


def _lights(text: str, reference: Reference) -> bool:
    """Whether a catalyst is such a metal or oxide, by what the data know, else by its name."""
    with suppress(UnknownName):
        return bool(LIGHTING & set(reference.substance(text).elements))
    with suppress(UnknownName):
        return reference.material(text).kind == "metal"
    return bool(LIGHTS.search(text) or LIGHTS.search(text.casefold()))


#: From where on a temperature of an item is a source of heat: above the room by so much, or hot.
WARMER, HOT = 30.0, 333.15


def heated(scenario: Scenario) -> Scenario:
    """The scenario with a heat source for every item that is said to be hot and names none.

    It is on in every step until the last one, and nobody knows the hottest it can get.
    """
    sources = {heat.heats for heat in scenario.heat.values()}
    above = min(scenario.ambient.temperature + WARMER, HOT)
    kind = Known.of(Words.built_in().find("heat", "electric heater"))
    found = {
        f"heat of {item.id}": Heat.model_construct(
            heats=item.id, kind=kind, set_temperature=item.temperature
        )
        for item in scenario.train
        if item.temperature is not None and item.temperature > above and item.id not in sources
    }
    if not found:
        return scenario
    on = {name: "on" for name in found}
    steps = [
        step.model_copy(update={"heat": {**on, **step.heat}}) if n == 0 else step
        for n, step in enumerate(scenario.procedure)
    ]
    hot = {heat.heats for heat in found.values()}
    train = [
        item.model_copy(update={"temperature": None}) if item.id in hot else item
        for item in scenario.train
    ]
    changed = {"heat": {**scenario.heat, **found}, "procedure": steps, "train": train}
    return scenario.model_copy(update=changed)
