"""Poison that is led outdoors as it is: what somebody near the outlet would breathe."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.gas import R

from ..shared.harm import limits_of

#: Air that a light wind moves past an outlet, m3/s: 1 m/s over 1 m2 (a judgement, no source).
WIND = 1.0

LED = Method(
    id="exposure.outdoors",
    title="Poison led outdoors, in the air that a light wind moves past its outlet",
    result="share of the lowest short limit",
    unit="1",
    formula="n * R * T / (p * Q * L)",
    inputs=(
        Input("n", "n'", "mol/s", "what leaves there"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("T", "T", "K", "outdoors as in the room"),
        Input("p", "p", "Pa", "pressure"),
        Input("Q", "Q", "m3/s", "air that moves past"),
        Input("L", "L", "mol/mol", "lowest of ceiling and 15-minute limit"),
    ),
    function=lambda n, R, T, p, Q, L: n * R * T / (p * Q * L),
    source="mass balance; 1 m/s over a square metre is a judgement",
    validity="a metre or two downwind, in the open; a yard, a wall or a window is worse",
)
KIND = Kind.of(LED, "higher", "1", {"flows.*.rate": "up"})


def _compute(setup: Setup) -> Iterable[Measure]:
    none = setup.quantity(0.0, "nothing else is led outdoors", "1", LED.source)
    yield setup.measure(KIND, none, "outdoors")
    for place in setup.places:
        if not place.is_end or place.model.to != "outdoors":
            continue
        most = np.maximum(place.composition("outlet"), place.composition("outlet_end"))
        for row, substance in enumerate(setup.species):
            lowest = limits_of(setup, substance).lowest_short
            leaves = np.where(most[row] == 0, 0.0, most[row] * place.flow.value)
            if lowest is None or (leaves == 0).all():
                continue
            led = LED(
                n=Quantity.of(leaves, name=f"{substance.name} that leaves", unit="mol/s",
                    source="balance of the train"),
                R=setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact"),
                T=setup.number("ambient.temperature"), p=setup.number("ambient.pressure"),
                Q=setup.quantity(WIND, "wind", "m3/s", LED.source), L=lowest,
            )  # fmt: skip
            gone = leaves == 0
            led = led.revised(
                np.where(gone, 0.0, led.value), np.where(gone, np.uint8(0), led.status)
            )
            yield setup.measure(KIND, led, place.id, substance.name)


OUTDOORS = Computation(kinds=(KIND,), compute=_compute)
