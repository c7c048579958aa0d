"""The mixing lines of gas at an item, cut into pieces and held against the limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Place, Setup
from review.physics.mixtures import (
    LIMIT_TEMPERATURE,
    burgess_wheeler_lower,
    burgess_wheeler_upper,
    lower_limit_in_noble_gas,
    upper_limit_in_noble_gas,
)

from ..shared.dilute import NO_FLAME, Dilute
from ..shared.fuels import (
    LOW_LOC,
    TRACE,
    Limits,
    noble_share,
)
from .mixing import NOTHING, Line

#: Share of the lower limit at the hottest surface up to which a gas is lean whatever air it meets.
LEAN_END = 0.4


#: Pieces that a mixing line is cut into where the share of noble gas changes along it. Each piece
#: takes its richer end, which reads the lower limit at most 4 % too low.
PIECES = 12


@dataclass(frozen=True, slots=True)
class Hot:
    """Limits of the fuels at one item's hottest temperature in air, (fuels, trials)."""

    lower: FloatArray
    upper: FloatArray
    upper_oxygen: FloatArray
    scale: FloatArray

    def of(self, trials: NDArray[np.intp]) -> Hot:
        """The same in other trials."""
        all_ = (self.lower, self.upper, self.upper_oxygen, self.scale)
        return Hot(*(x[:, trials] for x in all_))


