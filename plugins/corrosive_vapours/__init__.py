"""What attacks the apparatus: materials the gas touches, and absorbents that run out."""

from __future__ import annotations

from review import Check, Computation, Gap, hookimpl

from .absorbers import ABSORBERS
from .hoses import HOSES
from .warming import WARMING
from .wetted import WETTED


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="corrosive_vapours",
        title="Corrosion and absorbents",
        version="1",
        covers=(
            "every wall, seal and packing against every substance in the gas and liquid it touches",
            "acids that condense from moist gas at a cold spot, as the strong solution they form",
            "how much of each absorbent is used by the end of each step",
            "whether an absorbent can hold as much as the file says, by stoichiometry",
            "oxygen and moisture of the room that come in through the walls of hoses",
            "how hot an absorbent gets by what it takes up",
        ),
        not_covered=(
            Gap("where acid that condenses at cold spots collects", "has_corrosive"),
            "mixtures that attack more than their parts do; cracking under stress",
            "gas that an absorption gives off; solids that form and block",
            "skin and eyes: gloves, spectacles and an eyewash are for the operators to see to",
        ),
        sources=(
            "makers' and public resistance tables, named with each rating in the material files",
            "stoichiometric capacity of the absorbent as the scenario states it",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Wetted materials and absorbents."""
    return [WETTED, ABSORBERS, WARMING, HOSES]
