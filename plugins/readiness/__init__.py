"""Is everything ready: order and length of the steps, and whether safeguards are quick enough."""

from __future__ import annotations

from review import Check, Computation, Review, Section, hookimpl

from .cooling import COOLING
from .gloves import section
from .hold import HOLDS
from .left import LEFT_OVER
from .lifting import LIFTS
from .order import ORDERS
from .purge import PURGE
from .safeguards import CLOSINGS, REVEALS
from .supply import CHARGE, SUPPLY
from .unsaid import UNSAID
from .warning import UNWARNED_GAS


@hookimpl
def check() -> Check:
    """Describe what is looked at and what is not."""
    return Check(
        id="readiness",
        title="Readiness",
        version="1",
        covers=(
            "each purge and each cooling against the time it needs; the order of the steps",
            "gas that is left in the train after the last step",
            "gas that the steps draw against what each cylinder holds; a generator's charge "
            "against the most it is said to give",
            "what is left out although a failure or a reaction would need it",
            "whether a safeguard that reveals a failure or closes a flow is quick enough, with the "
            "time that gas takes to a detector and what then still flows; whether it senses the "
            "right gas; a detector for what can reach people",
            "whether anything shows the flow that a hold point waits for, and whether there is "
            "time to lift a line out of a liquid when the heat is lost",
            "which gloves hold what is handled, and for how long, where makers' tables say so",
            "what must be at hand: claimed in the scenario or not",
        ),
        not_covered=(
            "whether what the scenario claims is really there and works",
            "how long a fire, heat or want of oxygen takes: a safeguard that closes flows against "
            "these earns no credit",
            "time to heat up; cooling of thick furnaces; beds that give off gas after a purge",
            "training, illness and haste; handling of the waste itself",
        ),
        sources=("NFPA 69, purging (from memory); ANSI/ISEA Z358.1; 29 CFR 1910",),
    )


@hookimpl
def measures() -> list[Computation]:
    """Purges, order, cooling, what is left, safeguards."""
    checks = [PURGE, ORDERS, COOLING, LEFT_OVER, REVEALS, CLOSINGS, HOLDS, LIFTS]
    return [*checks, UNSAID, SUPPLY, CHARGE, UNWARNED_GAS]


@hookimpl
def report_sections(review: Review) -> list[Section]:
    """Which gloves hold what is handled."""
    found = section(review)
    return [] if found is None else [found]