@dataclass(frozen=True, slots=True)
class Between:
    """Lines in every trial, each from one of several gases to another of them.

    What is asked of a gas is worked out once, however many lines it is an end of.
    """

    gases: FloatArray
    """(gases, species, trials)."""
    one: NDArray[np.intp]
    """Which gas each line begins at, (lines,)."""
    other: NDArray[np.intp]

    @classmethod
    def of(cls, lines: Sequence[tuple[FloatArray, FloatArray]]) -> Between:
        """Between the ends of lines, (species, trials) each; the same array is the same gas."""
        gases = {id(end): end for line in lines for end in line}
        number = {key: n for n, key in enumerate(gases)}
        one, other = ([number[id(line[n])] for line in lines] for n in (0, 1))
        return cls(np.array(list(gases.values())), np.array(one), np.array(other))

    def most(self, each: FloatArray) -> FloatArray:
        """The larger of what is at both ends of every line, (lines, ...), of each gas's."""
        return np.asarray(np.maximum(each[self.one], each[self.other]))

    def both(self, each: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Whether it is so of each line at both of its ends."""
        return np.asarray(each[self.one] & each[self.other])

    def ends(self, line: NDArray[np.intp], trial: NDArray[np.intp]) -> FloatArray:
        """Both ends of some of the lines, each in one trial, (2, species, chosen)."""
        found = np.empty((2, self.gases.shape[1], line.size))
        for n, gas in enumerate((self.one[line], self.other[line])):
            for row in range(self.gases.shape[1]):
                found[n, row] = self.gases[gas, row, trial]
        return found


@dataclass(frozen=True, slots=True)
class Lines:
    """All mixing lines at one item in every trial, and those pieces of them that may burn.

    Of a line with no fuel or nothing to burn it there is nothing to be found; only the first line
    of each trial always has its pieces.
    """

    setup: Setup
    place: Place
    limits: Limits
    hot: Hot
    whole: Between
    trial: NDArray[np.intp]
    """Of which trial each piece is, (pieces,)."""
    ends: FloatArray
    """(2, species, pieces)."""
    noble: FloatArray
    """Largest share of noble gas of what is not fuel, (pieces,)."""
    loc: FloatArray
    """Limiting oxygen, (pieces,); 0 where no oxygen is needed."""
    guessed: NDArray[np.bool_]
    """Whether that is an estimate."""
    uncut: FloatArray
    """Ends of the lines that may burn, (2, species, such lines)."""
    of: NDArray[np.intp]
    """Which of these each piece is of, (pieces,)."""
    thin: Dilute
    order: NDArray[np.intp]
    """The pieces trial by trial, those of one trial in their order."""
    first: NDArray[np.intp]
    """Where in that order each trial begins, (trials,)."""

    @property
    def cracked(self) -> NDArray[np.bool_]:
        """See `Dilute.cracked`."""
        return self.thin.cracked(self.setup, self.place)

    def dilute(self) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Fuel over what burns in no amount of air, (pieces,), and where it is an estimate.

        Infinite where an end of the line is no such gas.
        """
        trial = np.empty(self.uncut.shape[-1], dtype=np.intp)
        trial[self.of] = self.trial
        hot, cracked = self.place.hottest.value[trial], self.cracked[trial]
        share = self.thin.share(self.uncut, hot, cracked).max(axis=0)
        share = np.where(share <= 1, share, np.inf)
        guessed = np.asarray(self.thin.doubtful(self.uncut).any(axis=0))
        return share[self.of], guessed[self.of]

    def burns_away(self, most: float) -> FloatArray:
        """Of gas that burns in no amount of cold air, and hot warms itself by at most `most` K in
        any: fuel over what burns in no cold air, (pieces,); else infinite.

        Hot it burns away without pressure; EN 746-3 asks for no purge before it.
        """
        trial = np.empty(self.uncut.shape[-1], dtype=np.intp)
        trial[self.of] = self.trial
        cold = np.full(trial.shape, LIMIT_TEMPERATURE)
        share = self.thin.share(self.uncut, cold, self.cracked[trial]).max(axis=0)
        heat, capacity = self.thin.released(self.thin.parts(self.uncut), 0, 1)
        away = (share <= 1) & (heat <= most * capacity)
        return np.asarray(np.where(away, share, np.inf)[self.of])

    def warming(self) -> tuple[FloatArray, FloatArray]:
        """Heat of the worst mixture on each whole line and its heat capacity.

        Infinite where an end burns in cold air: its flame does not stay where it is hot. Where both
        hold at most 40 % of what burns in air at the hottest surface there is no such flame.
        """
        whole, gases, parts = self.whole, self.whole.gases, self.thin.parts(self.whole.gases)
        cold = np.full(gases.shape[-1], LIMIT_TEMPERATURE)
        lower = lower_limit_in_noble_gas(
            self.hot.lower, np.clip(parts.noble, 0.0, 1.0)[:, None]
        )
        stays = whole.both(self.thin.share(gases, cold, self.cracked) <= 1)
        stays |= whole.both(sum_shares(gases[:, list(self.limits.rows)], lower) <= LEAN_END)
        heat, capacity = self.thin.released(parts, whole.one, whole.other)
        return np.where(stays, heat, np.inf), capacity

    def flat(self) -> Line:
        """The pieces as the search takes them."""
        fuel = self.ends[:, list(self.limits.rows)]
        hot = self.hot.of(self.trial)
        lower = lower_limit_in_noble_gas(hot.lower, self.noble)
        upper = upper_limit_in_noble_gas(hot.upper, self.noble)
        return Line(
            fuel=fuel.sum(axis=1),
            oxygen=self.ends[:, self.limits.oxygen],
            lower=sum_shares(fuel, lower),
            upper=sum_shares(fuel, upper),
            upper_oxygen=sum_shares(fuel, hot.upper_oxygen),
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
        return np.asarray(np.maximum.reduceat(ratio[self.order], self.first))

    def worst(self, ratio: FloatArray) -> NDArray[np.intp]:
        """Which piece is worst in each trial; an unknown one only where no other is inside."""
        ranked = np.where(np.isnan(ratio), 1.0 - 1e-12, ratio)
        trial = self.trial[self.order]
        largest = np.flatnonzero(ranked[self.order] == self.most(ranked)[trial])
        return np.asarray(self.order[largest[np.diff(trial[largest], prepend=-1) != 0]])


def hot_at(place: Place, limits: Limits) -> Hot:
    t, p = place.hottest.value, place.pressure.value
    lower = burgess_wheeler_lower(limits.lower[:, None], t, limits.slope[:, None])
    rise = np.maximum(0.206 * np.log10(np.maximum(p, 1e5) / 1e5), 0.0)
    upper = np.minimum(burgess_wheeler_upper(limits.upper[:, None], t) + rise, 1.0)
    pure = np.minimum(burgess_wheeler_upper(limits.upper_oxygen[:, None], t) + rise, 1.0)
    return Hot(lower, upper, pure, lower / limits.lower[:, None])


def sum_shares(fuel: FloatArray, limit: FloatArray) -> FloatArray:
    return np.asarray(np.where(fuel <= 0, 0.0, fuel / limit).sum(axis=-2))


def limiting_oxygen_at(
    limits: Limits, hot: Hot, ends: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
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


def gases_at(
    setup: Setup, place: Place, limits: Limits, hot: Hot, *, every: bool = False
) -> Between:
    """Every mixing line at an item.

    Of the gases that come from upstream up to three count each; of more in a trial three stand for
    all: the one with most fuel, the one with most oxygen, and the one that is nearest to burning by
    itself, and with other oxidisers the one with most of them. They meet each other, the old gas
    and the new; with `every` gas, so do all that come from upstream.
    """
    own = [(start, stop) for _, start, stop in setup.segments(place)]
    passing = setup.passing(place)
    old, new = own[0]
    more = [(gas, end) for gas in passing for end in (old, new)] if every else []
    if len(passing) <= 3:
        more = []
    else:
        gases = np.array(passing)
        fuel = sum_shares(gases[:, list(limits.rows)], hot.lower)
        oxygen = gases[:, limits.oxygen]
        both = np.minimum(fuel, oxygen / np.nanmin(np.append(limits.loc_noble, LOW_LOC)))
        most = [fuel, oxygen, both]
        if limits.strangers:
            most.append(gases[:, list(limits.strangers)].sum(axis=1))
        # What is not known stands first, so that it is not lost.
        picks = [np.where(np.isnan(x), np.inf, x).argmax(axis=0) for x in most]
        few, each = _told_apart(gases, old)
        picks[:3] = [np.where(few, own, pick) for own, pick in zip(each, picks[:3], strict=True)]
        passing = [np.take_along_axis(gases, pick[None, None], axis=0)[0] for pick in picks]
    meeting = [(gas, end) for gas in passing for end in (old, new)]
    meeting += [(a, b) for n, a in enumerate(passing) for b in passing[:n]]
    return Between.of(own + meeting + more)


def _told_apart(
    gases: FloatArray, old: FloatArray
) -> tuple[NDArray[np.bool_], list[NDArray[np.intp]]]:
    """Trials with at most three different gases of all (gases, species, trials) besides the old
    one, and which these are in each; where there are fewer another stands for them."""
    marks = np.arange(1.0, gases.shape[1] + 1) ** 0.5
    keys = np.einsum("s,gst->gt", marks, np.nan_to_num(gases, nan=-1.0))
    same = (gases == old).all(axis=1)
    keys = np.where(same, -np.inf, keys)
    order = np.argsort(keys, axis=0, kind="stable")
    keys = np.take_along_axis(keys, order, axis=0)
    nth = np.cumsum(np.vstack([np.ones_like(keys[:1]), keys[1:] != keys[:-1]]), axis=0)
    known = same.any(axis=0)
    first = [(nth == n + known).argmax(axis=0) for n in (1, 2, 3)]
    each = [np.take_along_axis(order, at[None], axis=0)[0] for at in first]
    return nth[-1] - known <= 3, each


def lines_at(setup: Setup, place: Place, limits: Limits, thin: Dilute) -> Lines:
    hot = hot_at(place, limits)
    whole = gases_at(setup, place, limits, hot)
    line, trial = np.nonzero(may_burn(whole, limits))
    uncut = whole.ends(line, trial)
    ends, noble, of = uncut, np.zeros(trial.shape), np.arange(trial.size)
    if limits.noble:
        ends, noble, of = cut(uncut, limits)
        trial = trial[of]
    loc = limiting_oxygen_at(limits, hot.of(trial), ends)
    order = np.argsort(trial, kind="stable")
    first = np.searchsorted(trial[order], np.arange(setup.trials))
    return Lines(
        setup, place, limits, hot, whole, trial, ends, noble, *loc, uncut, of, thin, order, first
    )


def may_burn(whole: Between, limits: Limits) -> NDArray[np.bool_]:
    """Lines with fuel and what may burn it, (lines, trials), and the first line of all."""
    acts = [limits.oxygen, *limits.strangers]
    acts += [row for row, alone in zip(limits.rows, limits.alone, strict=True) if alone > 0]
    fuel = whole.gases[:, list(limits.rows)].sum(axis=1)
    found = ~(whole.most(fuel) <= NOTHING)
    found &= ~(whole.most(whole.gases[:, acts].max(axis=1)) <= NOTHING)
    found[0] = True
    return np.asarray(found)


def cut(ends: FloatArray, limits: Limits) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Lines (2, species, lines) cut into pieces where noble gas comes or goes, the largest share on
    each, and of which line each is a piece."""
    share = noble_share(ends, limits, ends=True)
    burns = ~(ends[:, list(limits.rows)].sum(axis=1).max(axis=0) <= TRACE)
    changes = ~(np.abs(share[1] - share[0]) <= 1e-3) & burns
    whole, many = np.flatnonzero(~changes), np.flatnonzero(changes)
    of = [whole, many, *[many[~_nothing_burns(ends[:, :, many], limits)]] * (PIECES - 1)]
    pieces = [ends[:, :, whole]]
    for n, lines in enumerate(of[1:]):
        start, stop = ends[:, :, lines]
        pieces.append(np.array([start + m / PIECES * (stop - start) for m in (n, n + 1)]))
    ends = np.concatenate(pieces, axis=2)
    share = np.nan_to_num(noble_share(ends, limits, ends=True), nan=1.0)
    return ends, share.max(axis=0), np.concatenate(of)


def _nothing_burns(ends: FloatArray, limits: Limits) -> NDArray[np.bool_]:
    """Lines (2, species, lines) on which nothing that oxidises can be: on all pieces of such a line
    every ratio is zero, so that its first piece stands for all."""
    if (limits.alone > 0).any() or (limits.loc == 0).any() or (limits.loc_noble == 0).any():
        return np.zeros(ends.shape[-1], dtype=bool)
    acts = ends[:, [limits.oxygen, *limits.strangers]].max(axis=(0, 1))
    return np.asarray(acts <= NOTHING / 2)
