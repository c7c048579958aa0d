"""What is left over and must stay apart, in the waste and on the bench, by the table of pairs."""

from __future__ import annotations

from collections.abc import Iterable

from review import Computation, Input, Kind, Measure, Method, Review, Section, Setup, apart

from .meeting import LABELS

#: Air is no waste.
AIR = ("nitrogen", "oxygen", "argon")
WHERE = "waste"

APART = Method(
    id="reactive.apart",
    title="Two substances of the set-up that must stay apart",
    result="grade of the pair (0 nothing known, 1 with care, 2 must not meet)",
    unit="1",
    formula="grade",
    inputs=(Input("grade", "grade", "1", "grade of the pair in the table"),),
    function=lambda grade: grade,
    source="table of pairs, each with its own source",
    validity="amounts and temperatures do not count: a waste bottle has its own",
)
KIND = Kind.of(APART, "higher", labels=LABELS)


def _compute(setup: Setup) -> Iterable[Measure]:
    names = dict.fromkeys(s.name for s in setup.species if s.name not in AIR)
    for place in setup.places:
        names |= dict.fromkeys(place.liquid)
    members = [setup.reference.substance(name) for name in names]
    for one, other, pair in apart(setup.reference.pairs(), members):
        grade = setup.quantity(
            float(LABELS.index(pair.grade)), f"grade of {pair.name}", "1", pair.source
        )
        yield setup.measure(KIND, APART(grade=grade), WHERE, f"{one} and {other}", note=pair.forms)


def section(review: Review) -> Section | None:
    """What may remain, and the pairs of it that must stay apart; None where nothing remains."""
    present = [name for name in review.facts["present"] if name not in AIR]
    if not present:
        return None
    lines = [f"There may remain: {', '.join(present)}."]
    pairs = [m for m in review.measures if m.kind == KIND.id]
    lines += [f"Keep apart {m.of}: together they form {m.note}." for m in pairs]
    if not pairs:
        lines.append("No pair of them is in the table of what must stay apart.")
    return Section("What remains, and what it must not be mixed with", tuple(lines))


REMAINING = Computation(kinds=(KIND,), compute=_compute)
