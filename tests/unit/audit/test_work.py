"""One text to one row: what becomes of wrong files, and that judging again is reviewing anew."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import random
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from review.audit.store import Judged, Row
from review.audit.work import Desk, Measured, Recipe, Text, work
from review.engine.reviewing import Engine
from review.judge.verdict import verdict
from review.register.record import sealed
from review.scenario import load
from tests.support import record_body

ROOT = Path(__file__).parents[3]
NITROGEN = ROOT / "scenarios" / "nitrogen_dried.yaml"
FRAME = ROOT / "scenarios" / "bare_frame.yaml"


@pytest.fixture(scope="module")
def desk() -> Desk:
    return Desk(Recipe())


def reviewed(desk: Desk, content: str | bytes, source: Any = "scenario") -> Row:
    data = content if isinstance(content, bytes) else content.encode()
    row = desk.do(Text("lab/x", source, data))
    assert isinstance(row, Row)
    return row


# Scenarios


def test_a_scenario_becomes_what_check_says_of_it(desk: Desk) -> None:
    row, review = reviewed(desk, NITROGEN.read_bytes()), Engine().review(load(NITROGEN))
    assert (row.source, row.state, row.error) == ("scenario", "reviewed", None)
    assert (row.title, row.verdict) == (review.title, review.verdict)
    assert [(f[0], f[3], f[5], f[7], f[8], f[9]) for f in row.findings] == [
        (f.criterion, f.at, f.grade, f.case, f.trial, f.step) for f in review.findings
    ]
    assert [u[:3] for u in row.upsets] == [(o.run, o.title, o.grade) for o in review.outcomes]
    assert row.file_sha256 == row.scenario_sha256 == review.scenario_sha256
    assert row.file_sha256 == hashlib.sha256(NITROGEN.read_bytes()).hexdigest()
    assert json.loads(row.facts or "") == dict(review.facts)
    named = {(entry["kind"], entry["name"]) for entry in json.loads(row.data)}
    assert {("substances", "nitrogen"), ("materials", "borosilicate glass 3.3")} <= named


def test_a_ruleset_or_data_file_is_passed_over_with_the_reason(desk: Desk) -> None:
    row = reviewed(desk, "name: our bench\ncriteria: []\n")
    assert (row.source, row.state, row.verdict) == ("other", "skipped", None)
    assert row.error == "no scenario: none of its sections (criteria, name) is one of a scenario"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"train: [", "lab/x:2:1: not valid YAML"),
        (b"- a\n- b\n", "lab/x:1:1: expected a mapping"),
        (b"", "lab/x: is empty"),
        (b"\x7fELF\0", "lab/x: is binary, not text"),
        (b"frame: {fet: 3}\n", 'unknown key "fet" (did you mean'),
        (b"heat: {}\ntitle: a\ntitle: b\n", 'duplicate key "title"'),
        ("train: caf\u00e9".encode("latin-1"), "is not UTF-8 text"),
        (b"\xef\xbb\xbftrain: []\n", "lab/x:1:1"),
    ],
    ids=["no YAML", "list", "empty", "binary", "misspelt", "twice", "Latin-1", "byte order mark"],
)
def test_what_cannot_be_told_is_an_error_and_never_passed_over(
    desk: Desk, content: bytes, said: str
) -> None:
    row = reviewed(desk, content)
    assert (row.source, row.state, row.verdict, row.findings) == ("scenario", "error", None, ())
    assert said in (row.error or "")
    assert row.file_sha256 == hashlib.sha256(content).hexdigest()


def test_thousands_of_problems_are_told_in_few_lines(desk: Desk) -> None:
    row = reviewed(desk, "train: []\n" + "".join(f"wrong{n}: a\n" for n in range(3000)))
    lines = (row.error or "").splitlines()
    assert len(lines) == 51 and lines[-1].endswith("more problems")


def test_a_name_nobody_knows_is_noted_as_looked_up(desk: Desk) -> None:
    """So that a substance file added later makes the row stale."""
    text = NITROGEN.read_text("utf-8").replace("{nitrogen: 100 %}", "{unobtainium: 100 %}")
    row = reviewed(desk, text)
    assert row.state == "error" and "unobtainium" in (row.error or "")
    assert row.title == "Nitrogen dried over alumina"
    entry = {"kind": "substances", "name": "unobtainium", "file": "", "sha256": ""}
    assert entry in json.loads(row.data)


@pytest.mark.parametrize("text", ["title: a\ntrian: []\n", "Train: []\n", "reagent: {}\n"])
def test_a_misspelt_section_is_an_error_and_not_passed_over(desk: Desk, text: str) -> None:
    row = reviewed(desk, text)
    assert (row.source, row.state) == ("scenario", "error")
    assert "unknown key" in (row.error or "")


def test_no_file_shipped_beside_the_scenarios_seems_to_be_one(desk: Desk) -> None:
    folder = NITROGEN.parents[1] / "rulesets"
    # words.yaml lists the kinds of heat under the name that they have in a scenario.
    files = [file for file in folder.glob("*.yaml") if file.stem != "words"]
    files += folder.glob("materials/*.yaml")
    files += [folder / "substances" / f"{name}.yaml" for name in ("argon", "hydrogen", "water")]
    assert {reviewed(desk, file.read_bytes()).state for file in files} == {"skipped"}


@pytest.mark.parametrize("error", [RuntimeError("lost"), MemoryError(), RecursionError("deep")])
def test_a_fault_in_one_file_is_that_row_s_error(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def review(_: object) -> None:
        raise error

    monkeypatch.setattr(desk.engine, "review", review)
    row = reviewed(desk, FRAME.read_bytes())
    assert (row.state, row.verdict, row.measures) == ("error", None, None)
    assert (row.error or "").startswith(type(error).__name__)


def test_data_that_cannot_be_read_make_error_rows_that_go_stale(tmp_path: Path) -> None:
    """A site's own folder of substances, with a broken file in it."""
    (tmp_path / "substances").mkdir()
    broken = tmp_path / "substances" / "argon.yaml"
    broken.write_text("name: argon\n", "utf-8")
    plugin = tmp_path / "site.py"
    plugin.write_text(
        "from pathlib import Path\nfrom review import hookimpl\n"
        f"@hookimpl\ndef substances():\n    return [Path({str(tmp_path)!r})]\n"
    )
    row = reviewed(Desk(Recipe(plugins=(str(plugin),))), NITROGEN.read_bytes())
    assert row.state == "error" and "argon.yaml" in (row.error or "")
    told = [entry for entry in json.loads(row.data) if entry["kind"] == "substances"]
    assert told and {entry["sha256"] for entry in told} == {"cannot be read"}


