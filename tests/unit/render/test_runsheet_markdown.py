"""The page as Markdown, read back by a CommonMark parser that is not ours."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from review.render.runsheet import (
    BLANKS,
    NOT_SIGNED_OFF,
    Answer,
    Condition,
    RunSheet,
    SignOff,
)
from review.render.runsheet_failures import FailureLine
from review.render.runsheet_markdown import escaped, to_markdown
from review.render.runsheet_settings import Setting
from review.render.runsheet_steps import StepLine

PARSER = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
HOSTILE = (
    "a|b *c* _d_ `e` <script>alert(1)</script> [f](http://g.example) ![h](i) # j ~~k~~ &amp; \\ "
    "<!-- l --> $m$ --- 1. n"
)
#: What a page may consist of; a link, a picture, code or raw HTML is none of it.
ALLOWED = {
    "heading", "paragraph", "bullet_list", "list_item", "table", "thead", "tbody", "tr", "th", "td",
    "inline", "text", "strong", "em",
}  # fmt: skip


def tokens(text: str) -> list[Token]:
    found = []
    for token in PARSER.parse(text):
        found += [token, *(token.children or [])]
    return found


def kinds(text: str) -> set[str]:
    return {t.type.removesuffix("_open").removesuffix("_close") for t in tokens(text)}


def shown(text: str) -> str:
    """What a reader sees: all text, without marks."""
    return "".join(token.content for token in tokens(text) if token.type == "text")


def tables(text: str) -> list[list[list[str]]]:
    """Every table as rows of cells."""
    found: list[list[list[str]]] = []
    parsed = PARSER.parse(text)
    for before, token in zip([None, *parsed], parsed, strict=False):
        if token.type == "table_open":
            found.append([])
        elif token.type == "tr_open":
            found[-1].append([])
        elif token.type == "inline" and before and before.type in ("td_open", "th_open"):
            found[-1][-1].append("".join(t.content for t in token.children or []))
    return found


@pytest.fixture
def hostile(demo_sheets: dict[str, RunSheet]) -> RunSheet:
    """A page whose every text from outside tries to form something."""
    signed = SignOff(
        1, "ab" * 32, HOSTILE, HOSTILE, 2, HOSTILE, HOSTILE,
        answers=(Answer(HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
    )  # fmt: skip
    return dataclasses.replace(
        demo_sheets["nitrogen_dried"],
        title=HOSTILE,
        purpose=HOSTILE,
        signed=signed,
        at_hand=(HOSTILE,),
        contacts=(HOSTILE,),
        afterwards=(HOSTILE,),
        grounds=(HOSTILE,),
        conditions=(Condition(HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
        settings=(Setting(HOSTILE, HOSTILE, HOSTILE),),
        steps=(StepLine(HOSTILE, (HOSTILE,), HOSTILE, HOSTILE, HOSTILE),),
        failures=(FailureLine(HOSTILE, HOSTILE, "", HOSTILE, HOSTILE),),
    )


@settings(deadline=None)
@given(st.text(min_size=1, max_size=60))
def test_any_text_is_shown_as_it_is_and_forms_nothing(text: str) -> None:
    visible = " ".join("".join(c for c in text if c.isprintable() or c.isspace()).split())
    line = escaped(text)
    assert "\n" not in line
    for around in ("- {}", "para {} graph", "| {} | x |\n| --- | --- |\n| {} | y |", "# {}"):
        page = around.replace("{}", line)
        assert kinds(page) <= ALLOWED, page
    if visible:
        assert visible in shown(f"para {line} graph") or not text.isascii()


def test_hostile_texts_are_shown_as_they_are_and_form_nothing(hostile: RunSheet) -> None:
    text = to_markdown(hostile)
    assert kinds(text) <= ALLOWED
    assert "<script" not in text
    texts = {
        "title, purpose, at hand, contacts, afterwards, grounds": 6, "sign-off": 4, "answer": 4,
        "condition": 4, "setting": 3, "step": 5, "failure": 4,
    }  # fmt: skip
    assert shown(text).count(HOSTILE) == sum(texts.values())
    for table in tables(text):
        assert len({len(row) for row in table}) == 1


def test_every_demo_is_plain_markdown_with_whole_tables(demo_sheets: dict[str, RunSheet]) -> None:
    for name, sheet in demo_sheets.items():
        text = to_markdown(sheet)
        assert kinds(text) <= ALLOWED, name
        found = tables(text)
        for table in found:
            assert len({len(row) for row in table}) == 1, name
        rows = [row for table in found for row in table]
        steps = [row[1] for row in rows if len(row) == 7][1:]
        assert steps == [step.name for step in sheet.steps], name
        assert all(line in shown(text) for line in sheet.cautions), name
        assert all(blank in shown(text) for blank in BLANKS), name
        assert all(c.action in shown(text) for c in sheet.conditions), name
        assert all(f.response in shown(text) for f in sheet.failures), name


def test_a_page_that_nobody_signed_says_so_in_a_heading_of_its_own(
    demo_sheets: dict[str, RunSheet],
) -> None:
    text = to_markdown(demo_sheets["water_distilled"])
    headings = [
        after.content
        for token, after in zip(tokens(text), tokens(text)[1:], strict=False)
        if token.type == "heading_open"
    ]
    assert headings[:2] == ["Run sheet: Water distilled", NOT_SIGNED_OFF]
    assert "Preparer" in shown(text) and "Reviewer" in shown(text)


def test_a_signed_page_counts_runs_and_carries_the_hash(demo_sheets: dict[str, RunSheet]) -> None:
    digest = "0123456789abcdef" * 4
    signed = SignOff(7, digest, "2031-05-06 07:08 UTC", "2031-06-01", 3, "technician", "teacher")
    text = to_markdown(dataclasses.replace(demo_sheets["water_distilled"], signed=signed))
    assert NOT_SIGNED_OFF not in text
    assert "of 3 allowed" in text and "holds until 2031-06-01" in text
    assert digest in text and "01234567 89abcdef 01234567" in text
