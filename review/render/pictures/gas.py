"""The train as a line diagram, fuel against oxygen, and the procedure as a time line."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, FancyArrowPatch, FancyBboxPatch, Polygon, Rectangle

from review.interface.measure import FloatArray
from review.interface.result import Review
from review.interface.setup import Place, Setup
from review.render import words
from review.render.picture import Picture
from review.render.pictures.canvas import (
    COLOURS,
    HATCHES,
    INK,
    LINE,
    NOT_KNOWN,
    SERIES,
    SOFT,
    cells,
    finished,
    measured,
    plain_ticks,
    planned,
    said,
    sheet,
    short,
    symlog,
    worst_grade,
)

#: Shares below this are left out of a composition.
_TRACE = 5e-4
#: So many items are drawn against the envelope: those nearest to it.
_ITEMS = 4


def filled_with(setup: Setup, place: Place, cell: int) -> str:
    """What fills an item in a cell of the plan, the largest shares first."""
    runs = setup.shape[1]
    trial = cell * runs
    moving = bool(place.moving[trial] > 0)
    share = place.composition("outlet_end" if moving else "old")[:, trial]
    if np.isnan(share).any():
        return NOT_KNOWN
    order = [n for n in np.argsort(-share) if share[n] >= _TRACE]
    parts = [f"{setup.species[n].name} {words.number(100 * share[n], 2)} %" for n in order[:3]]
    return ", ".join(parts) + (", …" if len(order) > 3 else "") if parts else NOT_KNOWN


def hottest_outside(review: Review, cells_of: slice) -> dict[str, float]:
    """The hottest outside of each heated item in some cells of the plan, K; NaN: not known."""
    found: dict[str, float] = {}
    for (at, _), measure in measured(review, "heat.outer_surface").items():
        values = planned(measure)[cells_of]
        peak = math.nan if np.isnan(values).any() else float(values.max())
        found[at] = float(np.maximum(found.get(at, -np.inf), peak))  # NaN stays
    return found


def train(review: Review, setup: Setup) -> Picture | None:
    """Each item from top to bottom as the gas flows, at the stated settings."""
    pressure = measured(review, "train.pressure")
    warm = measured(review, "train.gas_temperature_out")
    if not pressure and not warm:
        return None
    outside = hottest_outside(review, slice(0, 1))
    rows = []
    for place in setup.places:
        p, t = pressure.get((place.id, "")), warm.get((place.id, ""))
        worst = worst_grade(review, place.id)
        rows.append((
            place.id, place.kind.title,
            NOT_KNOWN if t is None else said(planned(t)[0], "K", "degC"),
            NOT_KNOWN if p is None else said(planned(p)[0], "Pa", "mbar absolute"),
            filled_with(setup, place, 0), worst or "not judged",
            said(outside[place.id], "K", "degC") if place.id in outside else "not heated",
        ))  # fmt: skip
    pitch = 0.62
    with sheet(pitch * len(rows) + 0.3) as figure:
        axes = figure.add_subplot()
        axes.set(xlim=(0, 10), ylim=(-len(rows) + 0.4, 0.6))
        axes.axis("off")
        for n, (place, row) in enumerate(zip(setup.places, rows, strict=True)):
            _item(axes, place.kind.id, -n, row[5])
            axes.text(1.5, -n + 0.22, short(row[0], 30), weight="bold", va="center")
            axes.text(9.9, -n + 0.22, row[5], ha="right", va="center", color=INK, weight="bold")
            hot = f", outside {row[6]}" if place.id in outside else ""
            cold = float(place.cold[0])
            hot = f", kept at {said(cold, 'K', 'degC')}" if math.isfinite(cold) else hot
            axes.text(1.5, -n - 0.02, f"gas {row[2]}, {row[3]}{hot}", va="center", fontsize=8)
            axes.text(1.5, -n - 0.25, short(row[4], 58), va="center", fontsize=8, color=SOFT)
        for place in setup.places:
            for j in place.upstream:
                _joined(axes, -j, -place.index)
    graded = [row for row in rows if row[5] in COLOURS]
    gravest = min(graded, key=lambda row: list(COLOURS).index(row[5]), default=None)
    worst = f'the worst grade is {gravest[5]}, first at "{gravest[0]}"' if gravest else ""
    says = "; ".join(p for p in ("The gas flows from top to bottom", worst) if p) + "."
    heads = ("Item", "Kind", "Gas leaves at", "Pressure", "Filled with", "Worst grade", "Outside")
    return finished(figure, "train", "The train at the stated settings", says, heads, rows)


def _item(axes: Any, kind: str, y: float, grade: str) -> None:
    """A plain shape of our own for a kind of item; its edge and hatch are those of its grade."""
    style: Any = {
        "facecolor": "white", "edgecolor": COLOURS.get(grade, LINE), "linewidth": 2.0,
        "hatch": HATCHES.get(grade, ""), "zorder": 3,
    }  # fmt: skip
    if kind in ("line", "hose"):
        axes.add_patch(Rectangle((0.62, y - 0.3), 0.26, 0.6, **style))
    elif kind == "outlet":
        axes.add_patch(Polygon([(0.35, y + 0.25), (1.15, y + 0.25), (0.75, y - 0.3)], **style))
    elif kind in ("wash bottle", "trap", "flask", "condenser", "evaporator", "still"):
        box = FancyBboxPatch((0.45, y - 0.22), 0.6, 0.44, boxstyle="round,pad=0.04", **style)
        axes.add_patch(box)
    elif kind in ("junction", "valve", "pump", "tee"):
        axes.add_patch(Circle((0.75, y), 0.2, **style))
    else:
        axes.add_patch(Rectangle((0.35, y - 0.26), 0.8, 0.52, **style))


def _joined(axes: Any, above: float, below: float) -> None:
    """The way of the gas; one that passes other items runs beside them."""
    straight = abs(above - below) == 1
    bend = "arc3" if straight else f"arc3,rad={0.35 if above > below else -0.35}"
    start, end = ((0.75, above - 0.3), (0.75, below + 0.3)) if above > below else (
        (0.75, above + 0.3), (0.75, below - 0.3)
    )  # fmt: skip
    arrow = FancyArrowPatch(
        start, end, arrowstyle="-|>", mutation_scale=9, color=SOFT, connectionstyle=bend,
        shrinkA=0, shrinkB=0, zorder=2,
    )  # fmt: skip
    axes.add_patch(arrow)


def envelope(review: Review, setup: Setup) -> Picture | None:
    """Fuel and oxygen of each item as multiples of the least that burns, from step to step."""
    fuel = measured(review, "flammability.fuel_to_lower_limit")
    oxygen = measured(review, "flammability.oxygen_to_limiting")
    margin = measured(review, "flammability.margin")
    keys = [key for key in fuel if key in oxygen and key in margin]
    fuels = np.array([planned(fuel[key]) for key in keys])
    if not ((fuels > 0) | np.isnan(fuels)).any():
        return None
    keys.sort(key=lambda key: np.nanmin(np.append(planned(margin[key]), np.inf)))
    shown = keys[:_ITEMS]
    names, rows, inside = cells(review), [], []
    with sheet(4.3) as figure:
        axes = figure.add_subplot()
        symlog(axes.set_xscale, 0.1)
        symlog(axes.set_yscale, 0.1)
        most = [10.0]
        for n, key in enumerate(shown):
            x, y, m = planned(oxygen[key]), planned(fuel[key]), planned(margin[key])
            colour, mark, dashes = SERIES[n]
            axes.plot(x[1:], y[1:], dashes, color=colour, linewidth=1.2, alpha=0.8)
            axes.plot(x, y, mark, color=colour, markersize=6, markerfacecolor="white",
                      label=short(key[0]), gid=f"points-{n}")  # fmt: skip
            burns = ~(m > 0) & np.isfinite(x) & np.isfinite(y)
            axes.plot(x[burns], y[burns], "x", color=INK, markersize=9, markeredgewidth=1.6)
            most += [v for v in (*x, *y) if math.isfinite(v)]
            for cell, name in enumerate(names):
                where = said(x[cell], "1", ""), said(y[cell], "1", "")
                rows.append((key[0], name, *where, said(m[cell], "1", "")))
            inside += [(key[0], names[c]) for c in np.flatnonzero(burns)]
        top = max(most) * 1.6
        axes.add_patch(Rectangle((1, 1), top, top, facecolor="none", edgecolor="#D55E00",
                                 hatch="///", linewidth=1.5, zorder=0))  # fmt: skip
        axes.text(1.1, top * 0.9, "can burn, unless too rich", va="top", color=INK,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 1})  # fmt: skip
        axes.set(xlim=(-0.02, top), ylim=(-0.02, top))
        axes.set_xlabel("oxygen, in multiples of the least with which it burns")
        axes.set_ylabel("fuel, in multiples of the least that burns")
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_ticks([t for t in (0, 0.1, 1, 10, 100, 1000) if t <= top])
            plain_ticks(axis)
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncol=2, frameon=False)
    says = "Lines lead from step to step; a cross marks gas that can burn. "
    lost = [row[0] for row in rows if NOT_KNOWN in row]
    if lost:
        says += f'Not known, so not drawn: steps of "{lost[0]}". '
    if inside:
        says += f'As planned it can burn in "{inside[0][0]}", {words.in_step(inside[0][1])}.'
    else:
        says += "As planned no item stands in the hatched corner where it could."
    heads = ("Item", "Step", "Oxygen", "Fuel", "Margin")
    return finished(figure, "envelope", "Fuel against oxygen, as planned", says, heads, rows)


def procedure(review: Review, setup: Setup) -> Picture | None:
    """What is on, how hot it is outside and what fills the hottest item, step by step."""
    steps = setup.scenario.procedure
    if not steps:
        return None
    spans = [float(setup.duration(n + 1)[0]) / 60.0 for n in range(len(steps))]
    if not all(math.isfinite(span) and span > 0 for span in spans):
        return None
    starts = np.concatenate([[0.0], np.cumsum(spans)])
    switches = _switches(setup)
    hot = {key: m for key, m in measured(review, "heat.outer_surface").items()}
    filled = _fillings(setup)
    lanes = [*switches, *(("outside of", key[0]) for key in hot), *(("fills", p) for p in filled)]
    rows: list[tuple[str, ...]] = []
    with sheet(0.32 * len(lanes) + 1.9) as figure:
        axes = figure.add_subplot()
        axes.set_xlim(0, starts[-1])
        for lane, (what, name) in enumerate(lanes):
            if what == "fills":
                _shares(axes, lane, starts, filled[name])
                continue
            for n, step in enumerate(steps):
                if what == "outside of":
                    key = next(k for k in hot if k[0] == name)
                    kelvin = float(planned(hot[key])[n + 1])
                    text, on = said(kelvin, "K", "degC"), math.isnan(kelvin) or kelvin > 333.15
                else:
                    text = switches[what, name][n]
                    on = text != "off"
                _bar(axes, (starts[n], spans[n]), lane, on, what, text)
                rows.append((step.step, f"{what} {name}", text))
        for n, step in enumerate(steps):
            axes.axvline(starts[n], color=LINE, linewidth=0.6, zorder=0)
            axes.text(starts[n] + spans[n] / 2, -0.75, short(step.step, 12), ha="center",
                      va="bottom", rotation=40 if len(steps) > 4 else 0, fontsize=8)  # fmt: skip
        axes.set_yticks(range(len(lanes)), [short(f"{what} {name}", 24) for what, name in lanes])
        axes.set(xlim=(0, starts[-1]), ylim=(len(lanes) - 0.5, -1.7))
        axes.set_xlabel("minutes from the start")
        axes.legend(
            handles=[Line2D([], [], color=c, linewidth=6, label=label) for c, label in
                     (("#0072B2", "on"), ("#E69F00", "heated, or hotter than 60 degC"))]
            + [Line2D([], [], color=SERIES[2 + n][0], linewidth=6, label=name)
               for n, name in enumerate(_FILLS) if filled],
            loc="lower center", bbox_to_anchor=(0.4, 1.02), ncol=2, frameon=False,
        )  # fmt: skip
    for n, step in enumerate(steps):
        for place in setup.places:
            if place.id in filled:
                rows.append((step.step, f"fills {place.id}", filled_with(setup, place, n + 1)))
    total = words.number(starts[-1])
    says = f"The whole procedure takes {total} min; each bar is what a step has on or finds hot"
    says += ", or what fills a heated item at its end." if filled else "."
    return finished(figure, "procedure", "The procedure", says, ("Step", "What", "State"), rows)


#: What fills an item, by what it does.
_FILLS = ("gas that burns", "oxygen", "other gas")


def _fillings(setup: Setup) -> dict[str, FloatArray]:
    """What fills each heated item in each step: shares of what burns, of oxygen and of the rest."""
    heated = {source.heats for source in setup.scenario.heat.values()}
    runs, found = setup.shape[1], {}
    burns = np.array([s.combustible is not False for s in setup.species])
    oxygen = np.array([s.name == "oxygen" for s in setup.species])
    for place in setup.places:
        if place.id in heated:
            shares = []
            for n in range(len(setup.scenario.procedure)):
                trial = (n + 1) * runs
                end = "outlet_end" if place.moving[trial] > 0 else "old"
                x = place.composition(end)[:, trial]
                shares.append((x[burns].sum(), x[oxygen].sum(), x[~burns & ~oxygen].sum()))
            found[place.id] = np.array(shares, dtype=np.float64)
    return found


def _shares(axes: Any, lane: int, starts: FloatArray, shares: FloatArray) -> None:
    """One bar for each step, as high as each share; "not known" where it is not."""
    for n, parts in enumerate(shares):
        wide = starts[n + 1] - starts[n]
        if np.isnan(parts).any():
            axes.text(starts[n] + wide / 2, lane, NOT_KNOWN, ha="center", va="center", fontsize=7)
            continue
        below = lane + 0.4
        for m, part in enumerate(parts):
            axes.add_patch(Rectangle(
                (starts[n], below - 0.8 * part), wide, 0.8 * part, facecolor=SERIES[2 + m][0],
                hatch=("xxx", "...", "")[m], edgecolor="white", linewidth=0.4,
            ))  # fmt: skip
            below -= 0.8 * part


def _switches(setup: Setup) -> dict[tuple[str, str], list[str]]:
    """Each flow, heat source and pump in every step: its setting in words; a setting persists."""
    found: dict[tuple[str, str], list[str]] = {}
    pumps = dict.fromkeys(name for step in setup.scenario.procedure for name in step.suction)
    for what, names, field in (
        ("flow", setup.scenario.flows, "flows"), ("heat", setup.scenario.heat, "heat"),
        ("pump", pumps, "suction"),
    ):  # fmt: skip
        for name in names:
            state, states = "off", []
            for step in setup.scenario.procedure:
                given = getattr(step, field).get(name)
                if given is not None:
                    state = given if isinstance(given, str) else "set"
                states.append(state)
            found[what, name] = states
    return found


def _bar(axes: Any, span: tuple[float, float], lane: int, on: bool, what: str, text: str) -> None:
    switched = what in ("flow", "pump")
    colour = "#0072B2" if switched else "#E69F00"
    if on:
        axes.broken_barh([span], (lane - 0.3, 0.6), facecolor=colour, edgecolor="white",
                         hatch="" if switched else "///")  # fmt: skip
    room_for_it = span[1] > 0.13 * axes.get_xlim()[1]
    if what == "outside of" and room_for_it:
        axes.text(span[0] + span[1] / 2, lane, text, ha="center", va="center", fontsize=7,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6})  # fmt: skip
