"""Nitric oxide that becomes nitrogen dioxide: in the train, mixing with air, and in the room."""

from __future__ import annotations

import numpy as np

from review import FloatArray, Setup
from review.physics.gas import R

NITRIC_OXIDE, NITROGEN_DIOXIDE = "nitric oxide", "nitrogen dioxide"
#: Rate constant at 25 degC in -d[NO]/dt = 2 k [NO]^2 [O2], L2/(mol2 s); slower when hot (IUPAC and
#: handbooks give 6.9e3 to 7.3e3, from memory).
RATE = 7.3e3
#: How long released gas stays at half its concentration while air mixes in, s (a judgement).
MIXES = 1.0
OXYGEN = 0.2095


def oxidised(content: FloatArray, oxygen: FloatArray, time: FloatArray) -> FloatArray:
    """``2 k [O2] [NO] t``: over one more than itself it is the share that has become dioxide.

    content and oxygen mol/L; time s; shapes that broadcast. Second order in nitric oxide with
    oxygen in excess, which errs high where oxygen runs out.

    >>> s = oxidised(np.array(0.01 / 24.46), np.array(0.2095 / 24.46), np.array(20.0))
    >>> f"{float(s / (1 + s)):.2f}"
    '0.51'
    """
    return np.asarray(2 * RATE * oxygen * content * time)


def share(done: FloatArray) -> FloatArray:
    """Share converted; all of it where nobody knows."""
    value = np.where(np.isinf(done), 1.0, done / (1 + np.where(np.isinf(done), 0.0, done)))
    return np.asarray(np.where(np.isnan(value), 1.0, value))


def on_the_way_out(setup: Setup, row: int) -> FloatArray:
    """Share of the nitric oxide that is dioxide when it reaches people, over trials.

    Each item with oxygen for as long as the gas stays in it, then while it mixes with air.
    """
    pressure = setup.number("ambient.pressure").value
    molar = 1000 * R * setup.number("ambient.temperature").value / pressure  # L/mol
    oxygen = setup.rows["oxygen"]
    done, richest = np.zeros(setup.trials), np.zeros(setup.trials)
    for place in setup.places:
        inlet, flow = place.composition("inlet"), place.flow.value * molar / 1000
        there = ~(inlet[row] * inlet[oxygen] == 0)
        stays = place.volume.value / flow
        own = oxidised(inlet[row] / molar, inlet[oxygen] / molar, stays)
        done = done + np.where(there, own, 0.0)
        gases = [place.composition(point)[row] for point in ("old", "outlet", "outlet_end")]
        richest = np.maximum(richest, np.max(gases, axis=0))
    mixing = oxidised(0.5 * richest / molar, 0.5 * OXYGEN / molar, np.full(setup.trials, MIXES))
    return np.asarray(1 - (1 - share(done)) * (1 - share(mixing)))


def in_the_room(setup: Setup, far: FloatArray, time: FloatArray) -> FloatArray:
    """Share of the room's nitric oxide that is dioxide after this time at this content."""
    pressure = setup.number("ambient.pressure").value
    molar = 1000 * R * setup.number("ambient.temperature").value / pressure
    return share(oxidised(far / molar, OXYGEN / molar, time))
