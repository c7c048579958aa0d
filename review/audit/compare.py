"""What became of the set-ups of an earlier store: worse, better, new, gone, and why.

`compare` fills temporary tables, which the page and the exports read:

- `change(path, title, change, verdict_then, verdict_now)`, one row per set-up that differs;
  `change` is one of `CHANGES`; a verdict is NULL where the set-up is not there.
- `moved(path, position, criterion, title, at, of, case_name, grade_then, grade_now, way,
  because)`, one row per finding that moved; `way` is one of `WAYS`, a grade is "" where there is
  no finding, `because` is a JSON list.
- `cause(path, cause)`: what can be the cause of the change as a whole.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from review.audit.causes import SCENARIO, Causes, Grade, Key, Side, gravest
from review.audit.database import READS_FROM, StoreError, check, in_words

#: Of a set-up. `otherwise`: it differs, and nothing says that it is better or worse.
CHANGES = ("worse", "better", "new", "gone", "otherwise")
#: Of a finding. `new` is acceptable and was not there, `gone` is not asked for any more; `other`
#: was unacceptable and is not known now, or is a condition of another kind.
WAYS = ("worse", "better", "new", "gone", "other")
UNREVIEWED = "could not be reviewed"

_VERDICTS = ("may proceed", "may proceed with conditions", "cannot be judged", "must not proceed")

TABLES = """
DROP TABLE IF EXISTS temp.change;
DROP TABLE IF EXISTS temp.moved;
DROP TABLE IF EXISTS temp.cause;
CREATE TEMP TABLE change(
    path TEXT PRIMARY KEY, title TEXT, change TEXT NOT NULL, verdict_then TEXT, verdict_now TEXT
) WITHOUT ROWID;
CREATE TEMP TABLE moved(
    path TEXT NOT NULL, position INTEGER NOT NULL, criterion TEXT NOT NULL, title TEXT NOT NULL,
    at TEXT NOT NULL, of TEXT NOT NULL, case_name TEXT NOT NULL, grade_then TEXT NOT NULL,
    grade_now TEXT NOT NULL, way TEXT NOT NULL, because TEXT NOT NULL, PRIMARY KEY (path, position)
) WITHOUT ROWID;
CREATE TEMP TABLE cause(
    path TEXT NOT NULL, cause TEXT NOT NULL, PRIMARY KEY (path, cause)
) WITHOUT ROWID;
"""


@dataclass(frozen=True, slots=True)
class Compared:
    """How many set-ups came to each of `CHANGES`, and how many are as they were."""

    against: str
    changes: Mapping[str, int]
    same: int

    @property
    def strangers(self) -> bool:
        """Whether no path at all is in both stores."""
        met = self.same + self.changes["worse"] + self.changes["better"] + self.changes["otherwise"]
        return met == 0 and self.changes["new"] > 0


@contextmanager
def earlier(path: Path) -> Iterator[sqlite3.Connection]:
    """An earlier store, read without a trace: nothing is left beside it, wherever it lies.

    Raises `StoreError` for a file that is no store, and where somebody wrote to it meanwhile.
    """
    check(path, READS_FROM)
    # SQLite keeps files beside a store that may be written to; where there are none, it is at rest.
    resting, before = not _is_written_to(path), path.stat()
    how = "immutable=1" if resting else "mode=ro"
    with in_words(path):
        where = path.resolve().as_uri()
        connection = sqlite3.connect(f"{where}?{how}", uri=True, isolation_level=None)
        try:
            yield connection
        finally:
            connection.close()
    after = path.stat()
    same = (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size)
    if resting and (_is_written_to(path) or not same):
        raise StoreError(f"{path} was written to while it was compared with; compare again")


def _is_written_to(path: Path) -> bool:
    return os.path.exists(f"{path.resolve()}-wal")


def check_against(old: Path, store: Path) -> None:
    """Raise `StoreError` unless `old` is a store that can be read and another file than `store`."""
    check(old, READS_FROM)
    if os.path.exists(store) and os.path.samefile(old, store):
        raise StoreError(
            f"{old} is the store that this audit writes to; compare with a copy made before it"
        )


def compare(
    old: sqlite3.Connection,
    new: sqlite3.Connection,
    causes: Causes,
    against: str,
    gone: Callable[[str], bool],
) -> Compared:
    """Compare the set-ups chosen on both connections by `review.audit.select.choose`.

    Those of `old` count as gone where `new` has no set-up of that path and `gone` says that the
    audit would have met it. Fills the tables named above, one set-up at a time.
    """
    new.executescript(TABLES)
    counts = dict.fromkeys(CHANGES, 0)
    same = 0
    for now in _sides(new, "JOIN temp.chosen USING (path) ORDER BY path"):
        then = next(_sides(old, "WHERE path = ? AND state != 'skipped'", now.path), None)
        if then is None:
            _put(new, now.path, now.title, "new", None, _verdict(now))
            counts["new"] += 1
            continue
        change = _compared(old, new, causes, then, now)
        if change:
            counts[change] += 1
        else:
            same += 1
    left = (
        "WHERE path IN (SELECT path FROM temp.chosen UNION SELECT path FROM temp.untold)"
        " ORDER BY path"
    )
    for then in _sides(old, left):
        now_too = next(_sides(new, "WHERE path = ? AND state != 'skipped'", then.path), None)
        if now_too is None and gone(then.path):
            _put(new, then.path, then.title, "gone", _verdict(then), None)
            counts["gone"] += 1
    return Compared(against, counts, same)


def _compared(
    old: sqlite3.Connection, new: sqlite3.Connection, causes: Causes, then: Side, now: Side
) -> str:
    """Store what differs between two rows of one path; "" where nothing does."""
    if then == now:  # one row, copied with its store
        return ""
    before, after = _findings(old, then), _findings(new, now)
    if then.state == now.state == "reviewed":
        moved = {
            key: (_grade(before, key), _grade(after, key))
            for key in sorted(before.keys() | after.keys())
            if _grade(before, key) != _grade(after, key)
        }
    else:
        moved = {}
    verdicts = _verdict(then), _verdict(now)
    if not moved and verdicts[0] == verdicts[1]:
        return ""
    told = causes.of_findings(then, now, moved)
    ways = {key: _way(before.get(key), after.get(key)) for key in moved}
    silent = any(
        way == "gone" and before[key].rank > 1 and told[key] != (SCENARIO,)
        for key, way in ways.items()
    )
    change = _change(*verdicts, list(ways.values()), silent=silent)
    _put(new, now.path, now.title or then.title, change, *verdicts)
    order = sorted(moved, key=lambda key: (WAYS.index(ways[key]), -_rank(before, after, key), key))
    new.executemany(
        "INSERT INTO temp.moved VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                now.path, position, key[0], (after.get(key) or before[key]).title, *key[1:],
                *moved[key], ways[key], json.dumps(told[key]),
            )
            for position, key in enumerate(order)
        ],
    )  # fmt: skip
    decisive = [key for key in order if ways[key] == change] or order
    found = {cause for key in decisive for cause in told[key]}
    if not moved:  # one of the two could not be reviewed, which no rule brings about
        found = set(causes.of_setup(then, now))
    new.executemany(
        "INSERT INTO temp.cause VALUES (?, ?)", [(now.path, cause) for cause in sorted(found)]
    )
    return change


def _change(then: str, now: str, ways: list[str], *, silent: bool) -> str:
    """The verdict decides; with the same verdict, any finding that is worse.

    Better is only what may proceed now: what nobody can judge any more is not. Nor is it where
    something that spoke against the set-up is `silent` now for another reason than that the
    set-up itself is another.
    """
    if then != now:
        if now == UNREVIEWED:
            return "worse"
        after = _VERDICTS.index(now)
        if then != UNREVIEWED and after > _VERDICTS.index(then):
            return "worse"
        return "better" if after < 2 and not silent else "otherwise"
    return next((way for way in ("worse", "better") if way in ways), "otherwise")


def _way(then: Grade | None, now: Grade | None) -> str:
    """What a finding's move means.

    One that is not asked for any more, or that nobody can judge any more, is not better for it.
    """
    if now is None:
        return "gone"
    if then is None:
        return "worse" if now.rank else "new"
    if now.rank > then.rank:
        return "worse"
    return "better" if now.rank < min(then.rank, 2) else "other"


def _grade(side: Mapping[Key, Grade], key: Key) -> str:
    return side[key].grade if key in side else ""


def _rank(before: Mapping[Key, Grade], after: Mapping[Key, Grade], key: Key) -> int:
    """How much a move weighs: what it came to, or what it was."""
    return (after.get(key) or before[key]).rank


def _verdict(side: Side) -> str:
    return side.verdict or UNREVIEWED


def _sides(store: sqlite3.Connection, where: str, *values: str) -> Iterator[Side]:
    for row in store.execute(f"SELECT {Side.COLUMNS} FROM setup {where}", values):
        yield Side(*row)


def _findings(store: sqlite3.Connection, side: Side) -> dict[Key, Grade]:
    return gravest(
        store.execute(
            "SELECT criterion, at, of, case_name, grade, title, blocks FROM finding WHERE path = ?",
            (side.path,),
        )
    )


def _put(
    store: sqlite3.Connection,
    path: str,
    title: str | None,
    change: str,
    then: str | None,
    now: str | None,
) -> None:
    values = path, title, change, then, now
    store.execute("INSERT INTO temp.change VALUES (?, ?, ?, ?, ?)", values)
