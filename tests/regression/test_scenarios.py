"""Verdict and grades of every demo as they were when last regenerated; see README.md here."""

from __future__ import annotations

import io
import os
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from click.testing import CliRunner
from rich.console import Console

from review import Engine, Review, loads
from review.cli import group
from review.judge.ruleset import MUST_BLOCK
from review.render.letter import render_letter

HERE = Path(__file__).parent
SCENARIOS = sorted(
    f.name.removesuffix(".yaml")
    for f in files("review.scenarios").iterdir()
    if f.name.endswith(".yaml")
)


@cache
def reviewed(engine: Engine, name: str) -> Review:
    text = (files("review.scenarios") / f"{name}.yaml").read_text(encoding="utf-8")
    return engine.review(loads(text, name))


def letter(review: Review) -> list[str]:
    page = io.StringIO()
    render_letter(review, Console(file=page, width=80, color_system=None))
    return page.getvalue().splitlines()


def snapshot(engine: Engine, name: str) -> str:
    review = reviewed(engine, name)
    lines = sorted(
        " | ".join((f.criterion, f.at or "-", f.of or "-", f.case, f.grade))
        for f in review.findings
    )
    return "\n".join(
        [f"verdict: {review.verdict}", f"letter: {len(letter(review))} lines", *lines, ""]
    )


@pytest.mark.parametrize("name", SCENARIOS)
def test_scenario_is_judged_as_before(engine: Engine, name: str) -> None:
    kept = HERE / f"{name}.txt"
    found = snapshot(engine, name)
    if os.environ.get("REGENERATE"):
        kept.write_text(found, encoding="utf-8")
    assert kept.read_text(encoding="utf-8").splitlines() == found.splitlines()


def test_the_words_of_letters_are_as_before(engine: Engine) -> None:
    """A refusal, one with two dangers in one cause, and what cannot be judged."""
    names = ("methanol_over_silver", "air_dried_in_liquid_nitrogen", "hydrogen_chloride_absorbed")
    found = "\n\n".join("\n".join(letter(reviewed(engine, name))) for name in names) + "\n"
    kept = HERE / "pages" / "letters.txt"
    if os.environ.get("REGENERATE"):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(found, encoding="utf-8")
    assert kept.read_text(encoding="utf-8") == found


def test_the_words_of_a_range_are_as_before() -> None:
    with as_file(files("review.scenarios") / "bare_frame.yaml") as path:
        done = CliRunner().invoke(group, ["range", str(path), "frame.push_height=900..1100"])
    assert done.exit_code == 0, done.output
    kept = HERE / "pages" / "range.txt"
    if os.environ.get("REGENERATE"):
        kept.write_text(done.stdout, encoding="utf-8")
    assert kept.read_text(encoding="utf-8") == done.stdout


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_letter_is_read_to_its_end(engine: Engine, name: str) -> None:
    lines = letter(reviewed(engine, name))
    assert len(lines) <= 60 and max(map(len, lines)) <= 80
    assert "authority having jurisdiction" in " ".join(lines)


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_finding_that_is_not_acceptable_hangs_on_one_cause(engine: Engine, name: str) -> None:
    review = reviewed(engine, name)
    hanging = sorted(n for cause in review.causes for n in cause.findings)
    assert hanging == [n for n, f in enumerate(review.findings) if f.grade != "acceptable"]
    assert len({cause.id for cause in review.causes}) == len(review.causes)
    assert all(cause.leading in cause.findings for cause in review.causes)
    refused = any(cause.grade != "condition" for cause in review.causes)
    assert refused == (review.verdict in ("must not proceed", "cannot be judged"))


def test_the_letter_speaks_of_every_criterion_that_must_block(engine: Engine) -> None:
    must_block = {c.id for c in engine.ruleset.criteria if c.id.startswith(MUST_BLOCK)}
    assert must_block <= set(engine.ruleset.letters) <= {c.id for c in engine.ruleset.criteria}


def test_no_snapshot_outlives_its_scenario() -> None:
    assert {f.stem for f in HERE.glob("*.txt")} == set(SCENARIOS)
