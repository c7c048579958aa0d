"""What people breathe and what a plug does, each against its limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from review.interface.measure import FloatArray, Measure
from review.interface.result import GRADES, Finding, Review
from review.interface.setup import Setup
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
        axes.text(ends[0], lead.limit * 1.08, f"at most {wanted}", va="bottom", fontsize=8)
        axes.set(xlim=(ends[0], ends[-1]), ylim=(0, max(most) * 2.5))
        axes.set_yticks([t for t in (0, 0.01, 0.1, 1, 10, 100, 1e3, 1e4) if t <= max(most) * 2.5])
        plain_ticks(axes.yaxis)
        axes.set_ylabel("times the limit's figure")
        axes.set_xlabel("minutes from the start; last: after the last step")
        axes.legend(loc="upper center", bbox_to_anchor=(0.45, -0.2), frameon=False)
    what = f"{words.lower_first(kind.title)}{f', {lead.of}' if lead.of else ''}"
    worst = words.reading(lead, review.kinds)
    says = f"{words.upper_first(what)}, the highest in each step: {worst.value} at worst"
    says += f" ({worst.wanted})."
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
    """How far each item's pressure rises with anything blocked and in any failure, and its hold."""
    share = measured(review, "pressure.working_over_rating")
    runs = review.trials.runs
    failed = [n for n, run in enumerate(runs) if run.case == "upset"]
    blocked = [n for n in failed if family(runs[n], review.trials).kind == "blocked"]
    items = [key for key, measure in share.items() if measure.compared is not None]
    if not blocked or not items:
        return None
    seconds = measured(review, "pressure.plugged_seconds")
    findings = [f for f in review.findings if f.kind == "pressure.working_over_rating"]
    rows, spots = [], []
    for key in items:
        plugged, _ = _worst(share[key], blocked)
        most, holds = _worst(share[key], failed)
        its = {f.grade for f in findings if f.at == key[0]}
        grade = next((grade for grade in GRADES if grade in its), "")
        times = planned(seconds[key]) if key in seconds else np.array([math.nan])
        soon = NOT_KNOWN if np.isnan(times).any() else _held(float(times.min()))
        spots.append((plugged, most, holds, grade))
        held = "not asked" if math.isinf(holds) else _gauge(holds)
        rows.append((key[0], _gauge(plugged), _gauge(most), held, soon, grade or "not judged"))
    if all(math.isinf(holds) for *_, holds, _ in spots):
        return None
    with sheet(0.34 * len(items) + 1.7) as figure:
        axes = figure.add_subplot()
        symlog(axes.set_xscale, 0.1)
        far = 2 * max([0.05, *(v / 1e5 for spot in spots for v in spot[:3] if math.isfinite(v))])
        for n, (plugged, most, holds, grade) in enumerate(spots):
            if math.isfinite(most):
                axes.barh(n, max(most, 0.0) / 1e5, height=0.6, facecolor="white", linewidth=1.6,
                          edgecolor=COLOURS.get(grade, LINE), hatch=HATCHES.get(grade, ""),
                          gid=f"bar-{n}")  # fmt: skip
            else:
                axes.text(0, n, f" {NOT_KNOWN}", va="center", fontsize=8)
            edge = math.nan if math.isinf(holds) else holds
            for value, mark, name in ((plugged, "o", "plugged"), (edge, "|", "holds")):
                axes.plot([value / 1e5], [n], linestyle="none", marker=mark, color=INK,
                          markersize=18 if mark == "|" else 6, markeredgewidth=3 if mark == "|"
                          else 1.2, markerfacecolor="white", gid=f"{name}-{n}")  # fmt: skip
            if math.isnan(holds):
                axes.text(far, n, f"holds: {NOT_KNOWN}", va="center", ha="right", fontsize=8)
        for mark, size, wide, label in (("o", 6, 1.2, "anything blocked"),
                                        ("|", 12, 3, "what it holds")):  # fmt: skip
            axes.plot([], [], linestyle="none", marker=mark, markersize=size, color=INK,
                      markeredgewidth=wide, markerfacecolor="white", label=label)  # fmt: skip
        axes.set(xlim=(0, far), ylim=(len(items) - 0.4, -0.6))
        axes.set_xticks([t for t in (0, 0.1, 1, 10, 100, 1000) if t <= far])
        plain_ticks(axes.xaxis)
        axes.set_yticks(range(len(items)), [short(key[0], 18) for key in items])
        axes.set_xlabel("bar gauge; bars: the highest in any failure")
        axes.legend(loc="lower center", bbox_to_anchor=(0.45, 1.02), ncol=2, frameon=False)
    near = max(
        (n for n, (_, most, holds, _) in enumerate(spots) if 0.0 < most / holds < math.inf),
        key=lambda n: spots[n][1] / spots[n][2], default=None,
    )  # fmt: skip
    says = ""
    if near is not None:
        at, plugged_, most_, holds_, *_ = rows[near]
        says = f'Nearest to what it holds comes "{at}": {most_} of {holds_} in its worst failure, '
        says += f"{plugged_} with anything blocked. "
    if lost := [row[0] for row in rows if NOT_KNOWN in row[1:4]]:
        says += f"Not known at {words.listed(lost)}."
    heads = ("Item", "Blocked, rises to", "In any failure", "Holds", "Plugged, lets go after",
             "Worst grade")  # fmt: skip
    title = "Pressure if anything is blocked or fails"
    return finished(figure, "plug", title, says or "Nothing rises.", heads, rows)


def _worst(share: Measure, runs: Sequence[int]) -> tuple[float, float]:
    """Pressure over the room's and rating of then, Pa, where it is the largest share of it.

    Where a share is not known, NaN for what is not; where nothing rises, infinity stands for a
    rating that nobody asked for.
    """
    assert share.compared is not None
    value = share.value[:, runs]
    rise, edge = share.compared.value[:, runs], share.compared.edge[:, runs]
    if np.isnan(value).any():
        return float(rise.max()), float("nan")
    at = np.unravel_index(int(value.argmax()), value.shape)
    if not value[at] > 0:
        return 0.0, math.inf
    return float(rise[at]), float(edge[at])


def _gauge(pascal: float) -> str:
    return said(pascal, "Pa", "bar")


def _held(seconds: float) -> str:
    return words.soon(seconds).removeprefix("after ").replace("not within any time", "never")
