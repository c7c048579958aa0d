"""The verbs: what they print, where, and how they leave."""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import yaml
from click.testing import Result

import review
from review.cli import group
from review.interface.plugin import PluginError
from review.interface.result import Basis
from review.judge.conditions import RulesetError
from review.scenario.errors import InputError, Problem

Run = Callable[..., Result]


@pytest.mark.parametrize(
    ("verdict", "status"),
    [
        ("may proceed", 0),
        ("may proceed with conditions", 0),
        ("must not proceed", 1),
        ("cannot be judged", 1),
    ],
)
@pytest.mark.parametrize("form", ["terminal", "json", "html", "markdown", "sarif"])
def test_the_verdict_is_the_exit_status(
    run: Run, script: Any, scenario: Path, verdict: str, status: int, form: str
) -> None:
    script.verdict = verdict
    result = run("check", scenario, "--format", form)
    assert result.exit_code == status, result.output
    assert verdict in result.stdout.lower()
    assert result.stderr == ""


def test_a_verdict_nobody_knows_is_a_fault_and_no_pass(
    run: Run, script: Any, scenario: Path
) -> None:
    script.verdict = "perhaps"
    result = run("check", scenario)
    assert result.exit_code == 3
    assert result.stdout == ""


@pytest.mark.parametrize(
    "error",
    [
        InputError([Problem("demo.yaml", 3, 5, "lenght", 'unknown key "lenght"', "length")]),
        RulesetError("site.yaml", 7, "bands are missing"),
        PluginError("check 'x': title is blank"),
    ],
)
def test_wrong_input_is_told_without_a_traceback(
    run: Run, script: Any, scenario: Path, error: Exception
) -> None:
    script.fails = error
    result = run("check", scenario)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert str(error) in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("wrong", [20, 21, 70])
def test_of_many_problems_as_many_are_told_as_one_reads(
    run: Run, script: Any, scenario: Path, wrong: int
) -> None:
    script.fails = InputError(
        [Problem("demo.yaml", n, 1, "title", f"wrong{n:03}") for n in range(1, wrong + 1)]
    )
    told = run("check", scenario).stderr.splitlines()
    assert [line for line in told if "wrong0" in line] == [*told[:20]]
    assert len(told) == min(wrong, 21)
    if wrong > 20:
        assert f"and {wrong - 20} more" in told[20]


@pytest.mark.parametrize(
    "error",
    [RuntimeError("lost"), KeyError("lost"), MemoryError("lost"), ZeroDivisionError("lost")],
)
@pytest.mark.parametrize("verb", ["check", "explain"])
def test_a_fault_of_the_tool_says_that_nothing_was_judged(
    run: Run, script: Any, scenario: Path, error: Exception, verb: str
) -> None:
    script.fails = error
    result = run(verb, scenario, *(["demo.share"] if verb == "explain" else []))
    assert result.exit_code == 3
    assert result.stdout == ""
    assert "fault in the tool" in result.stderr
    assert "nothing was judged" in result.stderr
    assert "Traceback" not in result.stderr


def test_the_traceback_is_there_for_who_asks(run: Run, script: Any, scenario: Path) -> None:
    script.fails = RuntimeError("lost")
    result = run("check", scenario, BENCHGATE_DEBUG="1")
    assert result.exit_code == 3
    assert "Traceback" in result.stderr


def test_an_error_message_cannot_steer_the_terminal(run: Run, script: Any, scenario: Path) -> None:
    script.fails = PluginError("\x1b[2Jbad\x07")
    assert run("check", scenario).stderr == "benchgate: [2Jbad\n"


def test_an_interruption_is_no_verdict(run: Run, script: Any, scenario: Path) -> None:
    script.fails = KeyboardInterrupt()
    result = run("check", scenario)
    assert result.exit_code not in (0, 1)
    assert "nothing was judged" in result.stderr


@pytest.mark.parametrize(
    "args",
    [
        [],
        ["check"],
        ["check", "no such file.yaml"],
        ["check", "."],
        ["inspect"],
        ["check", "{file}", "--format", "pdf"],
        ["check", "{file}", "--rules", "no such file.yaml"],
        ["check", "{file}", "--loud"],
    ],
)
def test_usage_errors(run: Run, scenario: Path, args: list[str]) -> None:
    result = run(*(a.format(file=scenario) for a in args))
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr


