"""What people breathe against exposure limits: peaks, the 8-hour average, several at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup, Substance

from ..shared.air import BREATHED, Air
from ..shared.harm import NAMES, PROPERTIES, Limits, limits_of
from ..shared.hood import BORE_KIND
from ..shared.names import WHERE
from .leaving import Leaving

WORKING_DAY, QUARTER = 8 * 3600.0, 900.0

RATIO = Method(
    id="exposure.ratio",
    title="Content of the air people breathe, over its limit",
    result="share of the limit",
    unit="1",
    formula="where(C == 0, 0, C / limit)",
    inputs=(
        Input("C", "C", "mol/mol", "content of the breathing zone"),
        Input("limit", "L", "mol/mol", "exposure limit"),
    ),
    function=lambda C, limit: np.where(C == 0, 0.0, C / limit),
    compares=lambda C, limit: (C, limit),
    compared_in=("mol/mol", "ppm"),
    source="limits: lowest of those read (NIOSH, OSHA Z-1, Ontario), or the site's own",
    validity="breathed in only; skin, eyes and swallowing are not counted",
)
AVERAGE = Method(
    id="exposure.eight_hour_average",
    title="Average over a working day",
    result="8-hour average",
    unit="mol/mol",
    formula="min((sum([c * s for c, s in zip(C, t)]) + C_r * t_r) / 28800, C_most)",
    inputs=(
        Input("C", "C", "mol/mol", "average of the breathing zone in each step"),
        Input("t", "t", "s", "duration of each step"),
        Input("C_r", "C_r", "mol/mol", "content of the room at the end, at most"),
        Input("t_r", "t_r", "s", "time it stays: one air change, within the working day"),
        Input("C_most", "C_most", "mol/mol", "most there is at any time so far"),
    ),
    function=lambda C, t, C_r, t_r, C_most: np.minimum(
        (sum(c * s for c, s in zip(C, t, strict=True)) + C_r * t_r) / WORKING_DAY, C_most
    ),
    source="29 CFR 1910.1000(d)(1)(i): (Ca Ta + Cb Tb + ...) / 8",
    validity=(
        "no 8 hours of what lasts longer are worse than its worst moment; as if the procedure "
        "ended with the step, the last one being the whole; nobody leaves for "
        "8 hours; a step counts with the room at its worst. An upset in mid-step counts from then "
        "on, for as long as the whole step; what came before it counts in the plan"
    ),
)
ADDED = Method(
    id="exposure.additive_index",
    title="Several substances together",
    result="additive index",
    unit="1",
    formula="sum(E)",
    inputs=(Input("E", "E", "1", "each substance's 8-hour average as a share of its limit"),),
    function=lambda E: np.sum(np.broadcast_arrays(*E), axis=0),
    source="29 CFR 1910.1000(d)(2)(i); ACGIH, mixtures",
    validity=(
        "as if all acted alike, which errs high; a substance without an 8-hour limit counts "
        "against its short-term or ceiling limit"
    ),
)

#: More air can only lower what people breathe.
AIRING: Mapping[str, Literal["up", "down"]] = {
    "ventilation.air_changes": "down",
    "ventilation.air_speed": "down",
    "ventilation.mixing_factor": "up",
    "ventilation.near_field_radius": "down",
    "ventilation.room_volume": "down",
}


def _kind(name: str, title: str, method: Method) -> Kind:
    validity = f"{method.validity}. {BREATHED.validity}"
    return Kind(
        id=f"exposure.{name}",
        title=title,
        worse="higher",
        unit=method.unit,
        display="%" if method.unit == "1" else "ppm",
        method=method.id,
        source=method.source,
        validity=validity,
        moves=AIRING,
    )


CONTENT_KIND = _kind("concentration", "Content of the air people breathe", BREATHED)
CEILING_KIND = _kind("ceiling_ratio", "Peak as a share of the ceiling limit", RATIO)
EXCURSION_KIND = _kind("excursion_ratio", "Peak as a share of five times the 8-hour limit", RATIO)
SHORT_KIND = Kind.of(
    RATIO,
    "higher",
    "%",
    AIRING,
    id="exposure.short_term_ratio",
    title="15-minute average as a share of its limit",
    validity=(
        f"{RATIO.validity}. The highest 15 minutes that begin or end with a step, of what is let "
        "out in them as if evenly and the room at its worst"
    ),
)
IDLH_KIND = _kind("idlh_ratio", "Peak as a share of the content that endangers life (IDLH)", RATIO)
DAY_KIND = _kind("eight_hour_ratio", "8-hour average as a share of its limit", RATIO)
ADDED_KIND = _kind("additive_index", "8-hour averages as shares of their limits, added up", ADDED)
KINDS = {
    "eight_hour": DAY_KIND,
    "short_term": SHORT_KIND,
    "ceiling": CEILING_KIND,
    "idlh": IDLH_KIND,
}


@dataclass(frozen=True, slots=True)
class _Breathed:
    """One substance that has limits, and what people breathe of it."""

    substance: Substance
    limits: Limits
    peak: Quantity
    quarter: Quantity
    """Highest average over 15 minutes."""
    day: Quantity

    def over(self, limit: Quantity, amount: Quantity) -> Quantity:
        """The ratio; nothing breathed is nothing, whatever the limit."""
        ratio = RATIO(C=amount, limit=limit)
        none = amount.value == 0
        if not none.any():
            return ratio
        status = np.where(none, amount.status, ratio.status)
        return ratio.revised(np.where(none, 0.0, ratio.value), status)


def _compute(setup: Setup) -> Iterable[Measure]:
    air = setup.once(Air)
    leaving = Leaving(setup, air)
    found, without = [], []
    for row, substance in enumerate(air.substances):
        limits = limits_of(setup, substance)
        if not limits.known:
            without.append(substance.name)
            continue
        peak = leaving.peak(row, air.breathed(row))
        mean = leaving.mean(row, air.mean(row), peak)
        day = _day(setup, air, row, mean, peak, leaving.room(air.far(row)))
        found.append(_Breathed(substance, limits, peak, air.averaged(row, QUARTER), day))
    if found:
        yield setup.measure(BORE_KIND, air.hood.bore, WHERE)
    for each in found:
        of = each.substance.name
        yield setup.measure(CONTENT_KIND, each.peak, WHERE, of, air.words)
        for name, limit in each.limits.known.items():
            amounts = {"eight_hour": each.day, "short_term": each.quarter}
            amount = amounts.get(name, each.peak)
            note = "; ".join(filter(None, (air.words, each.limits.notes.get(name))))
            kind = EXCURSION_KIND if _excursion(each, name) else KINDS[name]
            yield setup.measure(kind, each.over(limit, amount), WHERE, of, note)
    listed = f"no exposure limit exists for {', '.join(without)}" if without else ""
    if not any(each.limits.excursion for each in found):
        why = "nothing here has an 8-hour limit and no ceiling" if found else listed
        yield _nothing(setup, EXCURSION_KIND, why)
    for name in PROPERTIES:
        if not any(name in each.limits.known and not _excursion(each, name) for each in found):
            why = f"nothing else here has a published {NAMES[name]}" if found else listed
            yield _nothing(setup, KINDS[name], why)
    of_a_day = [(each, each.limits.lowest_of_a_day) for each in found]
    days = [each.over(lowest, each.day) for each, lowest in of_a_day if lowest is not None]
    if days:
        note = "; ".join(filter(None, (air.words, listed)))
        yield setup.measure(ADDED_KIND, ADDED(E=days), WHERE, note=note)
    else:
        yield _nothing(setup, ADDED_KIND, listed or "no substance here has a limit for a day")


def _excursion(each: _Breathed, name: str) -> bool:
    """Whether this limit only stands in for a ceiling."""
    return name == "ceiling" and each.limits.excursion


def _nothing(setup: Setup, kind: Kind, why: str) -> Measure:
    """A kind of limit that no substance has: nothing of it is used."""
    return setup.measure(kind, setup.quantity(0.0, "share of the limit", "1", why), WHERE, note=why)


def _day(
    setup: Setup, air: Air, row: int, mean: Quantity, peak: Quantity, room: FloatArray
) -> Quantity:
    """8-hour average if the procedure ended with this step; of the stated plan, over its duration.

    It can only grow from step to step, so the last one holds that of the whole procedure.
    """
    cells, runs = setup.shape
    # What the engine plays after the stated steps is the rest of the day, counted below.
    steps = setup.steps[: max(len(setup.scenario.procedure), 1)]
    cell = np.arange(cells)[:, None]
    means, trust = mean.value.reshape(cells, runs), mean.status.reshape(cells, runs)

    def number(path: str) -> FloatArray:
        return setup.number(path).value.reshape(cells, runs)

    amounts, times = [], []
    for n, step in enumerate(steps, 1):
        # The plan stands in the first column of its own cell, and there alone.
        lasts = number(step.duration_path)[n]
        own = number("duration")[0] if n == 1 else np.zeros(runs)
        counted = np.where(cell == 0, own, np.where(cell >= n, lasts, 0.0))
        counted = np.where(np.isnan(counted), WORKING_DAY, counted)
        from_cell = np.where(cell == 0, 0, n) + np.zeros((1, runs), dtype=int)
        amounts.append(
            Quantity.of(
                np.where(counted > 0, np.take_along_axis(means, from_cell, 0), 0.0).reshape(-1),
                np.where(counted > 0, np.take_along_axis(trust, from_cell, 0), 0).reshape(-1),
                name=f"average in step {step.name}", unit="mol/mol",
                source="what is let out in that step as if evenly, and the room at its worst",
            )
        )  # fmt: skip
        times.append(
            Quantity.of(
                counted.reshape(-1), name=f"duration of {step.name}", unit="s", source="scenario"
            )
        )  # fmt: skip
    total = np.sum([t.value for t in times], axis=0).reshape(cells, runs)
    last = np.minimum(cell, len(steps)) + np.zeros((1, runs), dtype=int)
    far = np.take_along_axis(room.reshape(cells, runs), last, 0)
    left = setup.quantity(
        far.reshape(-1), f"{air.substances[row].name} left in the room", "mol/mol",
        "balance of the room",
    )  # fmt: skip
    changes = number("ventilation.air_changes") * number("ventilation.working")
    factor = number("ventilation.mixing_factor")
    change = np.where(np.isnan(factor), 1.0, factor) / changes
    rest = np.fmin(np.maximum(WORKING_DAY - total, 0.0), change).reshape(-1)
    stays = Quantity.of(rest, name="time the rest stays", unit="s", source="one air change at most")
    highest = np.maximum(peak.value, mean.value).reshape(cells, runs)
    highest = np.where(np.isnan(highest), np.inf, highest)
    highest[1:] = np.maximum.accumulate(highest[1:])
    most = setup.quantity(
        np.fmax(highest, far).reshape(-1), "most in any step", "mol/mol",
        "highest of the breathing zone so far",
    )  # fmt: skip
    return AVERAGE(C=amounts, t=times, C_r=left, t_r=stays, C_most=most)


BREATHING = Computation(
    kinds=(
        BORE_KIND, CONTENT_KIND, CEILING_KIND, EXCURSION_KIND, SHORT_KIND, DAY_KIND, IDLH_KIND,
        ADDED_KIND,
    ),  # fmt: skip
    compute=_compute,
)
