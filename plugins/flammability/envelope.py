"""The flammable envelope at every item and trial.

For each item the worst mixture on all its mixing lines is found; there the three ratios, the
signed margin and the share of the allowance are computed by methods that keep their working.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
    Substance,
)
from review.physics.mixtures import burgess_wheeler_lower, burgess_wheeler_upper, upper_boundary

from . import directions
from .limits import LOWER_LIMIT, TRACE, UPPER_LIMIT, Limits, limits_of
from .mixing import Line, worst, worst_allowance

_SOURCE = "Le Chatelier (1891) as in Crowl & Louvar, Chemical Process Safety; Bulletin 627 (1965)"
_VALID = "limits of upward flame travel; gases mixed along straight lines"

SHARE = Method(
    id="flammability.share_of_limit",
    title="Fuel content over its limit",
    result="share of the limit",
    unit="1",
    formula="x / L",
    inputs=(
        Input("x", "x", "mol/mol", "fuel in the gas"),
        Input("L", "L", "mol/mol", "its limit"),
    ),
    function=lambda x, L: np.where(x > 0, x / L, 0.0),
    source=_SOURCE,
    validity=_VALID,
)
TO_LOWER = Method(
    id="flammability.fuel_to_lower_limit",
    title="Fuel to lower limit, mixtures by Le Chatelier",
    result="fuel to lower limit",
    unit="1",
    formula="sum(shares)",
    inputs=(Input("shares", "x/L", "1", "each fuel over its lower limit"),),
    function=lambda shares: np.sum(np.broadcast_arrays(*shares), axis=0),
    source=_SOURCE,
    validity=_VALID,
)
TO_LIMITING = Method(
    id="flammability.oxygen_to_limiting",
    title="Oxygen to limiting oxygen",
    result="oxygen to limiting oxygen",
    unit="1",
    formula="o / loc",
    inputs=(
        Input("o", "O2", "mol/mol", "oxygen in the gas"),
        Input("loc", "LOC", "mol/mol", "limiting oxygen of the most demanding fuel, when hot"),
    ),
    function=lambda o, loc: np.where(o > 0, o / loc, 0.0),
    source="NFPA 69 tables, tube values adjusted (TIA 1211); else z x lower limit with a factor",
    validity="inert of the kind tabulated; scaled with temperature like the lower limit",
)
UPPER_OF_MIXTURE = Method(
    id="flammability.upper_limit_of_mixture",
    title="Upper limit of the fuels together, by Le Chatelier",
    result="upper limit of the mixture",
    unit="mol/mol",
    formula="F / sum(shares)",
    inputs=(
        Input("F", "F", "mol/mol", "all fuel in the gas"),
        Input("shares", "x/U", "1", "each fuel over its upper limit"),
    ),
    function=lambda F, shares: F / np.sum(np.broadcast_arrays(*shares), axis=0),
    source=_SOURCE,
    validity=_VALID + "; upper limits are combined less exactly than lower ones",
)
TO_UPPER = Method(
    id="flammability.upper_limit_to_fuel",
    title="Upper boundary to fuel",
    result="upper boundary to fuel",
    unit="1",
    formula=(
        "where(F > 0, (U + where(1 - Uo > 0.2095 * (1 - U),"
        " min(max((o - 0.2095 * (1 - U)) / ((1 - Uo) - 0.2095 * (1 - U)), 0), 1),"
        " where(o >= 1 - Uo, 1, 0)) * (Uo - U)) / F, inf)"
    ),
    inputs=(
        Input("o", "O2", "mol/mol", "oxygen in the gas"),
        Input("U", "U", "mol/mol", "upper limit in air"),
        Input("Uo", "Uo", "mol/mol", "upper limit in oxygen"),
        Input("F", "F", "mol/mol", "all fuel in the gas"),
    ),
    function=lambda o, U, Uo, F: np.where(F > 0, upper_boundary(o, U, Uo) / F, np.inf),
    source="boundary from the upper limit in air to that in oxygen, Bulletin 627 (1965)",
    validity="level below the oxygen left at the upper limit in air",
)
MARGIN = Method(
    id="flammability.margin",
    title="Signed margin to the flammable envelope",
    result="margin",
    unit="1",
    formula="max(1 - lean, 1 - inert, 1 - rich)",
    inputs=(
        Input("lean", "lean", "1", "fuel to lower limit"),
        Input("inert", "inert", "1", "oxygen to limiting oxygen"),
        Input("rich", "rich", "1", "upper boundary to fuel"),
    ),
    function=lambda lean, inert, rich: np.fmax(np.fmax(1 - lean, 1 - inert), 1 - rich),
    source="outside if any one boundary keeps it out; negative inside",
    validity=_VALID,
)
ALLOWANCE = Method(
    id="flammability.allowance_used",
    title="Fuel or oxygen as a share of what is allowed",
    result="share of the allowance",
    unit="1",
    formula="min(lean / lean_share, inert / inert_share)",
    inputs=(
        Input("lean", "lean", "1", "fuel to lower limit"),
        Input("lean_share", "lean share", "1", "share of the lower limit allowed"),
        Input("inert", "inert", "1", "oxygen to limiting oxygen"),
        Input("inert_share", "inert share", "1", "share of the limiting oxygen allowed"),
    ),
    function=lambda lean, lean_share, inert, inert_share: np.fmin(
        lean / lean_share, inert / inert_share
    ),
    source="NFPA 69 (from memory): 25 % of the lower limit, or oxygen well below the limiting one",
    validity="being rich earns nothing",
)


def _kind(method: Method, worse: str, moves: directions.Ways) -> Kind:
    return Kind(
        id=method.id,
        title=method.title,
        worse="lower" if worse == "lower" else "higher",
        unit="1",
        display="",
        method=method.id,
        source=method.source,
        validity=method.validity,
        moves=moves,
    )


FUEL_KIND = _kind(TO_LOWER, "higher", directions.FUEL)
OXYGEN_KIND = _kind(TO_LIMITING, "higher", directions.OXYGEN)
RICH_KIND = _kind(TO_UPPER, "higher", directions.RICH)
# Estimated limits are off by less than half of themselves (common practice, no source).
MARGIN_KIND = replace(_kind(MARGIN, "lower", directions.MARGIN), offset=0.1)
ALLOWANCE_KIND = replace(_kind(ALLOWANCE, "higher", directions.ALLOWANCE), factor=1.5)
LEAN_SHARE, INERT_HIGH, INERT_LOW = (
    "flammability.lean_share",
    "flammability.inert_share_high",
    "flammability.inert_share_low",
)
#: Limiting oxygen below which NFPA 69 asks for the larger distance (from memory).
LOW_LOC = 0.05


@dataclass(frozen=True, slots=True)
class _Hot:
    """Limits of the fuels at one item's hottest temperature, (fuels, trials)."""

    lower: FloatArray
    upper: FloatArray
    upper_oxygen: FloatArray
    scale: FloatArray


