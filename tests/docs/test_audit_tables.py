"""What `benchgate audit --columns` says of a store and of outputs equals what there is."""

from __future__ import annotations

import json
import re
import sqlite3
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from review.audit import compare, parquet
from review.audit.columns import tables
from review.audit.export import COLUMNS, json_lines
from review.audit.export import Told as Audited
from review.audit.figures import count
from review.audit.select import FOUND, choose
from review.audit.store import opened
from review.cli import group
from review.cli.audit_report import FORMATS


class Told:
    """The tables as `--columns` prints them."""

    def rows(self, name: str) -> list[tuple[str, ...]]:
        return list(tables()[name].rows)


@pytest.fixture
def told() -> Told:
    return Told()


def test_all_of_it_is_printed() -> None:
    done = CliRunner().invoke(group, ["audit", "--columns"])
    assert done.exit_code == 0
    for table in tables().values():
        assert "\t".join(table.heads) in done.output.splitlines()
        for row in table.rows:
            assert "\t".join(row) in done.output.splitlines()


@pytest.fixture
def connection(tmp_path: Path) -> Any:
    with opened(tmp_path / "audit.sqlite") as new:
        yield new.connection


def columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]


def words(cell: str) -> list[str]:
    return re.findall(r"`([^`]+)`", cell)


def test_every_column_of_every_table_is_explained(told: Told, connection: Any) -> None:
    tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master "
                                                     "WHERE type = 'table'")]  # fmt: skip
    known = {"setup", "finding", "upset", "checksum", "ruleset", "criterion", "history"}
    assert known == set(tables)
    for table in tables:
        rows = told.rows(table)
        assert [row[0].strip("`") for row in rows] == columns(connection, table), table
        assert all(row[2] for row in rows), table


def test_the_tables_of_a_comparison(told: Told, connection: Any) -> None:
    connection.executescript(compare.TABLES)
    for table in ("change", "moved", "cause"):
        rows = told.rows(table)
        assert [row[0].strip("`") for row in rows] == columns(connection, table), table
    stated = {row[0].strip("`"): words(row[2]) for row in told.rows("change")}
    assert tuple(stated["change"]) == compare.CHANGES
    ways = {row[0].strip("`"): words(row[2]) for row in told.rows("moved")}["way"]
    assert tuple(ways) == compare.WAYS
    assert compare.UNREVIEWED in stated["verdict_then"]


def test_a_parquet_file_for_each_table(told: Told) -> None:
    for table in parquet.TABLES | parquet.CHANGES:
        told.rows(table)


def test_the_family_found(told: Told) -> None:
    listed = {row[0].strip("`"): tuple(row[1:]) for row in told.rows("found")}
    assert listed == FOUND


def test_csv_cells(told: Told) -> None:
    listed = [name for row in told.rows("cell") for name in words(row[0])]
    assert sorted(listed) == sorted(COLUMNS)


def test_json_keys(told: Told, connection: Any) -> None:
    connection.execute("INSERT INTO ruleset VALUES ('r', '{}')")
    connection.execute(
        "INSERT INTO setup(path, source, state, rules, code, plugins, data, reviewed_at, seconds)"
        " VALUES ('a.yaml', 'scenario', 'error', 'r', '', '[]', '[]', '', 0)"
    )
    connection.execute("INSERT INTO audited VALUES ('a.yaml')")
    selection = choose(connection, None, {})
    audited = Audited("0", "x", (), (), count(connection, date.today()), selection)
    written = json.loads("".join(json_lines(connection, audited)))
    rows = {row[0].strip("`"): words(row[1]) for row in told.rows("audit key")}
    assert rows.keys() == written.keys()
    assert set(rows["summary"]) == written["summary"].keys()
    assert set(rows["setups"]) == written["setups"][0].keys()


def test_states_and_sources(told: Told, connection: Any) -> None:
    query = "SELECT sql FROM sqlite_master WHERE name = 'setup'"
    (schema,) = connection.execute(query).fetchone()
    stated = {row[0].strip("`"): words(row[2]) for row in told.rows("setup")}
    for column in ("source", "state"):
        allowed = re.search(rf"{column} IN \(([^)]*)\)", schema)
        assert allowed and stated[column] == re.findall(r"'(\w+)'", allowed[1])


def test_every_format_is_named(readme: Any) -> None:
    assert all(form in readme.text for form in FORMATS[1:])
