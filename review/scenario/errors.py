"""Problems of an input file, each with its place, and the error that carries all of them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

_LONGEST = 60
#: A point between digits belongs to a name, such as a gas's grade: `nitrogen 5.0`.
_SEPARATES = re.compile(r"(?<![0-9])\.|\.(?![0-9])")
_MOST_COMPARED = 1000  # comparing every wrong name with thousands of right ones would take minutes


def path_parts(path: str) -> list[str]:
    """The parts of a dotted path.

    >>> path_parts("reagents.nitrogen 5.0.held.pressure")
    ['reagents', 'nitrogen 5.0', 'held', 'pressure']
    """
    return _SEPARATES.split(path)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where it is and what to write instead.

    Lines and columns count from 1; both are 0 where a problem has no place (a missing file).

    >>> str(Problem("a.yaml", 3, 5, "lenght", 'unknown key "lenght"', "length"))
    'a.yaml:3:5: unknown key "lenght" (did you mean \\'length\\'?)'
    >>> str(Problem("a.yaml", 0, 0, "", "no such file"))
    'a.yaml: no such file'
    """

    file: str
    line: int
    column: int
    text: str
    message: str
    suggestion: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        hint = f" (did you mean '{self.suggestion}'?)" if self.suggestion else ""
        return f"{place}: {self.message}{hint}"


class InputError(Exception):
    """An input file is wrong. `problems` holds everything found, sorted by place."""

    problems: tuple[Problem, ...]

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = sorted(set(problems), key=lambda p: (p.file, p.line, p.column, p.message))
        self.problems = tuple(found)
        super().__init__("\n".join(str(problem) for problem in found))


class Misspelt(ValueError):
    """A word nobody knows, with the nearest right spelling, '' where none is close."""

    def __init__(self, message: str, suggestion: str = "") -> None:
        super().__init__(message)
        self.suggestion = suggestion


def quoted(text: str) -> str:
    """Text of a file as a message shows it: in quotes, on one line, printable, of bounded length.

    A file may hold terminal control sequences; none reaches the terminal.

    >>> quoted("-5 mm"), quoted("a" + chr(27) + "[31m")
    ('"-5 mm"', '"a?[31m"')
    """
    if len(text) > _LONGEST:
        text = text[:_LONGEST] + "..."
    return '"' + "".join(c if c.isprintable() else "?" for c in text) + '"'


def nearest(text: str, known: Iterable[str]) -> str:
    """The known spelling closest to a text, or '' where none is close.

    >>> nearest("lenght", ["length", "lift"]), nearest("xyz", ["length"])
    ('length', '')
    """
    by_lower = {word.lower(): word for word in known}
    if len(by_lower) > _MOST_COMPARED:
        return ""
    close = difflib.get_close_matches(text[:_LONGEST].lower(), by_lower, n=1)
    found = by_lower[close[0]] if close else ""
    return "" if found == text else found
