"""What an audit gives to programs: JSON, CSV and Parquet, read back by other readers."""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from review.audit.causes import Causes
from review.audit.compare import compare
from review.audit.export import COLUMNS, Told, cell, csv_lines, json_lines, write
from review.audit.figures import count
from review.audit.parquet import write_parquet
from review.audit.select import choose, selecting
from review.audit.store import reading
from review.cautions import CAUTIONS
from review.render.json import dumps

TODAY = date(2031, 5, 6)
RULES = {
    "r1": {
        "ruleset": {
            "criteria": [
                {
                    "id": "demo.share",
                    "basis": {"document": "Invented Book", "clause": "7", "how": "memory"},
                }
            ],
            "limits": {},
        },
        "criteria": {"demo.share": "1"},
    }
}


@contextmanager
def opened(invented: Any, *rows: Any, old: Any = None, select: str = "") -> Iterator[Any]:
    """A store of these rows, with what stands at the head of an export."""
    with ExitStack() as stack:
        store = stack.enter_context(reading(invented.write(*rows, rules=RULES)))
        condition = selecting(select, invented.kinds) if select else None
        selection = choose(store, condition, invented.kinds)
        compared = None
        if old is not None:
            path = invented.write(*old, name="old.sqlite", rules=RULES)
            before = stack.enter_context(reading(path))
            choose(before, condition, invented.kinds)
            causes = Causes(before, store, None, invented.kinds, "r1")
            compared = compare(before, store, causes, "old.sqlite", lambda path: True)
        counts = count(store, TODAY)
        yield store, Told(
            "0.1.0", "audit.sqlite", (("general", "ab"),), (("own", "cd"),), counts, selection,
            compared,
        )  # fmt: skip


def as_json(invented: Any, *rows: Any, **told: Any) -> Any:
    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON")

    with opened(invented, *rows, **told) as (store, head):
        text = "".join(json_lines(store, head))
    assert text.endswith("}\n")
    return json.loads(text, parse_constant=refuse)


def as_csv(invented: Any, *rows: Any, **told: Any) -> list[dict[str, str]]:
    with opened(invented, *rows, **told) as (store, head):
        text = "".join(csv_lines(store, head))
    return list(csv.DictReader(io.StringIO(text), strict=True))


def everything(invented: Any) -> list[Any]:
    findings = [
        invented.finding(grade="unacceptable", value=float("inf")),
        invented.finding("b.rule", "undetermined", None, status="missing", reason="no value"),
        invented.finding("c.rule", "tolerable", limit_value=float("-inf")),
        invented.finding("d.rule"),
        invented.finding("e.rule"),
    ]
    upsets = [
        invented.upset("x", "unacceptable", seconds=float("inf")),
        invented.upset("y", "undetermined", value=None),
        invented.upset("z"),
    ]
    return [
        invented.row("a.yaml", findings, upsets),
        invented.row("b.yaml", state="error", error="b.yaml:1:1: no\nb.yaml:2:1: no", facts=None),
        invented.record("r/1.json", [invented.finding()]),
        invented.row("notes.json", state="skipped", source="other", error="no scenario"),
    ]


def test_json_without_set_ups(invented: Any) -> None:
    told = as_json(invented)
    assert told["setups"] == told["skipped"] == told["gone"] == told["cannot_be_told"] == []
    assert told["summary"]["total"] == 0
    assert told["selection"] is None and told["comparison"] is None
    assert told["cautions"] == list(CAUTIONS)


def test_json_tells_what_is_not_acceptable_and_counts_the_rest(invented: Any) -> None:
    told = as_json(invented, *everything(invented))
    assert [s["path"] for s in told["setups"]] == ["a.yaml", "b.yaml", "r/1.json"]
    first, second, third = told["setups"]
    assert [f["grade"] for f in first["findings"]] == ["unacceptable", "undetermined", "tolerable"]
    assert [f["value"] for f in first["findings"]] == ["inf", None, 0.5]
    assert [f["limit"] for f in first["findings"]] == [1.0, 1.0, "-inf"]
    assert first["findings"][0]["basis"] == "Invented Book, 7 (memory)"
    assert first["findings"][0]["blocks"] is True
    assert [(u["id"], u["value"], u["seconds"]) for u in first["upsets"]] == [
        ("x", 0.5, "inf"),
        ("y", None, None),
    ]
    assert first["acceptable"] == {"findings": 2, "upsets": 1}
    assert first["facts"] == {"has_heat": True, "substances": ["argon"]}
    assert first["signed"] is None and first["change"] is None
    assert second["error"] == "b.yaml:1:1: no\nb.yaml:2:1: no" and second["facts"] is None
    assert third["signed"] == {
        "verdict": "may proceed",
        "at": "2031-01-02T03:04:05Z",
        "valid_until": "2031-12-31",
    }
    assert told["skipped"] == [{"path": "notes.json", "reason": "no scenario"}]
    assert told["ruleset"]["layers"] == [{"name": "general", "sha256": "ab"}]
    assert told["summary"]["verdicts"]["must not proceed"] == 1


