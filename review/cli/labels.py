"""Labels whose text stays beside them, so that no line of it can pass for a label of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from review.render.page import Page


def labelled(page: Page, label: str, text: str, style: str = "") -> None:
    """A label and text from a file or a person; a second line of it begins below the first.

    A title such as "… Result: all of it holds" would else forge a line of the page.
    """
    page.text(text, indent=len(label) + 1, mark=label, style=style)
