"""The letter as Markdown, read back by another library as a code host would."""

from __future__ import annotations

import dataclasses

import pytest
from markdown_it import MarkdownIt

from review import Review
from review.judge.causes import causes
from review.render.markdown import to_markdown
from review.render.telling import contents
from review.render.words import clean
from tests.html_reader import HOSTILE, Reader
from tests.support import DEMOS, demo_review

READER = MarkdownIt("commonmark").enable("table")


def read(review: Review) -> Reader:
    return Reader(READER.render(to_markdown(review)))


@pytest.mark.parametrize("name", DEMOS)
def test_it_says_what_the_letter_says_in_its_order(name: str) -> None:
    review = demo_review(name)
    said, page = contents(review), read(review)
    wanted = [review.title, review.verdict.upper(), said.opening]
    for told in said.causes:
        wanted += [told.headline, *(line.text for line in told.lines)]
    wanted += [said.conditions, *(act.text for act in said.acts), said.nearest, said.played]
    wanted += [*said.gaps, *said.cautions, said.rules]
    text = page.text
    for each in filter(None, map(clean, wanted)):
        assert each in text, f"not (or not in this order) on the page: {each}"
        text = text.split(each, 1)[1]
    assert page.elements["h1"] == 1 and page.elements["table"] == len(said.causes)


def test_hostile_texts_form_nothing(review: Review) -> None:
    plain = dataclasses.replace(review, causes=causes(review.findings, {}, review.kinds))
    odd = dataclasses.replace(
        plain,
        title=HOSTILE,
        contacts=(HOSTILE,),
        findings=tuple(
            dataclasses.replace(f, title=HOSTILE, at=HOSTILE, action=HOSTILE, reason=HOSTILE)
            for f in plain.findings
        ),
    )
    page = read(odd)
    assert not page.elements.keys() & {"script", "img", "a", "code", "em"}
    assert page.text.count("<script>") > 3


def test_a_notebook_shows_the_page_in_a_frame_that_runs_nothing(review: Review) -> None:
    odd = dataclasses.replace(review, title=HOSTILE)
    page = Reader(odd._repr_html_())
    assert page.elements == {"iframe": 1}
    assert {name for _, name in page.attributes} == {"title", "sandbox", "style", "srcdoc"}
