"""What people breathe, what a plug does and how hot joints become, each against its limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from review.interface.measure import FloatArray
from review.interface.result import GRADES, Finding, Review
from review.render import words
from review.render.failures import family
from review.render.picture import Picture
from review.render.pictures.canvas import (
    COLOURS,
    HATCHES,
    INK,
    LINE,
    NOT_KNOWN,
    SERIES,
    cells,
    finished,
    measured,
    plain_ticks,
    planned,
    said,
    sheet,
    short,
    symlog,
)
from review.render.pictures.gas import hottest_outside
from review.walk.setup import Place, Setup

#: What follows the last step has no length of its own; it is drawn as this share of the rest.
_AFTER = 0.15


def room(review: Review, setup: Setup) -> Picture | None:
    """The worst exposure over the procedure, as planned and in the failure that makes it worst."""
    lead = _leading(review, "exposure.", "breathing zone")
    if lead is None or lead.limit is None or not math.isfinite(lead.limit):
        return None
    measure = measured(review, lead.kind).get((lead.at, lead.of))
    kind = review.kinds[lead.kind]
    if measure is None or kind.unit != "1" or kind.worse != "higher":
        return None
    ends, names = _ends(setup), cells(review)[1:]
    if ends is None:
        return None
    runs = [run.id for run in review.trials.runs]
    columns = {"as planned": 0}
    failed = review.trials.runs[runs.index(lead.trial)] if lead.trial in runs else None
    if failed is not None and failed.case == "upset":
        phrase = family(failed, review.trials).phrase
        columns[f"if {phrase}"] = runs.index(failed.id)
    if not measure.value[:, list(columns.values())].any():  # NaN counts as something
        return None
    rows = []
    with sheet(3.6) as figure:
        axes = figure.add_subplot()
        symlog(axes.set_yscale, 0.01)
        most = [lead.limit]
        for n, (label, column) in enumerate(columns.items()):
            value = np.array(measure.value[1:, column], dtype=np.float64)
            start = failed.from_step or 0 if failed is not None and column else 0
            value[: max(0, start - 1)] = np.nan if column else value[: max(0, start - 1)]
            colour, mark, dashes = SERIES[n]
            axes.stairs(value, ends, color=colour, linestyle=dashes, linewidth=2, baseline=None)
            axes.plot((ends[1:] + ends[:-1]) / 2, value, mark, color=colour, label=short(label, 44),
                      gid=f"points-{n}", markerfacecolor="white")  # fmt: skip
            most += [float(v) for v in value if math.isfinite(v)]
            begun = range(max(0, start - 1) if column else 0, len(names))
            rows += [(label, names[i], said(float(value[i]), "1", kind.display)) for i in begun]
        axes.axhline(lead.limit, color=INK, linewidth=1.4)
        wanted = said(lead.limit, "1", kind.display)
        axes.text(ends[0], lead.limit * 1.08, f"limit {wanted}", va="bottom", fontsize=8)
        axes.set(xlim=(ends[0], ends[-1]), ylim=(0, max(most) * 2.5))
        axes.set_yticks([t for t in (0, 0.01, 0.1, 1, 10, 100, 1e3, 1e4) if t <= max(most) * 2.5])
        plain_ticks(axes.yaxis)
        axes.set_ylabel("in multiples of the limit's figure")
        axes.set_xlabel("minutes from the start; last: after the last step")
        axes.legend(loc="upper center", bbox_to_anchor=(0.45, -0.2), frameon=False)
    what = f"{words.lower_first(kind.title)}{f', {lead.of}' if lead.of else ''}"
    worst = words.reading(lead, review.kinds)
    says = f"Of the {what}, the highest in each step; at worst {worst.value} ({worst.wanted})."
    rows.append(("limit", "", wanted))
    heads = ("Run", "Step", "Value")
    return finished(figure, "room", "The air people breathe", says, heads, rows)


def _leading(review: Review, kinds: str, at: str) -> Finding | None:
    """The finding that comes first: the gravest, then the farthest past its limit."""
    found = [
        f for f in review.findings
        if f.kind.startswith(kinds) and f.at == at and f.limit and f.limit < 1e8
        and math.isfinite(f.value)
    ]  # fmt: skip
    return min(
        found,
        key=lambda f: (GRADES.index(f.grade), -f.value / (f.limit or 1.0)),
        default=None,
    )


def _ends(setup: Setup) -> FloatArray | None:
    """Where each step ends, min from the start; None where a length is not known."""
    count = setup.shape[0]
    spans = np.array([float(setup.duration(n)[0]) / 60.0 for n in range(1, count)])
    known = spans[: len(setup.scenario.procedure)]
    if not len(known) or not (np.isfinite(known) & (known > 0)).all():
        return None
    spans[len(known) :] = _AFTER * known.sum()
    return np.concatenate([[0.0], np.cumsum(spans)])


def plug(review: Review, setup: Setup) -> Picture | None:
    """How long until something lets go where an item plugs, at its worst step as planned."""
    found = measured(review, "pressure.plugged_seconds")
    if not found:
        return None
    kind = review.kinds["pressure.plugged_seconds"]
    findings = [f for f in review.findings if f.kind == kind.id and f.limit is not None]
    limit = next((f.limit for f in findings if f.limit and f.limit < 1e8), None)
    items = [key for key in found if not np.isposinf(planned(found[key])).all()]
    if not items:
        return None
    rows, worst = [], []
    grades = {f.at: f.grade for f in sorted(findings, key=lambda f: -GRADES.index(f.grade))}
    with sheet(0.34 * len(items) + 1.2) as figure:
        axes = figure.add_subplot()
        finite = [v for key in items for v in planned(found[key]) if math.isfinite(v) and v > 0]
        far = 10 * max([*finite, limit or 1.0, 60.0])
        for n, key in enumerate(items):
            values = planned(found[key])
            unknown = bool(np.isnan(values).any())
            value = math.nan if unknown else float(values.min())
            text = NOT_KNOWN if unknown else _held(value)
            grade = grades.get(key[0], "")
            if not unknown:
                axes.barh(n, min(max(value, 0.1), far), left=0, height=0.6, facecolor="white",
                          edgecolor=COLOURS.get(grade, LINE), hatch=HATCHES.get(grade, ""),
                          linewidth=1.6, gid=f"bar-{n}")  # fmt: skip
            axes.text(0.12, n, text, va="center", fontsize=8,
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 1})  # fmt: skip
            rows.append((key[0], text, grade or "not judged"))
            worst.append((math.inf if unknown else value, key[0], text))
        if limit:
            axes.axvline(limit, color=INK, linewidth=1.4)
            axes.text(limit, -0.75, f"wanted: {_held(limit)}", fontsize=8, ha="center")
        axes.set_xscale("log")
        axes.set(xlim=(0.1, far), ylim=(len(items) - 0.4, -1.0))
        plain_ticks(axes.xaxis)
        axes.set_yticks(range(len(items)), [short(key[0], 18) for key in items])
        axes.set_xlabel("seconds from the plug until something lets go")
    lost = [at for _, at, text in worst if text == NOT_KNOWN]
    soonest = min(worst)
    says = ""
    if soonest[2] != NOT_KNOWN:
        says = f'Plugged, the train holds least long at "{soonest[1]}": {soonest[2]}. '
    if lost:
        says += f"How long it holds is not known at {words.listed(lost)}."
    heads = ("Plugged at", "Lets go after", "Worst grade")
    return finished(figure, "plug", "If an item plugs, as planned", says, heads, rows)


def _held(seconds: float) -> str:
    return words.soon(seconds).removeprefix("after ").replace("not within any time", "never")


def temperatures(review: Review, setup: Setup) -> Picture | None:
    """Gas and wall at the end of each item, and what its joints bear, at the hottest step."""
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
    lines: dict[str, list[float]] = {"gas at the end": [], "wall at the end": [], "outside": []}
    for place in items:
        for label, found in (("gas at the end", gas), ("wall at the end", wall)):
            values = planned(found[place.id, ""])
            lines[label].append(math.nan if np.isnan(values).any() else float(values.max()))
        lines["outside"].append(outside.get(place.id, -math.inf))
        ends = np.asarray(place.ends.value).reshape(count, -1)[:, 0]
        held = [planned(m) + ends for key, m in joints.items() if key[0] == place.id]
        low = min((float(v.min()) for v in held), default=math.nan)
        bears.append(low)
        here = [said(line[-1], "K", "degC") for line in lines.values()]
        if place.id not in outside:
            here[-1] = "not heated"
        joint = said(low, "K", "degC") if held else "no joint judged"
        rows.append((place.id, *here, joint))
    position = np.arange(len(items), dtype=np.float64)
    with sheet(3.6) as figure:
        axes = figure.add_subplot()
        for n, (label, line) in enumerate(lines.items()):
            colour, mark, dashes = SERIES[n]
            values = np.where(np.isneginf(line), np.nan, line) - 273.15
            dashes = "none" if label == "outside" else dashes
            axes.plot(position, values, linestyle=dashes, marker=mark, color=colour, label=label,
                      markerfacecolor="white", gid=f"points-{n}")  # fmt: skip
        axes.plot(position, np.array(bears) - 273.15, linestyle="none", marker="_", markersize=22,
                  markeredgewidth=3, color=INK, label="its joints bear", gid="bears")  # fmt: skip
        for n, row in enumerate(rows):
            if NOT_KNOWN in row[1:4]:
                axes.text(n, axes.get_ylim()[0], NOT_KNOWN, rotation=90, va="bottom", fontsize=8)
        axes.set_xticks(position, [short(p.id, 14) for p in items], rotation=40, ha="right")
        axes.set_ylabel("degC")
        axes.legend(loc="upper center", bbox_to_anchor=(0.45, 1.28), ncol=2, frameon=False)
    says = (
        f'Gas and wall at the end of each item in their hottest step; "{_hottest(lines, items)}" '
        "is hottest outside or in. A bar shows what the joints of an item bear."
    )
    heads = ("Item", "Gas at its end", "Wall at its end", "Outside", "Its joints bear")
    return finished(figure, "temperatures", "Temperatures along the train", says, heads, rows)


def _hottest(lines: dict[str, list[float]], items: Sequence[Place]) -> str:
    peaks = np.array(list(lines.values())).max(axis=0)
    return str(items[int(np.where(np.isnan(peaks), -np.inf, peaks).argmax())].id)
