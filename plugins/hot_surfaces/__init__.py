"""How hot is the outside, what do seals and walls see, and how hot can a reaction make it."""

from __future__ import annotations

from review import Check, Computation, Gap, Review, Section, hookimpl

from .bath import BATHS
from .cold import COLD
from .collected import COLLECTING
from .liquids import LIQUIDS
from .margins import MARGINS
from .reaction import REACTIONS
from .runaway import CHARGED, RUNAWAY
from .stress import STRESS
from .surface import SURFACES, TOUCH_KIND


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="hot_surfaces",
        title="Hot surfaces and reaction heat",
        version="1",
        covers=(
            "outside of heat sources, insulated or bare, and of all items, against burn thresholds",
            "every wall, lining, joint and insulation against what its material bears",
            "declared reactions at full conversion without heat loss, against tube and catalyst",
            "warmed liquids and the oil of a bath against flash point; boiling points",
            "what a receiver collects and what is let into a vessel, against the room for it",
            "the charge of a generator, all at once, against boiling",
            "declared reactions of a held liquid, all at once without cooling, against boiling",
            "a cold splash on hot glass; materials below their lowest temperature",
        ),
        not_covered=(
            Gap(
                "heat radiated to things nearby, wood in long contact, a flame's clearance",
                "has_heat",
            ),
            Gap(
                "a glass tube clamped rigidly at both ends, and buckling of a hot tube",
                "has_heat",
                "has_rods",
            ),
            "heat of mixing and neutralisation; water in hot oil, sand in a bath",
            "a heated zone that is not in the middle of its tube; radiation along the bore",
            "grease, clips and plastic parts of joints; catalysts that ignite in air",
            "a hot front that moves through a bed; reactions nobody declared",
        ),
        sources=(
            "Churchill & Chu (1975); Stefan-Boltzmann law; Incropera & DeWitt",
            "ISO 13732-1 burn thresholds (from memory)",
            "Hess's and Kirchhoff's laws; Timoshenko & Goodier, Theory of Elasticity",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Surfaces, margins of materials and joints, reaction heat, liquids, thermal shock."""
    liquids = [LIQUIDS, COLLECTING, BATHS, RUNAWAY, CHARGED]
    return [SURFACES, MARGINS, REACTIONS, *liquids, STRESS, COLD]


@hookimpl
def report_sections(review: Review) -> list[Section]:
    """How long to wait before hot parts are taken hold of."""
    lines = []
    for measure in review.measures:
        if measure.kind != TOUCH_KIND.id:
            continue
        planned = measure.value[:, 0]
        longest = planned.max()
        if longest != longest:
            lines.append(
                f"{measure.at}: not known, because {measure.of} has no cooling_time; test with the "
                "back of the hand near it, never on it"
            )
        elif longest > 0:
            lines.append(f"{measure.at}: {longest / 60:.0f} min after {measure.of} is turned off")
    if not lines:
        return []
    return [Section("How long hot parts must cool before they are taken hold of", tuple(lines))]
