"""Can it burst or collapse: working pressure, plugs, vacuum, liquid sucked back."""

from __future__ import annotations

from review import Check, Computation, Gap, hookimpl

from .cold import COLD
from .frozen import FROZEN_SOLID
from .vacuum import VACUUM
from .working import PRESSURE


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="pressure_buildup",
        title="Pressure build-up",
        version="1",
        covers=(
            "pressure at every item against its wall, flat end and joint",
            "gas and vapour shut in and heated; what a relief holds against all that the supplies "
            "bring, a failed regulator's gas too, with the loss of its vent line and the way to it",
            "a plug behind any item: seconds until the first upstream item lets go",
            "vacuum against what each item bears, the energy of evacuated glass, and water that "
            "comes back through the pump",
            "what condenses in a cold item: how far it fills, plugs, and bursts it once it is shut "
            "and warms; liquids that freeze",
            "liquid sucked back while the train cools without flow",
        ),
        not_covered=(
            "shock, thermal stress, and glass that is already cracked",
            "whether a relief opens at what is stated, and fully; gas that is made behind a plug; "
            "liquid that a relief blows out; pressure of a runaway",
            "how fast the pressure rises behind a plug while a liquid boils there",
            Gap("what a burst item throws, and how far", "has_flow"),
            "how likely a blockage is",
        ),
        sources=(
            "EN 1595 and ISO 3585 for borosilicate glass; Lame; Roark's Formulas",
            "Churchill (1977); Ergun (1952); ideal gas",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Working pressure, plugs, suck-back and vacuum."""
    return [PRESSURE, VACUUM, COLD, FROZEN_SOLID]
