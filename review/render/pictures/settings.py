"""Which settings are allowed: along one number, or the map over two."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Callable, Sequence
from typing import Any

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from review.render import words
from review.render.html import Slider
from review.render.picture import Picture
from review.render.pictures.canvas import COLOURS, HATCHES, INK, LINE, SOFT, finished, sheet, short

#: Of each verdict the grade whose colour and hatch it has, and its mark.
_SHOWN = {
    "may proceed": ("acceptable", "o"),
    "may proceed with conditions": ("tolerable", "D"),
    "cannot be judged": ("undetermined", "$?$"),
    "must not proceed": ("unacceptable", "x"),
    "wrong input": ("", "."),
}


def along(one: Slider, intervals: Sequence[tuple[float, float, str]], plan: str) -> Picture:
    """Intervals (from, to, verdict) of one number as bars, with the plan's value."""
    rows = [(one.show(low), one.show(high), verdict) for low, high, verdict in intervals]
    with sheet(1.9) as figure:
        draw_along(figure, one, intervals)
    says = f"The plan, {one.show(one.value)}, {words.lower_first(plan)}."
    return finished(figure, "range", "Which values are allowed", says, ("From", "To", "Verdict"),
                    rows)  # fmt: skip


def over(
    first: Slider,
    second: Slider,
    points: Sequence[tuple[float, float, str, bool]],
    plan: str,
    rectangle: tuple[float, float, float, float] | None,
) -> Picture:
    """Each setting (x, y, verdict, reviewed) as the mark of its verdict, with the plan.

    What was not looked at takes the verdict of the corners around it and is a dot.
    """
    rows = [(first.show(x), second.show(y), verdict) for x, y, verdict, seen in points if seen]
    with sheet(4.6) as figure:
        draw_over(figure, first, second, points, rectangle)
    says = f"The plan, {first.show(first.value)} and {second.show(second.value)}, {plan}."
    says += " A dot was not looked at itself and takes the verdict of those around it."
    if rectangle is not None:
        says += " Every setting looked at within the dashed lines is allowed."
    heads = (short(first.path, 40), short(second.path, 40), "Verdict")
    return finished(figure, "range", "Which settings are allowed", says, heads, rows)


def draw_along(figure: Figure, one: Slider, intervals: Sequence[tuple[float, float, str]]) -> None:
    """The bars of one number on a figure."""
    axes = figure.add_subplot()
    for n, (low, high, verdict) in enumerate(intervals):
        grade, _ = _SHOWN.get(verdict, ("", "."))
        axes.barh(0, high - low, left=low, height=0.8, facecolor="white", linewidth=1.6,
                  edgecolor=COLOURS.get(grade, LINE), hatch=HATCHES.get(grade, ""),
                  gid=f"bar-{n}", label=_once(axes, verdict))  # fmt: skip
    axes.plot([one.value], [0], "P", color=INK, markersize=10, markeredgecolor="white",
              label="plan", gid="plan")  # fmt: skip
    _finish(axes, ((axes.set_xlabel, one),))
    axes.set(yticks=[], ylim=(-0.5, 0.5), xlim=(one.low, one.high))


def draw_over(
    figure: Figure,
    first: Slider,
    second: Slider,
    points: Sequence[tuple[float, float, str, bool]],
    rectangle: tuple[float, float, float, float] | None,
) -> None:
    """The marks of two numbers on a figure."""
    axes = figure.add_subplot()
    for n, (verdict, (grade, mark)) in enumerate(_SHOWN.items()):
        rest = [(x, y) for x, y, v, seen in points if v == verdict and not seen]
        if rest:
            axes.plot(*zip(*rest, strict=True), ".", color=COLOURS.get(grade, LINE),
                      markersize=2.5, linestyle="none")  # fmt: skip
        its = [(x, y) for x, y, v, seen in points if v == verdict and seen]
        if its:
            axes.plot(*zip(*its, strict=True), mark, color=COLOURS.get(grade, LINE),
                      markerfacecolor="none" if mark in "oD" else COLOURS.get(grade, LINE),
                      markersize=5, linestyle="none", label=verdict,
                      gid=f"points-{n}")  # fmt: skip
    if rectangle is not None:
        left, right, low, high = rectangle
        axes.add_patch(Rectangle((left, low), right - left, high - low, fill=False,
                                 edgecolor=INK, linestyle="--"))  # fmt: skip
    axes.plot([first.value], [second.value], "P", color=INK, markersize=11, label="plan",
              markeredgecolor="white", gid="plan")  # fmt: skip
    _finish(axes, ((axes.set_xlabel, first), (axes.set_ylabel, second)))


def image(form: str, height: float, draw: Callable[[Figure], None], says: str) -> bytes:
    """A picture as a file by itself, PNG or SVG, with a caution beneath it."""
    data = io.BytesIO()
    with sheet(height) as figure:
        draw(figure)
        figure.supxlabel(textwrap.fill(says, 84), fontsize=6, color=SOFT)
        figure.savefig(
            data, format=form, dpi=200, metadata={"Date": None} if form == "svg" else None
        )
    return data.getvalue()


def _once(axes: Any, label: str) -> str | None:
    return None if label in axes.get_legend_handles_labels()[1] else label


def _finish(axes: Any, named: Sequence[tuple[Any, Slider]]) -> None:
    for write, one in named:
        write(f"{short(one.path, 44)}{f', {one.unit}' if one.unit else ''}")
    axes.margins(0.04)
    axes.legend(loc="lower center", bbox_to_anchor=(0.45, 1.02), ncol=2, frameon=False)
