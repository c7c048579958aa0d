"""Measures as plain data: what a review keeps so that other rules can judge it again."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from review.interface.measure import FloatArray, Measure
from review.interface.result import Run, Trials


def measures_to_json(measures: Iterable[Measure], trials: Trials) -> dict[str, Any]:
    """Measures and trials as plain JSON data, exact to the last bit.

    A missing value is null, an infinite one "inf" or "-inf"; status are the codes of
    `measure`. Arrays are nested lists of shape (cells, runs). The working is not kept.
    """
    return {
        "trials": {
            "steps": list(trials.steps),
            "runs": [
                {**asdict(r), "adequacy": None if r.adequacy is None else list(r.adequacy)}
                for r in trials.runs
            ],
        },
        "measures": [
            {
                "kind": m.kind,
                "at": m.at,
                "of": m.of,
                "unit": m.unit,
                "method": m.method,
                "note": m.note,
                "limits_hash": m.limits_hash,
                "value": _plain(m.value),
                "status": m.status.tolist(),
            }
            for m in measures
        ],
    }


def measures_from_json(data: Mapping[str, Any]) -> tuple[tuple[Measure, ...], Trials]:
    """The inverse of `measures_to_json`; raises KeyError, TypeError or ValueError on other data."""
    runs = map(run_from_json, data["trials"]["runs"])
    trials = Trials(tuple(data["trials"]["steps"]), tuple(runs))
    measures = tuple(
        Measure(
            kind=m["kind"],
            at=m["at"],
            of=m["of"],
            unit=m["unit"],
            value=np.array(
                [[math.nan if v is None else float(v) for v in row] for row in m["value"]],
                dtype=np.float64,
            ),
            status=np.array(m["status"], dtype=np.uint8),
            method=m["method"],
            note=m["note"],
            limits_hash=m["limits_hash"],
        )
        for m in data["measures"]
    )
    return measures, trials


def run_from_json(told: Mapping[str, Any]) -> Run:
    """A run from its fields as plain data, in which a pair has become a list."""
    adequacy = tuple(told["adequacy"]) if told["adequacy"] else None
    in_time_for = tuple(told.get("in_time_for", ()))
    return Run(**{**told, "adequacy": adequacy, "in_time_for": in_time_for})


def plain_number(number: float | None) -> float | str | None:
    """A number as JSON knows it: null where it is not known, text where it is infinite.

    >>> plain_number(float("nan")), plain_number(float("-inf")), plain_number(2.0)
    (None, '-inf', 2.0)
    """
    if number is None or math.isnan(number):
        return None
    if math.isinf(number):
        return "inf" if number > 0 else "-inf"
    return float(number)


def _plain(value: FloatArray) -> list[Any]:
    rows: list[Any] = value.tolist()
    if np.isfinite(value).all():
        return rows
    return [[plain_number(number) for number in row] for row in rows]
