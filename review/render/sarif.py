"""A review as SARIF 2.1.0 (OASIS), which editors and code hosts show beside the lines of the file.

Each finding that is not acceptable is a result: an error where it keeps the run from proceeding, a
warning where it is a condition. It points to the field that it hangs on.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from review.cautions import CAUTIONS
from review.interface.plugin import Kind
from review.interface.result import Finding, Review
from review.judge.stored import plain_number
from review.render import words
from review.render.entry import place, value_and_wanted
from review.render.reasons import why
from review.scenario.yaml import Place, Where

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"
#: Where items and steps have their names.
_NAMES = {("train", "id"), ("procedure", "step")}
#: What a finding hangs on where neither its kind nor its place says so.
_SECTIONS = {"breathing zone": "ventilation", "room": "ventilation", "hood": "ventilation"}


def dumps(review: Review, places: Mapping[Where, Place]) -> str:
    """The review as SARIF text. `places` are those of the scenario's fields, {} if not known."""
    return json.dumps(to_sarif(review, places), allow_nan=False, ensure_ascii=False, indent=2)


def to_sarif(review: Review, places: Mapping[Where, Place]) -> dict[str, Any]:
    """The review as one run of one tool."""
    against = [f for f in review.findings if f.grade != "acceptable"]
    rules = {f.criterion: f for f in reversed(against)}
    ids = sorted(rules)
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "benchgate",
                        "version": review.version,
                        "rules": [_rule(rules[id]) for id in ids],
                    }
                },
                "columnKind": "unicodeCodePoints",
                "artifacts": [
                    {
                        "location": {"uri": _uri(review.path)},
                        "hashes": {"sha-256": review.scenario_sha256},
                    }
                ],
                "invocations": [{"executionSuccessful": not review.failures}],
                "results": [_result(review, f, ids, places) for f in against],
                "properties": {"verdict": review.verdict, "cautions": list(CAUTIONS)},
            }
        ],
    }


def _rule(finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.criterion,
        "shortDescription": {"text": words.clean(finding.title or finding.criterion)},
        "help": {"text": words.clean(finding.action or finding.title or finding.criterion)},
        "properties": {"basis": str(finding.basis), "layer": finding.layer},
    }


def _result(
    review: Review, finding: Finding, ids: list[str], places: Mapping[Where, Place]
) -> dict[str, Any]:
    stops = finding.grade == "unacceptable" or (finding.grade == "undetermined" and finding.blocks)
    same = "|".join((finding.criterion, finding.at, finding.of, finding.case))
    spot = next(iter(_spots(review.kinds.get(finding.kind), finding, places)), None)
    where: dict[str, Any] = {"artifactLocation": {"uri": _uri(review.path), "index": 0}}
    if spot is not None:
        where["region"] = {"startLine": spot.line, "startColumn": spot.column}
    return {
        "ruleId": finding.criterion,
        "ruleIndex": ids.index(finding.criterion),
        "level": "error" if stops else "warning",
        "message": {"text": words.clean(_message(review, finding))},
        "locations": [{"physicalLocation": where}],
        "partialFingerprints": {"finding/v1": hashlib.sha256(same.encode()).hexdigest()},
        "properties": {
            "grade": finding.grade,
            "at": finding.at,
            "of": finding.of,
            "case": finding.case,
            "trial": finding.trial,
            "step": finding.step,
            "value": plain_number(finding.value),
            "unit": finding.unit,
            "limit": plain_number(finding.limit),
        },
    }


def _message(review: Review, finding: Finding) -> str:
    title = finding.title or finding.criterion
    if not finding.kind:
        return f"{title} ({finding.grade}). {finding.action}"
    when = words.trial(review.trials, finding.trial, finding.step)
    reason = why(finding.reason)
    parts = [
        f"{title} ({finding.grade}) {place(review, finding)}: {value_and_wanted(review, finding)}"
        + (f", {when}" if when else ""),
        reason if finding.grade == "undetermined" else "",
        finding.action.rstrip("."),
    ]
    return ". ".join(part for part in parts if part) + "."


def _uri(path: str) -> str:
    """A relative path as it stands, an absolute one as a file's address."""
    if Path(path).is_absolute():
        return Path(path).as_uri()
    return quote(Path(path).as_posix())


def _spots(kind: Kind | None, finding: Finding, places: Mapping[Where, Place]) -> Iterator[Place]:
    """Where in the file a finding hangs, the most telling place first.

    A number that moves the measure, written at the finding's own place; else that place; else a
    number that moves it wherever it stands; else the section that it speaks of; else the title.
    """
    own = tuple(_own(finding, places))
    moves = [tuple(path.split(".")) for path in kind.moves] if kind else []
    for pattern in moves:
        for entry in own:
            if len(pattern) > 2 and pattern[1] == "*" and pattern[0] == entry[0]:
                yield from _at(places, (*entry, *pattern[2:]))
    for entry in own:
        yield from _at(places, entry)
    for pattern in moves:
        if "*" not in pattern:
            yield from _at(places, pattern)
    yield from _at(places, (_SECTIONS.get(finding.at, finding.criterion.split(".")[0]),))
    for pattern in moves:
        yield from _at(places, pattern[:1])
    yield from _at(places, ("title",))


def _own(finding: Finding, places: Mapping[Where, Place]) -> Iterator[Where]:
    """The entries of the file that a finding's place names: item, what heats it, step, supply."""
    if not finding.at:
        return
    for path, spot in places.items():
        named = len(path) == 3 and (path[0], path[2]) in _NAMES
        heats = len(path) == 3 and path[0] == "heat"
        if (named or heats) and spot.text == finding.at:
            yield path[:2]
    for path in _named(places, ("heat", "reagents", "flows")):
        if finding.at == path[1] or finding.at.endswith(f" of {path[1]}"):
            yield path


def _named(places: Mapping[Where, Place], sections: tuple[str, ...]) -> Iterator[Where]:
    for path in places:
        if len(path) == 2 and str(path[0]) in sections:
            yield path


def _at(places: Mapping[Where, Place], path: Where) -> Iterator[Place]:
    if path in places:
        yield places[path]
