"""Calm paragraphs on a console: wrapped, indented, with no trailing blanks."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from review.render.words import clean

_NARROWEST = 12


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
        words = Text(clean(label) + " " if label else "", style="bold" if label else "")
        words.append(clean(body), style=style)
        first = mark[: max(0, indent - 1)].ljust(indent)
        for line in words.wrap(self._console, max(1, width - indent), overflow="fold"):
            line.rstrip()
            self._emit(Text(first) + line)
            first = " " * indent

    def one_line(self, body: str, *, indent: int = 0, label: str = "") -> None:
        """A line that is cut rather than wrapped."""
        words = Text(" " * indent)
        words.append(clean(label) + " " if label else "", style="bold")
        words.append(clean(body))
        words.truncate(self._console.width, overflow="ellipsis")
        self._emit(words)