def test_findings_and_upsets_have_the_keys_of_a_single_review(invented: Any) -> None:
    """Whoever reads `check --format json` can read this."""
    from review.engine.reviewing import Engine
    from review.scenario import loads

    text = (Path(__file__).parents[3] / "scenarios" / "nitrogen_dried.yaml").read_text("utf-8")
    single = json.loads(dumps(Engine().review(loads(text, "made up"))))
    told = as_json(invented, *everything(invented))["setups"][0]
    assert single["findings"][0].keys() <= told["findings"][0].keys()
    assert single["upsets"][0].keys() == told["upsets"][0].keys()


def test_json_names_what_a_selection_leaves_open(invented: Any) -> None:
    told = as_json(invented, *everything(invented), select="facts.has_heat && !found.signed")
    assert [s["path"] for s in told["setups"]] == ["a.yaml"]
    assert told["cannot_be_told"] == ["b.yaml"]
    assert told["selection"] == {
        "text": "facts.has_heat && !found.signed", "chosen": 1, "untold": 1, "total": 3,
    }  # fmt: skip


def changed(invented: Any) -> tuple[list[Any], list[Any]]:
    worse = [
        invented.row("a.yaml", [invented.finding(grade=grade)], code=code)
        for grade, code in (("acceptable", "c0"), ("unacceptable", "c1"))
    ]
    same, gone, new = (invented.row(name) for name in ("same.yaml", "gone.yaml", "new.yaml"))
    return [worse[0], same, gone], [worse[1], same, new]


def test_json_tells_what_changed(invented: Any) -> None:
    old, rows = changed(invented)
    told = as_json(invented, *rows, old=old)
    code = ["the code of benchgate or a library changed"]
    assert told["comparison"] == {
        "against": "old.sqlite", "worse": 1, "better": 0, "new": 1, "gone": 1, "otherwise": 0,
        "same": 1,
    }  # fmt: skip
    assert {s["path"]: s["change"] for s in told["setups"]} == {
        "a.yaml": {
            "change": "worse", "verdict_then": "may proceed", "because": code,
            "moved": [{
                "criterion": "demo.share", "at": "tube", "of": "", "case": "plan",
                "then": "acceptable", "now": "unacceptable", "way": "worse", "because": code,
            }],
        },
        "new.yaml": {"change": "new", "verdict_then": None, "because": [], "moved": []},
        "same.yaml": None,
    }  # fmt: skip
    assert told["gone"] == [
        {"path": "gone.yaml", "title": "Set-up gone.yaml", "verdict_then": "may proceed"}
    ]


def test_csv_has_a_line_for_each_set_up(invented: Any) -> None:
    first, second, third = as_csv(invented, *everything(invented))
    assert tuple(first) == COLUMNS
    assert first["verdict"] == "must not proceed" and first["selected"] == "yes"
    grades = ("unacceptable", "undetermined", "tolerable", "failing_upsets")
    assert [first[key] for key in grades] == ["1", "1", "1", "2"]
    assert (first["must_change"], first["not_judged"]) == ("demo.share", "b.rule")
    assert second["error"] == "b.yaml:1:1: no b.yaml:2:1: no" and second["unacceptable"] == ""
    assert third["valid_until"] == "2031-12-31" and third["change"] == ""


def test_csv_does_not_drop_what_cannot_be_told(invented: Any) -> None:
    rows = as_csv(invented, *everything(invented), select="facts.has_heat && !found.signed")
    told = [(row["path"], row["selected"]) for row in rows]
    assert told == [("a.yaml", "yes"), ("b.yaml", "cannot be told")]


