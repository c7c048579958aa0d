"""How hot gas, walls and joints become along the train, and along its hottest tube."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from review.interface.measure import FloatArray, Measure
from review.interface.result import Review
from review.interface.setup import Place, Setup
from review.render import words
from review.render.picture import Picture
from review.render.pictures.canvas import (
    INK,
    NOT_KNOWN,
    SERIES,
    finished,
    measured,
    planned,
    said,
    sheet,
    short,
)
from review.render.pictures.gas import hottest_outside

NO_JOINT = "no joint judged"


def temperatures(review: Review, setup: Setup) -> Picture | None:
    """Gas, wall and joints of each item at its hottest step, and what its joints bear."""
    gas, wall = (measured(review, f"train.{n}_temperature_out") for n in ("gas", "wall"))
    if not gas or not wall:
        return None
    joints = measured(review, "heat.joint_margin")
    items = [p for p in setup.places if (p.id, "") in gas and (p.id, "") in wall]
    rows, bears = [], []
    count = setup.shape[0]
    if len(items) < 2:
        return None
    outside = hottest_outside(review, slice(0, None))
    lines: dict[str, list[float]] = {
        "gas at the end": [], "wall at the end": [], "outside": [], "at its joints": [],
    }  # fmt: skip
    for place in items:
        for label, found in (("gas at the end", gas), ("wall at the end", wall)):
            values = planned(found[place.id, ""])
            lines[label].append(math.nan if np.isnan(values).any() else float(values.max()))
        lines["outside"].append(outside.get(place.id, -math.inf))
        ends = np.asarray(place.ends.value).reshape(count, -1)[:, 0]
        joint, bear = _joint([m for key, m in joints.items() if key[0] == place.id], ends)
        lines["at its joints"].append(joint)
        bears.append(bear)
        here = [said(line[-1], "K", "degC") for line in lines.values()]
        if place.id not in outside:
            here[2] = "not heated"
        if math.isinf(joint):
            here[3] = NO_JOINT
        rows.append((place.id, *here, NO_JOINT if math.isinf(bear) else said(bear, "K", "degC")))
    position = np.arange(len(items), dtype=np.float64)
    with sheet(3.6) as figure:
        axes = figure.add_subplot()
        for n, (label, line) in enumerate(lines.items()):
            colour, mark, dashes = SERIES[n]
            values = np.where(np.isneginf(line), np.nan, line) - 273.15
            dashes = "none" if label in ("outside", "at its joints") else dashes
            axes.plot(position, values, linestyle=dashes, marker=mark, color=colour, label=label,
                      markerfacecolor="white", gid=f"points-{n}")  # fmt: skip
        borne = np.where(np.isneginf(bears), np.nan, bears) - 273.15
        axes.plot(position, borne, linestyle="none", marker="_", markersize=22,
                  markeredgewidth=3, color=INK, label="its joints bear", gid="bears")  # fmt: skip
        for n, row in enumerate(rows):
            if NOT_KNOWN in row[1:5]:
                axes.text(n, axes.get_ylim()[0], NOT_KNOWN, rotation=90, va="bottom", fontsize=8)
        axes.set_xticks(position, [short(p.id, 14) for p in items], rotation=40, ha="right")
        axes.set_ylabel("degC")
        axes.legend(loc="lower center", bbox_to_anchor=(0.45, 1.02), ncol=2, frameon=False)
    hottest = f'"{_hottest(lines, items)}" is hottest, outside or in'
    known = [v for line in lines.values() for v in line if not math.isinf(v)]
    if max(known) - min(known) < 1.0:  # what is not known is no such thing
        hottest = f"all of it is at about {said(max(known), 'K', 'degC')}"
    says = (
        f"Each item in its hottest step; {hottest}. {_nearest(rows, lines['at its joints'], bears)}"
    )
    heads = ("Item", "Gas at its end", "Wall at its end", "Outside", "At its joints",
             "Its joints bear")  # fmt: skip
    return finished(figure, "temperatures", "Temperatures along the train", says, heads, rows)


def _hottest(lines: dict[str, list[float]], items: Sequence[Place]) -> str:
    peaks = np.array(list(lines.values())).max(axis=0)
    return str(items[int(np.where(np.isnan(peaks), -np.inf, peaks).argmax())].id)


def _joint(margins: Sequence[Measure], ends: FloatArray) -> tuple[float, float]:
    """How hot the joint that comes nearest to what it bears becomes, and what that is, K.

    Minus infinity where no joint was judged.

    A margin counts the hotter of two items that meet. What a joint bears is the same in every
    step, and the step in which both are equally warm shows it: the highest of margin and end.
    """
    worst = min((planned(m) for m in margins), key=lambda m: float(m.min()), default=None)
    if worst is None:
        return -math.inf, -math.inf
    if np.isnan(worst + ends).any():
        return math.nan, math.nan
    bear = float((worst + ends).max())
    return bear - float(worst.min()), bear


def _nearest(rows: Sequence[Sequence[str]], joints: Sequence[float], bears: Sequence[float]) -> str:
    """Which joint comes nearest to what it bears."""
    left = [(b - j, row) for row, j, b in zip(rows, joints, bears, strict=True)
            if math.isfinite(b - j)]  # fmt: skip
    if not left:
        return "No joint was judged."
    _, row = min(left, key=lambda one: one[0])
    return f'Nearest to what they bear are the joints of "{row[0]}": {row[4]} of {row[5]}.'


def tube(review: Review, setup: Setup) -> Picture | None:
    """The hottest heated item along its length: its ends with their joints, its heated part."""
    outside = hottest_outside(review, slice(0, None))
    long = [p for p in setup.places if p.id in outside and p.model.length and p.model.heated_length]
    if not long or any(math.isnan(outside[p.id]) for p in long):
        return None
    place = max(long, key=lambda p: outside[p.id])
    count, length = setup.shape[0], float(place.model.length or 0.0)
    part = min(float(place.model.heated_length or 0.0), length)

    def most(*found: FloatArray) -> float:
        """The highest over the cells of the plan; NaN where one is not known."""
        planned_ = [np.asarray(value).reshape(count, -1)[:, 0] for value in found]
        return float(np.max(planned_))

    hot = outside[place.id]
    first = most(place.gas_in.value)
    last = most(place.gas_out.value, place.wall_out.value)
    ends = np.asarray(place.ends.value).reshape(count, -1)[:, 0]
    bears = {of: _joint([m], ends)[1]
             for (at, of), m in measured(review, "heat.joint_margin").items()
             if at == place.id}  # fmt: skip
    spots = ((0.0, first, "first end"), ((length - part) / 2, hot, "heated from"),
             ((length + part) / 2, hot, "heated to"), (length, last, "far end"))  # fmt: skip
    rows = [(what, words.quantity(x, "m", "mm"), said(value, "K", "degC"))
            for x, value, what in spots]  # fmt: skip
    rows += [(f"joints bear ({of})", "at both ends", said(v, "K", "degC"))
             for of, v in bears.items()]  # fmt: skip
    with sheet(2.9) as figure:
        axes = figure.add_subplot()
        x = [1e3 * spot[0] for spot in spots]
        y = np.array([spot[1] for spot in spots]) - 273.15
        axes.axvspan(x[1], x[2], facecolor="none", edgecolor="#E69F00", hatch="///", linewidth=0)
        axes.plot(x, y, "--o", color=SERIES[1][0], markerfacecolor="white", gid="points")
        for n, (of, value) in enumerate(bears.items()):
            if math.isfinite(value):
                axes.plot([x[0], x[-1]], [value - 273.15] * 2, linestyle="none", marker="_",
                          markersize=26, markeredgewidth=3, color=INK, gid=f"bears-{n}",
                          label=short(f"joints of {of} bear", 40) if n == 0 else None)  # fmt: skip
        for px, value in ((x[0], first), (x[-1], last)):
            if math.isnan(value):
                axes.text(px, 20, NOT_KNOWN, rotation=90, va="bottom", ha="center", fontsize=8)
        axes.set(xlabel="mm along it, as the gas flows", ylabel="degC")
        if bears:
            axes.legend(loc="lower center", bbox_to_anchor=(0.45, 1.02), frameon=False)
    says = (
        f"In its hottest step it is {said(hot, 'K', 'degC')} in the heated part (hatched, drawn in "
        f"the middle) and {said(first, 'K', 'degC')} and {said(last, 'K', 'degC')} where its "
        "joints sit; between the marks nothing was computed."
    )
    title = f'Along "{place.id}"'
    return finished(figure, "tube", title, says, ("Where", "Place", "Temperature"), rows)
