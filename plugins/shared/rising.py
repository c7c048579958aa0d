"""When the air at a place comes to a concentration: near field, far field and duct, over trials."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from review import FloatArray, Quantity, Setup
from review.physics.columns import alike
from review.physics.room import two_zone_time, well_mixed_rise

from .air import RADIUS, Air

#: Share by which the room may hold more than what is let out beside people explains.
EXPLAINED = 1e-6


@dataclass(frozen=True)
class Rising:
    """The two-zone room of every trial, from what it held when the step began.

    Each step lets out its largest rate from its beginning on. What is in the room otherwise (a
    spill, a failure in mid-step) is there at once. With a mixing factor the fresh air counts that
    many times less, and the near field all the same: too short rather than too long.
    """

    setup: Setup
    air: Air

    @classmethod
    def of(cls, setup: Setup) -> Rising:
        """That of a set-up; through `Setup.once` all checks share what it has worked out."""
        return cls(setup, setup.once(Air))

    @cached_property
    def _known(self) -> dict[tuple[object, ...], Any]:
        return {}

    @cached_property
    def fresh(self) -> FloatArray:
        """Fresh air, m3/s; none where nobody says how much."""
        number = self.setup.number
        changes = number("ventilation.air_changes").value * number("ventilation.working").value
        factor = number("ventilation.mixing_factor").value
        flow = changes * self.volume / np.where(np.isnan(factor), 1.0, factor)
        return np.nan_to_num(flow, nan=0.0)

    @cached_property
    def volume(self) -> FloatArray:
        """The room, m3."""
        return self.setup.number("ventilation.room_volume").value

    @cached_property
    def near_volume(self) -> FloatArray:
        """The half sphere in which people breathe, at most half of the room, m3."""
        stated = self.setup.number("ventilation.near_field_radius").value
        radius = np.where(np.isnan(stated), RADIUS, stated)
        return np.asarray(np.fmin(2 / 3 * np.pi * radius**3, self.volume / 2))

    def let(self, row: int) -> FloatArray:
        """Into the room, m3/s, the largest of the step, with what a proven hood lets out again."""
        air = self.air
        escapes = np.where(air.missed == 0, 0.0, air.missed * air.hooded(row))
        return np.asarray(air.released(row) + np.where(air.earns, escapes, 0.0))

    def start(self, row: int) -> tuple[FloatArray, FloatArray]:
        """Near and far field when the step begins."""
        found = self._known.get(("start", row))
        if found is None:
            found = self._known["start", row] = self._start(row)
        return found

    def _start(self, row: int) -> tuple[FloatArray, FloatArray]:
        cells, runs = self.setup.shape
        let, far = self.let(row), self.air.far(row)
        skipped = (self.air.duration == 0).reshape(cells, runs)

        def before(array: FloatArray) -> FloatArray:
            """Of the step before that took time; the plan and the first step begin in clean air."""
            own, out = array.reshape(cells, runs), np.zeros((cells, runs))
            for cell in range(2, cells):
                out[cell] = np.where(skipped[cell - 1], out[cell - 1], own[cell - 1])
            return out.reshape(-1)

        first = before(far)
        explained = well_mixed_rise(self.air.duration, let, self.fresh, self.volume, start=first)
        at_once = ~(far <= explained * (1 + EXPLAINED))
        begins = np.where(at_once, np.maximum(far, first), first)
        beside = before(let) / self.air.between.value
        return np.asarray(begins + beside), np.asarray(begins)

    def until(
        self, row: int, limit: FloatArray, *, far: bool = False, sure: bool = False
    ) -> FloatArray:
        """Seconds from the beginning of the step until near or far field holds this much.

        `sure` counts what is in the room without doubt alone, as an alarm has to.
        """
        asked = (row, np.asarray(limit, dtype=np.float64).tobytes(), far, sure)
        found = self._known.get(asked)
        if found is None:
            found = self._known[asked] = self._until(row, limit, far=far, sure=sure)
            found.flags.writeable = False
        return found

    def _until(self, row: int, limit: FloatArray, *, far: bool, sure: bool) -> FloatArray:
        let = self.air.beyond_doubt(row) if sure else self.let(row)
        near0, far0 = self.start(row)
        if sure:
            near0 = far0 = np.zeros_like(far0)
        held = 0.0 if sure else self.air.contained(row)
        lasting = np.where(let == 0, 0.0, let)
        numbers = np.broadcast_arrays(
            np.maximum(limit - held, 0.0), lasting, self.fresh, self.air.between.value,
            self.volume, self.near_volume, near0, far0,
        )  # fmt: skip
        # Most trials are like others.
        every = np.array(numbers)
        first, back = alike(every)
        found = two_zone_time(*every[:, first], far=far)[back]
        none = (let == 0) & (near0 == 0) & (held == 0)
        return np.asarray(np.where(none, np.inf, found))

    def quantity(self, seconds: FloatArray, name: str) -> Quantity:
        """A time with the engine's trust."""
        return self.setup.quantity(seconds, name, "s", "two-zone room (Nicas 1996)")
