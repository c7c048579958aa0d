"""Time that each purge needs, over the time that the procedure gives it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.gas import UNPROVEN_MIXING, R, swept_volume

from ..shared.names import STILL
from .gases import LIMITS, MISSING, UNSWEPT, Gases

TIME = Method(
    id="readiness.purge_time",
    title="Time to purge an item and all that lies upstream of it",
    result="time needed",
    unit="s",
    formula="where(x > a, where(n < a, V / (K * Q) * log((x - n) / (a - n)), inf), 0)",
    inputs=(
        Input("x", "x", "1", "oxygen held, or fuel held over its lower limit"),
        Input("a", "a", "1", "how much of it may be left"),
        Input("n", "n", "1", "how much of it the purge gas itself brings; below a"),
        Input("V", "V", "m3", "gas volume of the item and of all upstream that flows"),
        Input("K", "K", "1", "mixing factor"),
        Input("Q", "Q", "m3/s", "purge flow at the room's temperature and pressure"),
    ),
    function=lambda x, a, n, V, K, Q: np.where(
        x > a,
        np.where((n >= a) | (Q <= 0), np.inf, V / (K * Q) * np.log((x - n) / (a - n))),
        x * 0.0 + a * 0.0,
    ),
    source="NFPA 69, annex on purging: exp(-K Q t / V), K = 0.25 unless measured (from memory)",
    validity="dead legs are never purged; nothing is by gas that brings more than is allowed",
)
RATIO = Method(
    id="readiness.purge_ratio",
    title="Purge time needed as a share of the time given",
    result="time needed over time given",
    unit="1",
    formula="where(t > 0, t / d, 0)",
    inputs=(
        Input("t", "t", "s", "time needed at the item that takes longest"),
        Input("d", "d", "s", "duration of the step, and of the purges that it goes on with"),
    ),
    function=lambda t, d: np.where(t > 0, t / d, t),
    compares=lambda t, d: (t, d),
    compared_in=("s", "min"),
    source="ratio; NFPA 69: 25 % of the lower limit, or oxygen well below the limiting one",
    validity="told in the step after the purge; zero where that needs none",
)
KIND = Kind.of(
    RATIO, "higher", "", {"train.*.gas_volume": "up", "heat.*.set_temperature": "up"}, factor=1.5
)


def _compute(setup: Setup) -> Iterable[Measure]:
    """What comes now must find the train purged by the step before: told in the step now."""
    gases = setup.once(Gases)
    purge = gases.purge_before
    hot = np.maximum(gases.hot, gases.before(gases.hot))
    held, gas = gases.before(gases.since_purged(gases.held())), gases.before(gases.new)
    moving = gases.before(gases.moving)
    allowed, guessed = gases.allowed([held, gas, gases.new, gases.made()], hot)
    comes = np.maximum(gases.fuel(gases.new, hot), gases.fuel(gases.made(), hot))
    meets_fuel = gases.moving & ~(comes <= gases.lean_share)
    meets_air = ~(gases.oxygen(gases.new) <= allowed)
    # First oxygen that fuel meets, then fuel that oxygen meets: (2, items, trials).
    needed = np.array([meets_fuel, meets_air]) & ~(purge == 0) & gases.elsewhere
    some = needed.any(axis=(0, 1))
    start = np.array([gases.oxygen(held), gases.fuel_in(held, hot, some)])
    brought = np.array([gases.oxygen(gas), gases.fuel_in(gas, hot, some)])
    left = np.array([allowed, np.full(hot.shape, gases.lean_share)])
    doubt = np.array([guessed, np.zeros_like(guessed)])
    ambient = setup.number("ambient.temperature").value / setup.number("ambient.pressure").value
    through, swept = setup.stacked("flow") * R * ambient, _summed(gases)
    volume = np.where(moving, gases.before(swept), 1.0)
    volume = np.broadcast_to(volume, needed.shape)
    flow = np.where(moving, gases.before(through), 0.0)
    flow = np.broadcast_to(flow, needed.shape)
    changes = np.where(gases.moving, through / swept, 0.0) * gases.lasts
    sooner = np.where(~(flow <= 0), gases.before(gases.purged_sooner(changes)) * volume / flow, 0.0)
    time = TIME.function(start, left, brought, volume, UNPROVEN_MIXING, flow)
    time = np.where(needed, np.where(np.isnan(purge), np.nan, time), 0.0)
    given = gases.before(gases.lasts)
    share = np.where((time == 0) | np.isnan(given) | (given <= 0), time, time / (given + sooner))
    worst = np.argmax(share.reshape(-1, setup.trials), axis=0)

    def at(array: NDArray[Any]) -> NDArray[Any]:
        """Of the item and need that takes longest, over trials; an unknown one comes first."""
        return np.asarray(array.reshape(-1, setup.trials)[worst, np.arange(setup.trials)])

    for cell, step in enumerate(setup.steps[:-1], 1):
        counts = (gases.cell_before == cell) & (at(time) != 0)
        target = Quantity.of(
            np.where(counts, at(left), 1.0),
            np.where(counts & at(doubt), np.uint8(1), np.uint8(0)),
            name="how much may be left",
            unit="1",
            source="ruleset: share of the lower limit, or of the limiting oxygen when hot",
        )
        needs = TIME(
            x=gases.step_quantity(
                at(start), 0.0, counts, "oxygen, or fuel over its lower limit, at the start", "1"
            ),
            a=target,
            n=gases.step_quantity(at(brought), 0.0, counts, "the same in the purge gas", "1"),
            V=gases.step_quantity(
                at(volume), 1.0, counts, "gas volume up to the item that takes longest", "m3"
            ),
            K=Quantity.of(
                UNPROVEN_MIXING, name="mixing factor", unit="1", source="NFPA 69, not measured"
            ),
            Q=gases.step_quantity(at(flow), 1.0, counts, "purge flow there", "m3/s"),
        )
        lasts = Quantity.of(
            given + np.where(counts, at(sooner), 0.0), unit="s", source="scenario",
            name=f"duration of {step.name}, with purges just before it as long as they count here",
        )  # fmt: skip
        ratio = RATIO(t=needs, d=lasts)
        # A flow that a failure takes away comes nowhere, whatever it is led into.
        planned = [overlay.case == "plan" for overlay in setup.runs.overlays]
        planned_trials = np.tile(planned, setup.shape[0])
        endless = np.flatnonzero(counts & np.isinf(at(time)) & planned_trials)
        yield setup.measure(
            KIND, trusted_where_idle(ratio, needs), step.name,
            note=_dead_leg(gases, worst[endless[:1]] % len(setup.places), endless[:1]),
        )  # fmt: skip


def _dead_leg(gases: Gases, item: NDArray[np.intp], trial: NDArray[np.intp]) -> str:
    """What to do where a purge lasts for ever because none of its gas comes to an item."""
    if not item.size or gases.before(gases.moving)[item[0], trial[0]]:
        return ""
    return UNSWEPT.format(gases.setup.places[item[0]].id)


def trusted_where_idle(ratio: Quantity, needs: Quantity) -> Quantity:
    """No time needed is none, however long the step lasts."""
    idle = (needs.value == 0) & (needs.status < MISSING)
    return ratio.revised(np.where(idle, 0.0, ratio.value), np.where(idle, 0, ratio.status))


def _summed(gases: Gases) -> FloatArray:
    """Gas volume of every item and of all that flows upstream of it, (items, trials)."""
    each = np.where(gases.moving, gases.setup.stacked("volume"), 0.0)
    flow = gases.setup.stacked("flow")
    ways = ((n, list(place.before)) for n, place in enumerate(gases.setup.places))
    return np.array([swept_volume(each[before], flow[before], flow[n]) for n, before in ways])


PURGE = Computation(kinds=(KIND,), compute=_compute, limits=LIMITS, needs=(STILL,))
