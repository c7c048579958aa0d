"""What tests of several folders share: one engine, the demos, and reviews that are not repeated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

from review import Engine, Overlay, Review, Scenario, load

ROOT = Path(__file__).parents[1]
SCENARIOS = ROOT / "scenarios"
DEMOS = tuple(sorted(path.stem for path in SCENARIOS.glob("*.yaml")))

_reviews: dict[tuple[object, ...], Review] = {}
_review = Engine.review


@cache
def shared_engine() -> Engine:
    """The engine with built-in plugins and rules; nobody may change it."""
    return Engine()


@cache
def demo_review(name: str) -> Review:
    """The whole review of a shipped demo."""
    return shared_engine().review(load(SCENARIOS / f"{name}.yaml"))


@contextmanager
def remembering() -> Iterator[None]:
    """A text that was reviewed by the same rules is not reviewed again.

    Only by built-in plugins that all loaded, and without overlays of a test's own: what such a
    review says depends on nothing else (tests/contracts and tests/generated show it).
    """
    Engine.review = _remembered  # type: ignore[method-assign]
    try:
        yield
    finally:
        Engine.review = _review  # type: ignore[method-assign]


def _remembered(
    self: Engine, scenario: Scenario, *, extra: Sequence[Overlay] = (), upsets: bool = True
) -> Review:
    if extra or self.plugins or self.failures or not scenario.text_sha256:
        return _review(self, scenario, extra=extra, upsets=upsets)
    key = scenario.text_sha256, self.ruleset.layers, tuple(self.checks), upsets
    if key not in _reviews:
        _reviews[key] = _review(self, scenario, upsets=upsets)
    return replace(_reviews[key], path=scenario.path)
