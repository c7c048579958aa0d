"""The flammable envelope at every item and trial.

For each item the worst mixture on all its mixing lines is found; there the three ratios, the
signed margin and the share of the allowance are computed by methods that keep their working.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Measure, Place, Quantity, Setup
from review.physics.mixtures import (
    LIMIT_TEMPERATURE,
    burgess_wheeler_lower,
    burgess_wheeler_upper,
    lower_limit_in_noble_gas,
    upper_limit_in_noble_gas,
)

from ..pressure_buildup.relief import relieved
from .cold_train import (
    FIERCE_VOLUME,
    MOST_VOLUME,
    SCREENED_VOLUME,
    SMALL,
    SMALL_KIND,
    plain,
    small_train,
)
from .dilute import CRACKS, NO_FLAME, Dilute
from .headspace import (
    BEYOND_KIND,
    ELSEWHERE_KIND,
    HEADSPACE,
    HEADSPACE_KIND,
    STILL_KIND,
    Rule,
    apart,
    cold_vapour,
    nowhere,
)
from .limits import (
    GAS,
    LOWER_IN_NOBLE,
    LOWER_LIMIT,
    TRACE,
    UPPER_IN_NOBLE,
    UPPER_LIMIT,
    Limits,
    datum,
    limits_of,
    noble_share,
)
from .mixing import NOTHING, Line, worst, worst_allowance
from .ratios import (
    ALLOWANCE,
    ALLOWANCE_KIND,
    DILUTE_MARGIN,
    FUEL_KIND,
    MARGIN,
    MARGIN_KIND,
    NEAR,
    NEAR_KIND,
    OXYGEN_KIND,
    RICH_KIND,
    RISE,
    RISE_KIND,
    SHARE,
    TO_LIMITING,
    TO_LOWER,
    TO_UPPER,
    UPPER_OF_MIXTURE,
)

LEAN_SHARE, INERT_HIGH, INERT_LOW = (
    "flammability.lean_share",
    "flammability.inert_share_high",
    "flammability.inert_share_low",
)
#: Limiting oxygen below which NFPA 69 asks for the larger distance (from memory).
LOW_LOC = 0.05

#: Pieces that a mixing line is cut into where the share of noble gas changes along it. Each piece
#: takes its richer end, which reads the lower limit at most 4 % too low.
PIECES = 12


#: Share of the lower limit at the hottest surface up to which a gas is lean whatever air it meets.
LEAN_END = 0.4


@dataclass(frozen=True, slots=True)
class _Hot:
    """Limits of the fuels at one item's hottest temperature in air, (fuels, trials)."""

    lower: FloatArray
    upper: FloatArray
    upper_oxygen: FloatArray
    scale: FloatArray

    def of(self, trials: NDArray[np.intp]) -> _Hot:
        """The same in other trials."""
        all_ = (self.lower, self.upper, self.upper_oxygen, self.scale)
        return _Hot(*(x[:, trials] for x in all_))


