"""Wrong input through the real command line: one clear message at its place, and no traceback.

The table beside this file is the whole specification; here it is only played.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner

from review.cli import group
from review.register.chain import Register
from review.register.entries import entry
from review.register.record import sealed
from tests.support import record_body

TABLE = yaml.safe_load((Path(__file__).parent / "table.yaml").read_text(encoding="utf-8"))
CASES: list[dict[str, Any]] = TABLE["cases"]
KEYS = {"name", "verb", "change", "text", "build", "beside", "args", "stderr", "stdout", "exit"}
KEYS |= {"env", "file"}


def _alias_bomb(path: Path) -> None:
    """Nine levels of nine: 387 million values if the aliases were expanded."""
    lines = ["a0: &a0 [" + ", ".join(["x"] * 9) + "]"]
    lines += [f"a{i}: &a{i} [" + ", ".join([f"*a{i - 1}"] * 9) + "]" for i in range(1, 9)]
    path.write_text("\n".join(lines), encoding="utf-8")


def _sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(100_000_000)


def _signed(path: Path, kind: str, **told: Any) -> None:
    """A register with one sign-off for one run, and one entry about it."""
    register = Register(path.parent / "register")
    register.add(record_body(runs=1, valid_until="9999-01-01"))
    [record] = register.records()
    register.add(entry(kind, record, record.signed_at, by="teacher", **told))


IN_WORDS = {"layers": [], "criteria": [], "limits": {"a.b": "half of it"}, "loosened": []}
BUILDS: dict[str, Callable[[Path], object]] = {
    "binary": lambda path: path.write_bytes(b"\x7fELF\0\0\0"),
    "sparse": _sparse,
    "alias_bomb": _alias_bomb,
    "latin_1": lambda path: path.write_bytes("title: Temp\u00e9rature\n".encode("latin-1")),
    "directory": lambda path: path.mkdir(),
    "nothing": lambda path: None,
    "limit_in_words": lambda path: path.write_bytes(sealed(record_body(ruleset=IN_WORDS), 1, "")),
    "withdrawn": lambda path: _signed(path, "withdrawal", reason="it was rebuilt"),
    "used_up": lambda path: _signed(
        path, "run", noted="as planned", incident="", nevertheless=[], log=None
    ),
}


def _written(case: dict[str, Any], folder: Path) -> list[str]:
    """Write what a case needs into a folder; the arguments of the command."""
    path = folder / "x.yaml"
    if "build" in case:
        BUILDS[case["build"]](path)
    else:
        text = case.get("text", TABLE["base"])
        for old, new in case.get("change", []):
            assert text.count(old) == 1, f"{old!r} does not stand once in the base"
            text = text.replace(old, new)
        path.write_text(text, encoding="utf-8")
    for name, content in case.get("beside", {}).items():
        if name.endswith("/"):
            (folder / name).mkdir(parents=True)
        else:
            (folder / name).write_text(content, encoding="utf-8")
    return [case.get("verb", "check"), case.get("file", "x.yaml"), *case.get("args", [])]


def _judge(case: dict[str, Any], status: int, stdout: str, stderr: str) -> None:
    assert stderr == case.get("stderr", "")
    assert status == case.get("exit", 2)
    assert "Traceback" not in stdout + stderr
    for text in case.get("stdout", []):
        assert text in stdout
    if "stdout" not in case:
        assert stdout == ""


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_case(case: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    arguments = _written(case, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no settings"))
    monkeypatch.delenv("BENCHGATE_RULES", raising=False)
    for name, value in case.get("env", {}).items():
        monkeypatch.setenv(name, value)
    result = CliRunner().invoke(group, arguments, prog_name="benchgate")
    _judge(case, result.exit_code, result.stdout, result.stderr.replace(str(tmp_path), "FOLDER"))


IN_A_PROCESS = [
    "several errors at once, in the order of the file",
    "unknown joint",
    "alias bomb",
    "not UTF-8",
    "missing file",
    "ruleset that is no YAML",
    "plugin with a syntax error",
]


@pytest.mark.parametrize("name", IN_A_PROCESS)
def test_case_in_its_own_process(name: str, tmp_path: Path) -> None:
    (case,) = [case for case in CASES if case["name"] == name]
    arguments = _written(case, tmp_path)
    program = "from review.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=tmp_path, capture_output=True, text=True, encoding="utf-8", timeout=120, check=False,
    )  # fmt: skip
    _judge(case, done.returncode, done.stdout, done.stderr)


def test_the_base_itself_is_read_and_judged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "x.yaml").write_text(TABLE["base"], encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(group, ["check", "x.yaml"], prog_name="benchgate")
    assert result.exit_code in (0, 1)
    assert result.stderr == ""


def test_the_table_says_what_it_must() -> None:
    names = [case["name"] for case in CASES]
    assert len(set(names)) == len(names)
    for case in CASES:
        assert set(case) <= KEYS
        assert ("stderr" in case) != ("stdout" in case)
        # Only what refuses to write anything leaves with 1 and says nothing on standard output.
        assert case.get("exit", 2) == 2 or "stdout" in case or "verb" in case
