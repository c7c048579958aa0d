"""Absorbents: how much of what they can hold is used by the end of each step."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Setup

USED = Method(
    id="corrosion.absorbent_used",
    title="Absorbent used, over what it can hold",
    result="share of the absorbent used",
    unit="1",
    formula="n / capacity",
    inputs=(
        Input("n", "n", "mol", "taken up by the end of the step"),
        Input("capacity", "capacity", "mol", "stoichiometric capacity as the scenario states it"),
    ),
    function=lambda n, capacity: n / capacity,
    source="moles in over the run against stoichiometric capacity",
    validity="capacity fully reachable; beyond 1 everything slips through",
)
KIND = Kind.of(
    USED,
    "higher",
    "%",
    {
        "flows.*.rate": "up",
        "train.*.absorbs.*.capacity": "down",
        "procedure.*.duration": "up",
    },
    title="Absorbent used",
)


def _compute(setup: Setup) -> Iterable[Measure]:
    for place in setup.places:
        for text in place.model.absorbs:
            substance = setup.reference.substance(text)
            if substance.name not in setup.resolved.index:
                continue
            if (place.id, substance.name) not in setup.resolved.credited:
                lost = Quantity.of(np.full(setup.trials, np.nan), name="share used")
                yield setup.measure(
                    KIND,
                    lost,
                    place.id,
                    substance.name,
                    note=f"no source says that {place.model.liquid or 'this'} takes up "
                    f"{substance.name}; nothing is credited",
                )
                continue
            used = USED(n=place.used(substance), capacity=place.number(f"absorbs.{text}.capacity"))
            yield setup.measure(KIND, used, place.id, substance.name)


ABSORBERS = Computation(kinds=(KIND,), compute=_compute)
