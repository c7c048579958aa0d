"""When a detector's air is at its alarm, when people may be unable to leave, and which step leaves
the least time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Setup, Substance

from .air import RADIUS
from .detectors import AIR, alarm_point, unfit
from .harm import levels, limits_of
from .rising import Rising

if TYPE_CHECKING:
    from review.scenario.models import Safeguard

#: Share of the IDLH that a failure may reach where there is no AEGL (the criterion on IDLH).
OF_IDLH = 0.5


def alarm_seconds(
    setup: Setup, rising: Rising, number: int, safeguard: Safeguard
) -> FloatArray | None:
    """Seconds from the beginning of each step until the air at a gas detector is at its alarm; None
    for one that senses no gas of the set-up, or oxygen."""
    if safeguard.kind != "detector" or unfit(setup, safeguard):
        return None
    name = setup.reference.substance(str(safeguard.senses)).name
    rows = [n for n, s in enumerate(rising.air.substances) if s.name == name]
    if name == "oxygen" or not rows:
        return None
    (row,) = rows
    point = np.array(alarm_point(setup, safeguard))
    if AIR[str(safeguard.at)] == "hood":
        below = ~(point <= setup.air("hood")[setup.rows[name]])
        return np.where(below, np.inf, 0.0)
    away = setup.number(f"safeguards.{number}.distance").value
    radius = setup.number("ventilation.near_field_radius").value
    near = away <= np.where(np.isnan(radius), RADIUS, radius)
    seconds = rising.until(row, point, far=True, sure=True)
    if safeguard.at == "bench" and near.any():
        beside = rising.until(row, point, sure=True)
        seconds = np.where(near, np.fmin(beside, seconds), seconds)
    return seconds


def harmed(
    setup: Setup, rising: Rising, row: int, substance: Substance, share: float = 1.0
) -> FloatArray:
    """Seconds until people may be unable to leave, or until a share of the level for that; NaN
    where nobody knows it."""
    known = [
        each for name in ("aegl_2", "aegl_3", "idlh") for each in levels(setup, substance, name)
    ]
    if substance.datum("aegl_2").state != "known":
        idlh = levels(setup, substance, "idlh")
        known = [(OF_IDLH * level, since, end) for level, since, end in idlh]
    if not known:
        nothing = not limits_of(setup, substance).known
        return np.where(nothing | (rising.until(row, np.array(0.0)) == np.inf), np.inf, np.nan)
    found = []
    for level, since, end in known:
        seconds = rising.until(row, share * level)
        late = np.maximum(seconds, since)
        found.append(np.where(late <= end, late, np.where(np.isnan(seconds), np.nan, np.inf)))
    return np.asarray(np.minimum.reduce(found))


def governing(
    setup: Setup, harm: FloatArray, seconds: FloatArray, step: FloatArray
) -> NDArray[np.intp]:
    """For each trial the trial of its run, from its step on, that leaves the least time.

    Once everybody has left within a step, later ones count no more.
    """
    cells, runs = setup.shape
    own = np.arange(cells * runs).reshape(cells, runs)
    margin = np.where(harm == np.inf, np.inf, harm / seconds).reshape(cells, runs)
    left = (seconds <= step).reshape(cells, runs)
    for cell in range(cells - 2, 0, -1):
        later = ~left[cell] & ~np.isnan(margin[cell]) & ~(margin[cell] <= margin[cell + 1])
        own[cell] = np.where(later, own[cell + 1], own[cell])
        margin[cell] = np.where(later, margin[cell + 1], margin[cell])
    return own.reshape(-1)
