"""What a failure may reach at most: a person hurt by it must still be able to leave."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Kind, Measure, Setup

from ..shared.air import Air
from ..shared.harm import LEAST, failure_limit, limits_of
from ..shared.names import WHERE
from .breathing import AIRING, RATIO
from .leaving import Leaving

#: Longest time that acute exposure levels are stated for, s; a longer stay counts as this long.
LONGEST = 8 * 3600.0
#: Steps count towards the stay in which at least this share of the peak is breathed (common
#: practice, no source).
SHARE = 0.1

KIND = Kind.of(
    RATIO,
    "higher",
    "%",
    AIRING,
    id="exposure.failure_ratio",
    title="Peak as a share of what a failure may reach (AEGL-2, IDLH)",
    validity=LEAST.validity,
)


def exposed(setup: Setup, peak: FloatArray, own: FloatArray) -> FloatArray:
    """How long people have breathed about as much as now by the end of each step, s, over trials.

    `own` is how long it is there in each step by itself.

    >>> LONGEST
    28800.0
    """
    cells, runs = setup.shape
    peaks = peak.reshape(cells, runs)
    lasts = own.reshape(cells, runs)
    total = lasts.copy()
    for cell in range(2, cells):
        counts = ~(peaks[1:cell] < SHARE * peaks[cell])
        total[cell] += np.where(counts, lasts[1:cell], 0.0).sum(axis=0)
    return np.minimum(total, LONGEST).reshape(-1)


def _compute(setup: Setup) -> Iterable[Measure]:
    air = setup.once(Air)
    leaving = Leaving(setup, air)
    found = False
    for row, substance in enumerate(air.substances):
        peak = leaving.peak(row, air.breathed(row))
        # A short release is over once it is out, unless it is what the room then holds.
        short = air.far(row) < SHARE * peak.value
        own = leaving.stay(np.where(short, air.lasting(row), air.duration))
        seconds = exposed(setup, peak.value, own)
        limit = failure_limit(substance, limits_of(setup, substance), seconds)
        if limit is None:
            continue
        found = True
        ratio = RATIO(C=peak, limit=limit)
        none = peak.value == 0
        done = ratio.revised(
            np.where(none, 0.0, ratio.value), np.where(none, peak.status, ratio.status)
        )
        yield setup.measure(KIND, done, WHERE, substance.name, air.words)
    if not found:
        why = "no substance here has an AEGL-2, a short-term limit or an IDLH"
        nothing = setup.quantity(0.0, "share of the limit", "1", why)
        yield setup.measure(KIND, nothing, WHERE, note=why)


FAILURES = Computation(kinds=(KIND,), compute=_compute)
