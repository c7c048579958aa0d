"""Can the gas ignite: envelope, hot surfaces, and what leaves the train."""

from __future__ import annotations

from review import Check, Computation, Gap, Review, Section, hookimpl

from .arresters import ARRESTERS
from .ceiling import CEILING
from .condensed import CONDENSED
from .envelope import ENVELOPE
from .explosion import EXPLOSION, section
from .flames import FLAMES
from .ignition import IGNITION
from .outside import OUTLETS, OUTSIDE_AIR
from .released import RELEASED


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="flammability",
        title="Fire and explosion of gases",
        version="1",
        covers=(
            "fuel, oxygen and inert at every item, along every mixing line between two gases",
            "the hottest surface the gas touches, against autoignition and stated light-off",
            "oxygen and other oxidisers that a cold bath makes liquid",
            "a whole cylinder of what burns, let go into the room",
            "gas that leaves: in air, in the hood's exhaust and in the room",
            "flames and sparks within reach of an outlet, an opened joint or a spill, by distance",
            "light gas that collects under the ceiling, or in a hood that stands still",
            "the pressure of an explosion in each item, as a bound, and what it can do",
            "arresters of wool, beads and channels against a slow flame from their outlet",
        ),
        not_covered=(
            Gap("static electricity; heavy vapour that runs along a bench", "has_combustible"),
            "oxidisers other than oxygen: a fuel beside one is undetermined",
            "pressure that piles up as a flame runs through connected vessels; what fragments do",
            "dusts, mists, films on surfaces, decomposing solids and liquids",
            "catalytic ignition by walls; by metals and oxides that are not named as catalysts, of "
            "other fuels than hydrogen and carbon monoxide",
            "light gas in a cupboard, or under a shelf in the room",
        ),
        sources=(
            "US Bureau of Mines Bulletin 627 (Zabetakis 1965) and Bulletin 503",
            "IEC 60079-20-1:2010; NFPA 497; NFPA 69; ISO 10156; EN 1127-1",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Envelope, ignition, outlet and room air."""
    return [
        ENVELOPE, IGNITION, OUTLETS, OUTSIDE_AIR, CONDENSED, FLAMES, EXPLOSION, ARRESTERS, RELEASED,
        CEILING,
    ]  # fmt: skip


@hookimpl
def report_sections(review: Review) -> list[Section]:
    """What an explosion would set free, and what is customary against it."""
    found = section(review)
    return [] if found is None else [found]
