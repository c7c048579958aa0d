"""What tests of several folders share: one engine, the demos, and reviews that are not repeated."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

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


def record_body(
    text: str = "title: a\n", signed_at: str = "2031-05-06T07:08:09Z", **told: Any
) -> dict[str, Any]:
    """The least that a record says; `text` is its scenario, `told` replaces what it says."""
    hash_ = "0" * 64
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    return {
        "signed_at": signed_at,
        "valid_until": "2031-08-06",
        "runs": 3,
        "preparer": "teacher",
        "reviewer": "second teacher",
        "keys": {},
        "scenario": {"title": "a", "file": "a.yaml", "sha256": sha256, "text": text},
        "ruleset": {"layers": [], "criteria": [], "limits": {}, "loosened": []},
        "review": {
            "benchgate": "0",
            "scenario": {"title": "a", "path": "a.yaml", "sha256": sha256},
            "verdict": "may proceed",
            "findings": [],
            "measures": [],
        },
        "data": [],
        "tool": {"benchgate": "0", "code": hash_, "python": "3", "libraries": {}, "plugins": []},
        "conditions": [],
        "answers": [],
        "cautions": [],
    } | told
