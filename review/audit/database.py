"""The SQLite file of an audit's store: its tables, and whether a file is one."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

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
SUMS = """
CREATE TABLE IF NOT EXISTS checksum(
    path TEXT PRIMARY KEY REFERENCES setup ON DELETE CASCADE, sha256 TEXT NOT NULL
) WITHOUT ROWID;
"""


#: What a file's verdict was from when on; kept when the row is written anew.
HISTORY = """
CREATE TABLE IF NOT EXISTS history(
    path TEXT NOT NULL, since TEXT NOT NULL, verdict TEXT NOT NULL, rules TEXT NOT NULL,
    PRIMARY KEY (path, since)
) WITHOUT ROWID;
"""


class StoreError(Exception):
    """The store cannot be used; the message says why, in words."""


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


def create(path: Path) -> None:
    """Beside its place first: a store under its name is always a whole one."""
    new = Path(f"{path}.new")
    new.unlink(missing_ok=True)
    connection = sqlite3.connect(new, isolation_level=None)
    try:
        connection.executescript(
            f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION};"
            f"BEGIN; {_SCHEMA} {SUMS} {HISTORY} COMMIT;"
        )
    finally:
        connection.close()
    os.replace(new, path)
