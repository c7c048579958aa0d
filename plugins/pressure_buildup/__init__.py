"""Can it burst: working pressure, plugged outlets, liquid sucked back."""

from __future__ import annotations

from review import Check, Computation, Gap, hookimpl

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
            "gas and vapour shut in and heated",
            "a plug behind any item: seconds until the first upstream item lets go",
            "liquid sucked back while the train cools without flow",
        ),
        not_covered=(
            "vacuum, shock, thermal stress, and glass that is already cracked",
            "relief devices; a plug while a liquid boils and nothing is fed; runaway reactions",
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
    """Working pressure, plugs and suck-back."""
    return [PRESSURE]
