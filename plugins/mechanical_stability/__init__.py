"""Does the frame stand: tipping, a push at the top, rods and clamps."""

from __future__ import annotations

from review import Check, Computation, Gap, hookimpl

from .rods import RODS
from .tipping import TIPPING


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="mechanical_stability",
        title="Standing firm",
        version="1",
        covers=(
            "tipping angle of the frame in every direction, with its liquids and without",
            "a sideways push at the top against the frame's own weight",
            "bending of rods and the hold of each boss head",
        ),
        not_covered=(
            # What asks for a look at a frame that nobody described is a condition.
            "whether the frame stands, where none is described",
            "a bench that is not level or not firm, feet that do not all stand",
            Gap(
                "glass strained by clamps that pull it out of line, its own weight between clamps",
                "has_rods",
            ),
            "gas cylinders that are not chained; hoses and cables that somebody trips over",
            "heat that loosens a clamp or softens a rod",
        ),
        sources=(
            "IEC 61010-1, clause 7 (from memory): 10 degrees in any direction",
            "statics of rigid bodies and round rods",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Tipping, rods and clamps."""
    return [TIPPING, RODS]
