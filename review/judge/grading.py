"""Grades of arrays of values: bands, status, and which trial stands for many.

The judge looks at the status before the value:

=============  ==================================================================
status         grade
=============  ==================================================================
ok             by the bands
estimated      by the bands, at the hazardous bound of the estimate (`Kind.bound`)
outside range  unacceptable where the value already is, else undetermined
missing        undetermined; a NaN is missing whatever its status says
=============  ==================================================================
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import (
    ESTIMATED,
    MISSING,
    OK,
    OUTSIDE,
    STATUS_NAMES,
    FloatArray,
    StatusArray,
)
from review.interface.plugin import Kind, worst_first
from review.interface.result import GRADES, Grade
from review.judge.ruleset import Bands

BY_SEVERITY: tuple[Grade, ...] = tuple(reversed(GRADES))
ACCEPTABLE, TOLERABLE, UNDETERMINED, UNACCEPTABLE = range(4)
#: The grade for each status and each grade by the bands alone, as in the table above.
_BY_STATUS = np.full((len(STATUS_NAMES), len(BY_SEVERITY)), UNDETERMINED, dtype=np.int8)
_BY_STATUS[OK] = _BY_STATUS[ESTIMATED] = range(len(BY_SEVERITY))
_BY_STATUS[OUTSIDE, UNACCEPTABLE] = UNACCEPTABLE
_BY_STATUS.flags.writeable = False

Codes = NDArray[np.int8]


def bounded(kind: Kind, value: FloatArray, status: StatusArray) -> FloatArray:
    """Values as they are graded: of an estimate its hazardous bound."""
    guessed = status == ESTIMATED
    if not guessed.any():
        return value
    return np.where(guessed, kind.bound(value), value)


def graded(kind: Kind, bands: Bands, floor: Grade, value: FloatArray, status: StatusArray) -> Codes:
    """The grade of each value as an index of `BY_SEVERITY`."""
    mild, last = bands.edges(kind)
    plain = by_bands(worst_first(kind, bounded(kind, value, status)), mild, last)
    codes = _BY_STATUS[status, plain]
    return np.maximum(codes, np.int8(TOLERABLE)) if floor == "tolerable" else codes


def by_bands(hazard: FloatArray, mild: float | None, last: float) -> Codes:
    """Grades of the values alone; a NaN compares as false and so never looks mild."""
    codes = np.full(hazard.shape, UNACCEPTABLE, dtype=np.int8)
    codes[hazard <= last] = TOLERABLE
    if mild is not None:
        codes[hazard <= mild] = ACCEPTABLE
    return codes


def hazards(kind: Kind, value: FloatArray) -> FloatArray:
    """Values signed so that larger is more hazardous; what is not known is the most hazardous."""
    signed: FloatArray = worst_first(kind, value)
    return np.where(np.isnan(signed), np.inf, signed)


def beyond_plan(hazard: FloatArray, stands: FloatArray) -> NDArray[np.bool_]:
    """Where an upset is worse than the same step of the plan by more than rounding.

    Both are signed so that larger is more hazardous, with infinity for what is not known.
    """
    worse: NDArray[np.bool_] = hazard > stands
    with np.errstate(invalid="ignore"):
        close = hazard - stands <= 1e-12 + 1e-6 * np.abs(stands)
    return worse & ~(close & np.isfinite(stands))


def worst(codes: Codes, hazard: FloatArray) -> NDArray[np.intp]:
    """Per row the first column with the gravest grade and, within it, the largest hazard."""
    gravest = codes == codes.max(axis=1, keepdims=True)
    among = np.where(gravest, hazard, -np.inf)
    picked: NDArray[np.intp] = among.argmax(axis=1)
    # Where every candidate is -inf, argmax may have met a column that is none.
    stuck = np.isneginf(among.max(axis=1))
    picked[stuck] = gravest.argmax(axis=1)[stuck]
    return picked


def worst_of_samples(codes: Codes, hazard: FloatArray, cells: int) -> NDArray[np.intp]:
    """Per row the 95 % order statistic over runs of each run's worst cell.

    Undetermined runs are ranked as the most hazardous. Where the statistic then falls on one of
    them although enough other runs are unacceptable whatever the undetermined ones are, it is
    unacceptable.
    """
    rows, runs = codes.shape[0], codes.shape[1] // cells
    cell = worst(codes.reshape(-1, cells), hazard.reshape(-1, cells)).reshape(rows, runs)
    column = np.arange(runs) * cells + cell
    code = np.take_along_axis(codes, column, axis=1)
    danger = np.take_along_axis(hazard, column, axis=1)
    last = -(-95 * runs // 100) - 1
    row = np.arange(rows)
    unknown_last = np.where(code == UNDETERMINED, UNACCEPTABLE + 1, code)
    counted = np.lexsort((danger, unknown_last), axis=1)[:, last]
    certain = np.lexsort((danger, code), axis=1)[:, last]
    run = np.where(code[row, certain] > code[row, counted], certain, counted)
    picked: NDArray[np.intp] = column[row, run]
    return picked


def reason(status: int, plain: Grade, grade: Grade, claimed: int, note: str) -> str:
    """Why a finding is undetermined or graded otherwise than by its value alone (`plain`)."""
    text = ""
    if status == MISSING:
        text = "no value"
        if claimed != MISSING:
            known = claimed in range(len(STATUS_NAMES))
            text += f", although its status says {STATUS_NAMES[claimed] if known else claimed}"
    elif status == OUTSIDE and grade == "undetermined":
        text = "outside the range of its method"
    elif grade != plain:
        text = ESTIMATE if status == ESTIMATED else f"{grade} is the best this criterion gives"
    return f"{text} ({note})" if text and note else text


#: Said of an estimate whose hazardous bound has a graver grade than the estimate itself.
ESTIMATE = "estimated, so graded at its hazardous bound"
