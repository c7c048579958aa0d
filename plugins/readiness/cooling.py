"""Time that hot items need to cool before their gas stops, over the time they are given."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Setup

from ..shared.nearby import lit
from .gases import Gases
from .order import COOL
from .purge import trusted_where_idle

TIME = Method(
    id="readiness.cooling_time",
    title="Time to cool",
    result="time needed",
    unit="s",
    formula="where(T > T_cool, tau * log((T - Ta) / (T_cool - Ta)), 0)",
    inputs=(
        Input("T", "T", "K", "hottest surface at the start of the step"),
        Input("Ta", "T_a", "K", "temperature of the room"),
        Input("T_cool", "T_cool", "K", "temperature that counts as cool"),
        Input("tau", "tau", "s", "time constant of cooling"),
    ),
    function=lambda T, Ta, T_cool, tau: np.where(
        T_cool < T,
        np.where(T_cool > Ta, tau * np.log((T - Ta) / (T_cool - Ta)), np.inf),
        (T + Ta + T_cool + tau) * 0.0,
    ),
    source="lumped cooling: T - Ta falls as exp(-t / tau)",
    validity="one time constant; a thick furnace cools more slowly inside",
    valid=lambda T, Ta, T_cool, tau: T_cool > Ta,
)
RATIO = Method(
    id="readiness.cooling_ratio",
    title="Cooling time needed as a share of the time given",
    result="time needed over time given",
    unit="1",
    formula="where(t > 0, t / max(d, 1), 0)",
    inputs=(
        Input("t", "t", "s", "time needed"),
        Input("d", "d", "s", "time given with the heat off before the gas stops; at least 1 s"),
    ),
    function=lambda t, d: np.where(t > 0, t / np.maximum(d, 1.0), t),
    compares=lambda t, d: (t, d),
    compared_in=("s", "min"),
    source="ratio",
    validity="told in the step in which the gas stops; zero where it goes on, over 1 s if heated",
)
KIND = Kind.of(
    RATIO, "higher", "", {"heat.*.cooling_time": "up", "heat.*.set_temperature": "up"}, factor=1.5,
    source=TIME.source,
)  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    gases = setup.once(Gases)
    ambient, cool = setup.number("ambient.temperature"), setup.limit(COOL)
    # The gas stops now, or the steps are over; it had the step before to cool.
    stops = gases.before(gases.moving) & ~gases.moving
    last = gases.in_cell(setup.shape[0] - 1)
    for name, heat in setup.scenario.heat.items():
        place = next(p for p in setup.places if p.id == heat.heats)
        hot, on = gases.before(place.hottest.value), gases.before(lit(setup, name))
        tau = setup.number(f"heat.{name}.cooling_time")
        for cell, step in enumerate(setup.steps[:-1], 1):
            counts = (gases.cell_before == cell) & (stops[place.index] | last)
            # A trial that is not asked, or is cool, needs no time, whatever the time constant.
            idle = ~counts | (hot <= cool.value)
            needs = TIME(
                T=gases.step_quantity(hot, 0.0, ~idle, f"hottest surface of {place.id}", "K"),
                Ta=ambient,
                T_cool=cool,
                tau=tau.revised(np.where(idle, 0.0, tau.value), np.where(idle, 0, tau.status)),
            )
            needs = needs.revised(np.where(idle, 0.0, needs.value), np.where(idle, 0, needs.status))
            given = Quantity.of(
                np.where(on, 0.0, gases.before(gases.lasts)),
                name=f"duration of {step.name}, 0 where {name} is on in it",
                unit="s",
                source="scenario",
            )
            ratio = RATIO(t=needs, d=given)
            yield setup.measure(KIND, trusted_where_idle(ratio, needs), step.name, name)


COOLING = Computation(kinds=(KIND,), compute=_compute, limits=(COOL,))
