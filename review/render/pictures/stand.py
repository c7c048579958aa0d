"""The frame from above and from the side, with its centre of mass and the line it tips over."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.patches import Polygon

from review.interface.result import Review
from review.interface.setup import Setup
from review.render import words
from review.render.picture import Picture
from review.render.pictures.canvas import INK, LINE, finished, measured, said, sheet, short


def frame(review: Review, setup: Setup) -> Picture | None:
    """Feet, masses and their centre; only where tipping was judged."""
    angles = measured(review, "stability.tipping_angle")
    model = setup.scenario.frame
    if not angles or model is None:
        return None
    feet = np.array([(foot.x, foot.y) for foot in model.feet.values()], dtype=np.float64) * 1e3
    masses = [(n, m.mass, m.x * 1e3, m.y * 1e3, m.height * 1e3) for n, m in model.masses.items()]
    kilograms = np.array([m[1] for m in masses])
    weight = float(kilograms.sum())
    places = np.array([m[2:] for m in masses], dtype=np.float64)
    centre = (kilograms[:, None] * places).sum(axis=0) / weight
    angle = min(float(m.value[0, 0]) for m in angles.values())
    middle = feet.mean(axis=0)
    order = np.argsort(np.arctan2(*(feet - middle).T[::-1]))
    # From the side on which it tips most easily.
    reach = [min(abs(feet[:, a].max() - centre[a]), abs(centre[a] - feet[:, a].min()))
             for a in (0, 1)]  # fmt: skip
    across = int(reach[1] < reach[0])
    rows = [(n, f"{words.number(m)} kg", *(f"{words.number(v)} mm" for v in place))
            for n, m, *place in masses]  # fmt: skip
    rows.append(("centre of mass", f"{words.number(weight)} kg",
                 *(f"{words.number(v)} mm" for v in centre)))  # fmt: skip
    with sheet(6.2) as figure:
        above, side = figure.subplots(2, 1)
        above.add_patch(Polygon(feet[order], closed=True, facecolor="none", edgecolor="#D55E00",
                                linewidth=2, linestyle="--"))  # fmt: skip
        above.plot(*feet.T, "s", color=INK, label="feet", gid="feet")
        for name, mass, x, y, height in masses:
            size = 5 + 9 * math.sqrt(mass / weight)
            above.plot(x, y, "o", color="#0072B2", markersize=size, markerfacecolor="none")
            seen = (x, y)[across]
            side.plot(seen, height, "o", color="#0072B2", markersize=size, markerfacecolor="none")
            side.annotate(short(name, 20), (seen, height), xytext=(8, 0), fontsize=8,
                          textcoords="offset points", va="center")  # fmt: skip
        views = ("above", above, centre[:2]), ("side", side, (centre[across], centre[2]))
        for name, axes, spot in views:
            axes.plot(*spot, "P", color="#D55E00", markersize=11, markeredgecolor="white",
                      label="centre of mass", gid=f"centre-{name}")  # fmt: skip
            axes.set_aspect("equal", adjustable="datalim")
            axes.margins(0.2)
        side.plot(feet[:, across], np.zeros(len(feet)), "s", color=INK)
        side.axhline(0, color=LINE)
        far = centre[across] >= (feet[:, across].max() + feet[:, across].min()) / 2
        edge = feet[:, across].max() if far else feet[:, across].min()
        side.plot(
            [edge, centre[across]], [0, centre[2]], "--", color="#D55E00", label="tipping line"
        )
        above.set(title="from above", xlabel="x, mm", ylabel="y, mm")
        side.set(title="from the side", xlabel=f"{'xy'[across]}, mm", ylabel="height, mm")
        above.legend(loc="best", frameon=False, fontsize=8)
        side.legend(loc="best", frameon=False, fontsize=8)
    says = (
        f"The frame tips over the dashed line between its feet; it falls once it leans by "
        f"{said(angle, 'rad', 'deg')}."
    )
    heads = ("What", "Mass", "x", "y", "Height")
    return finished(figure, "frame", "The frame and what it carries", says, heads, rows)
