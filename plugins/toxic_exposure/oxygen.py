"""Oxygen where people breathe."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Setup

from ..shared.air import NEAR_OXYGEN, Air
from ..shared.names import WHERE

AIR = 0.2095
LEAST = Method(
    id="oxygen.least",
    title="Least oxygen",
    result="least oxygen",
    unit="mol/mol",
    formula="min(x, 0.2095)",
    inputs=(Input("x", "x", "mol/mol", "oxygen where something is let out"),),
    function=lambda x: np.minimum(x, AIR),
    source="fresh air holds 20.95 %",
    validity="as its input",
)
MOST = Method(
    id="oxygen.most",
    title="Most oxygen",
    result="most oxygen",
    unit="mol/mol",
    formula="max(x, 0.2095)",
    inputs=(Input("x", "x", "mol/mol", "oxygen where something is let out"),),
    function=lambda x: np.maximum(x, AIR),
    source="fresh air holds 20.95 %",
    validity="as its input",
)

_NEAR = "oxygen of the breathing zone; a proven hood keeps its gas out of the room"
LOW_KIND = Kind.of(
    NEAR_OXYGEN, "lower", "%", {"ventilation.air_changes": "up", "ventilation.room_volume": "up"},
    id="oxygen.low", about=0.2095, title="Least oxygen in the air people breathe", validity=_NEAR,
)  # fmt: skip
HIGH_KIND = Kind.of(
    NEAR_OXYGEN, "higher", "%",
    {"ventilation.air_changes": "down", "ventilation.room_volume": "down"}, id="oxygen.high",
    about=0.2095, title="Most oxygen in the air people breathe", validity=_NEAR,
)  # fmt: skip
def _breathed(setup: Setup) -> Iterable[Measure]:
    air, row = setup.once(Air), setup.rows["oxygen"]
    yield setup.measure(LOW_KIND, LEAST(x=air.oxygen(row, least=True)), WHERE, note=air.words)
    yield setup.measure(HIGH_KIND, MOST(x=air.oxygen(row, least=False)), WHERE, note=air.words)


OXYGEN = Computation(kinds=(LOW_KIND, HIGH_KIND), compute=_breathed)
