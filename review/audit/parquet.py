"""What an audit found as Parquet files, for notebooks: one file for each table of the store.

Needs pyarrow, which `pip install 'benchgate[parquet]'` brings. Rows go through memory in batches.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

_BATCH = 10_000
_SHOWN = """
    (SELECT path, 'yes' AS selected FROM temp.chosen
    UNION ALL SELECT path, 'cannot be told' FROM temp.untold)
"""
#: Too large for a table that people look at, and of no use without benchgate.
_LEFT_OUT = ("measures",)
TABLES = {"setup": "path", "finding": "path, position", "upset": "path, id"}
CHANGES = {"change": "path", "moved": "path, position", "cause": "path, cause"}


def write_parquet(store: sqlite3.Connection, folder: Path, *, compared: bool) -> tuple[Path, ...]:
    """Write `setup.parquet`, `finding.parquet` and `upset.parquet` into a folder, made if need be.

    Columns are those of the store's tables, times and dates as such, missing numbers null;
    `setup` has no `measures`, and `selected` besides: "yes" or "cannot be told". Where the audit
    was `compared`, `change`, `moved` and `cause` too. Files are replaced whole. Raises ImportError
    without pyarrow, and OSError.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for table, order in (TABLES | (CHANGES if compared else {})).items():
        path = folder / f"{table}.parquet"
        new = folder / f".{table}.parquet.new"
        try:
            _write(store, table, order, new)
            os.replace(new, path)
        except BaseException:
            new.unlink(missing_ok=True)
            raise
        written.append(path)
    return tuple(written)


def _write(store: sqlite3.Connection, table: str, order: str, path: Path) -> None:
    import pyarrow
    from pyarrow.parquet import ParquetWriter

    schema = "temp" if table in CHANGES else "main"
    about = store.execute(f"PRAGMA {schema}.table_info({table})").fetchall()
    declared = {name: kind for _, name, kind, *_ in about if name not in _LEFT_OUT}
    query = f"SELECT {', '.join(f'{table}.{name}' for name in declared)}"
    source = f"{schema}.{table}"
    if schema == "main":
        source += f" JOIN {_SHOWN} AS shown USING (path)"
    if table == "setup":
        declared["selected"] = "TEXT"
        query += ", selected"
    fields = [(name, *_column(pyarrow, name, kind)) for name, kind in declared.items()]
    columns = pyarrow.schema([(name, kind) for name, kind, _ in fields])
    rows = store.execute(f"{query} FROM {source} ORDER BY {order}")
    with ParquetWriter(path, columns) as writer:
        for batch in _batches(rows):
            arrays = [
                pyarrow.array([None if v is None else read(v) for v in values], kind)
                for values, (_, kind, read) in zip(zip(*batch, strict=True), fields, strict=True)
            ]
            writer.write_batch(pyarrow.record_batch(arrays, schema=columns))


def _batches(rows: sqlite3.Cursor) -> Iterator[list[Any]]:
    while batch := rows.fetchmany(_BATCH):
        yield batch


def _column(pyarrow: Any, name: str, declared: str) -> tuple[Any, Callable[[Any], Any]]:
    """A column's type, and how its values are read."""
    if name in ("reviewed_at", "signed_at"):
        return pyarrow.timestamp("s", "UTC"), _time
    if name == "valid_until":
        return pyarrow.date32(), _date
    if name == "blocks":
        return pyarrow.bool_(), bool
    types = {"REAL": pyarrow.float64(), "INTEGER": pyarrow.int64()}
    return types.get(declared, pyarrow.string()), lambda value: value


def _time(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
