"""Whether a detector leaves time: alarm, notice and way out, before people cannot leave."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.room import two_zone_rise

from ..shared.air import Air
from ..shared.rising import Rising
from ..shared.time_left import alarm_seconds, governing, harmed

#: The safeguard whose `takes` is the time to get out.
WAY_OUT = "free way out"

MARGIN = Method(
    id="exposure.leaving_margin",
    title="Time until people may be unable to leave, over the time until they have left",
    result="time there is over time needed",
    unit="1",
    formula="where(t < inf, t / (alarm + delay + notice + way), inf)",
    inputs=(
        Input("t", "t", "s", "until AEGL-2, AEGL-3 or IDLH where people are, of any substance"),
        Input("alarm", "t_a", "s", "until the air at the detector is at its alarm point"),
        Input("delay", "t_d", "s", "until it gives alarm, transport to it included"),
        Input("notice", "t_n", "s", "until somebody has noticed it"),
        Input("way", "t_w", "s", "until everybody is out"),
    ),
    function=lambda t, alarm, delay, notice, way: np.where(
        t < np.inf, t / (alarm + delay + notice + way), np.where(np.isnan(t), np.nan, np.inf)
    ),
    source="two-zone room (Nicas 1996); AEGL of the US EPA; NIOSH IDLH",
    validity=(
        "somebody overcome cannot leave, so the time there is ends where that may happen; the "
        "alarm counts what is let into the room without doubt, from clean air on; a detector on "
        "the bench senses the near field only where it is stated to stand in it"
    ),
)
KIND = Kind.of(
    MARGIN,
    "lower",
    "",
    {
        "safeguards.*.response_time": "down",
        "safeguards.*.takes": "down",
        "safeguards.*.distance": "down",
    },
)


@dataclass(frozen=True)
class Detector:
    """One detector that is fit to warn, with the steps from the gas to the empty room, s."""

    number: int
    alarm: Quantity
    delay: Quantity
    notice: Quantity
    way: Quantity

    @property
    def seconds(self) -> FloatArray:
        """From the beginning of each step until everybody has left it."""
        parts = (self.alarm, self.delay, self.notice, self.way)
        return np.asarray(np.sum(np.broadcast_arrays(*(p.value for p in parts)), axis=0))


def detectors(setup: Setup, rising: Rising) -> Iterable[Detector]:
    """Every detector of which all is stated; one that lacks a figure earns nothing."""
    ways = [n for n, s in enumerate(setup.scenario.safeguards) if s.kind == WAY_OUT]
    for number, safeguard in enumerate(setup.scenario.safeguards):
        if not ways:
            continue
        seconds = alarm_seconds(setup, rising, number, safeguard)
        if seconds is None:
            continue
        name = setup.reference.substance(str(safeguard.senses)).name
        longest = np.max([setup.number(f"safeguards.{n}.takes").value for n in ways], axis=0)
        yield Detector(
            number,
            setup.quantity(seconds, f"{name} at the detector's alarm", "s", "two-zone room"),
            setup.number(f"safeguards.{number}.response_time"),
            setup.number(f"safeguards.{number}.takes"),
            setup.quantity(longest, "way out", "s", f"takes of {WAY_OUT}"),
        )


@dataclass(frozen=True)
class Leaving:
    """When people have left, in the runs in which a detector counts."""

    setup: Setup
    air: Air

    @cached_property
    def _rising(self) -> Rising:
        return self.setup.once(Rising.of)

    @cached_property
    def gone(self) -> FloatArray | None:
        """Seconds from the beginning of each step, 0 after they have left; None: they all stay."""
        setup = self.setup
        cells, runs = setup.shape
        counts = [
            number
            for number in range(len(setup.scenario.safeguards))
            if setup.runs.changes(f"safeguards.{number}.warns")
        ]
        if not counts:
            return None
        out = np.full(setup.trials, np.inf)
        for each in detectors(setup, self._rising):
            if each.number in counts:
                on = setup.number(f"safeguards.{each.number}.warns").value == 1
                in_time = on & (each.seconds <= self.air.duration)
                out = np.where(in_time, np.fmin(out, each.seconds), out)
        own = out.reshape(cells, runs)
        for cell in range(2, cells):
            own[cell] = np.where(np.isfinite(own[1:cell]).any(axis=0), 0.0, own[cell])
        return own.reshape(-1)

    def peak(self, row: int, stayed: Quantity) -> Quantity:
        """What people breathe at most until they leave.

        No more than what the release of the step adds by then to the most there was before it.
        """
        if self.gone is None:
            return stayed
        rising, left = self._rising, np.isfinite(self.gone)
        near0, far0 = rising.start(row)
        added, _ = two_zone_rise(
            np.where(left, self.gone, 0.0), rising.let(row), rising.fresh,
            self.air.between.value, rising.volume, rising.near_volume,
        )  # fmt: skip
        most = np.maximum(near0, far0) + added + self.air.contained(row)
        most = np.where(self.gone == 0, 0.0, np.minimum(stayed.value, most))
        return stayed.revised(np.where(left, most, stayed.value), stayed.status)

    def mean(self, row: int, stayed: Quantity, peak: Quantity) -> Quantity:
        """Average of each step over its length: the peak until they left, then nothing."""
        if self.gone is None:
            return stayed
        left, step = np.isfinite(self.gone), self.air.duration
        share = np.divide(self.gone, step, out=np.zeros_like(step), where=left & (step != 0))
        return stayed.revised(np.where(left, peak.value * share, stayed.value), stayed.status)

    def stay(self, seconds: FloatArray) -> FloatArray:
        """How long people breathe it in each step, s, at most until they leave."""
        return seconds if self.gone is None else np.minimum(seconds, self.gone)

    def room(self, far: FloatArray) -> FloatArray:
        """What the room holds once the steps are over, for whoever is still there."""
        return far if self.gone is None else np.where(np.isfinite(self.gone), 0.0, far)


def _compute(setup: Setup) -> Iterable[Measure]:
    rising = setup.once(Rising.of)
    each = list(detectors(setup, rising))
    if not each:
        return
    substances = enumerate(rising.air.substances)
    harm = np.minimum.reduce([harmed(setup, rising, row, s) for row, s in substances])
    for warning in each:
        cell = governing(setup, harm, warning.seconds, rising.air.duration)
        time = setup.quantity(harm, "time until people may be unable to leave", "s", MARGIN.source)
        needed = (warning.alarm, warning.delay, warning.notice, warning.way)
        parts = [_at(part, cell) for part in (time, *needed)]
        names = ("t", "alarm", "delay", "notice", "way")
        done = MARGIN(**dict(zip(names, parts, strict=True)))
        yield setup.measure(KIND, done, f"detector {warning.number + 1}")


def _at(part: Quantity, trials: NDArray[np.intp]) -> Quantity:
    """A quantity as it is in these trials."""
    value, status = (np.broadcast_to(a, trials.shape)[trials] for a in (part.value, part.status))
    return Quantity.of(value, status, name=part.name, unit=part.unit, source=part.source)


LEAVING = Computation(kinds=(KIND,), compute=_compute)
