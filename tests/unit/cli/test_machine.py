"""Site rules that a person or machine has set once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from signing import SCENARIOS, run

DEMO = SCENARIOS / "bare_frame.yaml"
RULES = "name: our bench\ncontacts: [Call the lodge.]\n"


def settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str) -> None:
    folder = tmp_path / "config" / "benchgate"
    folder.mkdir(parents=True)
    (folder / "settings.yaml").write_text(text, "utf-8")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture
def rules(tmp_path: Path) -> Path:
    path = tmp_path / "site.yaml"
    path.write_text(RULES, "utf-8")
    return path


@pytest.mark.parametrize("how", ["variable", "settings"])
def test_rules_of_the_machine_are_named_on_every_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rules: Path, how: str
) -> None:
    none = run("check", DEMO).stdout
    assert "built-in (no site rules given)" in " ".join(none.split())
    if how == "variable":
        monkeypatch.setenv("BENCHGATE_RULES", str(rules))
    else:
        settings(monkeypatch, tmp_path, f"rules: ['{rules}']\n")
    for args in (("check", DEMO), ("check", DEMO, "--full"), ("runsheet", DEMO), ("rules",)):
        assert "our bench" in run(*args).stdout, args
    assert "Call the lodge." in run("rules").stdout


def test_a_variable_wins_over_the_settings_and_may_say_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rules: Path
) -> None:
    settings(monkeypatch, tmp_path, f"rules: ['{rules}']\n")
    monkeypatch.setenv("BENCHGATE_RULES", "")
    assert "no site rules given" in " ".join(run("check", DEMO).stdout.split())


def test_rules_that_are_given_too_count_once(monkeypatch: pytest.MonkeyPatch, rules: Path) -> None:
    monkeypatch.setenv("BENCHGATE_RULES", os.pathsep.join([str(rules)]))
    said = run("check", DEMO, "--rules", rules)
    assert said.exit_code == 0, said.output
    assert " ".join(said.stdout.split()).count("our bench") == 1


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("plugins: [/a.py]\n", "never plugins"),
        ("rules: [site.yaml]\n", "no absolute path"),
        ("rules: [/nowhere/site.yaml]\n", "there is no ruleset"),
        ("rules: /nowhere/site.yaml\n", "no list of paths"),
        ("ruls: []\n", "is no setting"),
    ],
)
def test_settings_that_cannot_be_used_are_wrong_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, why: str
) -> None:
    settings(monkeypatch, tmp_path, text)
    refused = run("check", DEMO)
    assert refused.exit_code == 2
    assert why in " ".join(refused.stderr.split())


def test_nothing_beside_a_scenario_is_read(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = tmp_path / "benchgate"
    folder.mkdir()
    (folder / "settings.yaml").write_text("plugins: [x]\n", "utf-8")
    (tmp_path / "settings.yaml").write_text("plugins: [x]\n", "utf-8")
    monkeypatch.chdir(tmp_path)
    assert run("check", DEMO).exit_code == 0
