"""``benchgate runsheet``: of a scenario, of a signed record, and when there is none."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from signing import SCENARIOS, run, sign

from review.register import clock

PROCEEDING = {
    "bare_frame", "carbon_dioxide_in_lime_water", "carbon_monoxide_detector_in_the_room",
    "copper_oxide_forming_gas", "ethanol_dehydrated_over_alumina", "hydrogen_chloride_absorbed",
    "methane_arrester_of_beads", "methane_arrester_of_loose_wool", "methanol_distilled",
    "nitrogen_dried", "room_air_over_butanol_and_charcoal", "water_distilled",
    "water_warmed_in_a_bath",
}  # fmt: skip
REFUSED = {
    "air_dried_in_liquid_nitrogen": "must not proceed",
    "carbon_monoxide_detector_in_the_duct": "must not proceed",
    "methanol_over_silver": "must not proceed",
    "copper_oxide_hydrogen_no_purge": "must not proceed",
    "diethyl_ether_on_a_hot_plate": "must not proceed",
    "carbon_dioxide_methanated_over_nickel": "cannot be judged",
}
STRICT = """
name: strict
criteria:
  - {id: readiness.cooling, bands: {acceptable: 0.5, tolerable: 0.6}}
"""
MILD = """
name: mild
criteria:
  - {id: heat.hot_part, bands: {acceptable: 1.0e+4, tolerable: 2.0e+4}, reason: tried out}
"""


def signed(folder: Path, name: str, *options: object) -> Path:
    """The record of a demo that two people signed."""
    done = sign(SCENARIOS / f"{name}.yaml", folder / "register", *options)
    assert done.exit_code == 0, done.output
    return folder / "register" / "000001.json"


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return signed(tmp_path_factory.mktemp("one"), "water_distilled", "--runs", 3)


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record of what could not be judged."""
    return signed(tmp_path_factory.mktemp("two"), "carbon_dioxide_methanated_over_nickel")


def refused(result: Result) -> str:
    """What a refusal says, in one line; it writes nothing to standard output."""
    assert result.exit_code == 1, result.output
    assert result.stdout == ""
    said = " ".join(result.stderr.split())
    assert said.startswith("benchgate: no run sheet, and nothing was written.")
    assert all(len(line) <= 80 for line in result.stderr.splitlines() if "benchgate" not in line)
    return said


# A scenario


def test_the_tables_here_name_every_demo() -> None:
    assert {path.stem for path in SCENARIOS.glob("*.yaml")} == PROCEEDING | REFUSED.keys()


@pytest.mark.parametrize("name", sorted(PROCEEDING))
def test_a_demo_that_may_proceed_has_a_page_that_nobody_signed(name: str) -> None:
    result = run("runsheet", SCENARIOS / f"{name}.yaml")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("# Run sheet: ") and "\n## NOT SIGNED OFF\n" in result.stdout
    assert result.stderr == ""


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_a_demo_that_may_not_proceed_has_none(name: str, tmp_path: Path) -> None:
    out = tmp_path / "page.md"
    file = SCENARIOS / f"{name}.yaml"
    said = refused(run("runsheet", file, "--out", out))
    assert f"is '{REFUSED[name]}'." in said
    assert f"benchgate check {file}" in said
    assert ("benchgate sign" in said) == (REFUSED[name] == "cannot be judged")
    assert not out.exists()


def test_a_refusal_names_what_must_change_the_most_urgent_first() -> None:
    said = refused(run("runsheet", SCENARIOS / "methanol_over_silver.yaml"))
    first = "Gas against the range in which it burns"
    second = "Air people breathe against what endangers life (IDLH)"
    assert 0 < said.index(first) < said.index(second)


