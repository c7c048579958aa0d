"""Reads pages back with the standard library's parser: whole, alone and harmless."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

VOID = {"meta", "col", "br", "hr", "img", "link", "input"}
HOSTILE = "\"x' <script>alert(1)</script> {{ 7 * 7 }} {% raw %} &lt; <img src=x onerror=y>"


class Reader(HTMLParser):
    """Elements, their attributes and their text; complains about what is not closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: Counter[str] = Counter()
        self.attributes: set[tuple[str, str]] = set()
        self.texts: list[tuple[str, str]] = []
        self.rows: list[int] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert not self._open, f"not closed: {self._open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements[tag] += 1
        self.attributes |= {(tag, name) for name, _ in attrs}
        if tag == "tr":
            self.rows.append(0)
        if tag in ("td", "th"):
            self.rows[-1] += int(dict(attrs).get("colspan") or 1)
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open and self._open.pop() == tag, f"closes out of order: {tag}"

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((self._open[-1], " ".join(data.split())))

    @property
    def text(self) -> str:
        return " ".join(text for tag, text in self.texts if tag != "style")
