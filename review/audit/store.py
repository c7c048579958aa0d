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

#: "bgat"; says whose file it is, in the header of every SQLite file.
APPLICATION_ID = 0x62676174
VERSION = 2
#: Oldest version that can still be compared with; it lacks the bounds of estimates.
READS_FROM = 1

_SCHEMA = """
CREATE TABLE ruleset(sha256 TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE criterion(
    ruleset TEXT NOT NULL REFERENCES ruleset ON DELETE CASCADE,
    id TEXT NOT NULL, sha256 TEXT NOT NULL,
    PRIMARY KEY (ruleset, id)
) WITHOUT ROWID;
CREATE TABLE setup(
    path TEXT PRIMARY KEY,
    source TEXT NOT NULL CHECK (source IN ('scenario', 'record', 'other')),
    state TEXT NOT NULL CHECK (state IN ('reviewed', 'error', 'skipped')),
    title TEXT, error TEXT, verdict TEXT,
    file_sha256 TEXT, scenario_sha256 TEXT,
    rules TEXT NOT NULL REFERENCES ruleset,
    code TEXT NOT NULL, plugins TEXT NOT NULL, data TEXT NOT NULL, facts TEXT,
    signed_verdict TEXT, signed_at TEXT, valid_until TEXT,
    reviewed_at TEXT NOT NULL, seconds REAL NOT NULL,
    measures BLOB
);
CREATE TABLE finding(
    path TEXT NOT NULL REFERENCES setup ON DELETE CASCADE,
    position INTEGER NOT NULL,
    criterion TEXT NOT NULL, title TEXT NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL,
    of TEXT NOT NULL, grade TEXT NOT NULL, status TEXT NOT NULL, case_name TEXT NOT NULL,
    trial TEXT NOT NULL, step TEXT NOT NULL, value REAL, unit TEXT NOT NULL, limit_value REAL,
    action TEXT NOT NULL, reason TEXT NOT NULL, blocks INTEGER NOT NULL,
    bound REAL, known REAL,
    PRIMARY KEY (path, position)
) WITHOUT ROWID;
CREATE TABLE upset(
    path TEXT NOT NULL REFERENCES setup ON DELETE CASCADE,
    id TEXT NOT NULL, title TEXT NOT NULL, grade TEXT NOT NULL, criterion TEXT NOT NULL,
    at TEXT NOT NULL, of TEXT NOT NULL, step TEXT NOT NULL, value REAL, unit TEXT NOT NULL,
    seconds REAL, credit TEXT NOT NULL,
    PRIMARY KEY (path, id)
) WITHOUT ROWID;
CREATE INDEX setup_rules ON setup(rules);
"""
#: A row that is not as it was written is reviewed anew. Made where an older store lacks it.
_SUMS = """
CREATE TABLE IF NOT EXISTS checksum(
    path TEXT PRIMARY KEY REFERENCES setup ON DELETE CASCADE, sha256 TEXT NOT NULL
) WITHOUT ROWID;
"""
#: What a file's verdict was from when on; kept when the row is written anew.
_HISTORY = """
CREATE TABLE IF NOT EXISTS history(
    path TEXT NOT NULL, since TEXT NOT NULL, verdict TEXT NOT NULL, rules TEXT NOT NULL,
    PRIMARY KEY (path, since)
) WITHOUT ROWID;
"""
_SEEN = "CREATE TEMP TABLE audited(path TEXT PRIMARY KEY) WITHOUT ROWID"

_COLUMNS = (
    "path", "source", "state", "title", "error", "verdict", "file_sha256", "scenario_sha256",
    "rules", "code", "plugins", "data", "facts", "signed_verdict", "signed_at", "valid_until",
    "reviewed_at", "seconds", "measures",
)  # fmt: skip
_FINDING_COLUMNS, _UPSET_COLUMNS = 20, 12


class StoreError(Exception):
    """The store cannot be used; the message says why, in words."""


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
            _create(path)
        connection = sqlite3.connect(path, isolation_level=None)
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = NORMAL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(_SUMS)
            connection.execute(_HISTORY)
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


def check(path: Path, oldest: int = VERSION) -> None:
    """Raise `StoreError` unless a file is a store from version `oldest` on; nothing is written.

    Both numbers stand at fixed places of every SQLite file's header: see "Database File Format" of
    the SQLite documentation, section 1.3.
    """
    try:
        if not path.is_file():
            what = "is not a regular file" if path.exists() else "no such file"
            raise StoreError(f"{path}: {what}")
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise StoreError(f"{path} cannot be read: {error.strerror or error}") from None
    if len(head) < 100 or not head.startswith(b"SQLite format 3\0"):
        raise StoreError(f"{path} is no store of an audit; choose another name, it stays as it is")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise StoreError(f"{path} is the database of another program, and stays as it is")
    found = int.from_bytes(head[60:64], "big")
    if not oldest <= found <= VERSION:
        raise StoreError(
            f"{path} was written by {'a newer' if found > VERSION else 'an older'} version of "
            f"benchgate (store version {found}, this one reads {VERSION}) and stays as it is; "
            "audit into another store"
        )


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite says of a store into a `StoreError`."""
    try:
        yield
    except sqlite3.OperationalError as error:
        raise StoreError(
            f"{path}: {error}. What was stored before stays, and the same command goes on from "
            "there"
        ) from error
    except sqlite3.DatabaseError as error:
        if type(error) is not sqlite3.DatabaseError:  # a fault of ours, not of the file
            raise
        raise StoreError(f"{path} is damaged: {error}. Choose another store") from error


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


def _create(path: Path) -> None:
    """Beside its place first: a store under its name is always a whole one."""
    new = Path(f"{path}.new")
    new.unlink(missing_ok=True)
    connection = sqlite3.connect(new, isolation_level=None)
    try:
        connection.executescript(
            f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION};"
            f"BEGIN; {_SCHEMA} {_SUMS} {_HISTORY} COMMIT;"
        )
    finally:
        connection.close()
    os.replace(new, path)


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
