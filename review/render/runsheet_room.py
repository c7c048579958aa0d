"""How many failures find room on two sheets of A4, counted in lines of print.

The widths are those of the HTML page, a little on the narrow side, so that a page that is reckoned
to fit does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from review.render.runsheet_failures import FailureLine
from review.render.runsheet_settings import Setting
from review.render.runsheet_steps import StepLine

#: Lines of print on two pages, and what headings, blanks, cautions and hashes take of them.
_TWO_PAGES = 140.0
_ALWAYS_THERE = 42.0
_SIGNATURES = 10.0
_SIGNED = 6.0
#: What the border of a row takes, and the least height of a row with room for initials.
_BORDER, _TO_FILL_IN = 0.3, 2.0
#: Characters in a line of the page, and in the columns of its tables.
_LINE = 106
_SETTING = (25, 40, 25)
_STEP = (11, 36, 9, 17)
_FAILURE = (39, 25, 44)
#: However full the page is, so many failures stand on it, and never more than so many.
_FEWEST, _MOST = 3, 12


def failures_that_fit(
    found: Sequence[FailureLine],
    *,
    signed: bool,
    texts: Iterable[str],
    settings: Iterable[Setting],
    steps: Iterable[StepLine],
) -> tuple[FailureLine, ...]:
    """The first of `found` for which there is room beside the rest; `texts` are whole lines."""
    used = _ALWAYS_THERE + (_SIGNED if signed else _SIGNATURES)
    used += sum(lines(text, _LINE) + 0.1 for text in texts)
    used += sum(_row((s.name, s.planned, s.limit), _SETTING) for s in settings)
    for step in steps:
        does = "; ".join((*step.does, step.note))
        used += max(_TO_FILL_IN, _row((step.name, does, step.planned, step.hold), _STEP))
    shown = 0
    for each in found[:_MOST]:
        what = f"{each.what}: {each.leads_to}; {each.soon}"
        used += _row((what, each.sign, each.response), _FAILURE)
        if used > _TWO_PAGES and shown >= _FEWEST:
            break
        shown += 1
    return tuple(found[:shown])


def lines(text: str, width: int) -> int:
    """Lines that a text takes in a column of so many characters.

    >>> lines("", 30), lines("a" * 31, 30)
    (1, 2)
    """
    return max(1, math.ceil(len(text) / width))


def _row(cells: Iterable[str], widths: Iterable[int]) -> float:
    return _BORDER + max(lines(c, w) for c, w in zip(cells, widths, strict=True))
