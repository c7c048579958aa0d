"""Calm paragraphs on a console: wrapped, indented, with no trailing blanks."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from rich.console import Console
from rich.text import Text

from review.render.words import clean

_NARROWEST = 12
#: A number and its unit stay on one line. The bond is private to this module: `clean` lets no such
#: character in from outside, and it is a blank again before anything is printed.
_BOND = "\ue000"
_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|K|degC|deg|s|min|h|days?|ppm|m?bar|k?Pa|[mc]?m[23]?|m?L|k?g|m?mol|N|W|J)"
    r"(?![A-Za-z]))"
)


class Page:
    """Writes plain lines. Every string is taken literally: no markup, no control characters."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._started = False

    def _emit(self, line: Text) -> None:
        line.rstrip()
        self._console.print(line, soft_wrap=True, highlight=False, markup=False, emoji=False)
        self._started = True

    def blank(self) -> None:
        """An empty line, except at the very top."""
        if self._started:
            self._emit(Text(""))

    def heading(self, text: str) -> None:
        """A blank line and a title."""
        self.blank()
        self.text(text, style="bold")

    def text(
        self, body: str, *, indent: int = 0, mark: str = "", label: str = "", style: str = ""
    ) -> None:
        """A paragraph. `mark` stands in the indent of the first line, `label` leads the text."""
        width = self._console.width
        if width - indent < _NARROWEST:
            indent = max(0, width - _NARROWEST)
        words = Text()
        if label:
            words.append(clean(label) + " ", style="bold")
        words.append(_UNIT.sub(_BOND, clean(body)), style=style)
        first = mark[: max(0, indent - 1)].ljust(indent)
        for line in words.wrap(self._console, max(1, width - indent), overflow="fold"):
            line.rstrip()
            line.plain = line.plain.replace(_BOND, " ")
            self._emit(Text(first) + line)
            first = " " * indent


@dataclass(frozen=True, slots=True)
class Block:
    """A heading, a point of a list (`item`) or a paragraph; `label` leads it, `more` follows it."""

    text: str
    label: str = ""
    item: bool = False
    heading: bool = False
    more: tuple[str, ...] = ()


class Blocks(Page):
    """What would be written on a console, kept as blocks for pages of another form."""

    def __init__(self) -> None:
        self.blocks: list[Block] = []

    def blank(self) -> None:
        """Paragraphs stand apart anyway."""

    def heading(self, text: str) -> None:
        """A title."""
        self.blocks.append(Block(clean(text), heading=True))

    def text(
        self, body: str, *, indent: int = 0, mark: str = "", label: str = "", style: str = ""
    ) -> None:
        """A paragraph, a point of a list where a mark stands before it, or what belongs to one.

        A number as mark is kept as the label.
        """
        above = self.blocks[-1] if self.blocks else None
        if indent and not mark.strip() and not label and above is not None and above.item:
            self.blocks[-1] = replace(above, more=(*above.more, clean(body)))
            return
        label = label or (mark.strip() if mark.strip().isdigit() else "")
        self.blocks.append(Block(clean(body), clean(label), item=bool(mark.strip())))
