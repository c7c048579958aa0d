"""A review as plain data: the stable form that programs read.

Values and limits are in SI units. A missing number is null; an infinite one is "inf" or "-inf",
since JSON knows neither.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from review.cautions import CAUTIONS
from review.interface.measure import MISSING, STATUS_NAMES, Measure
from review.interface.plugin import Kind, worst_first
from review.interface.result import Finding, Outcome, Review, Trials
from review.judge.stored import plain_number


def dumps(review: Review) -> str:
    """The review as JSON text."""
    return json.dumps(to_json(review), allow_nan=False, indent=2)


def to_json(review: Review) -> dict[str, Any]:
    """The review as dictionaries, lists, text and numbers."""
    return {
        "benchgate": review.version,
        "scenario": {
            "title": review.title,
            "path": review.path,
            "sha256": review.scenario_sha256,
        },
        "ruleset": {"layers": [{"name": r.name, "sha256": r.sha256} for r in review.layers]},
        "plugins": [{"name": p.name, "sha256": p.sha256} for p in review.plugins],
        "checks": [{"id": c.id, "version": c.version} for c in review.checks],
        "verdict": review.verdict,
        "findings": [_finding(f) for f in review.findings],
        "causes": [
            {
                "id": c.id,
                "grade": c.grade,
                "lacks": c.lacks,
                "leading": c.leading,
                "findings": list(c.findings),
            }
            for c in review.causes
        ],
        "upsets": [_upset(o) for o in review.outcomes],
        "measures": [_measure(m, review.kinds.get(m.kind), review.trials) for m in review.measures],
        "not_covered": [{"check": check, "what": what} for check, what in review.not_covered],
        "not_applicable": [
            {"criterion": n.criterion, "title": n.title, "reason": n.reason}
            for n in review.not_applicable
        ],
        "loosened": [
            {"criterion": e.criterion, "layer": e.layer, "what": e.what, "reason": e.reason}
            for e in review.loosened
        ],
        "cautions": list(CAUTIONS),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "criterion": finding.criterion,
        "kind": finding.kind,
        "at": finding.at,
        "of": finding.of,
        "grade": finding.grade,
        "status": finding.status,
        "case": finding.case,
        "trial": finding.trial,
        "step": finding.step,
        "value": plain_number(finding.value),
        "unit": finding.unit,
        "limit": plain_number(finding.limit),
        "action": finding.action,
        "basis": str(finding.basis),
        "reason": finding.reason,
        "bound": plain_number(finding.bound),
        "known": plain_number(finding.known),
    }


def _upset(outcome: Outcome) -> dict[str, Any]:
    """What a single failure comes to; `seconds` until it matters is null where nobody knows."""
    return {
        "id": outcome.run,
        "title": outcome.title,
        "grade": outcome.grade,
        "criterion": outcome.criterion,
        "at": outcome.at,
        "of": outcome.of,
        "step": outcome.step,
        "value": plain_number(outcome.value),
        "unit": outcome.unit,
        "seconds": plain_number(outcome.seconds),
        "credit": outcome.credit,
    }


def _measure(measure: Measure, kind: Kind | None, trials: Trials) -> dict[str, Any]:
    """Plan value and worst value; samples and window points are no part of the worst.

    `status` is the least trusted among the trials looked at, so a worst value found beside a
    missing one is marked `missing`.
    """
    shape = (len(trials.steps) + 1, len(trials.runs))
    value, status = measure.value, measure.status
    if np.shape(value) != shape or np.shape(status) != shape:
        # The judge calls a measure of another shape undetermined; so nothing of it is shown.
        value, status = np.full(shape, np.nan), np.full(shape, MISSING, dtype=np.uint8)
    seen = _seen(trials)
    lost = np.isnan(value) | (status >= MISSING)
    known = seen & ~lost
    worst: float | None = None
    worst_trial: dict[str, str] | None = None
    if kind is not None and known.any():
        signed = np.where(known, worst_first(kind, value), np.nan)
        cell, run = np.unravel_index(int(np.nanargmax(signed)), shape)
        worst = float(value[cell, run])
        worst_trial = {"trial": trials.runs[run].id, "step": trials.cell_name(int(cell))}
    least_trusted = int(np.where(lost, MISSING, status)[seen].max(initial=0))
    return {
        "kind": measure.kind,
        "at": measure.at,
        "of": measure.of,
        "unit": measure.unit,
        "status": STATUS_NAMES[least_trusted],
        "plan": None if lost[0, 0] else plain_number(float(value[0, 0])),
        "worst": plain_number(worst),
        "worst_trial": worst_trial,
        "method": measure.method,
    }


def _seen(trials: Trials) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Which (cell, run) pairs count: an upset only from its step on."""
    seen = np.zeros((len(trials.steps) + 1, len(trials.runs)), dtype=np.bool_)
    for column, run in enumerate(trials.runs):
        if run.case in ("plan", "upset"):
            seen[run.from_step or 0 :, column] = True
    return seen
