"""What README.md says of a store and of an audit's outputs equals what there is."""

from __future__ import annotations

import json
import re
import sqlite3
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from review.audit import compare, parquet
from review.audit.export import COLUMNS, Told, json_lines
from review.audit.figures import count
from review.audit.select import FOUND, choose
from review.audit.store import opened
from review.cli.audit_report import FORMATS


@pytest.fixture
def connection(tmp_path: Path) -> Any:
    with opened(tmp_path / "audit.sqlite") as new:
        yield new.connection


def columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]


def words(cell: str) -> list[str]:
    return re.findall(r"`([^`]+)`", cell)


def test_every_column_of_every_table_is_explained(readme: Any, connection: Any) -> None:
    tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master "
                                                     "WHERE type = 'table'")]  # fmt: skip
    assert {"setup", "finding", "upset", "ruleset", "criterion"} == set(tables)
    for table in tables:
        rows = readme.rows(table)
        assert [row[0].strip("`") for row in rows] == columns(connection, table), table
        assert all(row[2] for row in rows), table


def test_the_tables_of_a_comparison(readme: Any, connection: Any) -> None:
    connection.executescript(compare.TABLES)
    for table in ("change", "moved", "cause"):
        rows = readme.rows(table)
        assert [row[0].strip("`") for row in rows] == columns(connection, table), table
    stated = {row[0].strip("`"): words(row[2]) for row in readme.rows("change")}
    assert tuple(stated["change"]) == compare.CHANGES
    ways = {row[0].strip("`"): words(row[2]) for row in readme.rows("moved")}["way"]
    assert tuple(ways) == compare.WAYS
    assert compare.UNREVIEWED in stated["verdict_then"]


def test_a_parquet_file_for_each_table(readme: Any) -> None:
    for table in parquet.TABLES | parquet.CHANGES:
        readme.rows(table)


def test_the_family_found(readme: Any) -> None:
    listed = {row[0].strip("`"): tuple(row[1:]) for row in readme.rows("found")}
    assert listed == FOUND


def test_csv_cells(readme: Any) -> None:
    listed = [name for row in readme.rows("cell") for name in words(row[0])]
    assert sorted(listed) == sorted(COLUMNS)


def test_json_keys(readme: Any, connection: Any) -> None:
    connection.execute("INSERT INTO ruleset VALUES ('r', '{}')")
    connection.execute(
        "INSERT INTO setup(path, source, state, rules, code, plugins, data, reviewed_at, seconds)"
        " VALUES ('a.yaml', 'scenario', 'error', 'r', '', '[]', '[]', '', 0)"
    )
    connection.execute("INSERT INTO audited VALUES ('a.yaml')")
    selection = choose(connection, None, {})
    told = Told("0", "x", (), (), count(connection, date.today()), selection)
    written = json.loads("".join(json_lines(connection, told)))
    rows = {row[0].strip("`"): words(row[1]) for row in readme.rows("audit key")}
    assert rows.keys() == written.keys()
    assert set(rows["summary"]) == written["summary"].keys()
    assert set(rows["setups"]) == written["setups"][0].keys()


def test_states_and_sources(readme: Any, connection: Any) -> None:
    query = "SELECT sql FROM sqlite_master WHERE name = 'setup'"
    (schema,) = connection.execute(query).fetchone()
    stated = {row[0].strip("`"): words(row[2]) for row in readme.rows("setup")}
    for column in ("source", "state"):
        allowed = re.search(rf"{column} IN \(([^)]*)\)", schema)
        assert allowed and stated[column] == re.findall(r"'(\w+)'", allowed[1])


def test_every_format_is_named(readme: Any) -> None:
    assert all(f"--format {form}" in readme.text for form in FORMATS[1:])
