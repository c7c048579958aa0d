"""What benchgate writes for programs, column by column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import yaml


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its headings, and a row for each column or key."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables() -> Mapping[str, Table]:
    """Tables of a store and of Parquet files, cells of CSV, keys of JSON, and the family `found.`.

    >>> tables()["cause"].rows[0][0]
    '`path`'
    """
    text = Path(__file__).with_name("columns.yaml").read_text("utf-8")
    told = yaml.load(text, Loader=yaml.BaseLoader)
    return {
        name: Table(tuple(each["heads"]), tuple(map(tuple, each["rows"])))
        for name, each in told.items()
    }
