"""What a failure may reach at most: a person hurt by it must still be able to leave."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup, Substance

from .air import Air
from .breathing import AIRING, RATIO, WHERE
from .leaving import Leaving
from .limits import Limits, limits_of

#: Longest time that acute exposure levels are stated for, s; a longer stay counts as this long.
LONGEST = 8 * 3600.0
#: Steps count towards the stay in which at least this share of the peak is breathed (common
#: practice, no source).
SHARE = 0.1

LEAST = Method(
    id="exposure.failure_limit",
    title="What a failure may reach at most",
    result="limit for a failure",
    unit="mol/mol",
    formula="min(limits)",
    inputs=(Input("limits", "L", "mol/mol", "AEGL-2 or short-term limit; IDLH"),),
    function=lambda limits: np.fmin.reduce(np.broadcast_arrays(*limits)),
    source="AEGL-2 of the US EPA: above it people are hurt for long or cannot escape; NIOSH IDLH",
    validity=(
        "AEGL-2 at the next longer time stated, 10 minutes to 8 hours; without one the short-term "
        "limit. The stay counts all steps with a tenth of the peak or more, each for as long as "
        "the release in it goes on where the room holds less; nobody leaves"
    ),
)
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


def failure_limit(substance: Substance, limits: Limits, seconds: FloatArray) -> Quantity | None:
    """The lower of AEGL-2, else the short-term limit, and IDLH; None without any of them."""
    parts = []
    if substance.datum("aegl_2").state == "known":
        name = f"AEGL-2 of {substance.name}"
        parts.append(Quantity.of_datum(substance.datum("aegl_2"), name, exposed=seconds))
    elif "short_term" in limits.known:
        parts.append(limits.known["short_term"])
    if "idlh" in limits.known:
        parts.append(limits.known["idlh"])
    return LEAST(limits=parts) if parts else None


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
