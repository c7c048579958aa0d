"""The effective ruleset as plain data: what a record keeps and audits compare."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from review.interface.plugin import Kind
from review.judge.conditions import Condition
from review.judge.ruleset import Criterion, Ruleset


def ruleset_to_json(ruleset: Ruleset) -> dict[str, Any]:
    """Criteria, limits, layers and what was loosened, as dictionaries, lists, text and numbers."""
    return {
        "layers": [{"name": each.name, "sha256": each.sha256} for each in ruleset.layers],
        "criteria": [criterion_to_json(each) for each in ruleset.criteria],
        "limits": {
            name: {"value": x.value, "source": x.source, "how": x.how, "layer": x.layer}
            for name, x in ruleset.limits.items()
        },
        "loosened": [
            {"criterion": e.criterion, "layer": e.layer, "what": e.what, "reason": e.reason}
            for e in ruleset.loosened
        ],
        "contacts": list(ruleset.contacts),
        **({"reviewers": list(ruleset.reviewers)} if ruleset.reviewers else {}),
    }


def criterion_to_json(criterion: Criterion) -> dict[str, Any]:
    """One criterion with everything that a grade, a report or a record says because of it."""
    return {
        "id": criterion.id,
        "title": criterion.title,
        "kind": criterion.kind,
        "bands": {
            case: {
                "acceptable": criterion.bands[case].acceptable,
                "tolerable": criterion.bands[case].tolerable,
            }
            for case in (criterion.cases if criterion.kind else ())
        },
        "floor": criterion.floor,
        "require": _text(criterion.require),
        "otherwise": criterion.otherwise,
        "applies": _text(criterion.applies),
        "applies_reason": criterion.applies_reason,
        "action": criterion.action,
        "basis": {
            "document": criterion.basis.document,
            "clause": criterion.basis.clause,
            "how": criterion.basis.how,
        },
        "blocks": criterion.blocks,
        "condition": criterion.condition,
        "disabled": criterion.disabled,
        "disabled_reason": criterion.disabled_reason,
        "layer": criterion.layer,
    }


def criterion_hash(criterion: Criterion, kind: Kind | None) -> str:
    """SHA-256 over all that decides a grade: the criterion and which way its kind is worse."""
    told = criterion_to_json(criterion)
    worse = None if kind is None else [kind.worse, list(kind.labels)]
    text = json.dumps([told, worse], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _text(condition: Condition | None) -> str:
    return "" if condition is None else condition.text
