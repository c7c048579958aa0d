"""A safeguard that closes flows against what people breathe: how long there is, how long it takes.

What is let out rises as the two-zone room has it. Closed before a level is reached, the release
never reaches it: what the train still holds is counted as time for which it flows on. Where gas
comes from elsewhere too, each level counts half, since both add up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from review import FloatArray, Setup, Substance
from review.physics.gas import R

from ..shared.fuels import limits_of as fuels_of
from ..shared.harm import limits_of
from ..shared.nearby import UNMIXED
from ..shared.rising import Rising
from ..shared.time_left import alarm_seconds, harmed

if TYPE_CHECKING:
    from review.scenario.models import Safeguard

#: What is timed here, with the value from which it is harm, and which side is harm.
TIMED: dict[str, tuple[float, int]] = {
    "flammability.air_to_lower_limit": (0.25, 1),
    "exposure.ceiling_ratio": (1.0, 1),
    "exposure.excursion_ratio": (1.0, 1),
    "exposure.short_term_ratio": (1.0, 1),
    "exposure.failure_ratio": (1.0, 1),
    "exposure.eight_hour_ratio": (1.0, 1),
    "exposure.additive_index": (1.0, 1),
    "exposure.idlh_ratio": (0.5, 1),
}
DAY = 8 * 3600.0


class Closing:
    """The clock of what people breathe, for safeguards that close flows."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.rising = setup.once(Rising.of)

    def harm(self, safeguard: Safeguard) -> FloatArray:
        """Seconds from the beginning of each step until anything of `TIMED` is reached; NaN where
        that is not known."""
        share = 1.0 if self._all_closed(safeguard) else 0.5
        found = [self._day(share), *self._fuels(share)]
        for row, substance in enumerate(self.rising.air.substances):
            found.append(harmed(self.setup, self.rising, row, substance, share))
            found += self._levels(row, substance, share)
        return np.asarray(np.minimum.reduce(np.broadcast_arrays(*found)))

    def alarm(self, number: int, safeguard: Safeguard) -> FloatArray | None:
        """Seconds until a gas detector gives alarm; None where it senses something else."""
        return alarm_seconds(self.setup, self.rising, number, safeguard)

    @property
    def rest(self) -> FloatArray:
        """Seconds for which the gas in the train goes on flowing once the valve is shut."""
        setup = self.setup
        held = sum(
            (p.pressure.value * p.volume.value / (R * setup.number("ambient.temperature").value)
             for p in setup.places if not p.is_end),
            np.zeros(setup.trials),
        )  # fmt: skip
        rate = np.max([p.delivered.value for p in setup.places], axis=0)  # NaN wins: for ever
        lasts = np.where(np.isnan(held) | np.isnan(rate), np.inf, held / rate)
        return np.where(rate <= 0, 0.0, lasts)

    @property
    def step(self) -> FloatArray:
        """How long each step lasts, s."""
        return self.rising.air.duration

    def _all_closed(self, safeguard: Safeguard) -> bool:
        """Whether nothing that is breathed comes from anything but the flows it closes."""
        scenario = self.setup.scenario
        open_ = [
            flow.reagent for name, flow in scenario.flows.items() if name not in safeguard.closes
        ]
        harmless = {"nitrogen", "argon", "helium", "oxygen", "water"}
        named = {
            self.setup.reference.substance(text).name
            for reagent in open_ for text in scenario.reagents[reagent].composition
        }  # fmt: skip
        return named <= harmless and not any(item.liquid for item in scenario.train)

    def _levels(self, row: int, substance: Substance, share: float) -> list[FloatArray]:
        """Ceiling, and the 15-minute limit as if it were one."""
        known = limits_of(self.setup, substance).known
        return [
            self.rising.until(row, share * known[name].value)
            for name in ("ceiling", "short_term")
            if name in known
        ]

    def _day(self, share: float) -> FloatArray:
        """Until all of a day's averages, added up as shares of their limits, come to one: what the
        near field takes of a release, and what the room keeps of it for the day."""
        rising = self.rising
        fresh, volume, between = rising.fresh, rising.volume, rising.air.between.value
        kept = np.fmin(1 / (fresh * DAY), 1 / volume) + 1 / (between * DAY)
        rate, before = np.zeros(self.setup.trials), np.zeros(self.setup.trials)
        for row, substance in enumerate(rising.air.substances):
            limit = limits_of(self.setup, substance).known.get("eight_hour")
            let, (_, far0) = rising.let(row), rising.start(row)
            own = let * kept + rising.air.contained(row) / DAY
            if limit is not None:
                rate = rate + np.where(let == 0, 0.0, own / limit.value)
                before = before + np.where(far0 == 0, 0.0, far0 / limit.value)
        time = np.maximum(share - before, 0.0) / rate
        return np.where(rate == 0, np.inf, time)

    def _fuels(self, share: float) -> list[FloatArray]:
        """Until the room, ten times for poor mixing, has a quarter of the lower limit."""
        limits = fuels_of(self.setup.species)
        most = share * 0.25 / UNMIXED / max(len(limits.rows), 1)
        return [
            self.rising.until(row, most * low, far=True)
            for row, low in zip(limits.rows, limits.lower, strict=True)
        ]
