"""Measures cut down to what any ruleset needs, as bytes: what an audit keeps to judge again.

Whatever the bands are, a run is judged by its gravest cell, and of cells that the judge treats
alike the gravest is the one with the most hazardous value. So of an upset's cells one is kept for
each status and for each side of the plan (beyond what stands there anyway, or not); the plan and
its steps are kept whole. A cell that is left out is filled with a trusted value that is infinitely
far from every limit, which can never be the worst beside the one that was kept.
"""

from __future__ import annotations

import json
import math
import struct
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from review.interface.folded import folded
from review.interface.measure import MISSING, OK, FloatArray, Measure
from review.interface.plugin import Kind
from review.interface.result import Run, Trials
from review.judge.grading import beyond_plan
from review.judge.stored import run_from_json

_HEAD = struct.Struct("<I")
_RUN = tuple(field.name for field in fields(Run))
#: Numbers reduced at a time, so that memory stays bounded whatever the number of measures.
_BLOCK = 1_000_000
_COMPRESSION = 1
"""zlib's quickest: most of an upset is as in the plan, which any level finds."""


def pack(measures: Iterable[Measure], trials: Trials, kinds: Mapping[str, Kind]) -> bytes:
    """Measures and trials as bytes from which `unpack` gives what judges the same.

    Raises ValueError where a measure does not fit the trials.
    """
    listed = list(measures)
    shape = (1 + len(trials.steps), len(trials.runs))
    for measure in listed:
        if measure.value.shape != shape or measure.status.shape != shape:
            raise ValueError(f"{measure.kind} at {measure.at}: its shape is not {shape}")
    header = {
        "steps": list(trials.steps),
        "runs": [[getattr(run, name) for name in _RUN] for run in trials.runs],
        "measures": [[m.kind, m.at, m.of, m.unit, m.method, m.note, m.limits_hash] for m in listed],
    }
    head = json.dumps(header, allow_nan=False).encode()
    packer = zlib.compressobj(_COMPRESSION)
    packed, statuses = [packer.compress(_HEAD.pack(len(head)) + head)], []
    rows = max(1, _BLOCK // max(1, shape[0] * shape[1]))
    for start in range(0, len(listed), rows):
        value, status = _reduced(listed[start : start + rows], trials, kinds)
        packed.append(packer.compress(value.astype("<f8").tobytes()))
        statuses.append(status.tobytes())
    return b"".join([*packed, *map(packer.compress, statuses), packer.flush()])


def unpack(data: bytes) -> tuple[tuple[Measure, ...], Trials]:
    """The inverse of `pack`, as far as a judge can tell; raises ValueError for other bytes."""
    try:
        body = zlib.decompress(data)
        (size,) = _HEAD.unpack_from(body)
        header = json.loads(body[_HEAD.size : _HEAD.size + size])
        runs = tuple(run_from_json(dict(zip(_RUN, run, strict=True))) for run in header["runs"])
        trials = Trials(tuple(header["steps"]), runs)
        shape = (len(header["measures"]), 1 + len(trials.steps), len(runs))
        count, start = math.prod(shape), _HEAD.size + size
        value = np.frombuffer(body, "<f8", count, start).reshape(shape)
        status = np.frombuffer(body, np.uint8, count, start + 8 * count).reshape(shape)
    except (zlib.error, struct.error, KeyError, TypeError, ValueError) as error:
        raise ValueError(f"stored measures cannot be read: {error}") from error
    named = enumerate(header["measures"])
    return tuple(_measure(m, value[n], status[n]) for n, m in named), trials


def _reduced(
    measures: Sequence[Measure], trials: Trials, kinds: Mapping[str, Kind]
) -> tuple[FloatArray, NDArray[np.uint8]]:
    """Values and statuses of shape (measures, cells, runs), fillers where nothing is kept."""
    shape = (len(measures), 1 + len(trials.steps), len(trials.runs))
    value = np.array([m.value for m in measures], dtype=np.float64).reshape(shape)
    status = np.array([m.status for m in measures], dtype=np.uint8).reshape(shape)
    sign = np.array([1.0 if kinds[m.kind].worse == "higher" else -1.0 for m in measures])
    hazard = sign.reshape(-1, 1, 1) * value
    ranked = np.where(np.isnan(hazard), np.inf, hazard)
    plan = next((n for n, run in enumerate(trials.runs) if run.case == "plan"), None)
    group = 2 * np.minimum(status, MISSING)
    if plan is not None:
        group = group + beyond_plan(ranked, ranked[:, :, plan : plan + 1])
    judged = np.zeros(shape[1:], dtype=bool)
    keep = np.zeros(shape, dtype=bool)
    for column, run in enumerate(trials.runs):
        cells = run.cells(shape[1])
        if run.case == "upset":
            judged[cells.start : cells.stop, column] = True
        else:
            keep[:, :, column] = True
    for each in np.unique(group):
        among = (group == each) & judged
        best = np.where(among, ranked, -np.inf).argmax(axis=1)
        picked = np.take_along_axis(among, best[:, None, :], axis=1)[:, 0, :]
        best = np.where(picked, best, among.argmax(axis=1))
        there = np.take_along_axis(among, best[:, None, :], axis=1)
        kept = np.take_along_axis(keep, best[:, None, :], axis=1)
        np.put_along_axis(keep, best[:, None, :], kept | there, axis=1)
    _keep_adequacy(measures, trials, keep)
    filler = np.where(sign > 0, -np.inf, np.inf).reshape(-1, 1, 1)
    return np.where(keep, value, filler), np.where(keep, status, np.uint8(OK)).astype(np.uint8)


def _keep_adequacy(measures: Sequence[Measure], trials: Trials, keep: NDArray[np.bool_]) -> None:
    """What a safeguard is weighed by stands in the first cell of the upset that it counters."""
    index = {run.id: n for n, run in enumerate(trials.runs)}
    rows: dict[tuple[str, str], list[int]] = {}
    for row, measure in enumerate(measures):
        rows.setdefault((measure.kind, measure.at), []).append(row)
    for run in trials.runs:
        column = index.get(run.counters)
        if run.adequacy is None or column is None:
            continue
        cells = trials.runs[column].cells(keep.shape[1])
        if len(cells):
            keep[rows.get(run.adequacy, []), cells[0], column] = True


def _measure(told: Sequence[str], value: FloatArray, status: NDArray[np.uint8]) -> Measure:
    kind, at, of, unit, method, note, limits_hash = told
    return folded(
        Measure(
            kind=kind,
            at=at,
            of=of,
            unit=unit,
            value=value.astype(np.float64, copy=False),
            status=status,
            method=method,
            note=note,
            limits_hash=limits_hash,
        )
    )
