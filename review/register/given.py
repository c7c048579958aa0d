"""A scenario that is given to be held against records, and which of them is its newest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from review.engine.reviewing import Engine
from review.register.record import (
    Record,
)
from review.register.verified import Verified


@dataclass(frozen=True, slots=True)
class Given:
    """A scenario to compare a record with: where it is, its text and its hash."""

    path: Path
    title: str
    text: str
    sha256: str


def given(path: Path, engine: Engine) -> Given:
    """Read a scenario to compare with; raises InputError where it is none."""
    scenario = engine.load(path)
    text = path.read_bytes().decode("utf-8")
    return Given(path, scenario.title, text, scenario.text_sha256)


def newest_of(found: list[Verified], scenario: Given) -> int | None:
    """The newest record of a scenario: of the same text, else of the same file name and title."""
    same: list[Callable[[Record], bool]] = [
        lambda record: record.scenario_sha256 == scenario.sha256,
        lambda record: (
            (str(record.data["scenario"]["file"]), record.title)
            == (scenario.path.name, scenario.title)
        ),
    ]
    for fits in same:
        for index in reversed(range(len(found))):
            record = found[index].record
            if record is not None and fits(record):
                return index
    return None
