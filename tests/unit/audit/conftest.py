"""Invented stores, written by the real writer; every figure in them is made up."""

from __future__ import annotations

import hashlib
import io
import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from review.audit.store import Row, opened, reading
from review.interface.plugin import Kind
from review.interface.result import STATED_PLAN
from review.judge.verdict import verdict

PARTS = ("Invented Book", "anywhere")
KINDS = {
    kind.id: kind
    for kind in (
        Kind("demo.share", "Share of the limit", "higher", "1", "", "a ratio", *PARTS),
        Kind("demo.reserve", "Reserve", "lower", "Pa", "bar", "a difference", *PARTS),
        Kind("demo.rating", "Rating", "higher", "1", "", "a table", *PARTS, labels=("good", "bad")),
    )
}
NOW = "2031-05-06T07:08:09+00:00"


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


class Invented:
    """Writes invented rows, and opens what was written for reading."""

    kinds = KINDS

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, name: str = "audit.sqlite") -> Path:
        return self.folder / name

    @staticmethod
    def finding(
        criterion: str = "demo.share",
        grade: str = "acceptable",
        value: float | None = 0.5,
        **told: Any,
    ) -> dict[str, Any]:
        """One finding; `told` replaces any of its columns."""
        return {
            "criterion": criterion,
            "title": f"Rule {criterion}",
            "kind": "demo.share",
            "at": "tube",
            "of": "",
            "grade": grade,
            "status": "ok",
            "case_name": "plan",
            "trial": "plan",
            "step": STATED_PLAN,
            "value": value,
            "unit": "1",
            "limit_value": 1.0,
            "action": "Lower it.",
            "reason": "",
            "blocks": 1,
            "bound": None,
            "known": None,
        } | told

    @staticmethod
    def upset(id: str = "feed lost", grade: str = "acceptable", **told: Any) -> dict[str, Any]:
        return {
            "id": id,
            "title": id,
            "grade": grade,
            "criterion": "demo.share",
            "at": "tube",
            "of": "",
            "step": "heat",
            "value": 0.5,
            "unit": "1",
            "seconds": None,
            "credit": "",
        } | told

    def row(
        self,
        path: str,
        findings: list[dict[str, Any]] | None = None,
        upsets: list[dict[str, Any]] | None = None,
        **told: Any,
    ) -> Row:
        """One file; its verdict follows from its findings."""
        listed = [self.finding()] if findings is None else findings
        state = told.get("state", "reviewed")
        reviewed = {
            "title": f"Set-up {path}",
            "verdict": verdict(_Graded(f["grade"], bool(f["blocks"])) for f in listed),
            "facts": json.dumps({"has_heat": True, "substances": ["argon"]}),
            "scenario_sha256": sha(path),
        }
        return Row(
            **{
                "path": path,
                "source": "scenario",
                "state": state,
                "rules": "r1",
                "code": "c1",
                "plugins": "[]",
                "reviewed_at": NOW,
                "seconds": 0.25,
                "file_sha256": sha(path),
                **(reviewed if state == "reviewed" else {}),
                "findings": tuple(tuple(f.values()) for f in listed) if state == "reviewed" else (),
                "upsets": tuple(tuple(u.values()) for u in upsets or ()),
            }
            | told
        )

    def record(self, path: str, findings: list[dict[str, Any]], **told: Any) -> Row:
        """One signed set-up, which may be used throughout 2031."""
        signed = {
            "source": "record",
            "signed_verdict": "may proceed",
            "signed_at": "2031-01-02T03:04:05Z",
            "valid_until": "2031-12-31",
        }
        return self.row(path, findings, **(signed | told))

    def write(
        self, *rows: Row, name: str = "audit.sqlite", rules: dict[str, dict[str, Any]] | None = None
    ) -> Path:
        """A new store of these rows. `rules`: by hash, a ruleset as JSON and its criteria."""
        known = {"r1": {"ruleset": {"layers": []}, "criteria": {}}} | (rules or {})
        self.path(name).unlink(missing_ok=True)
        with opened(self.path(name)) as store:
            for hash, told in known.items():
                store.put_ruleset(hash, json.dumps(told["ruleset"]), told["criteria"])
            for row in rows:
                store.put(row)
        return self.path(name)

    @contextmanager
    def read(self, *rows: Row, **told: Any) -> Iterator[sqlite3.Connection]:
        """The rows, stored and opened for reading."""
        with reading(self.write(*rows, **told)) as connection:
            yield connection

    @staticmethod
    def console(width: int = 80) -> tuple[Console, io.StringIO]:
        text = io.StringIO()
        return Console(file=text, width=width, color_system=None, legacy_windows=False), text


class _Graded:
    """As much of a finding as the verdict asks for."""

    def __init__(self, grade: str, blocks: bool) -> None:
        self.grade, self.blocks = grade, blocks


@pytest.fixture
def invented(tmp_path: Path) -> Invented:
    return Invented(tmp_path)


@pytest.fixture
def readme_selection() -> str:
    """What README.md says to find set-ups with hydrogen sulfide and no detector for it."""
    text = (Path(__file__).parents[3] / "README.md").read_text("utf-8")
    (found,) = re.findall(r'--select "([^"\n]*hydrogen sulfide[^"\n]*)"', text)
    return str(found)
