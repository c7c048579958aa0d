"""What counts as fuel and as oxygen in the gas at every item and trial.

Fuel is what lies above the share of the lower limit that a purge must reach, oxygen what lies
above the share of the limiting oxygen; both are those of the flammability check.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Quantity, Setup
from review.physics.columns import alike
from review.physics.mixtures import burgess_wheeler_lower, lower_limit_in_noble_gas

from ..shared.dilute import CRACKS, Dilute
from ..shared.fuels import LOW_LOC, TRACE, limits_of, noble_share
from ..shared.names import AFTER_BURN_RISE, INERT_HIGH, INERT_LOW, LEAN_SHARE, STILL

#: Mole fractions by which the gas of two steps is the same.
SAME_GAS = 1e-6
#: Status of what is not known.
MISSING = 3
BALANCE = "balance of the train"
#: What to do where no purge gas comes by an item.
UNSWEPT = 'Nothing flushes {} before its gas comes: give that the same "into" as the purge gas'
LIMITS = (LEAN_SHARE, INERT_HIGH, INERT_LOW, AFTER_BURN_RISE)


class Gases:
    """Compositions (items, species, trials) and what of them burns or oxidises."""

    def __init__(self, setup: Setup) -> None:
        self.setup, self.limits = setup, limits_of(setup.species)
        self._thin = Dilute.of(setup.species, self.limits)
        self.old = setup.stacked("old")
        self.moving = setup.stacked("moving") > 0
        self.hot = setup.stacked("hot")
        exposed = setup.stacked("exposed") > 0
        standing = np.where(exposed[:, None], setup.stacked("drawn_from"), self.old)
        #: What fills the item once the step has settled, or may fill it.
        self.new = np.where(self.moving[:, None], setup.stacked("inlet"), standing)
        self.lean_share = float(setup.limit(LEAN_SHARE).value[0])
        self._shares = [float(setup.limit(name).value[0]) for name in (INERT_HIGH, INERT_LOW)]

    @cached_property
    def elsewhere(self) -> NDArray[np.bool_]:
        """Where gas is more than vapour over a cold liquid that nothing near can light,
        (items, trials); that stands over every solvent and is not purged away."""
        still = {m.at: m.value.reshape(-1) > 0 for m in self.setup.measures(STILL)}
        none = np.zeros(self.setup.trials, dtype=bool)
        return ~np.array([still.get(place.id, none) for place in self.setup.places])

    def held(self) -> FloatArray:
        """The most of each substance that an item, or any upstream whose gas passes it, holds;
        none comes by valves that are shut."""
        passing = np.where(self.moving[:, None], self.old, 0.0)
        comes, found = self.setup.stacked("shut") <= 0, self.old.copy()
        for p in sorted(self.setup.places, key=lambda place: len(place.before)):
            for j in p.upstream:  # what passes there is all that passed before it
                found[p.index] = np.maximum(found[p.index], np.where(comes[p.index], passing[j], 0))
                passing[p.index] = np.maximum(passing[p.index], passing[j])
        return found

    def made(self) -> FloatArray:
        """What leaves once the step has settled: reactions may make a fuel."""
        return np.where(self.moving[:, None], self.setup.stacked("outlet_end"), self.new)

    def fuel_in(self, gas: FloatArray, hot: FloatArray, trials: NDArray[np.bool_]) -> FloatArray:
        """`fuel` in some trials, 0 in all others."""
        found = np.zeros(hot.shape)
        if trials.any():
            found[:, trials] = self.fuel(gas[:, :, trials], hot[:, trials])
        return found

    def fuel(self, gas: FloatArray, hot: FloatArray) -> FloatArray:
        """Fuel over its lower limit, mixtures by Le Chatelier, (items, trials).

        None in gas that burns in no amount of air (ISO 10156), or not in cold air and hot without
        pressure: it is no fuel to purge against.
        """
        total, noble = np.zeros(hot.shape), noble_share(gas, self.limits)
        for n, row in enumerate(self.limits.rows):
            limit = burgess_wheeler_lower(self.limits.lower[n], hot, self.limits.slope[n])
            limit = lower_limit_in_noble_gas(limit, noble)
            total = total + np.where(gas[:, row] <= 0, 0.0, gas[:, row] / limit)
        return np.where(self._dilute(gas, hot), 0.0, total)

    def _dilute(self, gas: FloatArray, hot: FloatArray) -> NDArray[np.bool_]:
        if not self.limits.rows:
            return np.ones(hot.shape, dtype=bool)
        thin, setup = self._thin, self.setup
        cracked = np.zeros(hot.shape, dtype=bool)
        if thin.ammonia.any():  # nothing else cracks
            hottest = np.array([hot[list(p.before)].max(axis=0) for p in setup.places])
            cracked = ~(hottest <= CRACKS)
        most = float(setup.limit(AFTER_BURN_RISE).value[0])
        out = np.ones(hot.shape, dtype=bool)
        # Without fuel it is dilute whatever else it holds.
        where = item, trial = np.nonzero(~(gas[:, list(self.limits.rows)].sum(axis=1) <= TRACE))
        told = (*gas[item, :, trial].T, hot[item, trial], cracked[item, trial])
        first, kind = alike(np.array(told, dtype=np.float64))
        item, trial = item[first], trial[first]
        some = np.ascontiguousarray(gas[item, :, trial].T)
        warm, cracks = hot[item, trial], cracked[item, trial]
        cold = thin.share(some, np.full_like(warm, 298.15), cracks) <= 1
        burnt = thin.rise_in_air(some, setup.fresh_air) <= most
        out[where] = ((thin.share(some, warm, cracks) <= 1) | (cold & burnt))[kind]
        return out

    def burns_quietly(
        self, gases: list[FloatArray], where: NDArray[np.bool_]
    ) -> NDArray[np.bool_]:
        """Where all of these gases warm themselves by burning in air no more than the ruleset lets
        what burns away hot, (items, trials); nowhere but in `where`, nor where it is hot enough to
        light any of them without a catalyst."""
        most = float(self.setup.limit(AFTER_BURN_RISE).value[0])
        lit = np.min(np.nan_to_num(self.limits.autoignition, nan=0.0), initial=np.inf)
        where = where & (self.hot < lit)
        out = np.zeros(where.shape, dtype=bool)
        item, trial = np.nonzero(where)
        if item.size:
            some = np.array([gas[item, :, trial].T for gas in gases])
            rise = self._thin.rise_in_air(some, self.setup.fresh_air)
            out[item, trial] = (rise <= most).all(axis=0)
        return out

    def oxygen(self, gas: FloatArray) -> FloatArray:
        """Oxygen, mole fraction, (items, trials); not known beside another oxidiser."""
        strange = np.zeros(gas.shape[::2], dtype=bool)
        for row in self.limits.strangers:
            strange |= ~(gas[:, row] <= TRACE)
        return np.where(strange & bool(self.limits.rows), np.nan, gas[:, self.limits.oxygen])

    def allowed(
        self, gases: list[FloatArray], hot: FloatArray
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Oxygen that may be left beside the fuels of these gases, and where it is an estimate.

        Infinite where nothing burns; NaN where no figure is known or none exists, because the
        fuel burns without oxygen.
        """
        noble = np.zeros(hot.shape, dtype=bool)
        for row in self.limits.noble:
            noble |= np.any([~(gas[:, row] <= TRACE) for gas in gases], axis=0)
        least, guessed = np.full(hot.shape, np.inf), noble.copy()
        for n, row in enumerate(self.limits.rows):
            present = np.any([~(gas[:, row] <= TRACE) for gas in gases], axis=0)
            cold = self.limits.lower[n]
            scale = burgess_wheeler_lower(cold, hot, self.limits.slope[n]) / cold
            own = np.where(noble, self.limits.loc_noble[n], self.limits.loc[n]) * scale
            least = np.where(present, np.minimum(least, own), least)
            guessed |= present & (self.limits.estimated[n] > 0)
        share = np.where(least >= LOW_LOC, *self._shares)
        return least * share, guessed & np.isfinite(least)

    @cached_property
    def lasts(self) -> FloatArray:
        """How long each trial's own step lasts, (trials,); the plan lasts as long as it is said."""
        cells, runs = self.setup.shape
        paths = ["duration", *(step.duration_path for step in self.setup.steps)]
        each = [
            self.setup.number(path).value.reshape(cells, runs)[c] for c, path in enumerate(paths)
        ]
        return np.array(each).reshape(-1)

    @cached_property
    def cell_before(self) -> NDArray[np.intp]:
        """The step played just before each trial's, as a cell; 0 where there is none.

        A step of no time is not played, and none is before it.
        """
        cells, runs = self.setup.shape
        played = ~(self.lasts.reshape(cells, runs) == 0)
        last, out = np.zeros(runs, dtype=np.intp), np.zeros((cells, runs), dtype=np.intp)
        for cell in range(1, cells):
            out[cell] = np.where(played[cell], last, 0)
            last = np.where(played[cell], cell, last)
        return out.reshape(-1)

    def before(self, array: NDArray[Any]) -> NDArray[Any]:
        """The same array in the step before, (..., trials); without one, of the stated plan."""
        runs = self.setup.shape[1]
        place = self.cell_before * runs + np.arange(self.setup.trials) % runs
        return array[..., place]

    @cached_property
    def brought(self) -> FloatArray:
        """Fuel of what fills the item once the step has settled, as `fuel`."""
        return self.fuel(self.new, self.hot)

    @cached_property
    def purge_before(self) -> FloatArray:
        """1 where the step before brought gas and none of it fuel or oxygen, else 0; NaN unknown.

        What is fuel and how much oxygen is little depends on what was held and on what comes now.
        """
        gas, moving = self.before(self.new), self.before(self.moving)
        allowed, _ = self.allowed([self.before(self.old), gas, self.new], self.before(self.hot))
        fuel, oxygen = self.before(self.brought) / self.lean_share, self.oxygen(gas)
        brings = (fuel > 1) | (oxygen > allowed)
        unknown = np.isnan(fuel) | np.isnan(oxygen) | np.isnan(allowed)
        surely, perhaps = (moving & brings).any(axis=0), (moving & unknown).any(axis=0)
        none = surely | ~moving.any(axis=0) | (self.cell_before == 0)
        return np.where(none, 0.0, np.where(perhaps, np.nan, 1.0))

    def since_purged(self, held: FloatArray) -> FloatArray:
        """What items hold, at its most since purging began: a step that goes on with the purge
        of the step before begins with all that was there, (items, species, trials)."""
        return self._going_on(held, np.maximum)

    def purged_sooner(self, done: FloatArray) -> FloatArray:
        """What the purges just before that a step goes on with have done, (items, trials)."""
        return self._going_on(done, np.add) - done

    @cached_property
    def _goes_on(self) -> NDArray[np.bool_]:
        """Whether the step before purged with the same gas that comes by now, or may have."""
        apart = np.abs(self.new - self.before(self.new)).max(axis=1)
        other = (apart > SAME_GAS) & (self.moving | self.before(self.moving))
        return np.asarray(~(self.purge_before == 0) & ~other.any(axis=0))

    def _going_on(self, array: FloatArray, joined: np.ufunc) -> FloatArray:
        """Each step's joined with those before, as far back as these only purge, (..., trials)."""
        cells, runs = self.setup.shape
        out = array.reshape(*array.shape[:-1], cells, runs).copy()
        goes_on = self._goes_on.reshape(cells, runs)
        last = self.cell_before.reshape(cells, runs)
        for cell in range(1, cells):
            earlier = out[..., last[cell], np.arange(runs)]
            out[..., cell, :] = np.where(
                goes_on[cell], joined(out[..., cell, :], earlier), out[..., cell, :]
            )
        return out.reshape(array.shape)

    def step_quantity(
        self, value: FloatArray, otherwise: float, where: NDArray[np.bool_], name: str, unit: str
    ) -> Quantity:
        """An engine number in some trials; elsewhere a figure that means nothing to judge."""
        known = self.setup.quantity(np.where(where, value, otherwise), name, unit, BALANCE)
        return known.revised(known.value, np.where(where, known.status, np.uint8(0)))

    def in_cell(self, cell: int) -> NDArray[np.bool_]:
        """Which trials belong to a cell."""
        cells, runs = self.setup.shape
        return np.repeat(np.arange(cells) == cell, runs)
