"""Light gas that rises and collects: under the ceiling, or in a hood that stands still.

Such gas is not mixed with the whole room: what stands under the ceiling is what the plume brings,
thinned only by the air that it draws in on its way up.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Setup
from review.physics.openings import plume_flow

from ..shared.fuels import Limits, limits_of

#: Free rise from where gas leaves to the ceiling, and to the upper edge of a hood's opening, above
#: which light gas stands while the hood draws nothing, m (a judgement).
RISE = {"ceiling": 1.0, "hood": 0.3}
GRAVITY, AIR_MASS = 9.81, 28.96e-3

UNDER = Method(
    id="flammability.under_ceiling",
    title="Light gas under a ceiling, or in a hood that stands still, against what burns",
    result="share of the lower limit",
    unit="1",
    formula="where(sum(q) > 0, sum([a / b for a, b in zip(q, L)]) / max(Q, sum(q)) + room, 0)",
    inputs=(
        Input("q", "q", "m3/s", "each fuel let out there"),
        Input("L", "L", "mol/mol", "its lower limit in air"),
        Input("Q", "Q", "m3/s", "gas and air that the plume brings up"),
        Input("room", "r", "1", "share of the lower limit that the whole room has"),
    ),
    function=lambda q, L, Q, room: _share(q, L, Q, room),
    source="plumes: Morton, Taylor & Turner 1956; Linden, Lane-Serff & Smeed 1990 (from memory)",
    validity="settled, one source in still air; nothing for gas as heavy as air",
)
KIND = Kind.of(UNDER, "higher", "%", {"ventilation.room_volume": "down"}, factor=1.5)


def _share(
    q: list[FloatArray], limit: list[FloatArray], carried: FloatArray, room: FloatArray
) -> FloatArray:
    total = np.sum(np.broadcast_arrays(*q), axis=0)
    parts = [np.where(a == 0, 0.0, a / b) for a, b in zip(q, limit, strict=True)]
    share = np.sum(np.broadcast_arrays(*parts), axis=0) / np.maximum(carried, total)
    return np.where(total == 0, 0.0, share + room)


def _room(setup: Setup, limits: Limits) -> FloatArray:
    """Share of the lower limit in the mixed room."""
    mix = setup.air("room")
    shares = [
        np.where(mix[row] == 0, 0.0, mix[row] / limits.lower[n])
        for n, row in enumerate(limits.rows)
    ]
    return np.asarray(np.sum(shares, axis=0))


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    if not limits.fuels:
        return
    mass = np.array([s.molar_mass for s in setup.species])
    still = ~(setup.number("ventilation.working").value > 0)
    room = setup.quantity(_room(setup, limits), "whole room", "1", "room balance")
    for where, to in (("ceiling", "into_room"), ("hood", "into_hood")):
        let = setup.air(to)
        if where == "hood":
            let = np.where(still, let, 0.0)
        total = let.sum(axis=0)
        lighter = 1 - (mass @ let) / total / AIR_MASS
        rises = ~(lighter <= 0) & (total != 0)
        buoyancy = np.where(rises, GRAVITY * lighter * total, 0.0)
        fuels = [np.where(rises, let[row], 0.0) for row in limits.rows]
        found = UNDER(
            q=[
                setup.quantity(x, f"{f.name} let out", "m3/s", "balance of the train")
                for x, f in zip(fuels, limits.fuels, strict=True)
            ],
            L=[
                setup.quantity(low, f"lower limit of {f.name}", "mol/mol", "data")
                for low, f in zip(limits.lower, limits.fuels, strict=True)
            ],
            Q=setup.quantity(plume_flow(buoyancy, RISE[where]), "plume", "m3/s", UNDER.source),
            room=room,
        )
        none = np.sum(fuels, axis=0) == 0
        value, status = np.where(none, 0.0, found.value), np.where(none, 0, found.status)
        yield setup.measure(KIND, found.revised(value, status), where)


CEILING = Computation(kinds=(KIND,), compute=_compute)