def test_csv_tells_what_changed(invented: Any) -> None:
    old, rows = changed(invented)
    told = as_csv(invented, *rows, old=old)
    assert [(r["path"], r["change"], r["verdict_then"]) for r in told] == [
        ("a.yaml", "worse", "may proceed"),
        ("new.yaml", "new", ""),
        ("same.yaml", "", ""),
        ("gone.yaml", "gone", "may proceed"),
    ]
    assert told[0]["because"] == "the code of benchgate or a library changed"


@pytest.mark.parametrize("begin", ["=", "+", "-", "@", "\t", "\r", " =", "\n=", "\uff1d", "\uff20"])
def test_no_cell_is_a_formula(invented: Any, begin: str) -> None:
    """What a spreadsheet reads as a formula: see OWASP, "CSV Injection"."""
    evil = f'{begin}HYPERLINK("x";"y")'
    (row,) = as_csv(invented, invented.row(f"{evil}.yaml", title=evil, error=evil))
    assert [row[name][0] for name in ("path", "title", "error")] == ["'"] * 3


def test_quotes_commas_and_line_breaks_survive(invented: Any) -> None:
    (row,) = as_csv(invented, invented.row('a, "b".yaml', title='say "x", y;\nz'))
    assert row["path"] == 'a, "b".yaml'
    assert row["title"] == 'say "x", y; z'


def test_numbers_are_not_taken_for_formulas() -> None:
    assert cell(-1.5) == "-1.5"


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    def broken() -> Iterator[str]:
        yield "half\n"
        raise RuntimeError

    target = tmp_path / "out.json"
    target.write_text("before")
    with pytest.raises(RuntimeError):
        write(target, broken())
    assert target.read_text() == "before" and list(tmp_path.iterdir()) == [target]
    write(target, ["a\n", "b\n"])
    assert target.read_text() == "a\nb\n"
    with pytest.raises(OSError):
        write(tmp_path / "nowhere" / "x", ["a"])


def test_parquet_tables_are_those_of_the_store(invented: Any, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    with opened(invented, *everything(invented), select="!found.signed || facts.has_heat") as (
        store, _,
    ):  # fmt: skip
        files = write_parquet(store, tmp_path / "out", compared=False)
        columns = {
            table: [name for _, name, *_ in store.execute(f"PRAGMA table_info({table})")]
            for table in ("setup", "finding", "upset")
        }
    assert {f.name for f in files} == {f"{t}.parquet" for t in columns}
    tables = {t: parquet.read_table(tmp_path / "out" / f"{t}.parquet") for t in columns}
    columns["setup"].remove("measures")
    columns["setup"].append("selected")
    assert {t: table.column_names for t, table in tables.items()} == columns
    setups = {row["path"]: row for row in tables["setup"].to_pylist()}
    assert list(setups) == ["a.yaml", "b.yaml", "r/1.json"]
    assert setups["r/1.json"]["valid_until"] == date(2031, 12, 31)
    assert setups["a.yaml"]["reviewed_at"] == datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)
    assert setups["a.yaml"]["signed_at"] is None
    values = tables["finding"].column("value").to_pylist()
    assert values[:2] == [float("inf"), None] and len(values) == 6
    assert tables["finding"].schema.field("blocks").type == "bool"
    assert tables["upset"].num_rows == 3


def test_parquet_says_what_cannot_be_told_and_what_changed(invented: Any, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    old, rows = changed(invented)
    broken = invented.row("e.yaml", state="error", error="no")
    with opened(invented, *rows, broken, old=old, select="facts.has_heat") as (store, _):
        write_parquet(store, tmp_path, compared=True)
    setups = parquet.read_table(tmp_path / "setup.parquet").to_pylist()
    assert {s["path"]: s["selected"] for s in setups}["e.yaml"] == "cannot be told"
    changes = parquet.read_table(tmp_path / "change.parquet").to_pylist()
    assert {c["path"]: c["change"] for c in changes} == {
        "a.yaml": "worse", "gone.yaml": "gone", "new.yaml": "new",
    }  # fmt: skip
    moved = parquet.read_table(tmp_path / "moved.parquet").to_pylist()
    assert [m["criterion"] for m in moved] == ["demo.share"]


def test_a_failed_parquet_leaves_nothing_behind(
    invented: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    folder = tmp_path / "out"
    with opened(invented) as (store, _), pytest.raises(ImportError):
        write_parquet(store, folder, compared=False)
    assert list(folder.iterdir()) == []
