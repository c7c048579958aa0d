"""The sums that an audit's outputs share, done by the database.

Everything speaks of the set-ups that `review.audit.select.choose` chose on the same connection.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from review.audit.select import met
from review.interface.plugin import Kind
from review.interface.result import STATED_PLAN, Basis, Finding
from review.render import words

#: Most serious first.
VERDICTS = (
    "must not proceed", "cannot be judged", "may proceed with conditions", "may proceed",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Counts:
    """Numbers of set-ups, but `skipped`: files that hold none.

    `verdicts` are of those that were reviewed; `signed` were signed and still hold, `expired` are
    past their last day; of each, `refused` and `expired_refused` would not pass today, because of
    their verdict or because they could not be reviewed. Of `refused`, `answered` could not be
    judged when they were signed either, and somebody answered for what was open. Of `signed`,
    `conditions_since` were signed without conditions and have some today. `failing` have a single
    failure that leads to what is unacceptable.
    """

    total: int
    verdicts: Mapping[str, int]
    errors: int
    skipped: int
    signed: int
    refused: int
    answered: int
    expired: int
    expired_refused: int
    conditions_since: int
    failing: int


def count(store: sqlite3.Connection, today: date) -> Counts:
    """Count what was chosen; `today` tells which sign-offs have expired."""
    verdicts = dict.fromkeys(VERDICTS, 0)
    errors = 0
    rows = store.execute(
        "SELECT state, verdict, count(*) FROM setup JOIN temp.chosen USING (path) GROUP BY 1, 2"
    )
    for state, verdict, number in rows:
        if state == "reviewed":
            verdicts[verdict] = number
        else:
            errors += number
    (skipped,) = store.execute(
        f"SELECT count(*) FROM setup {met(store)} WHERE state = 'skipped'"
    ).fetchone()
    signed = store.execute(
        "SELECT total(NOT expired), total(NOT expired AND refused),"
        " total(NOT expired AND answered), total(expired), total(expired AND refused),"
        " total(NOT expired AND signed_verdict = 'may proceed'"
        "       AND verdict = 'may proceed with conditions')"
        f" FROM ({SIGNED_ROWS})",
        {"today": today.isoformat()},
    ).fetchone()
    (failing,) = store.execute(
        "SELECT count(DISTINCT path) FROM upset JOIN temp.chosen USING (path)"
        " WHERE grade = 'unacceptable'"
    ).fetchone()
    total = sum(verdicts.values()) + errors
    valid, refused, answered, expired, both, since = map(int, signed)
    return Counts(
        total, verdicts, errors, skipped, valid, refused, answered, expired, both, since, failing
    )


#: Signed set-ups, with what became of their sign-off by the day `:today`.
SIGNED_ROWS = """
    SELECT path, title, state, error, verdict, signed_verdict, signed_at, valid_until,
        coalesce(valid_until < :today, 0) AS expired,
        (state != 'reviewed' OR verdict NOT IN ('may proceed with conditions', 'may proceed'))
            AS refused,
        (verdict = 'cannot be judged' AND signed_verdict = 'cannot be judged') AS answered
    FROM setup JOIN temp.chosen USING (path) WHERE source = 'record'
"""


def worst_findings(
    store: sqlite3.Connection, kinds: Mapping[str, Kind]
) -> Iterator[tuple[str, Finding, str]]:
    """Of each criterion the unacceptable finding with the most hazardous value.

    Each as (path, finding, when it is worst); ties go to the first path.
    """
    store.executescript(
        "DROP TABLE IF EXISTS temp.direction;"
        "CREATE TEMP TABLE direction(kind TEXT PRIMARY KEY, sign REAL) WITHOUT ROWID;"
    )
    store.executemany(
        "INSERT INTO temp.direction VALUES (?, ?)",
        [(id, 1.0 if kind.worse == "higher" else -1.0) for id, kind in kinds.items()],
    )
    rows = store.execute(
        """
        SELECT f.path, f.criterion, f.title, f.kind, f.at, f.of, f.status, case_name, trial, f.step,
            f.value, f.unit, limit_value, action, reason, upset.title
        FROM (
            SELECT finding.*, row_number() OVER (
                PARTITION BY criterion ORDER BY value * coalesce(sign, 1) DESC, path, position
            ) AS place
            FROM finding JOIN temp.chosen USING (path) LEFT JOIN temp.direction USING (kind)
            WHERE grade = 'unacceptable'
        ) AS f LEFT JOIN upset ON upset.path = f.path AND upset.id = f.trial
        WHERE place = 1 ORDER BY f.criterion
        """
    )
    for path, criterion, title, kind, at, of, status, case, trial, step, value, unit, *rest in rows:
        limit, action, reason, upset = rest
        finding = Finding(
            criterion, title, kind, at, of, "unacceptable", status, case, trial, step,
            math.nan if value is None else value, unit,
            kinds[kind].display if kind in kinds else "", limit, action, Basis("", "", ""), "",
            reason,
        )  # fmt: skip
        yield path, finding, _when(finding, upset)


def _when(finding: Finding, upset: str | None) -> str:
    if not finding.kind:
        return ""
    step = "" if finding.at == finding.step else words.in_step(finding.step)
    if upset:
        return f"if {upset}, {step}" if step else f"if {upset}"
    return "as planned" if finding.step == STATED_PLAN else f"as planned, {step}".strip(", ")
