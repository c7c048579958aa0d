"""A scenario text walked over given overlays, without checks and rules."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from review.plugins.standard_items.kinds import KINDS

from review import Overlay, loads
from review.reference.finding import Reference
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup

Walked = Callable[..., Setup]


@pytest.fixture(scope="session")
def reference() -> Reference:
    return Reference()


@pytest.fixture(scope="session")
def walked(reference: Reference) -> Walked:
    def walk(text: str, overlays: Sequence[Overlay] = ()) -> Setup:
        resolved = resolve(loads(text), reference, {kind.id: kind for kind in KINDS})
        return Setup(resolved, Runs(resolved.base, [PLAN, *overlays]), {}, lambda kind: [])

    return walk