# Records


def record(text: str, **told: Any) -> bytes:
    """A record that says least; what it says of the review is not asked here."""
    return sealed(record_body(text, **told), 1, "")


SIGNED = ("may proceed", "2031-05-06T07:08:09Z", "2031-08-06")


def test_the_scenario_of_a_record_is_reviewed_by_the_rules_of_now(desk: Desk) -> None:
    text = (ROOT / "scenarios" / "diethyl_ether_on_a_hot_plate.yaml").read_text("utf-8")
    data = record(text)
    row, plain = reviewed(desk, data, "record"), reviewed(desk, text)
    assert (row.source, row.state, row.title) == ("record", "reviewed", plain.title)
    assert (row.signed_verdict, row.signed_at, row.valid_until) == SIGNED
    assert (row.verdict, row.findings) == (plain.verdict, plain.findings)
    assert row.verdict == "must not proceed"
    assert row.file_sha256 == hashlib.sha256(data).hexdigest()
    assert row.scenario_sha256 == plain.scenario_sha256


def test_what_was_signed_is_kept_where_the_scenario_cannot_be_read_any_more(desk: Desk) -> None:
    row = reviewed(desk, record("title: a\n"), "record")
    assert (row.state, row.verdict) == ("error", None)
    assert "train" in (row.error or "")
    assert (row.signed_verdict, row.signed_at, row.valid_until) == SIGNED


def test_a_record_that_was_changed_is_an_error(desk: Desk) -> None:
    data = record(FRAME.read_text("utf-8"))
    row = reviewed(desk, data.replace(b"may proceed", b"may Proceed", 1), "record")
    assert (row.source, row.state) == ("record", "error")
    assert row.error and row.error.startswith("lab/x has been changed")
    assert row.signed_verdict is None


# Judging again


def generated(start: int) -> str:
    """One of the generator's scenarios, which stand in another folder of tests."""
    path = ROOT / "tests" / "generated" / "generator.py"
    spec = importlib.util.spec_from_file_location("generator_of_scenarios", path)
    assert spec and spec.loader
    module = sys.modules.setdefault(spec.name, importlib.util.module_from_spec(spec))
    if not hasattr(module, "scenario"):
        spec.loader.exec_module(module)
    return str(module.scenario(start))


def other_rules(desk: Desk, draw: random.Random) -> str:
    """A site's rules: most bands moved either way, some rules switched off, some added."""
    kinds, entries = desk.engine.kinds, []
    for each in desk.engine.ruleset.criteria:
        move = draw.choice((0.3, 0.8, 1.25, 3.0))
        if not each.kind or kinds[each.kind].labels or draw.random() < 0.2:
            continue
        if draw.random() < 0.1:
            entries.append({"id": each.id, "disabled": True, "reason": "invented"})
            continue
        edges = {}
        for case in each.cases:
            bands = each.bands[case]
            told = {"acceptable": bands.acceptable, "tolerable": bands.tolerable}
            edges[case] = {k: v * move for k, v in told.items() if v is not None}
        entries.append({"id": each.id, "bands_in": edges, "reason": "invented"})
    measured = sorted(kind for kind in kinds if not kinds[kind].labels)
    for number, kind in enumerate(draw.sample(measured, 4)):
        edge = draw.choice((-1.0, 0.0, 1.0, 100.0))
        entries.append(
            {
                "id": f"invented.rule{number}",
                "title": "An invented rule",
                "kind": kind,
                "bands": {"acceptable": edge},
                "action": "Invent something better.",
                "basis": {"document": "invented", "clause": "", "how": "invented"},
            }
        )
    return yaml.safe_dump({"name": "other rules", "criteria": entries})


