"""What a report says of the file itself: what it assumes, and what it states to no effect."""

from __future__ import annotations

from review.interface.plugin import Section
from review.scenario import Scenario

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
    without = tuple(
        ".".join(map(str, path))
        for path in scenario.places
        if path and (str(path[0]), str(path[-1])) in UNUSED
    )
    if without:
        found.append(Section("Stated but not used", without, letter=True))
    return tuple(found)
