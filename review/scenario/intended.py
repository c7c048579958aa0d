"""What the user wants of the run: names that must exist, windows the wrong way round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from review.scenario.models import Scenario
from review.scenario.yaml import Where

#: Field of `intent`, key in it, and what the key names.
_NAMES = (("contact_time", "at", "item"), ("temperature", "of", "heater"),
          ("ratio", "of", "flow"), ("ratio", "to", "flow"))  # fmt: skip
WINDOWS = ("contact_time", "temperature", "ratio")


def named(intent: Mapping[str, Any]) -> Iterator[tuple[Where, Any, str]]:
    """Names in the plain data: where each stands, what holds it, and what it names."""
    for field, key, what in _NAMES:
        if isinstance(intent.get(field), dict):
            yield ("intent", field, key), intent[field], what
    yield ("intent", "step"), intent, "step"


def crossed(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    """Windows whose least is more than their most, and a flow that is set against itself."""
    if scenario.intent is None:
        return
    for field in WINDOWS:
        window = getattr(scenario.intent, field)
        if window is None:
            continue
        if window.least is None and window.most is None:
            yield ("intent", field), "needs least, most or both"
        elif window.least is not None and window.most is not None and window.least > window.most:
            yield ("intent", field, "least"), "least is more than most"
    ratio = scenario.intent.ratio
    if ratio is not None and ratio.of == ratio.to:
        yield ("intent", "ratio", "to"), "needs another flow than `of`"
