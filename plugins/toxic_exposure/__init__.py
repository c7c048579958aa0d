"""What people breathe: toxic gas and vapour beside the apparatus, and oxygen."""

from __future__ import annotations

from review import Check, Computation, Gap, Review, Section, hookimpl

from .breathing import BREATHING
from .clock import CLOCK
from .cylinders import CYLINDERS
from .failures import FAILURES
from .hoses import HOSES
from .leaving import LEAVING
from .outdoors import OUTDOORS
from .oxygen import OXYGEN

ODOUR = (
    "Odour is never counted as a warning: many of these gases have none, and the nose tires of "
    "those that do."
)


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="toxic_exposure",
        title="Toxic exposure and breathing air",
        version="1",
        covers=(
            "what leaves the outlets or an opened joint, in the near field and in the room, "
            "ventilation working and lost",
            "a fume hood by its containment test, or not at all",
            "peaks against ceiling, 15-minute limit and IDLH; the 8-hour average; several "
            "substances together",
            "what passes through the walls of hoses, by the polymer and the gas",
            "nitric oxide as the dioxide that it becomes, in the train and in the air",
            "minutes to AEGL-2, AEGL-3 and IDLH beside the source, against a detector's alarm and "
            "delay, the time to notice it and the way out",
            "poison that is led outdoors as it is",
            "too little or too much oxygen",
            "a whole cylinder let go into the room",
        ),
        not_covered=(
            "odour, which is never a warning; detectors of which no delay and no way out is stated",
            Gap(
                "small leaks at joints, mists, what bursts lets out",
                "toxics",
            ),
            "products nobody declared: carbonyls over cool nickel, phosgene on hot metal",
            "dust and fume, and what a burner's flame makes",
            "gas left unreacted before a reactor when its heat goes off",
            "gas that comes back in from outdoors or from a hood's exhaust; heavy gas in a pit",
            "people more sensitive than a working adult; skin, eyes and swallowing",
        ),
        sources=(
            "limits: NIOSH, OSHA Z-1, Ontario, as each substance's file says; 29 CFR 1910.1000(d)",
            "two-zone room: Hemeon; Nicas (1996, 2024). Hood: ANSI/AIHA Z9.5 with ASHRAE 110",
            "29 CFR 1910.146 for oxygen",
        ),
    )


@hookimpl
def measures() -> list[Computation]:
    """Breathing zone, oxygen and cylinders."""
    return [BREATHING, HOSES, FAILURES, CLOCK, LEAVING, OXYGEN, CYLINDERS, OUTDOORS]


@hookimpl
def report_sections(review: Review) -> list[Section]:
    """What the numbers rest on: hood, limits that are missing, odour."""
    notes = [m.note for m in review.measures if m.kind.startswith(("exposure.", "oxygen."))]
    lines = dict.fromkeys(part for note in notes for part in note.split("; ") if part)
    shown = (*(f"{line[0].upper()}{line[1:]}." for line in lines), ODOUR)
    return [Section("What the air people breathe rests on", shown)]
