"""The store of an audit: one SQLite file, written by one audit at a time, read by anyone.

Each row is one file as it was last reviewed, with hashes of all that its result depends on. A row
is written in one transaction, so that whatever ends an audit leaves only whole rows. While an
audit runs, the temporary table `audited` of its connection lists the paths it has seen: what is
reported concerns those, and rows of other folders in the same store stay as they are.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from filelock import FileLock, Timeout

from review.audit.database import HISTORY, READS_FROM, SUMS, StoreError, check, create, in_words

_SEEN = "CREATE TEMP TABLE audited(path TEXT PRIMARY KEY) WITHOUT ROWID"

_COLUMNS = (
    "path", "source", "state", "title", "error", "verdict", "file_sha256", "scenario_sha256",
    "rules", "code", "plugins", "data", "facts", "signed_verdict", "signed_at", "valid_until",
    "reviewed_at", "seconds", "measures",
)  # fmt: skip
_FINDING_COLUMNS, _UPSET_COLUMNS = 20, 12


@dataclass(frozen=True, slots=True)
class Row:
    """One file's result, as plain data. What there is nothing to say of is None.

    `plugins`, `data` and `facts` are JSON texts. `findings` and `upsets` are rows of their tables
    without the path; `findings` also without their position. A row that has no `measures` cannot
    be judged again.
    """

    path: str
    source: Literal["scenario", "record", "other"]
    state: Literal["reviewed", "error", "skipped"]
    rules: str
    code: str
    plugins: str
    reviewed_at: str
    seconds: float
    title: str | None = None
    error: str | None = None
    verdict: str | None = None
    file_sha256: str | None = None
    scenario_sha256: str | None = None
    data: str = "[]"
    facts: str | None = None
    signed_verdict: str | None = None
    signed_at: str | None = None
    valid_until: str | None = None
    measures: bytes | None = None
    findings: tuple[tuple[Any, ...], ...] = ()
    upsets: tuple[tuple[Any, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Judged:
    """What judging a row's stored measures by other rules came to."""

    path: str
    rules: str
    verdict: str
    reviewed_at: str
    findings: tuple[tuple[Any, ...], ...]
    upsets: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What a row says of the inputs of its result, and what that came to."""

    state: str
    verdict: str | None
    file_sha256: str | None
    rules: str
    code: str
    plugins: str
    data: str
    has_measures: int
    has_facts: int = 1
    error: str | None = None


class Store:
    """An open store; `connection` is for reading by whoever reports. Made by `opened`."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path, self.connection = path, connection

    def known(self, path: str) -> Known | None:
        """What is stored of a file, without findings and measures.

        None also where anything of it is not as it was written.
        """
        row = self.connection.execute(
            "SELECT state, verdict, file_sha256, rules, code, plugins, data,"
            " typeof(measures) = 'blob', coalesce(json_valid(facts), 0), error"
            " FROM setup WHERE path = ?",
            (path,),
        ).fetchone()
        return None if row is None or not self._is_whole(path) else Known(*row)

    def _is_whole(self, path: str) -> bool:
        found = self.connection.execute("SELECT sha256 FROM checksum WHERE path = ?", (path,))
        kept = found.fetchone()
        return kept is not None and kept[0] == self._sum(path)

    def _sum(self, path: str) -> str:
        """The hash of all that is stored of a file."""
        digest = hashlib.sha256()
        for table, order in (("setup", "path"), ("finding", "position"), ("upset", "id")):
            for row in self.connection.execute(
                f"SELECT * FROM {table} WHERE path = ? ORDER BY {order}", (path,)
            ):
                digest.update(repr(row).encode("utf-8", "surrogatepass"))
        return digest.hexdigest()

    def measured(self, path: str) -> tuple[bytes, str]:
        """The packed measures and the facts (JSON) of a row that has them."""
        row: tuple[bytes, str] = self.connection.execute(
            "SELECT measures, facts FROM setup WHERE path = ?", (path,)
        ).fetchone()
        return row

    def ruleset(self, sha256: str) -> str | None:
        """The text of a ruleset by its hash."""
        found = self.connection.execute("SELECT text FROM ruleset WHERE sha256 = ?", (sha256,))
        row = found.fetchone()
        return None if row is None else str(row[0])

    def see(self, path: str) -> None:
        """Note that this audit met a file; what is not met and lies in its folders is gone."""
        self.connection.execute("INSERT OR IGNORE INTO audited VALUES (?)", (path,))

    def put_ruleset(self, sha256: str, text: str, criteria: Mapping[str, str]) -> None:
        """Keep the ruleset that rows are going to point to; `criteria` are hashes by id."""
        with self._transaction():
            self.connection.execute("INSERT OR IGNORE INTO ruleset VALUES (?, ?)", (sha256, text))
            self.connection.executemany(
                "INSERT OR IGNORE INTO criterion VALUES (?, ?, ?)",
                [(sha256, id, each) for id, each in criteria.items()],
            )

    def put(self, row: Row) -> None:
        """Write one row in place of what was stored of its file."""
        marks = ", ".join("?" * len(_COLUMNS))
        with self._transaction():
            self._remember(row.path)
            self.connection.execute("DELETE FROM setup WHERE path = ?", (row.path,))
            self.connection.execute(
                f"INSERT INTO setup({', '.join(_COLUMNS)}) VALUES ({marks})",
                [getattr(row, name) for name in _COLUMNS],
            )
            self._put_results(row)
            self._remember(row.path)

    def put_judged(self, judged: Judged) -> None:
        """Write what other rules say of a row; its measures and what they rest on stay."""
        with self._transaction():
            self._remember(judged.path)
            for table in ("finding", "upset"):
                self.connection.execute(f"DELETE FROM {table} WHERE path = ?", (judged.path,))
            self.connection.execute(
                "UPDATE setup SET rules = ?, verdict = ?, reviewed_at = ? WHERE path = ?",
                (judged.rules, judged.verdict, judged.reviewed_at, judged.path),
            )
            self._put_results(judged)
            self._remember(judged.path)

    def _remember(self, path: str) -> None:
        """Note what is stored of a file in its history, where that is not what stands there last.

        Called before and after a row is written, so that an older store's row is noted too.
        """
        self.connection.execute(
            "INSERT OR REPLACE INTO history"
            " SELECT path, reviewed_at, coalesce(verdict, 'not reviewed') AS now, rules FROM setup"
            " WHERE path = :path AND state != 'skipped' AND now IS NOT"
            " (SELECT verdict FROM history WHERE path = :path ORDER BY since DESC LIMIT 1)",
            {"path": path},
        )

    def forget_gone(self, folders: Sequence[str], unread: Sequence[str]) -> int:
        """Drop rows of files that lie below `folders` and were not met; how many there were.

        What lies below `unread`, folders that could not be looked into, stays. Rulesets that no
        row points to any more go.
        """
        self.connection.create_function(
            "gone", 1, lambda path: below(path, folders) and not below(path, unread)
        )
        with self._transaction():
            gone = self.connection.execute(
                "DELETE FROM setup WHERE path NOT IN (SELECT path FROM audited) AND gone(path)"
            ).rowcount
            self.connection.execute(
                "DELETE FROM history WHERE path NOT IN (SELECT path FROM setup)"
            )
            self.connection.execute(
                "DELETE FROM ruleset WHERE sha256 NOT IN (SELECT rules FROM setup)"
            )
        return gone

    def tally(self) -> dict[tuple[str, str | None], int]:
        """How many of the files this audit met came to each (state, verdict)."""
        counted = self.connection.execute(
            "SELECT state, verdict, count(*) FROM setup JOIN audited USING (path) GROUP BY 1, 2"
        )
        return {(state, verdict): count for state, verdict, count in counted}

    def _put_results(self, row: Row | Judged) -> None:
        marks = ", ".join("?" * _FINDING_COLUMNS)
        self.connection.executemany(
            f"INSERT INTO finding VALUES ({marks})",
            [(row.path, n, *finding) for n, finding in enumerate(row.findings)],
        )
        marks = ", ".join("?" * _UPSET_COLUMNS)
        self.connection.executemany(
            f"INSERT INTO upset VALUES ({marks})", [(row.path, *upset) for upset in row.upsets]
        )
        self.connection.execute(
            "INSERT OR REPLACE INTO checksum VALUES (?, ?)", (row.path, self._sum(row.path))
        )

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:  # a full disk has rolled it back already
                self.connection.execute("ROLLBACK")
            raise


