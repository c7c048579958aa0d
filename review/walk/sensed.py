"""Detectors that are called by one gas and said to sense another."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from review.reference.finding import Reference, UnknownName
from review.scenario import Scenario
from review.scenario.errors import quoted
from review.scenario.yaml import Where


def misnamed(scenario: Scenario, reference: Reference) -> Iterator[tuple[Where, str]]:
    """Where a detector's name and what it is said to sense are not one gas."""
    for i, safeguard in enumerate(scenario.safeguards):
        called, senses = safeguard.called, safeguard.senses
        if called is None or senses is None:
            continue
        gases: list[str | None] = [None, None]
        for n, text in enumerate((called, senses)):
            with suppress(UnknownName):
                gases[n] = reference.substance(text).name
        if gases[0] is None or gases[0] != gases[1]:
            yield (
                ("safeguards", i, "senses"),
                f"a detector for {called} does not sense {quoted(senses)}: of one that does write "
                "'kind: detector'",
            )
