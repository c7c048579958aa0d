"""Paragraphs on a console."""

import io

from rich.console import Console

from review.render.page import Page


def drawn(width: int = 40) -> tuple[Page, io.StringIO]:
    text = io.StringIO()
    console = Console(file=text, width=width, force_terminal=True, color_system="standard")
    return Page(console), text


def test_the_label_alone_is_bold() -> None:
    page, text = drawn()
    page.text("a word", label="Do:")
    assert text.getvalue() == "\x1b[1mDo: \x1b[0ma word\n"


def test_a_style_is_of_the_words() -> None:
    page, text = drawn()
    page.text("a word", style="bold")
    assert text.getvalue() == "\x1b[1ma word\x1b[0m\n"
