"""What the pages of `sign` and `verify` must not keep back, and must not let anybody forge."""

from __future__ import annotations

import hashlib
import shlex
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console
from signing import NAMES, SCENARIOS, run, sign

from review import Engine, load
from review.cli import output
from review.cli.confirming import Draft, Stopped, ask_for_the_rest
from review.register.chain import Register
from review.register.questions import questions

BATH = SCENARIOS / "water_warmed_in_a_bath.yaml"
OPEN = SCENARIOS / "carbon_dioxide_methanated_over_nickel.yaml"
#: Takes a rule away that a hot bath meets.
MILDER = """\
name: our bench
criteria:
  - {id: heat.hot_part, disabled: yes, reason: everybody here knows}
"""
SHOWN = "heat.hot_part, by our bench: disabled. Reason: everybody here knows"
FORGED = f"{'x' * 79} Result: all of it holds"


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def rules(tmp_path: Path) -> Path:
    file = tmp_path / "our rules.yaml"
    file.write_text(MILDER, "utf-8")
    return file


def test_a_loosened_rule_is_shown_by_whoever_shows_the_record(tmp_path: Path, rules: Path) -> None:
    signed = run("sign", BATH, "--register", tmp_path / "r", *NAMES, "--rules", rules)
    assert signed.exit_code == 0, signed.output
    assert SHOWN in flat(signed.stdout)
    for what in (tmp_path / "r", tmp_path / "r" / "000001.json"):
        found = run("verify", what, "--rules", rules)
        assert found.exit_code == 0, found.output
        assert SHOWN in flat(found.stdout)
        assert "asks for no more today by rules that were loosened" in flat(found.stdout)


def test_a_rule_that_is_loosened_only_for_the_question_is_shown(
    tmp_path: Path, rules: Path
) -> None:
    assert sign(BATH, tmp_path / "r").exit_code == 0
    assert "Rules that" not in run("verify", tmp_path / "r").stdout
    found = flat(run("verify", tmp_path / "r", "--rules", rules).stdout)
    assert f"now, and not when it was signed: - {SHOWN}" in found


def test_a_loosened_rule_is_shown_before_anybody_is_asked(
    rules: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    review = Engine(rules_files=[rules]).review(load(BATH))
    shown: list[str] = []

    def ask(*args: object, **more: object) -> str:
        shown.append(capsys.readouterr().out)
        return "no"

    monkeypatch.setattr("click.prompt", ask)
    with pytest.raises(Stopped):
        ask_for_the_rest(review, questions(review), Draft())
    assert SHOWN in flat(shown[0])


def test_the_command_to_verify_gives_the_rules_again(tmp_path: Path, rules: Path) -> None:
    """Without them the record would not hold."""
    signed = run("sign", BATH, "--register", tmp_path / "r", *NAMES, "--rules", rules)
    [line] = [line for line in signed.stdout.splitlines() if line.startswith("  benchgate verify")]
    found = run(*shlex.split(line)[1:])
    assert found.exit_code == 0, found.output


def test_a_title_cannot_forge_a_line_of_a_page(tmp_path: Path) -> None:
    text = BATH.read_text("utf-8")
    [first] = [line for line in text.splitlines() if line.startswith("title:")]
    file = tmp_path / "bath.yaml"
    file.write_text(text.replace(first, f'title: "{FORGED}"'), "utf-8")
    register = tmp_path / "r"
    signed = run("sign", file, "--register", register, *NAMES)
    after = signed.stdout[signed.stdout.index("Signed off:") :]
    for page in (after, run("verify", register / "000001.json").stdout):
        assert "Result: all of it holds" in page
        assert not any(line.startswith("Result: all") for line in page.splitlines())
    whole = run("verify", register).stdout
    assert sum(line.startswith("Result: all of it holds") for line in whole.splitlines()) == 1


def test_labels_keep_their_text_beside_them() -> None:
    from review.cli.labels import labelled
    from review.render.page import Page

    shown = StringIO()
    labelled(Page(Console(width=30, file=shown)), "Signed:", "one two three four five six seven")
    lines = shown.getvalue().splitlines()
    assert lines[0].startswith("Signed: one") and len(lines) > 1
    assert all(line.startswith(" " * 8) for line in lines[1:])


def test_the_records_that_do_not_hold_are_named_at_the_top(tmp_path: Path) -> None:
    for _ in range(3):
        assert sign(BATH, tmp_path / "r").exit_code == 0
    path = tmp_path / "r" / "000002.json"
    path.write_bytes(path.read_bytes().replace(b"second teacher", b"another person"))
    lines = run("verify", tmp_path / "r").stdout.splitlines()
    assert lines[0].startswith("Register")  # and on, where the folder's name is long
    top = lines[lines.index("") + 1 :]
    assert top[0] == "Result: not all of it holds"
    assert top[2] == "Does not hold: 000002.json"


def test_a_record_that_was_written_is_told_even_where_its_page_cannot_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = output.write

    def full(text: str) -> None:
        if (tmp_path / "r").exists():
            raise OSError(28, "No space left on device")
        write(text)

    monkeypatch.setattr(output, "write", full)
    signed = sign(BATH, tmp_path / "r")
    assert signed.exit_code == 0
    assert f"signed: the record is {tmp_path / 'r' / '000001.json'}" in flat(signed.stderr)


def test_without_any_input_nobody_is_asked(tmp_path: Path) -> None:
    asked = f"exec {sys.executable} -c 'from review.cli import main; main()' sign"
    done = subprocess.run(
        ["sh", "-c", f'{asked} "$1" --register "$2" <&-', "sh", BATH, tmp_path / "r"],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert "who is the preparer and reviewer" in flat(done.stderr)


PLUGIN = """\
from review import hookimpl


@hookimpl
def measures():
    return []
"""


def test_a_plugin_of_the_site_is_named_by_whoever_shows_the_record(tmp_path: Path) -> None:
    file = tmp_path / "foam.py"
    file.write_text(PLUGIN, "utf-8")
    signed = run("sign", BATH, "--register", tmp_path / "r", *NAMES, "--plugin", file)
    assert signed.exit_code == 0, signed.output
    start = hashlib.sha256(file.read_bytes()).hexdigest()[:12]
    for what in (tmp_path / "r", tmp_path / "r" / "000001.json"):
        found = run("verify", what, "--plugin", file)
        assert found.exit_code == 0, found.output
        assert f"Plugins that are not built in: foam {start}" in found.stdout
    assert f"Plugins that are not built in: foam {start}" in signed.stdout


def test_what_nobody_could_judge_is_told_with_the_record(tmp_path: Path) -> None:
    assert sign(OPEN, tmp_path / "r").exit_code == 0
    [record] = Register(tmp_path / "r").records()
    answers = len(record.data["answers"])
    assert answers
    shown = run("verify", tmp_path / "r").stdout
    assert "Verdict when signed: cannot be judged" in shown
    assert f"Could not be judged: {answers} finding" in shown
    assert f"its last day is {record.valid_until}" in flat(shown)