@contextmanager
def opened(path: Path) -> Iterator[Store]:
    """A store to write to, made where there is none; nobody else can write to it meanwhile.

    Raises `StoreError` for a file that is no store or of another version, which is left as it is,
    for a store that another audit is writing to, and for whatever SQLite cannot do.
    """
    with _alone(path), in_words(path):
        if os.path.lexists(path):
            check(path)
        else:
            create(path)
        connection = sqlite3.connect(path, isolation_level=None)
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = NORMAL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(SUMS)
            connection.execute(HISTORY)
            connection.execute(_SEEN)
            yield Store(path, connection)
        finally:
            connection.close()


def own_files(path: Path) -> frozenset[str]:
    """The real paths of a store and of what may lie beside it while it is written."""
    real = os.path.realpath(path)
    beside = ("", "-wal", "-shm", "-journal", ".lock", ".new", ".new-journal")
    return frozenset(real + each for each in beside)


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A store to read only, as it is now; raises `StoreError` as `opened` does.

    Stores of older versions are read too.
    """
    check(path, READS_FROM)
    with in_words(path):
        where = path.resolve().as_uri()
        connection = sqlite3.connect(f"{where}?mode=ro", uri=True, isolation_level=None)
        try:
            yield connection
        finally:
            connection.close()


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Hold the lock of a store, which ends with the process whatever ends it.

    It lies beside the file itself, so that a store is the same one by all links to it.
    """
    if not path.parent.is_dir():
        raise StoreError(f"{path}: there is no folder {path.parent}")
    beside = f"{os.path.realpath(path)}.lock"
    lock = FileLock(beside, timeout=0, mode=0o666)
    try:
        lock.acquire()
    except Timeout:
        raise StoreError(f"another audit is writing to {path}; wait until it is done") from None
    except OSError as error:
        raise StoreError(f"{beside} cannot be written: {error.strerror or error}") from None
    try:
        yield
    finally:
        lock.release()


def below(path: str, folders: Sequence[str]) -> bool:
    """Whether a path of the store lies in one of the folders, as they are named.

    >>> below("lab/a.yaml", ["lab"]), below("lab 2/a.yaml", ["lab"])
    (True, False)
    >>> below("a.yaml", ["."]), below("../a.yaml", ["."]), below("/a.yaml", ["."])
    (True, False, False)
    """
    for folder in folders:
        if folder == ".":
            if not path.startswith(("/", "../")):
                return True
        elif path == folder or path.startswith(folder.rstrip("/") + "/"):
            return True
    return False
