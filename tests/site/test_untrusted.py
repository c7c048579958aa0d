"""A plugin that ends the process, changes the engine or gives a verdict never makes a pass."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from review import Engine, PluginError, RulesetError, Section, load
from review.engine.integrity import EngineChanged

HERE = Path(__file__).parent
HEAD = """
import atexit, os
from review import Check, Computation, Section, hookimpl

@hookimpl
def check():
    return Check("own", "Our own", "1", ("a",), ("b",), ("c",))
"""
SECTIONS = "\n@hookimpl\ndef report_sections(review):\n    "


def plugin(folder: Path, more: str) -> Path:
    path = folder / "own.py"
    path.write_text(HEAD + more + "\n", "utf-8")
    return path


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ("os._exit(0)", 3),
        ("os.execv('/bin/true', ['true'])", 3),
        (SECTIONS + "os._exit(0)", 3),
        # Where nothing reaches the end of the review but this, it changes nothing.
        ("atexit.register(lambda: os._exit(0))", 1),
    ],
)
def test_a_plugin_that_ends_the_process_is_no_pass(
    tmp_path: Path, more: str, status: int
) -> None:
    command = Path(sys.executable).with_name("benchgate")
    shut = (HERE / "bulb.yaml").read_text("utf-8").replace("to: outdoors", "to: outdoors, open: no")
    (tmp_path / "shut.yaml").write_text(shut, "utf-8")
    done = subprocess.run(
        [command, "check", "shut.yaml", "--plugin", plugin(tmp_path, more)],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == status, done.stdout + done.stderr


@pytest.mark.parametrize(
    "more",
    [
        "import review.engine.reviewing as r\nr.verdict = lambda found: 'may proceed'",
        "import review.judge.judging as j\nj.Desk.findings = lambda self, criterion: []",
        "import review.judge.verdict as v\nv.verdict.__code__ = (lambda findings: 'x').__code__",
        SECTIONS + "object.__setattr__(review, 'verdict', 'may proceed'); return []",
        SECTIONS + "object.__setattr__(review.findings[0], 'grade', 'acceptable'); return []",
    ],
)
def test_a_plugin_that_changes_the_engine_or_the_findings_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: str
) -> None:
    import review.engine.reviewing as reviewing
    import review.judge.judging as judging
    import review.judge.verdict as verdicts

    monkeypatch.setattr(reviewing, "verdict", reviewing.verdict)  # put back afterwards
    monkeypatch.setattr(judging.Desk, "findings", judging.Desk.findings)
    code = verdicts.verdict.__code__
    try:
        engine = Engine(plugin_files=[plugin(tmp_path, more)])
        with pytest.raises(EngineChanged):
            engine.review(load(HERE / "bulb.yaml"))
    finally:
        verdicts.verdict.__code__ = code


def test_a_section_that_gives_a_verdict_is_a_failure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = SECTIONS + "print('May proceed'); return [Section('All well', ('It may proceed.',))]"
    review = Engine(plugin_files=[plugin(tmp_path, more)]).review(load(HERE / "bulb.yaml"))
    assert review.verdict in ("cannot be judged", "must not proceed")
    assert [f.check for f in review.failures] == ["own"]
    assert not any(s.title == "All well" for s in review.sections)
    assert capsys.readouterr().out == ""


def test_a_section_says_whose_it_is_and_holds_lines(tmp_path: Path) -> None:
    more = SECTIONS + "return [Section('Cold', ('Wear a face shield.',))]"
    review = Engine(plugin_files=[plugin(tmp_path, more)]).review(load(HERE / "bulb.yaml"))
    assert [s.plugin for s in review.sections if s.title == "Cold"] == ["own"]
    with pytest.raises(PluginError, match="list of texts"):
        Section("Cold", "Wear a face shield.")  # type: ignore[arg-type]


def test_measures_handed_to_plugins_are_read_only() -> None:
    review = Engine().review(load(HERE / "bulb.yaml"))
    for each in review.measures:
        with pytest.raises(ValueError, match="read-only"):
            each.value[...] = 0.0


def test_a_hazard_whose_criteria_are_all_disabled_is_not_judged(tmp_path: Path) -> None:
    ids = [c.id for c in Engine().ruleset.criteria if c.id.startswith("pressure.")]
    entries = "".join(f"  - {{id: {id}, disabled: yes, reason: ours}}\n" for id in ids)
    rules = tmp_path / "site.yaml"
    rules.write_text("name: site\ncriteria:\n" + entries, "utf-8")
    shut = (HERE / "bulb.yaml").read_text("utf-8").replace("to: outdoors", "to: outdoors, open: no")
    (tmp_path / "shut.yaml").write_text(shut, "utf-8")
    review = Engine(rules_files=[rules]).review(load(tmp_path / "shut.yaml"))
    silenced = [f for f in review.findings if f.criterion in ids]
    assert {f.grade for f in silenced} == {"undetermined"} and silenced[0].blocks
    assert review.verdict != "may proceed"


def test_a_site_limit_milder_than_the_substance_file_needs_a_reason(tmp_path: Path) -> None:
    rules = tmp_path / "site.yaml"
    entry = "exposure.idlh.carbon monoxide: {value: 2, unit: '%', source: ours, how: read"
    rules.write_text(f"name: site\nlimits:\n  {entry}}}\n", "utf-8")
    with pytest.raises(RulesetError, match="needs a reason"):
        Engine(rules_files=[rules])
    rules.write_text(f"name: site\nlimits:\n  {entry}, reason: measured}}\n", "utf-8")
    [loosened] = Engine(rules_files=[rules]).ruleset.loosened
    assert (loosened.criterion, loosened.reason) == ("exposure.idlh.carbon monoxide", "measured")
