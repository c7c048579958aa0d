"""Whether gas that forms in an item has a way out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from review import Place, Setup

#: A way out that is narrower, m, is none for what foams (a judgement, no source).
PINHOLE = 1e-3


def shut(setup: Setup, place: Place) -> NDArray[np.bool_]:
    """Where the plan leaves no open way out; a plug by a failure is told by the pressure."""
    planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
    closed = (place.leaves.reshape(setup.shape) == 0) | _pinhole(setup, place)
    return np.repeat(closed[:, planned].any(axis=1), setup.shape[1])


def _pinhole(setup: Setup, place: Place) -> bool:
    """Whether all that leads out of an item is so narrow that foam or a drop shuts it."""
    if place.model.relief is not None:
        return False
    ends = [p for p in setup.places if p.is_end and place.index in p.before]
    widths = [w for p in ends for w in (p.model.inner_diameter, p.model.mouth) if w is not None]
    narrow = place.model.mouth is not None and place.model.mouth < PINHOLE
    return narrow or bool(widths) and max(widths) < PINHOLE
