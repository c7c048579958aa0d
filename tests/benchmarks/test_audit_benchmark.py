"""The benchmark of audits does what it says, on as little as can be; `audit.py` measures."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import audit


def test_what_an_audit_costs(tmp_path: Path) -> None:
    audit.write_small(tmp_path / "lab", 2)
    cost = audit.audit(tmp_path / "lab", tmp_path / "audit.sqlite", "--jobs", "1")
    store = sqlite3.connect(tmp_path / "audit.sqlite")
    assert store.execute("SELECT title, state FROM setup ORDER BY path").fetchall() == [
        (f"Number {n}, A bare stand with a heavy flask high up", "reviewed") for n in (0, 1)
    ]
    store.close()
    assert cost.processor > 0 and cost.seconds > 0
    assert 20 < cost.megabytes < 2000  # an interpreter with numpy in it, and no machine's whole


def test_scenarios_that_are_audited_differ(tmp_path: Path) -> None:
    audit.write_varied(tmp_path / "lab", 12)
    texts = {path.read_text("utf-8") for path in (tmp_path / "lab").iterdir()}
    assert len(texts) == 12


def test_the_bands_that_differ_are_of_a_rule_there_is(tmp_path: Path) -> None:
    (tmp_path / "bands.yaml").write_text(audit.BANDS, "utf-8")
    engine = audit.Engine(rules_files=[tmp_path / "bands.yaml"])
    assert engine.differences
    assert not engine.ruleset.loosened