@dataclass(frozen=True, slots=True)
class _Lines:
    """All mixing lines at one item in every trial, and those pieces of them that may burn.

    Of a line with no fuel or nothing to burn it there is nothing to be found; only the first line
    of each trial always has its pieces.
    """

    setup: Setup
    place: Place
    limits: Limits
    hot: _Hot
    whole: FloatArray
    """(2, lines, species, trials)."""
    line: NDArray[np.intp]
    trial: NDArray[np.intp]
    """Of which line and trial each piece is, (pieces,)."""
    ends: FloatArray
    """(2, species, pieces)."""
    noble: FloatArray
    """Largest share of noble gas of what is not fuel, (pieces,)."""
    loc: FloatArray
    """Limiting oxygen, (pieces,); 0 where no oxygen is needed."""
    guessed: NDArray[np.bool_]
    """Whether that is an estimate."""
    thin: Dilute

    @property
    def cracked(self) -> NDArray[np.bool_]:
        """Where the gas was hot enough for ammonia to crack, (trials,)."""
        setup = self.setup
        before = [setup.places[i].hottest.value for i in self.place.before]
        return np.asarray(~(np.max(before, axis=0) <= CRACKS))

    def dilute(self) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Fuel over what burns in no amount of air, (pieces,), and where it is an estimate.

        Infinite where an end of the line is no such gas.
        """
        share = self.thin.share(self.whole, self.place.hottest.value, self.cracked).max(axis=0)
        share = np.where(share <= 1, share, np.inf)
        guessed = np.asarray(self.thin.doubtful(self.whole).any(axis=0))
        return share[self.line, self.trial], guessed[self.line, self.trial]

    def warming(self) -> tuple[FloatArray, FloatArray]:
        """Heat of the worst mixture on each whole line and its heat capacity.

        Infinite where an end burns in cold air: its flame does not stay where it is hot. Where both
        hold at most 40 % of what burns in air at the hottest surface there is no such flame.
        """
        heat, capacity = self.thin.released(self.whole)
        cold = np.full(heat.shape[-1], LIMIT_TEMPERATURE)
        share = self.thin.share(self.whole, cold, self.cracked).max(axis=0)
        fuel = self.whole[:, :, list(self.limits.rows)]
        noble = self.whole[:, :, list(self.thin.noble)].sum(axis=2)[:, :, None]
        lower = lower_limit_in_noble_gas(self.hot.lower[None], np.clip(noble, 0.0, 1.0))
        lean = _sum_shares(fuel, lower).max(axis=0) <= LEAN_END
        return np.where((share <= 1) | lean, heat, np.inf), capacity

    def flat(self) -> Line:
        """The pieces as the search takes them."""
        fuel = self.ends[:, list(self.limits.rows)]
        hot = self.hot.of(self.trial)
        lower = lower_limit_in_noble_gas(hot.lower, self.noble)
        upper = upper_limit_in_noble_gas(hot.upper, self.noble)
        return Line(
            fuel=fuel.sum(axis=1),
            oxygen=self.ends[:, self.limits.oxygen],
            lower=_sum_shares(fuel, lower),
            upper=_sum_shares(fuel, upper),
            upper_oxygen=_sum_shares(fuel, hot.upper_oxygen),
            loc=self.loc,
        )

    def strange(self) -> NDArray[np.bool_]:
        """Where fuel meets an oxidiser whose limits nobody knows."""
        strange = np.zeros(self.loc.shape, dtype=bool)
        beside = ~(self.ends[:, list(self.limits.rows)].sum(axis=1).max(axis=0) <= TRACE)
        for i in self.limits.strangers:
            strange |= ~(self.ends[:, i].max(axis=0) <= TRACE) & beside
        # Too little of both for any flame.
        return strange & ~(self.thin.with_any_oxidiser(self.ends) <= NO_FLAME)

    def most(self, ratio: FloatArray) -> FloatArray:
        """The largest of the pieces of each trial, (trials,); NaN where one is NaN."""
        order = np.argsort(self.trial, kind="stable")
        first = np.searchsorted(self.trial[order], np.arange(self.setup.trials))
        return np.asarray(np.maximum.reduceat(ratio[order], first))

    def worst(self, ratio: FloatArray) -> NDArray[np.intp]:
        """Which piece is worst in each trial; an unknown one only where no other is inside."""
        ranked = np.where(np.isnan(ratio), 1.0 - 1e-12, ratio)
        largest = np.flatnonzero(ranked == self.most(ranked)[self.trial])
        _, first = np.unique(self.trial[largest], return_index=True)
        return largest[first]


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
    """Limiting oxygen on each piece (pieces,) and whether it is an estimate.

    The most demanding fuel on the piece counts; 0 means that no oxygen is needed. A noble inert at
    either end means that nitrogen's value is not used.
    """
    present = ~(ends[:, list(limits.rows)].max(axis=0) <= TRACE)
    noble = np.zeros(present.shape[1], dtype=bool)
    for i in limits.noble:
        noble |= ~(ends[:, i].max(axis=0) <= TRACE)
    each = np.where(noble, limits.loc_noble[:, None], limits.loc[:, None]) * hot.scale
    each = np.where(limits.alone[:, None] > 0, 0.0, each)
    counted = np.where(present, each, np.inf)
    unknown = np.isnan(counted).any(axis=0)
    least = np.where(np.isnan(counted), np.inf, counted).min(axis=0)
    guessed = np.where(present, limits.estimated[:, None], 0.0).max(axis=0) > 0
    value = np.where(unknown & (least > 0), np.nan, least)
    return value, guessed | noble


def _gases(setup: Setup, place: Place, limits: Limits, hot: _Hot) -> FloatArray:
    """Every mixing line at an item, as its two ends, (2, lines, species, trials).

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
    lines = own + meeting
    return np.array([[start for start, _ in lines], [stop for _, stop in lines]])


