"""The page: one whole document, the letter's words in the letter's order, nothing believed."""

from __future__ import annotations

import dataclasses
import io
import re

import pytest
from rich.console import Console

from review import Engine, Review, load
from review.cautions import CAUTIONS
from review.interface.result import Cause, Finding, Letter
from review.judge.causes import causes
from review.render.explain import working_steps
from review.render.html import to_html
from review.render.telling import contents
from review.render.words import clean
from tests.html_reader import HOSTILE, Reader
from tests.support import DEMOS, SCENARIOS, demo_review

#: Elements that could run, fetch or send something.
ACTIVE = {"script", "iframe", "object", "embed", "a", "form", "base", "audio", "video", "img"}


@pytest.fixture
def judged(review: Review) -> Review:
    """The hand-made review with its causes."""
    return dataclasses.replace(review, causes=causes(review.findings, {}, review.kinds))


@pytest.mark.parametrize("name", DEMOS)
def test_every_demo_is_one_whole_document_that_fetches_nothing(name: str) -> None:
    source = to_html(demo_review(name))
    page = Reader(source)
    assert source.startswith("<!DOCTYPE html>\n<html lang=")
    assert page.elements["h1"] == page.elements["main"] == page.elements["title"] == 1
    assert not page.elements.keys() & ACTIVE
    assert "url(" not in source and "@import" not in source and "http" not in source.lower()
    assert not {a for _, a in page.attributes if a.startswith("on")}


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_says_what_the_letter_says_in_its_order(name: str) -> None:
    review = demo_review(name)
    said, text = contents(review), Reader(to_html(review)).text
    wanted = [review.title, review.verdict.upper(), said.opening]
    for told in said.causes:
        wanted += [told.headline, *(line.text for line in told.lines)]
    wanted += [said.conditions, *(act.text for act in said.acts), said.nearest, said.played]
    wanted += [*said.gaps, *CAUTIONS, said.rules]
    for each in filter(None, map(clean, wanted)):
        assert each in text, f"not (or not in this order) on the page: {each}"
        text = text.split(each, 1)[1]


@pytest.mark.parametrize("name", DEMOS)
def test_no_page_says_that_something_is_safe(name: str) -> None:
    assert not re.search(
        r"\b(is|are|be) safe\b|\bsafely\b", Reader(to_html(demo_review(name))).text
    )


def test_grades_are_words_with_a_pattern(judged: Review) -> None:
    source = to_html(judged)
    for grade in ("unacceptable", "undetermined", "tolerable", "acceptable"):
        word = f'<span class="mark" aria-hidden="true"></span>{grade}</span>'
        assert word in source, grade
        assert f".{grade} .mark {{" in source, grade


def test_every_table_has_a_caption_and_headers_and_rows_of_one_width(judged: Review) -> None:
    for table in to_html(judged).split("<table")[1:]:
        page = Reader(f"<table{table.split('</table>')[0]}</table>")
        assert len(set(page.rows)) == 1, table
        assert page.elements["caption"] == 1 and page.elements["th"] > 1


def test_what_is_not_known_reads_so_and_never_as_nothing(judged: Review) -> None:
    row = to_html(judged).split("Whoever stands beside can leave in time")[-1].split("</tr>")[0]
    assert "not known" in row and "undetermined" in row and ">0" not in row


def test_a_cause_unfolds_to_working_with_the_numbers_of_explain(engine: Engine) -> None:
    scenario = load(SCENARIOS / "methanol_over_silver.yaml")
    review = engine.review(scenario)
    leading = [cause.leading for cause in review.causes]
    workings = engine.workings(scenario, review, leading)
    assert workings
    text = Reader(to_html(review, workings)).text
    for n, explained in workings.items():
        found = review.findings[n]
        alone = engine.explain(
            scenario, found.kind, found.at, found.of or None, found.trial, found.step
        )
        assert (alone.at, alone.of, alone.step) == (found.at, found.of, found.step)
        steps = working_steps(explained.quantity, explained.index)
        same = working_steps(alone.quantity, alone.index)
        assert [s.result for s in steps] == [s.result for s in same]
        for step in steps:
            assert f"= {clean(step.substituted)}" in text and step.printed_result in text


def test_a_text_from_the_file_is_text_wherever_it_stands(judged: Review) -> None:
    def hostile(finding: Finding) -> Finding:
        return dataclasses.replace(
            finding, title=HOSTILE, at=HOSTILE, of=HOSTILE, action=HOSTILE, reason=HOSTILE
        )

    findings = tuple(map(hostile, judged.findings))
    letter = Letter(says="{at}", act="{at}", target="{of}")
    runs = tuple(dataclasses.replace(r, title=HOSTILE) for r in judged.trials.runs)
    review = dataclasses.replace(
        judged,
        title=HOSTILE,
        path=HOSTILE,
        findings=findings,
        trials=dataclasses.replace(judged.trials, runs=runs),
        contacts=(HOSTILE,),
        notes=(HOSTILE,),
        causes=(Cause("x", "unacceptable", 0, (0, 1, 2), letter, HOSTILE),),
    )
    source = to_html(review)
    page = Reader(source)
    assert not page.elements.keys() & ACTIVE
    assert not {a for _, a in page.attributes if a.startswith("on")}
    assert "&lt;script&gt;" in source and page.text.count("<script>") > 10
    assert "{{ 7 * 7 }}" in page.text


def test_what_makes_pages_is_not_loaded_for_the_letter() -> None:
    import subprocess
    import sys

    code = (
        "import sys, review.render.letter\n"
        "sys.exit(bool({'jinja2', 'matplotlib'} & sys.modules.keys()))"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_the_letter_names_the_page() -> None:
    from review.render.letter import render_letter

    text = io.StringIO()
    render_letter(demo_review("nitrogen_dried"), Console(file=text, width=80, color_system=None))
    assert "--format html" in text.getvalue()
