"""What meets in one item and must not: pairs by class, and what decomposes by itself."""

from __future__ import annotations

from review import Check, Computation, Review, Section, hookimpl

from .decomposition import DECOMPOSITION
from .meeting import MEETING
from .remaining import REMAINING, section


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="reactive_pairs",
        title="What must not meet, and what decomposes by itself",
        version="1",
        covers=(
            "every gas, liquid, wall, seal, packing and catalyst that share an item in a step or "
            "after a single failure, against a table of pairs by class, with what forms",
            "liquid that is drawn back into an item upstream",
            "gases and liquids that decompose without air, by temperature and pressure",
        ),
        not_covered=(
            "reactions of three partners but for those the table names",
            "impurities, old peroxides and shock",
            "how fast a forbidden pair reacts, and how much of its product is breathed",
        ),
        sources=(
            "EPA-600/2-80-076 (1980), reactivity groups of wastes",
            "49 CFR 177.848, segregation of hazardous materials",
            "UN GHS data sheets, section 10; each pair names its own source",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Pairs, decomposition, and what must stay apart in the waste."""
    return [MEETING, DECOMPOSITION, REMAINING]


@hookimpl
def report_sections(review: Review) -> list[Section]:
    """What remains and what it must not be mixed with."""
    found = section(review)
    return [] if found is None else [found]
