"""What all pictures share: a small sheet that a phone can show, colours, marks, and the SVG of it.

Colours are those of Okabe and Ito (2008), which people with any colour vision tell apart; beside
each stands a shape or a hatch.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib
import numpy as np
from markupsafe import Markup, escape
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullLocator

from review.interface.measure import FloatArray, Measure
from review.interface.result import GRADES, Review
from review.render import words
from review.render.picture import Picture

INK, SOFT, LINE = "#1b1f23", "#4d565f", "#8a949e"
COLOURS = {
    "unacceptable": "#D55E00",
    "undetermined": "#A0508A",
    "tolerable": "#E69F00",
    "acceptable": "#009E73",
}
HATCHES = {"unacceptable": "////", "undetermined": "....", "tolerable": "--", "acceptable": ""}
#: Lines of one picture, by colour, mark and dashes at once.
SERIES = (
    ("#0072B2", "o", "-"), ("#D55E00", "s", "--"), ("#009E73", "^", "-."), ("#A0508A", "D", ":"),
    ("#56B4E9", "v", "-"), ("#E69F00", "P", "--"),
)  # fmt: skip
NOT_KNOWN = "not known"
_WIDTH = 4.8  # inches; a phone shows this at about three quarters
_STYLE: Any = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.edgecolor": LINE,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.6,
}
_NAMED = re.compile(r'(id="|href="#|url\(#)')


@contextmanager
def sheet(height: float) -> Iterator[Figure]:
    """A figure of this height in inches, drawn in the style of all pictures."""
    with matplotlib.rc_context(_STYLE):
        yield Figure(figsize=(_WIDTH, height), layout="constrained")


def finished(
    figure: Figure,
    id: str,
    title: str,
    says: str,
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
) -> Picture:
    """The figure as a part of a page: no addresses, and names that no other part uses."""
    text = io.StringIO()
    with matplotlib.rc_context({"svg.hashsalt": id, **_STYLE}):
        # Drawn once; `savefig` would draw it a first time only to lay it out.
        FigureCanvasSVG(figure).print_svg(text, metadata={"Date": None})  # type: ignore[no-untyped-call]
    svg = text.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.S)
    svg = re.sub(r'\sxmlns(:\w+)?="[^"]*"', "", svg).replace("xlink:href", "href")
    svg = _NAMED.sub(rf"\1{id}-", svg)
    label = escape(f"{words.clean(title)}. {words.clean(says)}")
    svg = svg.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)
    return Picture(id, title, says, Markup(svg), tuple(heads), tuple(map(tuple, rows)))


def plain_ticks(axis: Any) -> None:
    """Numbers as one writes them by hand, whatever the scale; nothing between them."""
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FuncFormatter(lambda value, _: words.number(value)))


def symlog(axis_setter: Any, below: float) -> None:
    """Logarithmic from `below` on, linear down to zero, so that a zero has its place."""
    axis_setter("symlog", linthresh=below, linscale=0.4)


def planned(measure: Measure) -> FloatArray:
    """The values of the plan over the cells; NaN where not known."""
    return np.asarray(measure.value[:, 0], dtype=np.float64)


def measured(review: Review, kind: str) -> dict[tuple[str, str], Measure]:
    """All measures of a kind whose shape is that of the review, by place and subject."""
    shape = (len(review.trials.steps) + 1, len(review.trials.runs))
    return {(m.at, m.of): m for m in review.measures if m.kind == kind and m.value.shape == shape}


def cells(review: Review) -> list[str]:
    """The names of the cells, the stated settings first."""
    return [review.trials.cell_name(n) for n in range(len(review.trials.steps) + 1)]


def worst_grade(review: Review, at: str) -> str:
    """The gravest grade of any finding at a place; "" where nothing was judged there."""
    found = {f.grade for f in review.findings if f.at == at}
    return next((grade for grade in GRADES if grade in found), "")


def said(value: float, unit: str, display: str) -> str:
    """A value in words; what is not known never reads as a number."""
    return NOT_KNOWN if math.isnan(value) else words.quantity(value, unit, display)


def short(name: str, most: int = 26) -> str:
    """A name that fits beside a drawing; the table beside it has it whole."""
    name = words.clean(name)
    return name if len(name) <= most else name[: most - 1] + "…"
