"""The command with all that it can write, on a folder with few files."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review.audit import work
from review.audit.work import Desk, Recipe
from review.cautions import DEFERS
from review.cli import group

SCENARIO = """
title: Nitrogen through a bulb
reagents:
  nitrogen: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 10 L,
    pressure: 150 bar gauge, regulator: 0.1 bar gauge}}
flows:
  feed: {reagent: nitrogen, into: bulb, rate: 200 mL/min, reference: standard, at_most: 2 L/min}
train:
  - {id: bulb, kind: trap, gas_volume: 500 mL, rating: 1 bar gauge, joint: screw-thread connector,
    material: borosilicate glass 3.3}
  - {id: outlet, kind: outlet, to: outdoors}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: flush, duration: 10 min, flows: {feed: on}}
"""
Run = Callable[..., Result]


@pytest.fixture(scope="module")
def desk() -> Desk:
    return Desk(Recipe())


@pytest.fixture(scope="module")
def audited(tmp_path_factory: pytest.TempPathFactory, desk: Desk) -> Path:
    """A folder of two set-ups, one that is broken, and the store of an audit."""
    there = tmp_path_factory.mktemp("audited")
    (there / "lab").mkdir()
    (there / "lab" / "a.yaml").write_text(SCENARIO)
    (there / "lab" / "b.yaml").write_text(f"{SCENARIO}operators: 2\n")
    (there / "lab" / "broken.yaml").write_text("title: x\ntrain: [\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(work, "Desk", lambda recipe: desk)
        patch.chdir(there)
        CliRunner().invoke(group, ["audit", "lab", "--jobs", "1", "--quiet"])
    assert (there / "audit.sqlite").exists()
    return there


@pytest.fixture
def run(
    audited: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, desk: Desk
) -> Iterator[Run]:
    """Runs the command on a copy of that folder; nothing there needs to be reviewed again."""
    shutil.copytree(audited, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(work, "Desk", lambda recipe: desk)
    yield lambda *args: CliRunner().invoke(
        group, ["audit", "lab", "--jobs", "1", *args], env={"NO_COLOR": "1"}
    )


def test_the_page(run: Run) -> None:
    result = run()
    assert result.exit_code == 1
    assert result.stdout.startswith("Audit of 3 set-ups\nFiles: ")
    assert " ".join(result.stdout.split()).endswith(DEFERS)
    assert result.stderr == "" and "\x1b" not in result.stdout


def test_quiet_keeps_verdicts_and_what_was_not_read(run: Run) -> None:
    text = run("--quiet").stdout
    assert "Verdicts" in text and "broken.yaml" in text and "Worst findings" not in text


def test_json_is_all_there_is_on_standard_output(run: Run) -> None:
    told = json.loads(run("--format", "json").stdout)
    assert [s["path"] for s in told["setups"]] == ["lab/a.yaml", "lab/b.yaml", "lab/broken.yaml"]
    assert {s["state"] for s in told["setups"]} == {"reviewed", "error"}
    assert told["plugins"] == [] and told["ruleset"]["layers"]


def test_csv_is_all_there_is_on_standard_output(run: Run) -> None:
    rows = list(csv.DictReader(io.StringIO(run("--format", "csv").stdout)))
    assert [row["path"] for row in rows] == ["lab/a.yaml", "lab/b.yaml", "lab/broken.yaml"]


@pytest.mark.parametrize("form", ["terminal", "json", "csv"])
def test_out_writes_the_same_to_a_file(run: Run, form: str) -> None:
    printed = run("--format", form).stdout
    result = run("--format", form, "--out", "told.txt")
    assert Path("told.txt").read_text() == printed
    assert result.exit_code == 1 and result.stdout.endswith("Written to told.txt.\n")
    assert run("--format", form, "--out", "told.txt", "--quiet").stdout == ""


def test_parquet_goes_into_a_folder(run: Run) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    result = run("--format", "parquet", "--out", "tables")
    assert result.exit_code == 1, result.output
    assert parquet.read_table("tables/setup.parquet").num_rows == 3
    assert sorted(p.name for p in Path("tables").iterdir()) == [
        "finding.parquet", "setup.parquet", "upset.parquet",
    ]  # fmt: skip


def test_a_selection_leaves_the_exit_status_to_the_audit(run: Run) -> None:
    result = run("--select", "facts.operators >= 2.0", "--format", "json")
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert [s["path"] for s in told["setups"]] == ["lab/b.yaml"]
    assert told["cannot_be_told"] == ["lab/broken.yaml"]


def test_a_comparison_with_an_earlier_store(run: Run) -> None:
    shutil.copy("audit.sqlite", "old.sqlite")
    before = Path("old.sqlite").read_bytes()
    Path("lab/c.yaml").write_text(SCENARIO.replace("rating: 1 bar", "rating: 0.11 bar"))
    Path("lab/b.yaml").unlink()
    Path("lab/a.yaml").write_text(SCENARIO.replace("rating: 1 bar", "rating: 0.01 bar"))
    text = run("--against", "old.sqlite").stdout
    assert "Compared with old.sqlite" in text and "because the scenario changed" in " ".join(
        text.split()
    )
    assert "New: lab/c.yaml." in text and "Gone: lab/b.yaml." in text
    assert Path("old.sqlite").read_bytes() == before
    told = json.loads(run("--against", "old.sqlite", "--format", "json").stdout)
    assert told["comparison"]["worse"] == 1 and told["gone"][0]["path"] == "lab/b.yaml"


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("--select", "facts.has_het"), "did you mean 'facts.has_heat'"),
        (("--select", "worst.pressure > 1"), "no known measure kind"),
        (("--against", "nowhere.sqlite"), "does not exist"),
        (("--against", "audit.sqlite"), "is the store that this audit writes to"),
        (("--against", "lab/a.yaml"), "is no store of an audit"),
        (("--format", "parquet"), "needs --out FOLDER"),
        (("--format", "parquet", "--out", "lab/a.yaml"), "is no folder"),
        (("--format", "json", "--out", "lab/a.yaml"), "is one of the files audited"),
        (("--format", "json", "--out", "audit.sqlite"), "is an input of this audit"),
        (("--format", "json", "--out", "lab"), "is a folder"),
        (("--out", "nowhere/told.json"), "there is no folder nowhere"),
        (("--scheduler", "tcp://127.0.0.1:1"), "--jobs is for this machine"),
    ],
)
def test_what_is_wrong_is_told_before_anything_is_done(
    run: Run, args: tuple[str, ...], says: str
) -> None:
    before = Path("audit.sqlite").read_bytes()
    result = run(*args)
    assert result.exit_code == 2 and says in " ".join(result.stderr.split())
    assert result.stdout == "" and Path("audit.sqlite").read_bytes() == before


def test_an_earlier_store_of_another_version(run: Run) -> None:
    data = bytearray(Path("audit.sqlite").read_bytes())
    data[60:64] = (3).to_bytes(4, "big")  # user_version: SQLite, "Database File Format", 1.3
    Path("old.sqlite").write_bytes(data)
    result = run("--against", "old.sqlite")
    assert result.exit_code == 2 and "a newer version" in result.stderr


@pytest.mark.parametrize(
    ("package", "args", "extra"),
    [
        ("pyarrow", ("--format", "parquet", "--out", "x"), "benchgate[parquet]"),
        ("distributed", ("--scheduler", "tcp://127.0.0.1:1"), "benchgate[dask]"),
    ],
)
def test_an_extra_that_is_not_installed(
    run: Run, package: str, args: tuple[str, ...], extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, package, None)
    result = CliRunner().invoke(group, ["audit", "lab", *args])
    assert result.exit_code == 2 and f"pip install '{extra}'" in result.stderr


def test_no_scheduler_is_wrong_input(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("review.audit.cluster._CONNECT", 0.5)
    result = CliRunner().invoke(group, ["audit", "lab", "--scheduler", "tcp://127.0.0.1:1"])
    assert result.exit_code == 2 and "no Dask scheduler answers" in result.stderr


def test_an_earlier_export_may_be_written_over(run: Run) -> None:
    """It lies in the folder, but holds no record."""
    for _ in range(2):
        result = run("--format", "json", "--out", "lab/told.json")
        assert result.exit_code == 1, result.output