def test_rules_and_plugins_reach_the_engine(
    run: Run, script: Any, scenario: Path, tmp_path: Path
) -> None:
    site, other, plugin = (tmp_path / n for n in ("site.yaml", "other.yaml", "own.py"))
    for path in (site, other, plugin):
        path.write_text("")
    run("check", scenario, "--rules", site, "--rules", other, "--plugin", plugin)
    assert script.asked == {"rules": (site, other), "plugins": (plugin,)}


def test_a_pipe_gets_80_columns_without_colour(run: Run, scenario: Path) -> None:
    text = run("check", scenario, COLUMNS="200").stdout
    assert "\x1b" not in text
    assert 60 < max(len(line) for line in text.splitlines()) <= 80


def test_quiet_says_less_but_keeps_what_matters(run: Run, scenario: Path) -> None:
    quiet, full = run("check", scenario, "--quiet").stdout, run("check", scenario, "--full").stdout
    assert len(quiet) < len(full)
    assert "Lower the share." in quiet
    assert "authority having jurisdiction" in quiet


def test_json_is_nothing_but_json(run: Run, scenario: Path) -> None:
    assert json.loads(run("check", scenario, "--format", "json").stdout)["verdict"] == "may proceed"


def test_out_writes_the_file_whole(run: Run, script: Any, scenario: Path, tmp_path: Path) -> None:
    script.verdict = "must not proceed"
    out = tmp_path / "review.json"
    out.write_text("an older review")
    result = run("check", scenario, "--format", "json", "--out", out)
    assert result.exit_code == 1
    assert json.loads(out.read_text())["verdict"] == "must not proceed"
    assert "must not proceed" in result.stdout
    assert sorted(p.name for p in tmp_path.iterdir()) == ["demo.yaml", "review.json"]
    assert stat.S_IMODE(out.stat().st_mode) & 0o400


def test_out_follows_a_link_and_leaves_it_a_link(run: Run, scenario: Path, tmp_path: Path) -> None:
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    real.write_text("old")
    link.symlink_to(real)
    assert run("check", scenario, "--out", link).exit_code == 0
    assert link.is_symlink()
    assert "MAY PROCEED" in real.read_text()


@pytest.mark.parametrize("out", ["no such folder/review.txt", ".", "demo.yaml"])
def test_a_path_that_cannot_be_written_is_wrong_input(
    run: Run, scenario: Path, tmp_path: Path, out: str
) -> None:
    result = run("check", scenario, "--out", tmp_path / out)
    assert result.exit_code == 2
    assert "benchgate:" in result.stderr
    assert scenario.read_text() == "title: A demonstration\n"
    assert [p.name for p in tmp_path.iterdir()] == ["demo.yaml"]


@pytest.mark.parametrize(
    ("measure", "at", "of"),
    [
        ("demo.share", None, None),
        ("demo.share@wash bottle", "wash bottle", None),
        ("demo.share@tube:hydrogen", "tube", "hydrogen"),
    ],
)
def test_explain_asks_for_one_number(
    run: Run, script: Any, scenario: Path, measure: str, at: str | None, of: str | None
) -> None:
    result = run("explain", scenario, measure, "--run", "plan", "--step", "heat")
    assert result.exit_code == 0
    asked = {k: script.asked[k] for k in ("kind", "at", "of", "run", "step")}
    assert asked == {"kind": "demo.share", "at": at, "of": of, "run": "plan", "step": "heat"}
    assert "share = 1.5 / 1" in result.stdout
    assert "authority having jurisdiction" in " ".join(result.stdout.split())


def test_a_name_explain_cannot_find_is_wrong_input(run: Run, script: Any, scenario: Path) -> None:
    script.fails = LookupError("no measure 'demo.shar'; nearest: demo.share")
    result = run("explain", scenario, "demo.shar")
    assert result.exit_code == 2
    assert "nearest: demo.share" in result.stderr