def _lines(setup: Setup, place: Place, limits: Limits, thin: Dilute) -> _Lines:
    hot = _hot(place, limits)
    whole = _gases(setup, place, limits, hot)
    line, trial = np.nonzero(_may_burn(whole, limits))
    ends = np.ascontiguousarray(np.moveaxis(whole[:, line, :, trial], 0, -1))
    noble = np.zeros(trial.shape)
    if limits.noble:
        ends, noble, of = _cut(ends, limits)
        line, trial = line[of], trial[of]
    loc = _loc(limits, hot.of(trial), ends)
    return _Lines(setup, place, limits, hot, whole, line, trial, ends, noble, *loc, thin)


def _may_burn(whole: FloatArray, limits: Limits) -> NDArray[np.bool_]:
    """Lines with fuel and what may burn it, (lines, trials), and the first line of all."""
    acts = [limits.oxygen, *limits.strangers]
    acts += [row for row, alone in zip(limits.rows, limits.alone, strict=True) if alone > 0]
    found = ~(whole[:, :, list(limits.rows)].sum(axis=2).max(axis=0) <= NOTHING)
    found &= ~(whole[:, :, acts].max(axis=(0, 2)) <= NOTHING)
    found[0] = True
    return np.asarray(found)


def _cut(ends: FloatArray, limits: Limits) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Lines (2, species, lines) cut into pieces where noble gas comes or goes, the largest share on
    each, and of which line each is a piece."""
    share = noble_share(ends, limits, ends=True)
    burns = ~(ends[:, list(limits.rows)].sum(axis=1).max(axis=0) <= TRACE)
    changes = ~(np.abs(share[1] - share[0]) <= 1e-3) & burns
    start, stop = ends[0][:, changes], ends[1][:, changes]
    edges = [start + n / PIECES * (stop - start) for n in range(PIECES + 1)]
    pieces = [np.array(pair) for pair in zip(edges[:-1], edges[1:], strict=True)]
    ends = np.concatenate([ends[:, :, ~changes], *pieces], axis=2)
    share = np.nan_to_num(noble_share(ends, limits, ends=True), nan=1.0)
    of = np.concatenate([np.flatnonzero(~changes), *[np.flatnonzero(changes)] * PIECES])
    return ends, share.max(axis=0), of


def _place_measures(
    setup: Setup, place: Place, limits: Limits, thin: Dilute, small: Quantity
) -> Iterable[Measure]:
    some, here = setup.distinct(place, GAS, ("old", "outlet", "moving", "hot"))
    lines = _lines(some, here, limits, thin)
    flat, strange = lines.flat(), lines.strange()
    share = np.where(
        lines.loc >= LOW_LOC, setup.limit(INERT_HIGH).value[0], setup.limit(INERT_LOW).value[0]
    )
    dilute = lines.dilute()
    at, ratio = worst(flat)
    ratio = _or_dilute(np.where(strange, np.nan, ratio), DILUTE_MARGIN * dilute[0])
    lean, inert, rich, margin = _envelope(lines, at, ratio, dilute)
    margin = _told(lines, strange, margin)
    highest = some.over_all(lines.whole.max(axis=(0, 1)))
    still = cold_vapour(setup, place, limits, highest, some.over_all(margin.value))
    kinds = (FUEL_KIND, OXYGEN_KIND, RICH_KIND, MARGIN_KIND)
    for kind, found in zip(kinds, (lean, inert, rich, margin), strict=True):
        yield some.measure(kind, found, place.id)
    lean_share = float(setup.limit(LEAN_SHARE).value[0])
    at, used = worst_allowance(flat, lean_share, share)
    used = _or_dilute(np.where(strange, np.nan, used), dilute[0])
    allowance = _told(lines, strange, _allowance(lines, at, used, share, dilute))
    yield some.measure(ALLOWANCE_KIND, allowance, place.id)
    pressed = relieved(setup, place)[0].value
    made_here = np.where(plain(limits, highest, pressed), small.value, 0.0)
    rules = [
        Rule(HEADSPACE_KIND, HEADSPACE, still),
        Rule(SMALL_KIND, SMALL, small.revised(made_here, small.status)),
    ]
    yield from apart(setup, place, rules, some.spread(margin), some.spread(allowance))
    yield from _near(lines, flat, strange)


def _told(lines: _Lines, strange: NDArray[np.bool_], found: Quantity) -> Quantity:
    """What is missing for an oxidiser that no limits are published with, said by its name."""
    if not strange.any():
        return found
    there = [i for i in lines.limits.strangers if not (lines.whole[:, :, i] <= TRACE).all()]
    names = " and ".join(lines.setup.species[i].name for i in there)
    name = f"how fuels burn with {names}"
    told = Quantity.of(found.value, found.status, name=name, unit=found.unit, source=name)
    return told.comparing(found.compared)


def _or_dilute(ratio: FloatArray, dilute: FloatArray) -> FloatArray:
    return np.where(np.isfinite(dilute), np.fmin(ratio, dilute), ratio)


def _near(lines: _Lines, flat: Line, strange: NDArray[np.bool_]) -> Iterable[Measure]:
    """How near the mixtures here come to burning, rich gas included, and what burning does."""
    setup, place = lines.setup, lines.place
    _, ratio = worst_allowance(flat, 1.0, np.ones_like(flat.loc))
    ratio = np.where(strange, np.nan, ratio)
    near = lines.most(np.where(np.isnan(ratio), np.inf, ratio))
    near = np.where(np.isinf(near), np.nan, near)
    mixture = setup.quantity(near, f"worst mixture at {place.id}", "1", "mixing lines")
    yield setup.measure(NEAR_KIND, NEAR(mixture=mixture), place.id)
    heat, capacity = lines.warming()
    most = np.where(np.isnan(heat), np.inf, heat / capacity).argmax(axis=0)[None]
    rise = RISE(
        H=setup.quantity(
            np.take_along_axis(heat, most, 0)[0], f"heat at {place.id}", "J/mol", "mixing lines"
        ),
        cp=setup.quantity(
            np.take_along_axis(capacity, most, 0)[0], "heat capacity", "J/(mol K)", "stated"
        ),
    )
    yield setup.measure(RISE_KIND, rise, place.id)


Thin = tuple[FloatArray, NDArray[np.bool_]]


def _envelope(
    lines: _Lines, at: FloatArray, ratio: FloatArray, dilute: Thin
) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    setup, pick = lines.setup, lines.worst(ratio)
    lean, inert, rich = _three(lines, pick, at)
    there, thin = ratio[pick], _at_piece(dilute, pick)
    decisive = np.isnan(there) | ((there < 1) & (np.fmin(lean.value, rich.value) >= 1))
    margin = MARGIN(lean=lean, inert=inert.revised(inert.value), rich=rich, dilute=thin)
    margin = margin.comparing(lean.compared)
    by_dilution = there >= DILUTE_MARGIN * thin.value
    status = np.where(decisive & ~by_dilution, inert.status, np.uint8(0))
    status = np.where(by_dilution, thin.status, status)
    margin = margin.revised(np.where(np.isnan(there), np.nan, margin.value),
        np.maximum(setup.engine_status, status))  # fmt: skip
    return lean, inert, rich, margin


def _at_piece(dilute: Thin, pick: NDArray[np.intp]) -> Quantity:
    share, guessed = (x[pick] for x in dilute)
    return Quantity.of(
        share,
        np.where(guessed & np.isfinite(share), np.uint8(1), np.uint8(0)),
        name="fuel over what burns in no amount of air",
        source="ISO 10156; from the limits where it lists none",
    )


def _allowance(
    lines: _Lines, at: FloatArray, used: FloatArray, share: FloatArray, dilute: Thin
) -> Quantity:
    setup, pick = lines.setup, lines.worst(used)
    lean, inert, _ = _three(lines, pick, at, upper=False)
    thin, share_there = _at_piece(dilute, pick), share[pick]
    allowance = ALLOWANCE(
        lean=lean,
        lean_share=setup.limit(LEAN_SHARE),
        inert=inert,
        inert_share=Quantity.of(share_there, name="share allowed", source="ruleset limit"),
        dilute=thin,
    )
    there = used[pick]
    # An estimate counts as one only where it is what keeps the share below 1.
    needs_inert = np.isnan(there) | (
        (there <= 1) & ~(lean.value <= setup.limit(LEAN_SHARE).value[0])
    )
    by_dilution = there >= thin.value
    needed = np.where(by_dilution, np.maximum(thin.status, setup.engine_status), allowance.status)
    least = lean.compared
    if least is not None:
        held = least.edge * setup.limit(LEAN_SHARE).value
        allowance = allowance.made_of(least.value, held, "mol/mol", "%", least.what)
    return allowance.revised(
        np.where(np.isnan(there), np.nan, allowance.value),
        np.where(needs_inert, needed, setup.engine_status),
    )


def _three(
    lines: _Lines, pick: NDArray[np.intp], at: FloatArray, *, upper: bool = True
) -> tuple[Quantity, Quantity, Quantity]:
    """The three ratios with their working, at the place picked on the line picked."""
    setup, place, limits = lines.setup, lines.place, lines.limits
    start, end = lines.ends[0][:, pick], lines.ends[1][:, pick]
    mix = start + at[pick] * (end - start)
    noble = Quantity.of(
        lines.noble[pick], name="share of noble gas", unit="1", source="mixing line"
    )
    lowers = []
    for n, (row, fuel) in enumerate(zip(limits.rows, limits.fuels, strict=True)):
        x = setup.quantity(mix[row], f"{fuel.name} at {place.id}", "mol/mol", "mixing line")
        low = LOWER_LIMIT(
            L25=datum(fuel, "lower_limit_air"),
            s=Quantity.of(limits.slope[n], name="fall per kelvin", source=limits.slope_from[n]),
            T=place.hottest,
            floor=Quantity.of(0.1, name="least share", source="stated"),
        )
        low = LOWER_IN_NOBLE(L=low, n=noble) if limits.noble else low
        lowers.append(_present(SHARE(x=x, L=low), mix[row]))
    oxygen = setup.quantity(mix[limits.oxygen], f"oxygen at {place.id}", "mol/mol", "mixing line")
    fuels = mix[list(limits.rows)].sum(axis=0)
    lean = TO_LOWER(shares=lowers)
    with np.errstate(all="ignore"):
        # All fuels together against the lower limit of their mixture.
        lean = lean.made_of(
            fuels, fuels / lean.value, "mol/mol", "%", _fuels_named(lines), place.hottest.value
        )
    loc_there, guess_there = lines.loc[pick], lines.guessed[pick]
    limiting = Quantity.of(
        loc_there,
        np.where(guess_there & ~(mix[limits.oxygen] <= TRACE), np.uint8(1), np.uint8(0)),
        name="limiting oxygen when hot",
        unit="mol/mol",
        source="reference data, scaled with temperature",
    )
    inert = _present(TO_LIMITING(o=oxygen, loc=limiting), mix[limits.oxygen])
    inert = inert.made_of(mix[limits.oxygen], loc_there, "mol/mol", "%", "oxygen")
    alone = loc_there == 0
    inert = _forced(inert, alone)
    if not upper:
        return lean, inert, inert
    return lean, inert, _rich(lines, mix, noble, oxygen, alone)


def _fuels_named(lines: _Lines) -> str:
    """The fuels that there can be, in words."""
    fuel = lines.whole[:, :, list(lines.limits.rows)]
    there = ~(fuel.max(axis=(0, 1)) <= TRACE).all(axis=1)
    names = [fuel.name for fuel, any_ in zip(lines.limits.fuels, there, strict=True) if any_]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _rich(
    lines: _Lines, mix: FloatArray, noble: Quantity, oxygen: Quantity, alone: NDArray[np.bool_]
) -> Quantity:
    """Upper boundary over fuel, at one mixture of every trial."""
    setup, place, limits = lines.setup, lines.place, lines.limits
    fuel = setup.quantity(
        mix[list(limits.rows)].sum(axis=0), f"fuel at {place.id}", "mol/mol", "mixing line"
    )
    uppers, pures = [], []
    for n, (row, substance) in enumerate(zip(limits.rows, limits.fuels, strict=True)):
        x = setup.quantity(mix[row], f"{substance.name} at {place.id}", "mol/mol", "mixing line")
        up = UPPER_LIMIT(U25=datum(substance, "upper_limit_air"), T=place.hottest, P=place.pressure)
        up = UPPER_IN_NOBLE(U=up, n=noble) if limits.noble else up
        uppers.append(_present(SHARE(x=x, L=up), mix[row]))
        pures.append(np.where(mix[row] <= 0, 0.0, mix[row] / lines.hot.upper_oxygen[n]))
    mixture = UPPER_OF_MIXTURE(F=fuel, shares=uppers)
    with np.errstate(divide="ignore", invalid="ignore"):
        pure = fuel.value / np.sum(pures, axis=0)
    pure = np.where(np.isnan(pure), 1.0, pure)
    in_oxygen = Quantity.of(
        np.where(fuel.value > 0, np.fmax(pure, mixture.value), 1.0),
        name="upper limit in oxygen",
        unit="mol/mol",
        source="reference data; 1 where unknown",
    )
    rich = TO_UPPER(o=oxygen, U=mixture, Uo=in_oxygen, F=fuel)
    return _forced(rich, alone | (fuel.value <= 0))


def _present(quantity: Quantity, content: FloatArray) -> Quantity:
    """Nothing present is a ratio of zero whatever the limit, known or not."""
    return quantity.revised(np.where(content <= 0, 0.0, quantity.value),
        np.where(content <= 0, np.uint8(0), quantity.status))  # fmt: skip


def _forced(quantity: Quantity, where: NDArray[np.bool_]) -> Quantity:
    """Infinite where the boundary keeps nothing out."""
    return quantity.revised(np.where(where, np.inf, quantity.value),
        np.where(where, np.uint8(0), quantity.status))  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    if not limits.fuels:
        return
    thin = Dilute.of(setup.species, limits)
    small = small_train(setup, limits)
    found = [m for p in setup.places for m in _place_measures(setup, p, limits, thin, small)]
    yield from found
    kinds = {m.kind for m in found}
    if HEADSPACE_KIND.id not in kinds:
        why = "no liquid that burns stands cold, led into a hood, with nothing near to light it"
        yield nowhere(setup, HEADSPACE_KIND, why)
    if SMALL_KIND.id not in kinds:
        why = "no gas that burns is made in a small cold train with nothing near to light it"
        yield nowhere(setup, SMALL_KIND, why)


ENVELOPE = Computation(
    kinds=(
        FUEL_KIND,
        OXYGEN_KIND,
        RICH_KIND,
        MARGIN_KIND,
        ALLOWANCE_KIND,
        ELSEWHERE_KIND,
        HEADSPACE_KIND,
        SMALL_KIND,
        BEYOND_KIND,
        STILL_KIND,
        NEAR_KIND,
        RISE_KIND,
    ),
    compute=_compute,
    limits=(LEAN_SHARE, INERT_HIGH, INERT_LOW, MOST_VOLUME, FIERCE_VOLUME, SCREENED_VOLUME),
)
