"""Gas too dilute to burn, whatever air it meets, and how warm it gets where it burns all the same.

A gas that ISO 10156 calls not flammable in air stays so with any amount of air: it is no fuel to
purge against. The standard's figures hold at room temperature; for a hot item they fall as the
lower limit does, and ammonia that was hot counts as the hydrogen it may have become. Gas with an
oxidiser of its own is judged without the air that is in it; more oxygen than air brings, another
oxidiser, fuels that light by themselves, and those that need no oxygen and have no figure in the
standard are never dilute.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Place, Setup, Substance
from review.physics.mixtures import OXYGEN_IN_AIR, burgess_wheeler_lower

from .fuels import NOBLE, TRACE, Limits

#: Ammonia that was hotter than this, K, may have become nitrogen and hydrogen (common practice,
#: no source: it cracks over metals and oxides from about 400 degC); one mole gives 1.5 of hydrogen,
#: of which 5.5 % do not burn.
CRACKS, CRACKED = 673.15, 0.055 / 1.5

#: Heat capacities of a noble gas and of nitrogen at 25 degC, J/(mol K); hot nitrogen has more.
NOBLE_HEAT, AIR_HEAT = 20.786, 29.1

#: What the decomposition of an oxidiser itself may add, J/mol: ozone 143, nitric oxide 90, nitrous
#: oxide 82, nitrogen dioxide 33 kJ/mol (heats of formation, CODATA, from memory).
OXIDISER_HEAT = 150e3
#: Most that a fuel that burns without oxygen releases as it decomposes, J/mol: cyanogen 309,
#: acetylene 227 kJ/mol (heats of formation, CRC Handbook, from memory).
OWN_HEAT = 310e3
#: A gas whose fuel and oxidiser cannot warm it by more, K, carries no flame with any oxidiser: the
#: leanest flames known, of hydrogen going upwards, are 330 K hotter than their gas (4 % in air).
NO_FLAME = 300.0


#: Which of several gases: one number, or one for every line.
At = int | NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Burning:
    """Of several gases, (gases, ..., trials), what the burning of their mixtures depends on."""

    there: NDArray[np.bool_]
    """Whether each fuel is, (gases, ..., fuels, trials)."""
    heat: FloatArray
    """That all fuel releases, J/mol."""
    oxygen: FloatArray
    noble: FloatArray
    alone: FloatArray
    """Fuels that burn without oxygen, (gases, ..., such fuels, trials)."""


@dataclass(frozen=True, slots=True)
class Dilute:
    """Figures of the substances that can be in the gas; arrays over fuels or over all species."""

    limits: Limits
    tci: FloatArray
    """Highest content of each fuel in nitrogen that is not flammable in air, (fuels,)."""
    guessed: NDArray[np.bool_]
    ammonia: NDArray[np.bool_]
    strength: FloatArray
    """Nitrogen equivalents of every substance; 0 of fuels and oxidisers, (species,)."""
    nitrogen: int
    heat: FloatArray
    """Heat of combustion, J/mol, (fuels,)."""
    demand: FloatArray
    never: tuple[int, ...]
    """Rows of fuels that burn without oxygen or light by themselves."""
    unlisted: tuple[int, ...]
    """Those of them that light by themselves or that the standard has no figure for."""
    noble: tuple[int, ...]

    @classmethod
    def of(cls, species: tuple[Substance, ...], limits: Limits) -> Dilute:
        """From the reference data of everything that can be in the gas."""
        names, fuels = [s.name for s in species], limits.fuels
        listed = np.array([_number(f, "iso10156_tci") for f in fuels])
        enough = np.where(limits.alone > 0, 0.0, limits.loc / OXYGEN_IN_AIR)
        strength = np.array([_strength(s) for s in species])
        strength[[*limits.rows, *limits.strangers, limits.oxygen]] = 0.0
        return cls(
            limits=limits,
            tci=np.where(np.isnan(listed), limits.lower / (1 - enough), listed),
            guessed=np.isnan(listed),
            ammonia=np.array([f.name == "ammonia" for f in fuels], dtype=bool),
            strength=strength,
            nitrogen=names.index("nitrogen") if "nitrogen" in names else -1,
            heat=np.array([_number(f, "heat_of_combustion") for f in fuels]),
            demand=np.array([_number(f, "oxygen_demand") for f in fuels]),
            never=tuple(
                row
                for row, f in zip(limits.rows, fuels, strict=True)
                if f.burns_without_oxygen or f.pyrophoric
            ),
            unlisted=tuple(
                row
                for row, f, x in zip(limits.rows, fuels, listed, strict=True)
                if f.pyrophoric or (f.burns_without_oxygen and np.isnan(x))
            ),
            noble=tuple(i for i, n in enumerate(names) if n in NOBLE),
        )

    def cracked(self, setup: Setup, place: Place) -> NDArray[np.bool_]:
        """Where the gas at a place was hot enough for ammonia to crack, (trials,); nowhere without
        ammonia."""
        if not self.ammonia.any():
            return np.zeros(setup.trials, dtype=bool)
        before = [setup.places[i].hottest.value for i in place.before]
        return np.asarray(~(np.max(before, axis=0) <= CRACKS))

    def threshold(self, hot: FloatArray, cracked: NDArray[np.bool_]) -> FloatArray:
        """`tci` of each fuel at a temperature, (fuels, trials)."""
        cold = np.where(self.ammonia[:, None] & cracked, CRACKED, self.tci[:, None])
        slope = self.limits.slope[:, None]
        return np.asarray(cold * burgess_wheeler_lower(1.0, hot[None], slope))

    def share(self, gas: FloatArray, hot: FloatArray, cracked: NDArray[np.bool_]) -> FloatArray:
        """Fuel of a gas over what does not burn in air; up to 1 it never does with air.

        r = sum(A / Tc) / (sum A + sum K B), with the nitrogen that belongs to the oxygen in it left
        out of B, since it is air already.

        gas (..., species, trials), hot K (trials,), cracked (trials,). Result (..., trials): 0
        without fuel, infinite where the standard's rule does not hold, NaN not known.

        Source: [1] ISO 10156, method by calculation; a mixture with air of what does not burn with
        any amount of air does not burn either.
        """
        return self.shares(gas)(hot, cracked)

    def shares(
        self, gas: FloatArray
    ) -> Callable[[FloatArray, NDArray[np.bool_]], FloatArray]:
        """`share` of one gas, to be asked at many temperatures."""
        fuel = gas[..., list(self.limits.rows), :]
        oxygen = gas[..., self.limits.oxygen, :]
        inert = (gas * self.strength[:, None]).sum(axis=-2)
        inert = inert - oxygen * (1 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR
        counts = fuel.sum(axis=-2) + np.maximum(inert, 0.0)
        excess = oxygen / OXYGEN_IN_AIR * (1 - OXYGEN_IN_AIR) - gas[..., self.nitrogen, :]
        out = ~(excess <= TRACE)
        for row in (*self.limits.strangers, *self.unlisted):
            out |= ~(gas[..., row, :] <= TRACE)
        burns = ~(fuel.sum(axis=-2) <= TRACE)

        def share(hot: FloatArray, cracked: NDArray[np.bool_]) -> FloatArray:
            limit = self.threshold(hot, cracked)
            parts = np.where(fuel <= 0, 0.0, fuel / limit).sum(axis=-2)
            ratio = parts / counts
            return np.asarray(np.where(burns, np.where(out, np.inf, ratio), 0.0))

        return share

    def doubtful(self, gas: FloatArray) -> NDArray[np.bool_]:
        """Where a fuel that is there has no listed figure, (..., trials)."""
        rows = [row for row, no in zip(self.limits.rows, self.guessed, strict=True) if no]
        return np.asarray((~(gas[..., rows, :] <= TRACE)).any(axis=-2))

    def parts(self, gas: FloatArray) -> Burning:
        """What counts of gases (gases, ..., species, trials) on the lines between them."""
        fuel = gas[..., list(self.limits.rows), :]
        return Burning(
            there=~(fuel <= TRACE),
            heat=np.where(fuel <= 0, 0.0, fuel * self.heat[:, None]).sum(axis=-2),
            oxygen=gas[..., self.limits.oxygen, :],
            noble=gas[..., list(self.noble), :].sum(axis=-2),
            alone=gas[..., list(self.never), :],
        )

    def burnt(self, gas: Burning, one: At, other: At) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The mixture on a line that releases most heat: heat, J/mol; oxygen used; noble gas.

        max over the line of min(sum x h, o q), q the largest heat per oxygen of the fuels there.
        Oxygen used, mol/mol, is never too much.

        Each line runs from `one` of the gases to the `other`: their numbers, or one of each for
        every line. Results (lines, ..., trials), NaN where a heat is not known.
        """
        each = (self.heat / self.demand)[:, None]
        there = gas.there[one] | gas.there[other]
        per_oxygen = np.where(there, each, 0.0).max(axis=-2, initial=0.0)
        heat, released = gas.heat[one], gas.oxygen[one] * per_oxygen
        more, further = gas.heat[other] - heat, gas.oxygen[other] * per_oxygen - released
        burnt = np.minimum(heat, released)
        gap = heat - released
        far = gas.heat[other] - gas.oxygen[other] * per_oxygen
        at = np.clip(gap / (gap - far), 0.0, 1.0)
        for place in (1.0, np.where(np.isnan(at), 0.0, at)):
            burnt = np.maximum(
                burnt, np.minimum(heat + place * more, released + place * further)
            )
        used = np.where(burnt <= 0, 0.0, burnt / np.where(per_oxygen == 0, np.inf, per_oxygen))
        noble = np.clip(np.maximum(gas.noble[one], gas.noble[other]), 0.0, 1.0)
        return burnt, used, noble

    def released(self, gas: Burning, one: At, other: At) -> tuple[FloatArray, FloatArray]:
        """Most heat that a mixture on a line can release by burning, J/mol, and its heat capacity.

        The heat of `burnt`, whose arguments these are; infinite for a fuel that burns without
        oxygen. The heat capacity of nitrogen at 25 degC, or of noble gas where it stands in for it:
        what they give for the warming is never too low.
        """
        heat, _, noble = self.burnt(gas, one, other)
        alone = ~(np.maximum(gas.alone[one], gas.alone[other]) <= TRACE)
        heat = np.where(alone.any(axis=-2), np.inf, heat)
        return heat, AIR_HEAT + (NOBLE_HEAT - AIR_HEAT) * noble

    def explosion(
        self, gas: Burning, one: At, other: At
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """As `burnt`, with what a fuel that needs no oxygen releases by itself."""
        heat, used, noble = self.burnt(gas, one, other)
        alone = np.maximum(gas.alone[one], gas.alone[other]).sum(axis=-2)
        return heat + OWN_HEAT * alone, used, noble

    def with_any_oxidiser(self, ends: FloatArray) -> FloatArray:
        """The same bound whatever oxidiser is there: all fuel burns, all oxidiser decomposes, K."""
        fuel = ends[..., list(self.limits.rows), :]
        heat = np.where(fuel <= 0, 0.0, fuel * self.heat[:, None]).sum(axis=-2)
        heat = heat + OXIDISER_HEAT * ends[..., list(self.limits.strangers), :].sum(axis=-2)
        return np.asarray(heat.max(axis=0) / NOBLE_HEAT)

    def rise_in_air(self, gas: FloatArray, air: FloatArray) -> FloatArray:
        """Most that a gas can warm itself in any amount of air, K; (..., trials).

        gas (..., species, trials), air (species,).
        """
        other = np.broadcast_to(air[:, None], gas.shape)
        heat, capacity = self.released(self.parts(np.array([gas, other])), 0, 1)
        return np.asarray(heat / capacity)


def _number(fuel: Substance, name: str) -> float:
    value = fuel.datum(name).value
    return float("nan") if value is None else float(value)


def _strength(substance: Substance) -> float:
    """Water vapour as nitrogen, and nothing for a gas without a figure."""
    if substance.name == "water":
        return 1.0
    value = substance.datum("iso10156_k").value
    return 0.0 if value is None else float(value)