def test_checks_tell_what_they_cover_and_what_not(run: Run) -> None:
    result = run("checks")
    assert result.exit_code == 0
    for part in ("Demonstration (demo 1.0)", "Covers: one ratio", "Does not cover: all else"):
        assert part in result.stdout
    assert "demo.share: Share of the limit; worse when higher" in result.stdout
    assert "statics: did not load: a comma is missing" in result.stdout


def criterion(**changes: Any) -> SimpleNamespace:
    bands = SimpleNamespace(acceptable=0.25, tolerable=0.5)
    wide = SimpleNamespace(acceptable=0.6, tolerable=None)
    given: dict[str, Any] = {
        "id": "demo.limit",
        "title": "The share stays low",
        "kind": "demo.share",
        "cases": ("plan", "step", "upset"),
        "bands": {"plan": bands, "step": bands, "upset": wide},
        "floor": "acceptable",
        "require": None,
        "otherwise": "unacceptable",
        "applies": SimpleNamespace(text="facts.has_fuel"),
        "action": "Lower the share.",
        "basis": Basis("Invented Code", "clause 1", "read"),
        "blocks": False,
        "condition": "Measure the share first.",
        "disabled": False,
        "disabled_reason": "",
        "layer": "our site",
    }
    return SimpleNamespace(**(given | changes))


def test_rules_show_bands_and_where_each_comes_from(run: Run, script: Any) -> None:
    script.criteria = (
        criterion(),
        criterion(
            id="demo.second",
            require=SimpleNamespace(text="facts.operators >= 2"),
            otherwise="tolerable",
            disabled=True,
            disabled_reason="one person by permit",
        ),
    )
    result = run("rules")
    assert result.exit_code == 0
    for part in (
        "demo.limit: The share stays low",
        "Layer: our site",
        "Applies if: facts.has_fuel",
        "In plan, step: acceptable at most 0.25; tolerable at most 0.5",
        "In upset: acceptable at most 0.6",
        "If it cannot be judged, condition: Measure the share first.",
        "Basis: Invented Code, clause 1",
        "Asks for: facts.operators >= 2",
        "Otherwise: tolerable",
        "Switched off: one person by permit",
    ):
        assert part in result.stdout


def test_schema_prints_json(run: Run) -> None:
    done = run("schema")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout) == {"type": "object"}


def test_the_command_line_itself_imports_nothing_heavy() -> None:
    # the package around it is replaced by an empty one: what that exports is not the point here
    code = (
        "import sys, types; package = types.ModuleType('review'); "
        f"package.__path__ = {list(review.__path__)!r}; sys.modules['review'] = package; "
        "import review.cli; "
        "print([m for m in ('numpy', 'rich', 'pint', 'pydantic', 'scipy') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_a_reader_that_stops_reading_is_no_fault() -> None:
    code = (
        "import sys; from review.cli.output import write; sys.stdin.read(); "
        "write('x' * 10_000_000); sys.exit(1)"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdin and process.stdout and process.stderr
    process.stdout.close()
    process.stdin.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait() == 1


@pytest.mark.parametrize("setting", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_colour_on_a_terminal_unless_refused(
    monkeypatch: pytest.MonkeyPatch, setting: dict[str, str]
) -> None:
    from rich.text import Text

    from review.cli import output

    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in setting.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    text = output.rendered(lambda console: console.print(Text("word", style="bold red")))
    assert ("\x1b" in text) is (not setting)
    to_file = output.rendered(lambda c: c.print(Text("word", style="bold red")), to_file=True)
    assert to_file == "word\n"


def test_the_hook_of_a_repository_of_scenarios_is_a_command_that_there_is() -> None:
    """pre-commit appends the names of the files that a commit changes."""
    root = Path(__file__).parents[3]
    (hook,) = yaml.safe_load((root / ".pre-commit-hooks.yaml").read_text("utf-8"))
    program, verb, *given = hook["entry"].split()
    assert (program, hook["language"], hook["require_serial"]) == ("benchgate", "python", True)
    context = group.commands[verb].make_context(verb, [*given, str(root / "scenarios")])
    assert context.params["jobs"] == 1 and context.params["quiet"]
