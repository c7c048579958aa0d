"""What a report says of the file itself: what it assumes, and what it states to no effect."""

from __future__ import annotations

from collections.abc import Iterator

from review.interface.plugin import Section
from review.scenario import Scenario
from review.scenario.units import show

#: Fields that no check reads yet, as section and field; at most four, and a test counts them.
UNUSED = frozenset(
    {
        ("train", "at_open_end"),
    }
)


def sections(scenario: Scenario) -> tuple[Section, ...]:
    """Sections on assumed values and on stated ones that count for nothing; none where empty."""
    found = []
    if scenario.assumed:
        title = "Assumed in the file, to be measured"
        found.append(Section(title, tuple(scenario.assumed), letter=True))
    silent = dict(taken_at(scenario))
    for at in sorted(set(silent.values())):
        title = f"No `reference`, so taken at {at}"
        found.append(Section(title, tuple(n for n in silent if silent[n] == at), letter=True))
    without = tuple(
        ".".join(map(str, path))
        for path in scenario.places
        if path and (str(path[0]), str(path[-1])) in UNUSED
    )
    if without:
        found.append(Section("Stated but not used", without, letter=True))
    return tuple(found)


def taken_at(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """Volume flows of gas whose condition neither `reference` nor the unit says; with it."""
    for name in scenario.unreferred:
        stated = scenario.flows[name].reference
        degrees = show(scenario.reference(name)[0], "degC")
        here = stated is None or stated.temperature is None
        yield name, degrees + (" and the room's pressure" if here else ", 1 atm")