def test_the_page_is_written_whole_to_a_file(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    file = SCENARIOS / "water_distilled.yaml"
    result = run("runsheet", file, "--format", "html", "--out", out)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == f"Run sheet (NOT SIGNED OFF) written to {out}.\n"
    assert out.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert out.read_text("utf-8") == run("runsheet", file, "--format", "html").stdout


def test_a_page_never_overwrites_what_it_was_made_from(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    text = (SCENARIOS / "water_distilled.yaml").read_text("utf-8")
    file.write_text(text, "utf-8")
    result = run("runsheet", file, "--out", file)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is an input" in result.stderr and file.read_text("utf-8") == text


def test_a_sites_rules_and_whom_to_call_stand_on_the_page(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    site.write_text('name: our bench\ncontacts: ["Call the lodge: 1234."]\n', "utf-8")
    text = run("runsheet", SCENARIOS / "nitrogen_dried.yaml", "--rules", site).stdout
    assert "- Call the lodge: 1234." in text and "our bench" in text


def test_a_hostile_title_cannot_steer_a_terminal_or_a_page(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    text = (SCENARIOS / "water_distilled.yaml").read_text("utf-8")
    title = r'title: "a|b <script>\e[31m\u202e\n# c"'
    file.write_text(text.replace("title: Water distilled", title), "utf-8")
    for form in ("markdown", "html"):
        shown = run("runsheet", file, "--format", form)
        assert shown.exit_code == 0, shown.output
        assert "<script" not in shown.stdout and "a" in shown.stdout
        assert not {"\x1b", "\u202e"} & set(shown.stdout)


# A record


def test_the_page_of_a_record_carries_its_hash_and_counts_its_runs(record: Path) -> None:
    text = run("runsheet", record).stdout
    digest = hashlib.sha256(record.read_bytes()).hexdigest()
    assert f"SHA-256: {digest}" in text
    assert " ".join(digest[n : n + 8] for n in range(0, 64, 8)) in text
    assert "NOT SIGNED OFF" not in text and "**Signed off**: record 1" in text
    assert "of 3 allowed" in text
    told = json.loads(record.read_bytes())
    assert f"holds until {told['valid_until']}" in text.replace("\\", "")
    assert told["scenario"]["sha256"] in text
    for name in ("teacher", "second teacher"):
        assert name in text


def test_what_was_confirmed_stands_on_the_page(record: Path) -> None:
    asked = json.loads(record.read_bytes())["conditions"]
    text = run("runsheet", record).stdout
    assert len(asked) >= 3
    assert text.count("*Confirmed: seen and done*") == len({each["criterion"] for each in asked})


def test_what_was_answered_stands_on_the_page_with_role_and_reason(answered: Path) -> None:
    told = json.loads(answered.read_bytes())
    assert told["review"]["verdict"] == "cannot be judged" and told["answers"]
    text = run("runsheet", answered).stdout
    assert "Verdict of the review: **cannot be judged**." in text
    lines = [
        line for line in text.splitlines() if "it is far below what is known to ignite" in line
    ]
    assert len(lines) == len(told["answers"])
    assert all(line.endswith("(teacher)") for line in lines)


def test_a_record_that_was_changed_has_no_page(record: Path, tmp_path: Path) -> None:
    changed = tmp_path / "r.json"
    changed.write_bytes(record.read_bytes().replace(b"seen and done", b"seen and dune", 1))
    assert "r.json has been changed" in refused(run("runsheet", changed))


def test_a_record_out_of_its_place_in_the_register_has_no_page(
    record: Path, tmp_path: Path
) -> None:
    """Its bytes are whole, but the head of the register around it speaks of another."""
    folder = tmp_path / "register"
    folder.mkdir()
    (folder / record.name).write_bytes(record.read_bytes())
    head = json.loads(record.with_name("head.json").read_bytes())
    (folder / "head.json").write_text(json.dumps({**head, "sha256": "0" * 64}), "utf-8")
    assert "may not be used" in refused(run("runsheet", folder / record.name))


def test_a_record_that_has_expired_has_no_page(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = datetime.now().astimezone() + timedelta(days=400)
    monkeypatch.setattr(clock, "now", lambda: later)
    said = refused(run("runsheet", record))
    assert "it expired" in said and f"benchgate verify {record}" in said


def test_a_record_of_which_a_review_says_worse_today_has_no_page(
    record: Path, tmp_path: Path
) -> None:
    rules = tmp_path / "strict.yaml"
    rules.write_text(STRICT, "utf-8")
    said = refused(run("runsheet", record, "--rules", rules))
    assert "readiness.cooling" in said and "was acceptable, is unacceptable" in said


def test_milder_rules_print_the_page_with_all_that_was_confirmed(
    record: Path, tmp_path: Path
) -> None:
    rules = tmp_path / "mild.yaml"
    rules.write_text(MILD, "utf-8")
    result = run("runsheet", record, "--rules", rules)
    assert result.exit_code == 0, result.output
    assert "**Heated parts can burn skin**" in result.stdout
    assert "Loosened: heat.hot\\_part" in result.stdout


def test_the_page_is_by_the_rules_that_are_given_today(tmp_path: Path) -> None:
    rules = tmp_path / "site.yaml"
    rules.write_text('name: our bench\ncontacts: ["Call the lodge."]\n', "utf-8")
    file = SCENARIOS / "water_warmed_in_a_bath.yaml"
    names = ("--preparer", "teacher", "--reviewer", "second teacher")
    book = tmp_path / "register"
    done = run("sign", file, "--register", book, *names, "--rules", rules)
    assert done.exit_code == 0, done.output
    without = run("runsheet", book / "000001.json")
    assert without.exit_code == 0 and "Call the lodge" not in without.stdout
    again = run("runsheet", book / "000001.json", "--rules", rules)
    assert again.exit_code == 0 and "- Call the lodge." in again.stdout


def test_what_reads_templates_is_loaded_for_html_alone() -> None:
    program = (
        "import sys\n"
        "from click.testing import CliRunner\n"
        "from review.cli import group\n"
        "said = CliRunner().invoke(group, ['runsheet', sys.argv[1], '--format', sys.argv[2]])\n"
        "assert said.exit_code == 0, said.output\n"
        "print('review.render.runsheet_html' in sys.modules)\n"
    )
    for form, loaded in (("markdown", "False"), ("html", "True")):
        done = subprocess.run(
            [sys.executable, "-c", program, str(SCENARIOS / "bare_frame.yaml"), form],
            capture_output=True, text=True, timeout=120, check=True,
        )  # fmt: skip
        assert done.stdout.strip() == loaded
