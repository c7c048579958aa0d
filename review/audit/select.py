"""Which set-ups of a store a condition holds for: ``benchgate audit --select``.

A selection speaks CEL, as the conditions of a ruleset do, of three families: ``facts.`` and
``worst.`` as there, and ``found.``, what the review found. It chooses what is shown and exported;
the audit itself always covers everything.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from review.engine.facts import fact_types
from review.interface.measure import ESTIMATED, STATUS_NAMES
from review.interface.plugin import Kind
from review.interface.result import GRADES
from review.judge.conditions import Condition, Place, Vocabulary, compile_condition

#: name -> (type, meaning). The documented family ``found.`` of a selection.
FOUND: dict[str, tuple[str, str]] = {
    "verdict": ("string", "the verdict of the review"),
    "unacceptable": ("list<string>", "criteria with an unacceptable finding"),
    "undetermined": ("list<string>", "criteria with an undetermined finding"),
    "tolerable": ("list<string>", "criteria with a tolerable finding"),
    "acceptable": ("list<string>", "criteria of which every finding is acceptable"),
    "failing_upsets": ("int", "single failures that lead to what is unacceptable or undetermined"),
    "signed": ("bool", "the set-up comes from a record of a sign-off"),
}

#: What a value must have to count as known: the true worst could else be another.
_TRUSTED = STATUS_NAMES[: ESTIMATED + 1]


@dataclass(frozen=True, slots=True)
class Selection:
    """How many set-ups were chosen, for how many that cannot be told, and out of how many.

    `text` is the condition as given, "" where everything was chosen.
    """

    text: str
    chosen: int
    untold: int
    total: int


def selecting(text: str, kinds: Iterable[str]) -> Condition:
    """The condition of a selection, checked; raises `RulesetError`, whose message stands alone.

    >>> selecting("facts.has_heat && found.failing_upsets > 0", []).text
    'facts.has_heat && found.failing_upsets > 0'
    """
    found = {name: type_name for name, (type_name, _) in FOUND.items()}
    return compile_condition(text, Vocabulary(fact_types(), kinds, found), Place("--select", 1))


def choose(
    store: sqlite3.Connection,
    condition: Condition | None,
    kinds: Mapping[str, Kind],
) -> Selection:
    """Choose the set-ups that `condition` holds for; all of them where there is none.

    Fills the temporary tables `chosen(path)` and `untold(path)` of the connection, which all that
    is shown afterwards reads. Files that hold no set-up are in neither. Of a set-up that could not
    be reviewed, facts, values and findings are not known; `found.signed` may be.
    """
    store.executescript(
        """
        DROP TABLE IF EXISTS temp.chosen;
        DROP TABLE IF EXISTS temp.untold;
        CREATE TEMP TABLE chosen(path TEXT PRIMARY KEY) WITHOUT ROWID;
        CREATE TEMP TABLE untold(path TEXT PRIMARY KEY) WITHOUT ROWID;
        """
    )
    total = 0
    rows = store.execute(
        "SELECT path, source, state, verdict, signed_at, facts FROM setup"
        f" {met(store)} WHERE state != 'skipped' ORDER BY path"
    )
    for path, source, state, verdict, signed_at, facts in rows:
        total += 1
        answer: bool | None = True
        if condition is not None:
            reviewed = state == "reviewed"
            found: dict[str, Any] = {"signed": _signed(source, signed_at, reviewed)}
            if reviewed:
                found |= {"verdict": verdict, **_found(store, path, condition)}
            answer = condition.evaluate(
                json.loads(facts) if reviewed and facts else {},
                _worst(store, path, condition, kinds) if reviewed else {},
                found,
            )
        if answer is not False:
            table = "chosen" if answer else "untold"
            store.execute(f"INSERT INTO temp.{table} VALUES (?)", (path,))
    chosen, untold = (
        store.execute(f"SELECT count(*) FROM temp.{table}").fetchone()[0]
        for table in ("chosen", "untold")
    )
    return Selection("" if condition is None else condition.text, chosen, untold, total)


def met(store: sqlite3.Connection) -> str:
    """SQL that keeps to the files which the audit that has the store open met; else to all."""
    found = store.execute("SELECT 1 FROM sqlite_temp_master WHERE name = 'audited'").fetchone()
    return "JOIN temp.audited USING (path)" if found else ""


def _signed(source: str, signed_at: str | None, reviewed: bool) -> bool | None:
    """Whether the row is a signed set-up; of a record that could not be read, nobody knows."""
    if source != "record":
        return False
    return True if reviewed or signed_at else None


def _found(store: sqlite3.Connection, path: str, condition: Condition) -> dict[str, Any]:
    """What the review found, as far as the condition asks for it."""
    found: dict[str, Any] = {}
    if any(f"found.{grade}" in condition.names for grade in GRADES):
        by_grade: dict[str, list[str]] = {grade: [] for grade in GRADES}
        rows = store.execute(
            "SELECT DISTINCT grade, criterion FROM finding WHERE path = ? ORDER BY criterion",
            (path,),
        )
        for grade, criterion in rows:
            by_grade[grade].append(criterion)
        graver = {c for grade in GRADES if grade != "acceptable" for c in by_grade[grade]}
        by_grade["acceptable"] = [c for c in by_grade["acceptable"] if c not in graver]
        found |= by_grade
    if "found.failing_upsets" in condition.names:
        (found["failing_upsets"],) = store.execute(
            "SELECT count(*) FROM upset"
            " WHERE path = ? AND grade IN ('unacceptable', 'undetermined')",
            (path,),
        ).fetchone()
    return found


def _worst(
    store: sqlite3.Connection, path: str, condition: Condition, kinds: Mapping[str, Kind]
) -> dict[str, float]:
    """The most hazardous value of each kind asked for, as far as all its values are known."""
    worst: dict[str, float] = {}
    trusted = ", ".join(f"'{name}'" for name in _TRUSTED)
    for kind in condition.kinds:
        reduce = "max" if kinds[kind].worse == "higher" else "min"
        value, known, count = store.execute(
            f"SELECT {reduce}(value), total(value IS NOT NULL AND status IN ({trusted})), count(*)"
            " FROM finding WHERE path = ? AND kind = ?",
            (path, kind),
        ).fetchone()
        if count and known == count:
            worst[kind] = value
    return worst
