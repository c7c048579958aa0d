"""What a page shows of a picture: its name, what to see in it, and the drawing."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Picture:
    """One drawing. `says` is the sentence that tells what to see; `svg` stands in the page.

    `heads` and `rows` are the numbers that are drawn, for whoever cannot see it.
    """

    id: str
    title: str
    says: str
    svg: Markup
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
