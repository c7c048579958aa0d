"""How long it takes until the air people breathe endangers life."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Setup

from .air import Air
from .breathing import WHERE
from .limits import limits_of

SECONDS = Method(
    id="exposure.seconds_to_idlh",
    title="Time until the breathing zone reaches the content that endangers life",
    result="time to IDLH",
    unit="s",
    formula="where(g > 0, max(limit - start - g / (beta + g), 0) * V / g, inf)",
    inputs=(
        Input("limit", "IDLH", "mol/mol", "content that endangers life"),
        Input("start", "C0", "mol/mol", "content of the room when the step begins, at most"),
        Input("g", "G", "m3/s", "release into the room, largest of the step"),
        Input("beta", "beta", "m3/s", "air between near field and room"),
        Input("V", "V", "m3", "volume of the room"),
    ),
    function=lambda limit, start, g, beta, V: np.where(
        g > 0, np.maximum(limit - start - g / (beta + g), 0.0) * V / g, np.inf
    ),
    source="balance of a room without air change, and a settled near field (Nicas 1996)",
    validity="too short rather than too long: no air change, no mixing lag; never without release",
)
KIND = Kind(
    id=SECONDS.id,
    title="Time until the air people breathe endangers life",
    worse="lower",
    unit="s",
    display="min",
    method=SECONDS.id,
    source=SECONDS.source,
    validity=SECONDS.validity,
    moves={"ventilation.room_volume": "up"},
    clock=True,
)


def _compute(setup: Setup) -> Iterable[Measure]:
    air = Air(setup)
    cells, runs = setup.shape
    for row, substance in enumerate(air.substances):
        limit = limits_of(setup, substance).known.get("idlh")
        if limit is None:
            continue
        far = air.far(row).reshape(cells, runs)
        start = np.concatenate([far[:1], np.zeros((1, runs)), far[1:-1]])
        name = substance.name
        seconds = SECONDS(
            limit=limit,
            start=setup.quantity(start.reshape(-1), f"{name} in the room", "mol/mol", "room"),
            g=setup.quantity(air.released(row), f"{name} let into the room", "m3/s", "train"),
            beta=air.between,
            V=setup.number("ventilation.room_volume"),
        )
        yield setup.measure(KIND, seconds, WHERE, name)


CLOCK = Computation(kinds=(KIND,), compute=_compute)
