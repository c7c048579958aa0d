"""What an audit found, for programs: one JSON object, or a CSV line for each set-up.

Both are made line by line, so that memory does not grow with the number of set-ups. Everything
speaks of the set-ups that `review.audit.select.choose` chose on the same connection, and of what
`review.audit.compare.compare` found there, if it was called.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from review.audit.compare import Compared
from review.audit.figures import Counts
from review.audit.select import Selection, met
from review.cautions import CAUTIONS
from review.interface.result import Basis
from review.judge.stored import plain_number
from review.render.words import clean
from review.replacing import replaced

#: The columns of a CSV line, in order.
COLUMNS = (
    "path", "source", "state", "selected", "verdict", "title", "error", "unacceptable",
    "undetermined", "tolerable", "failing_upsets", "must_change", "not_judged", "signed_verdict",
    "signed_at", "valid_until", "reviewed_at", "seconds", "scenario_sha256", "file_sha256",
    "change", "verdict_then", "because",
)  # fmt: skip
_NONE = object()
#: What a spreadsheet may read as the beginning of a formula.
#: What a spreadsheet may take for the beginning of a formula, in full width too.
_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\t", "\r", "\n")


@dataclass(frozen=True, slots=True)
class Told:
    """What stands at the head of an export. `layers` and `plugins` are names with hashes."""

    version: str
    store: str
    layers: tuple[tuple[str, str], ...]
    plugins: tuple[tuple[str, str], ...]
    counts: Counts
    selection: Selection
    compared: Compared | None = None


def json_lines(store: sqlite3.Connection, told: Told) -> Iterator[str]:
    """The lines of one JSON object: its head, then a set-up a line."""
    head: dict[str, Any] = {
        "benchgate": told.version,
        "store": told.store,
        "ruleset": {"layers": _named(told.layers)},
        "plugins": _named(told.plugins),
        "summary": asdict(told.counts),
        "selection": None,
        "comparison": None,
    }
    if told.selection.text:
        head["selection"] = asdict(told.selection)
    if told.compared is not None:
        compared = told.compared
        head["comparison"] = {
            "against": compared.against,
            **compared.changes,
            "same": compared.same,
        }
    yield "{\n"
    for key, value in head.items():
        yield f"{json.dumps(key)}: {_json(value)},\n"
    basis = _Basis(store)
    yield from _list("setups", (_setup(store, row, basis, told) for row in _rows(store, "chosen")))
    untold = store.execute("SELECT path FROM temp.untold ORDER BY path")
    yield from _list("cannot_be_told", (path for (path,) in untold))
    skipped = store.execute(
        f"SELECT path, error FROM setup {met(store)} WHERE state = 'skipped' ORDER BY path"
    )
    yield from _list("skipped", ({"path": path, "reason": error} for path, error in skipped))
    gone: Iterable[tuple[str, ...]] = ()
    if told.compared is not None:
        gone = store.execute(
            "SELECT path, title, verdict_then FROM temp.change WHERE change = 'gone' ORDER BY path"
        )
    yield from _list("gone", ({"path": p, "title": t, "verdict_then": v} for p, t, v in gone))
    yield f'"cautions": {_json(CAUTIONS)}\n}}\n'


def csv_lines(store: sqlite3.Connection, told: Told) -> Iterator[str]:
    """A line of names, then a line for each set-up that was chosen or that cannot be told."""
    yield _line(COLUMNS)
    for table, selected in (("chosen", "yes"), ("untold", "cannot be told")):
        for row in _rows(store, table):
            yield _line(_cells(store, row, selected, told))
    if told.compared is not None:
        for path, title, then in store.execute(
            "SELECT path, title, verdict_then FROM temp.change WHERE change = 'gone' ORDER BY path"
        ):
            cells = {"path": path, "title": title, "change": "gone", "verdict_then": then}
            yield _line([cells.get(name) for name in COLUMNS])


def write(path: Path, lines: Iterable[str]) -> None:
    """Lines to a file that is either complete or as it was. Raises OSError."""
    replaced(path, (line.encode("utf-8") for line in lines))


def cell(value: object) -> str:
    """A value as a CSV cell that no spreadsheet takes for a formula; one line, nothing hidden.

    >>> cell("=1+1"), cell("-x"), cell(-1.5), cell(None), cell("two\\nlines")
    ("'=1+1", "'-x", '-1.5', '', 'two lines')
    """
    if value is None:
        return ""
    if not isinstance(value, str):
        return str(value)
    text = value if value.isprintable() else clean(value)
    guarded = value.lstrip(" ").startswith(_FORMULA) or text.startswith(_FORMULA)
    return f"'{text}" if guarded else text


def _rows(store: sqlite3.Connection, table: str) -> Iterator[dict[str, Any]]:
    """The set-ups of `chosen` or `untold`, one at a time; measures stay where they are."""
    names = (
        "path", "source", "state", "title", "error", "verdict", "file_sha256", "scenario_sha256",
        "rules", "facts", "signed_verdict", "signed_at", "valid_until", "reviewed_at", "seconds",
    )  # fmt: skip
    for values in store.execute(
        f"SELECT {', '.join(names)} FROM setup JOIN temp.{table} USING (path) ORDER BY path"
    ):
        yield dict(zip(names, values, strict=True))


def _setup(
    store: sqlite3.Connection, row: dict[str, Any], basis: _Basis, told: Told
) -> dict[str, Any]:
    signed = {
        "verdict": row.pop("signed_verdict"),
        "at": row.pop("signed_at"),
        "valid_until": row.pop("valid_until"),
    }
    rules, facts, path = row.pop("rules"), row.pop("facts"), row["path"]
    findings, upsets = _findings(store, path, basis.of(rules)), _upsets(store, path)
    acceptable = {
        table: store.execute(
            f"SELECT count(*) FROM {table} WHERE path = ? AND grade = 'acceptable'", (path,)
        ).fetchone()[0]
        for table in ("finding", "upset")
    }
    return row | {
        "signed": signed if row["source"] == "record" else None,
        "facts": json.loads(facts) if facts else None,
        "findings": findings,
        "upsets": upsets,
        "acceptable": {"findings": acceptable["finding"], "upsets": acceptable["upset"]},
        "change": _change(store, path) if told.compared is not None else None,
    }


def _findings(
    store: sqlite3.Connection, path: str, basis: Mapping[str, str]
) -> list[dict[str, Any]]:
    rows = store.execute(
        "SELECT criterion, title, kind, at, of, grade, status, case_name, trial, step, value, unit,"
        " limit_value, action, reason, blocks, bound, known FROM finding"
        " WHERE path = ? AND grade != 'acceptable' ORDER BY position",
        (path,),
    )
    return [
        {
            "criterion": criterion, "title": title, "kind": kind, "at": at, "of": of,
            "grade": grade, "status": status, "case": case, "trial": trial, "step": step,
            "value": plain_number(value), "unit": unit, "limit": plain_number(limit),
            "action": action, "reason": reason, "basis": basis.get(criterion, ""),
            "blocks": bool(blocks), "bound": plain_number(bound), "known": plain_number(known),
        }
        for criterion, title, kind, at, of, grade, status, case, trial, step, value, unit, limit,
            action, reason, blocks, bound, known in rows
    ]  # fmt: skip


def _upsets(store: sqlite3.Connection, path: str) -> list[dict[str, Any]]:
    rows = store.execute(
        "SELECT id, title, grade, criterion, at, of, step, value, unit, seconds, credit FROM upset"
        " WHERE path = ? AND grade != 'acceptable' ORDER BY id",
        (path,),
    )
    names = [each[0] for each in rows.description]
    found = [dict(zip(names, row, strict=True)) for row in rows]
    return [
        each | {"value": plain_number(each["value"]), "seconds": plain_number(each["seconds"])}
        for each in found
    ]


def _change(store: sqlite3.Connection, path: str) -> dict[str, Any] | None:
    """What changed since the earlier store; None where nothing did."""
    row = store.execute(
        "SELECT change, verdict_then FROM temp.change WHERE path = ?", (path,)
    ).fetchone()
    if row is None:
        return None
    moved = store.execute(
        "SELECT criterion, at, of, case_name, grade_then, grade_now, way, because FROM temp.moved"
        " WHERE path = ? ORDER BY position",
        (path,),
    )
    return {
        "change": row[0],
        "verdict_then": row[1],
        "because": _causes(store, path),
        "moved": [
            {
                "criterion": criterion, "at": at, "of": of, "case": case, "then": then or None,
                "now": now or None, "way": way, "because": json.loads(why),
            }
            for criterion, at, of, case, then, now, way, why in moved
        ],
    }  # fmt: skip


def _causes(store: sqlite3.Connection, path: str) -> list[str]:
    rows = store.execute("SELECT cause FROM temp.cause WHERE path = ? ORDER BY cause", (path,))
    return [cause for (cause,) in rows]


def _cells(
    store: sqlite3.Connection, row: Mapping[str, Any], selected: str, told: Told
) -> list[object]:
    cells: dict[str, object] = {**row, "selected": selected}
    path = row["path"]
    if row["state"] == "reviewed":
        found: dict[str, list[str]] = {"unacceptable": [], "undetermined": [], "tolerable": []}
        for grade, criterion in store.execute(
            "SELECT DISTINCT grade, criterion FROM finding WHERE path = ? AND grade != 'acceptable'"
            " ORDER BY criterion",
            (path,),
        ):
            found[grade].append(criterion)
        cells |= {grade: len(criteria) for grade, criteria in found.items()}
        cells["must_change"] = "; ".join(found["unacceptable"])
        cells["not_judged"] = "; ".join(found["undetermined"])
        (cells["failing_upsets"],) = store.execute(
            "SELECT count(*) FROM upset"
            " WHERE path = ? AND grade IN ('unacceptable', 'undetermined')",
            (path,),
        ).fetchone()
    if told.compared is not None:
        change = store.execute(
            "SELECT change, verdict_then FROM temp.change WHERE path = ?", (path,)
        ).fetchone()
        if change is not None:
            cells["change"], cells["verdict_then"] = change
            cells["because"] = "; ".join(_causes(store, path))
    return [cells.get(name) for name in COLUMNS]


def _line(cells: Iterable[object]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow([cell(each) for each in cells])
    return text.getvalue()


class _Basis:
    """Where each criterion of a ruleset comes from, read once for each ruleset."""

    def __init__(self, store: sqlite3.Connection) -> None:
        self._store, self._known = store, dict[str, dict[str, str]]()

    def of(self, rules: str) -> Mapping[str, str]:
        if rules not in self._known:
            query = "SELECT text FROM ruleset WHERE sha256 = ?"
            row = self._store.execute(query, (rules,)).fetchone()
            criteria = json.loads(row[0]).get("criteria", []) if row else []
            self._known[rules] = {each["id"]: str(Basis(**each["basis"])) for each in criteria}
        return self._known[rules]


def _list(key: str, values: Iterable[Any]) -> Iterator[str]:
    """A list of the object, an entry a line."""
    yield f"{json.dumps(key)}: [\n"
    entries = iter(values)
    last = next(entries, _NONE)
    for value in entries:
        yield f"{_json(last)},\n"
        last = value
    yield "],\n" if last is _NONE else f"{_json(last)}\n],\n"


def _named(pairs: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"name": name, "sha256": sha256} for name, sha256 in pairs]


def _json(value: Any) -> str:
    return json.dumps(value, allow_nan=False)
