"""What was signed, stored and refused with an earlier benchgate, against the one of today."""

from __future__ import annotations

import json
import lzma
import tarfile
import warnings
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from review import Engine, InputError, loads
from review.cli import group
from review.register.chain import Register
from review.register.verified import Verified
from review.register.verifying import Verifier
from tests.frozen.compare import (
    HERE,
    WRONG_INPUT,
    better,
    changed,
    differences,
    frozen,
    speaks_of,
    today,
)
from tests.support import shared_engine

#: While every record was valid.
THEN = datetime(2031, 5, 7, 12, 0, tzinfo=UTC)
#: What stands in a point that finds a record tampered with.
INTACT = ("Record", "Register", "Signatures")
CHUNKS = 12
RULES = {
    "short bench": HERE / "rules" / "short_bench.yaml",
    "long bench": HERE / "rules" / "long_bench.yaml",
}


@pytest.fixture(scope="session")
def registers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("frozen")
    with tarfile.open(HERE / "registers.tar.xz") as packed:
        packed.extractall(folder, filter="data")
    return folder


def _intact(found: Verified) -> None:
    assert not found.broken
    points = {point.subject: point for point in found.points}
    assert "Record" in points
    for subject in INTACT:
        assert subject not in points or points[subject].holds, points[subject].lines


@pytest.mark.parametrize(
    ("name", "count"), [("built_in", 4), ("two_rulesets", 2), ("with_keys", 2), ("refused_word", 1)]
)
def test_a_register_is_in_order(registers: Path, name: str, count: int) -> None:
    book = Register(registers / name)
    assert not book.problems()
    assert len(book.records()) == count


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_a_record_under_built_in_rules_is_intact(
    registers: Path, engine: Engine, number: int
) -> None:
    _intact(Verifier(engine, THEN).record(registers / "built_in" / f"{number:06}.json"))


@pytest.mark.parametrize(("number", "rules"), [(1, "short bench"), (2, "long bench")])
def test_a_record_under_rules_of_a_site_is_intact_with_and_without_them(
    registers: Path, engine: Engine, number: int, rules: str
) -> None:
    path = registers / "two_rulesets" / f"{number:06}.json"
    record = json.loads(path.read_text("utf-8"))
    assert rules in [layer["name"] for layer in record["ruleset"]["layers"]]
    _intact(Verifier(engine, THEN).record(path))
    _intact(Verifier(Engine(rules_files=[RULES[rules]]), THEN).record(path))


@pytest.mark.parametrize("number", [1, 2])
def test_a_record_signed_with_keys_is_intact(registers: Path, engine: Engine, number: int) -> None:
    path = registers / "with_keys" / f"{number:06}.json"
    found = Verifier(engine, THEN, registers / "with_keys.allowed_signers").record(path)
    _intact(found)
    [signed] = [point for point in found.points if point.subject == "Signatures"]
    assert all(name in " ".join(signed.lines) for name in ("teacher", "second teacher"))


def test_a_byte_changed_in_a_frozen_record_is_found(registers: Path, tmp_path: Path) -> None:
    """That what is intact above could be found broken."""
    path = tmp_path / "000001.json"
    data = (registers / "built_in" / "000001.json").read_bytes()
    path.write_bytes(data.replace(b"nitrogen", b"nitrogem", 1))
    assert Verifier(shared_engine(), THEN).record(path).broken


def test_a_signed_word_that_is_refused_today_is_stale_and_named(
    registers: Path, engine: Engine
) -> None:
    path = registers / "refused_word" / "000001.json"
    text = json.loads(path.read_text("utf-8"))["scenario"]["text"]
    with pytest.raises(InputError):
        engine.review(loads(text, "one.yaml"))
    [line] = [n for n, said in enumerate(text.splitlines(), 1) if "steam kettle" in said]
    found = Verifier(engine, THEN).record(path)
    _intact(found)
    assert not found.holds
    said = " ".join(" ".join(point.lines) for point in found.failing)
    assert "steam kettle" in said
    assert f":{line}:" in said


def test_an_audit_reads_a_store_of_then(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two of the demos as they were, against the store of all of them."""
    monkeypatch.chdir(tmp_path)
    Path("old.sqlite").write_bytes(lzma.decompress((HERE / "audit.sqlite.xz").read_bytes()))
    before = Path("old.sqlite").read_bytes()
    Path("scenarios").mkdir()
    names = ("nitrogen_dried", "copper_oxide_hydrogen_no_purge")
    for name in names:
        Path(f"scenarios/{name}.yaml").write_text(frozen()["set_ups"][name]["text"], "utf-8")
    options = ["--jobs", "1", "--quiet", "--against", "old.sqlite", "--format", "json"]
    done = CliRunner().invoke(group, ["audit", "scenarios", *options])
    assert done.exit_code == 1, done.output
    told = json.loads(done.stdout)
    compared = told["comparison"]
    assert compared["new"] == 0
    assert compared["gone"] == 9
    assert sum(compared[way] for way in ("worse", "better", "otherwise", "same")) == len(names)
    for gone in told["gone"]:
        stem = Path(gone["path"]).stem
        assert gone["verdict_then"] == frozen()["set_ups"][stem]["verdict"]
    assert Path("old.sqlite").read_bytes() == before


def test_every_reason_can_be_read() -> None:
    for entry in changed():
        assert sorted(entry) == ["criteria", "reason", "set_ups"]
        assert len(entry["reason"].split()) >= 8, entry


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_no_refusal_is_lifted_without_a_reason(engine: Engine, chunk: int) -> None:
    """`python -m tests.frozen.compare --better` shows all of them at once."""
    names = list(frozen()["set_ups"])[chunk::CHUNKS]
    lifted, wrong = [], []
    for name in names:
        then = frozen()["set_ups"][name]
        now = today(engine, then["text"])
        if now["verdict"] == WRONG_INPUT:
            wrong.append(f"{name}: {now['error']}")
        for criterion, before, after in better(then, now):
            if not any(speaks_of(entry, name, criterion) for entry in changed()):
                lifted.append(f"{name}: {criterion} was {before}, is {after}")
    assert not lifted
    assert len(wrong) < len(names), wrong
    if wrong:
        warnings.warn(f"refused as wrong input: {len(wrong)} of {len(names)}", stacklevel=1)


def test_a_lifted_refusal_and_a_changed_number_are_seen() -> None:
    """That the comparison could fail: each change by itself."""
    then = frozen()["set_ups"]["copper_oxide_hydrogen_no_purge"]
    milder = {**then, "verdict": "may proceed"}
    assert [one[0] for one in better(then, milder)] == ["verdict"]
    criterion = next(f for f in then["findings"] if f[4] == "unacceptable")[0]
    silent = {**then, "findings": [f for f in then["findings"] if f[0] != criterion]}
    assert (criterion, "unacceptable", "not judged at all") in list(better(then, silent))
    assert not list(better(milder, then))
    kind, at, of, plan, _ = then["measures"][0]
    moved = {**then, "measures": [[kind, at, of, plan, 1.25], *then["measures"][1:]]}
    [line] = differences(then, moved)
    assert "worst" in line and "1.25" in line
    assert not list(differences(then, then))