def _hot(place: Place, limits: Limits) -> _Hot:
    t, p = place.hottest.value, place.pressure.value
    lower = burgess_wheeler_lower(limits.lower[:, None], t, limits.slope[:, None])
    rise = np.maximum(0.206 * np.log10(np.maximum(p, 1e5) / 1e5), 0.0)
    upper = np.minimum(burgess_wheeler_upper(limits.upper[:, None], t) + rise, 1.0)
    pure = np.minimum(burgess_wheeler_upper(limits.upper_oxygen[:, None], t) + rise, 1.0)
    return _Hot(lower, upper, pure, lower / limits.lower[:, None])


def _sum_shares(fuel: FloatArray, limit: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(fuel <= 0, 0.0, fuel / limit).sum(axis=-2))


def _loc(limits: Limits, hot: _Hot, ends: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Limiting oxygen on each line (lines, trials) and whether it is an estimate.

    The most demanding fuel on the line counts; 0 means that no oxygen is needed. A noble inert at
    either end means that nitrogen's value is not used.
    """
    present = ~(ends[:, :, list(limits.rows)].max(axis=0) <= TRACE)
    noble = np.zeros(present.shape[::2], dtype=bool)
    for i in limits.noble:
        noble |= ~(ends[:, :, i].max(axis=0) <= TRACE)
    each = np.where(
        noble[:, None, :], limits.loc_noble[None, :, None], limits.loc[None, :, None]
    ) * hot.scale[None]
    each = np.where(limits.alone[None, :, None] > 0, 0.0, each)
    counted = np.where(present, each, np.inf)
    unknown = np.isnan(counted).any(axis=1)
    least = np.where(np.isnan(counted), np.inf, counted).min(axis=1)
    guessed = np.where(present, limits.estimated[None, :, None], 0.0).max(axis=1) > 0
    value = np.where(unknown & (least > 0), np.nan, least)
    return value, guessed | noble


def _lines(
    setup: Setup, place: Place, limits: Limits, hot: _Hot
) -> list[tuple[FloatArray, FloatArray]]:
    """Every mixing line at an item, as its two ends.

    Of the gases that come from upstream three stand for all, picked in each trial: the one with
    most fuel, the one with most oxygen, and the one that is nearest to burning by itself. They
    meet each other, the old gas and the new.
    """
    own = [(start, stop) for _, start, stop in setup.segments(place)]
    passing = setup.passing(place)
    old, new = own[0]
    if len(passing) > 3:
        gases = np.array(passing)
        fuel = _sum_shares(gases[:, list(limits.rows)], hot.lower)
        oxygen = gases[:, limits.oxygen]
        both = np.minimum(fuel, oxygen / np.nanmin(np.append(limits.loc_noble, LOW_LOC)))
        # What is not known stands first, so that it is not lost.
        picks = [np.where(np.isnan(x), np.inf, x).argmax(axis=0) for x in (fuel, oxygen, both)]
        passing = [np.take_along_axis(gases, pick[None, None], axis=0)[0] for pick in picks]
    meeting = [(gas, end) for gas in passing for end in (old, new)]
    meeting += [(a, b) for n, a in enumerate(passing) for b in passing[:n]]
    return own + meeting


def _place_measures(setup: Setup, place: Place, limits: Limits) -> Iterable[Measure]:
    hot = _hot(place, limits)
    lines = _lines(setup, place, limits, hot)
    ends = np.array([[start for start, _ in lines], [stop for _, stop in lines]])
    fuel_ends = ends[:, :, list(limits.rows)]
    loc, guessed = _loc(limits, hot, ends)
    shape = loc.shape
    line = Line(
        fuel=fuel_ends.sum(axis=2).reshape(2, -1),
        oxygen=ends[:, :, limits.oxygen].reshape(2, -1),
        lower=_sum_shares(fuel_ends, hot.lower).reshape(2, -1),
        upper=_sum_shares(fuel_ends, hot.upper).reshape(2, -1),
        upper_oxygen=_sum_shares(fuel_ends, hot.upper_oxygen).reshape(2, -1),
        loc=loc.reshape(-1),
    )
    lean_share = float(setup.limit(LEAN_SHARE).value[0])
    share = np.where(
        loc >= LOW_LOC, setup.limit(INERT_HIGH).value[0], setup.limit(INERT_LOW).value[0]
    )
    strange = np.zeros(shape, dtype=bool)
    for i in limits.strangers:
        beside = ~(fuel_ends.sum(axis=2).max(axis=0) <= TRACE)
        strange |= ~(ends[:, :, i].max(axis=0) <= TRACE) & beside
    at, ratio = (x.reshape(shape) for x in worst(line))
    at_used, used = (
        x.reshape(shape) for x in worst_allowance(line, lean_share, share.reshape(-1))
    )
    ratio, used = (np.where(strange, np.nan, x) for x in (ratio, used))
    pick, pick_used = _worst_line(ratio), _worst_line(used)

    lean, inert, rich = _three(setup, place, limits, hot, ends, loc, guessed, pick, at)
    ratio_there = np.take_along_axis(ratio, pick[None], 0)[0]
    decisive = np.isnan(ratio_there) | (
        (ratio_there < 1) & (np.fmin(lean.value, rich.value) >= 1)
    )
    plain = inert.revised(inert.value)
    margin = MARGIN(lean=lean, inert=plain, rich=rich)
    status = np.where(decisive, inert.status, np.uint8(0))
    margin = margin.revised(np.where(np.isnan(ratio_there), np.nan, margin.value),
        np.maximum(setup.engine_status, status))  # fmt: skip
    yield setup.measure(FUEL_KIND, lean, place.id)
    yield setup.measure(OXYGEN_KIND, inert, place.id)
    yield setup.measure(RICH_KIND, rich, place.id)
    yield setup.measure(MARGIN_KIND, margin, place.id)

    lean, inert, _ = _three(
        setup, place, limits, hot, ends, loc, guessed, pick_used, at_used, upper=False
    )
    share_there = np.take_along_axis(share, pick_used[None], 0)[0]
    allowance = ALLOWANCE(
        lean=lean,
        lean_share=setup.limit(LEAN_SHARE),
        inert=inert,
        inert_share=Quantity.of(share_there, name="share allowed", source="ruleset limit"),
    )
    used_there = np.take_along_axis(used, pick_used[None], 0)[0]
    # An estimate counts as one only where it is what keeps the share below 1.
    needs_inert = np.isnan(used_there) | ((used_there <= 1) & (lean.value > lean_share))
    yield setup.measure(
        ALLOWANCE_KIND,
        allowance.revised(np.where(np.isnan(used_there), np.nan, allowance.value),
            np.where(needs_inert, allowance.status, setup.engine_status)),
        place.id,
    )  # fmt: skip


def _worst_line(ratio: FloatArray) -> NDArray[np.intp]:
    """Which line is worst in each trial; an unknown one only where no other is inside."""
    ranked = np.where(np.isnan(ratio), 1.0 - 1e-12, ratio)
    return np.asarray(np.argmax(ranked, axis=0))


def _three(
    setup: Setup,
    place: Place,
    limits: Limits,
    hot: _Hot,
    ends: FloatArray,
    loc: FloatArray,
    guessed: NDArray[np.bool_],
    pick: NDArray[np.intp],
    at: FloatArray,
    *,
    upper: bool = True,
) -> tuple[Quantity, Quantity, Quantity]:
    """The three ratios with their working, at the place picked on the line picked."""
    trials = np.arange(pick.size)
    t = at[pick, trials]
    start, end = ends[0][pick, :, trials].T, ends[1][pick, :, trials].T
    mix = start + t * (end - start)
    lowers, uppers, pures = [], [], []
    temperature, pressure = place.hottest, place.pressure
    for n, (row, fuel) in enumerate(zip(limits.rows, limits.fuels, strict=True)):
        x = setup.quantity(mix[row], f"{fuel.name} at {place.id}", "mol/mol", "mixing line")
        low = LOWER_LIMIT(
            L25=_datum(fuel, "lower_limit_air"),
            s=Quantity.of(limits.slope[n], name="fall per kelvin", source="Bulletin 627"),
            T=temperature,
            floor=Quantity.of(0.1, name="least share", source="stated"),
        )
        lowers.append(_present(SHARE(x=x, L=low), mix[row]))
        if not upper:
            continue
        up = UPPER_LIMIT(U25=_datum(fuel, "upper_limit_air"), T=temperature, P=pressure)
        uppers.append(_present(SHARE(x=x, L=up), mix[row]))
        pures.append(np.where(mix[row] > 0, mix[row] / hot.upper_oxygen[n], 0.0))
    fuel_sum = setup.quantity(
        mix[list(limits.rows)].sum(axis=0), f"fuel at {place.id}", "mol/mol", "mixing line"
    )
    oxygen = setup.quantity(mix[limits.oxygen], f"oxygen at {place.id}", "mol/mol", "mixing line")
    lean = TO_LOWER(shares=lowers)
    loc_there, guess_there = loc[pick, trials], guessed[pick, trials]
    limiting = Quantity.of(
        loc_there,
        np.where(guess_there & (mix[limits.oxygen] > TRACE), np.uint8(1), np.uint8(0)),
        name="limiting oxygen when hot",
        unit="mol/mol",
        source="reference data, scaled with temperature",
    )
    inert = _present(TO_LIMITING(o=oxygen, loc=limiting), mix[limits.oxygen])
    alone = loc_there == 0
    inert = _forced(inert, alone)
    if not upper:
        return lean, inert, inert
    mixture = UPPER_OF_MIXTURE(F=fuel_sum, shares=uppers)
    with np.errstate(divide="ignore", invalid="ignore"):
        pure = fuel_sum.value / np.sum(pures, axis=0)
    pure = np.where(np.isnan(pure), 1.0, pure)
    in_oxygen = Quantity.of(
        np.where(fuel_sum.value > 0, np.fmax(pure, mixture.value), 1.0),
        name="upper limit in oxygen",
        unit="mol/mol",
        source="reference data; 1 where unknown",
    )
    rich = TO_UPPER(o=oxygen, U=mixture, Uo=in_oxygen, F=fuel_sum)
    none = fuel_sum.value <= 0
    return lean, inert, _forced(rich, alone | none)


def _present(quantity: Quantity, content: FloatArray) -> Quantity:
    """Nothing present is a ratio of zero whatever the limit, known or not."""
    return quantity.revised(np.where(content <= 0, 0.0, quantity.value),
        np.where(content <= 0, np.uint8(0), quantity.status))  # fmt: skip


def _forced(quantity: Quantity, where: NDArray[np.bool_]) -> Quantity:
    """Infinite where the boundary keeps nothing out."""
    return quantity.revised(np.where(where, np.inf, quantity.value),
        np.where(where, np.uint8(0), quantity.status))  # fmt: skip


def _datum(fuel: Substance, name: str) -> Quantity:
    return Quantity.of_datum(fuel.datum(name), f"{name.replace('_', ' ')} of {fuel.name}")


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    if not limits.fuels:
        return
    for place in setup.places:
        yield from _place_measures(setup, place, limits)


ENVELOPE = Computation(
    kinds=(FUEL_KIND, OXYGEN_KIND, RICH_KIND, MARGIN_KIND, ALLOWANCE_KIND),
    compute=_compute,
    limits=(LEAN_SHARE, INERT_HIGH, INERT_LOW),
)