@pytest.mark.parametrize("start", [1, 3, 8])
def test_judging_stored_measures_by_other_rules_is_reviewing_anew(
    desk: Desk, tmp_path: Path, start: int
) -> None:
    text = generated(start).encode()
    first = reviewed(desk, text)
    assert first.measures and first.facts
    seen = {first.findings}
    for turn in range(3):
        rules = tmp_path / f"{turn}.yaml"
        rules.write_text(other_rules(desk, random.Random(100 * start + turn)), "utf-8")
        other = Desk(Recipe(rules=(str(rules),)))
        again = other.do(Measured("lab/x", "scenario", text, first.measures, first.facts))
        anew = reviewed(other, text)
        assert isinstance(again, Judged)
        assert again.findings == anew.findings
        assert again.upsets == anew.upsets
        assert (again.verdict, again.rules) == (anew.verdict, anew.rules)
        seen.add(again.findings)
    assert len(seen) == 4  # each of the rulesets says something else


def test_judging_again_by_the_same_rules_changes_nothing(desk: Desk) -> None:
    first = reviewed(desk, generated(4))
    assert first.measures and first.facts and first.upsets
    again = desk.judged(Measured("lab/x", "scenario", b"", first.measures, first.facts))
    assert (again.findings, again.upsets) == (first.findings, first.upsets)
    assert (again.verdict, again.rules) == (first.verdict, first.rules)


def test_damaged_measures_lead_to_a_review(desk: Desk) -> None:
    content = FRAME.read_bytes()
    first = reviewed(desk, content)
    assert first.measures and first.facts
    row = desk.do(Measured("lab/x", "scenario", content, first.measures[:-9], first.facts))
    assert isinstance(row, Row)
    assert replace(row, reviewed_at="", seconds=0) == replace(first, reviewed_at="", seconds=0)


# What results rest on


def plugin(folder: Path, body: str) -> Desk:
    path = folder / "site.py"
    path.write_text(f"from review import Section, hookimpl\n@hookimpl\n{body}", "utf-8")
    return Desk(Recipe(plugins=(str(path),)))


def test_rules_code_and_plugins_have_a_hash_each(desk: Desk, tmp_path: Path) -> None:
    rules = tmp_path / "site.yaml"
    rules.write_text("name: ours\ncontacts: [the desk]\n", "utf-8")
    other = Desk(Recipe(rules=(str(rules),)))
    assert other.key.rules != desk.key.rules
    assert (other.key.code, other.key.plugins) == (desk.key.code, "[]")
    assert json.loads(other.ruleset_text)["contacts"] == ["the desk"]
    assert other.criteria == desk.criteria
    site = plugin(tmp_path, "def upsets(scenario):\n    return []\n")
    assert [entry["name"] for entry in json.loads(site.key.plugins)] == ["site"]
    assert site.key.rules == desk.key.rules


def test_the_time_that_plugins_are_given_counts_where_there_are_any(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = "def upsets(scenario):\n    return []\n"
    before = plugin(tmp_path, body).key
    monkeypatch.setenv("BENCHGATE_PLUGIN_SECONDS", "7")
    after = plugin(tmp_path, body).key
    assert after.plugins != before.plugins
    assert after.code == before.code == desk.key.code
    assert Desk(Recipe()).key == desk.key


def test_a_plugin_that_did_not_load_leaves_rows_that_nobody_judges_again(tmp_path: Path) -> None:
    broken = plugin(tmp_path, "def check():\n    raise RuntimeError('lost')\n")
    row = reviewed(broken, FRAME.read_bytes())
    assert (row.state, row.verdict, row.measures) == ("reviewed", "cannot be judged", None)
    assert "check.failed" in {finding[0] for finding in row.findings}
    assert broken.must_review
    assert broken.key.code == Desk(Recipe()).key.code
    assert [entry["failed"] for entry in json.loads(broken.key.plugins)] == [True]


def test_a_site_s_own_sections_are_not_judged_again(desk: Desk, tmp_path: Path) -> None:
    """What such a hook does may depend on the findings, and where it fails the verdict does."""
    site = plugin(
        tmp_path,
        "def report_sections(review):\n    assert review.verdict != 'may proceed'\n    return []\n",
    )
    assert site.must_review and not desk.must_review
    assert reviewed(site, FRAME.read_bytes()).verdict == "may proceed with conditions"
    assert reviewed(site, NITROGEN.read_bytes()).verdict == "cannot be judged"


def test_what_a_worker_gives_is_plain_data(desk: Desk) -> None:
    row = work(Recipe(), Text("lab/x", "scenario", generated(9).encode()))
    assert isinstance(row, Row)
    plain = (str, int, float, type(None))
    assert all(type(value) in plain for finding in row.findings for value in finding)
    assert all(type(value) in plain for upset in row.upsets for value in upset)
    assert row.verdict == verdict(Engine().review(_loaded(generated(9))).findings)
    assert (row.rules, row.code) == (desk.key.rules, desk.key.code)


def _loaded(text: str) -> Any:
    from review.scenario import loads

    return loads(text)
