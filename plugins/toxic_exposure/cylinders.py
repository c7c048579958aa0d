"""A whole cylinder or vessel let go into the room: what it poisons and displaces."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import (
    Computation,
    Input,
    Kind,
    Measure,
    Method,
    Quantity,
    Setup,
)
from review.physics.room import displaced_oxygen

from ..shared.harm import limits_of
from ..shared.stores import FULLER, SHARE, content_of, stores
from .oxygen import AIR, LEAST, MOST

DISPLACED = Method(
    id="oxygen.whole_cylinder",
    title="Oxygen once a whole cylinder is in the room",
    result="oxygen in the room",
    unit="mol/mol",
    formula="0.2095 * (1 - s) + x * s",
    inputs=(
        Input("s", "s", "1", "share of the room's air displaced"),
        Input("x", "x", "mol/mol", "oxygen in the cylinder's gas"),
    ),
    function=lambda s, x: displaced_oxygen(s, x),
    source="balance of the room",
    validity="no ventilation, mixed; the air is pushed out before it mixes, which errs low",
)
LET_GO = Method(
    id="exposure.whole_cylinder_ratio",
    title="Content of the room once a whole cylinder is in it, over the IDLH",
    result="share of the IDLH",
    unit="1",
    formula="x * s / limit",
    inputs=(
        Input("x", "x", "mol/mol", "content of the cylinder's gas"),
        Input("s", "s", "1", "share of the room's air displaced"),
        Input("limit", "IDLH", "mol/mol", "content that endangers life"),
    ),
    function=lambda x, s, limit: x * s / limit,
    compares=lambda x, s, limit: (x * s, limit),
    compared_in=("mol/mol", "ppm"),
    source="balance of the room",
    validity=SHARE.validity,
)

CYLINDER_LOW_KIND = Kind.of(
    DISPLACED,
    "lower",
    "%",
    {path: "up" if way == "down" else "down" for path, way in FULLER.items()},
    id="oxygen.whole_cylinder_low",
    about=AIR,
)
CYLINDER_HIGH_KIND = Kind.of(
    DISPLACED,
    "higher",
    "%",
    FULLER,
    id="oxygen.whole_cylinder_high",
    about=AIR,
    title="Oxygen once a whole cylinder is in the room, against too much",
)
CYLINDER_KIND = Kind.of(
    LET_GO,
    "higher",
    "%",
    FULLER,
    title="A whole cylinder in the room as a share of the content that endangers life (IDLH)",
)


def _cylinders(setup: Setup) -> Iterable[Measure]:
    toxic = found = False
    known = not np.isnan(setup.number("ventilation.room_volume").value).all()
    for name, at, share, why in stores(setup):
        found, reagent = True, setup.scenario.reagents[name]
        note = "; ".join(filter(None, (why, "" if known else "no room volume given")))
        mixture = [(setup.reference.substance(text), text) for text in reagent.composition]
        for substance, text in mixture:
            limit = limits_of(setup, substance).known.get("idlh")
            if limit is None:
                continue
            toxic = True
            ratio = LET_GO(x=content_of(setup, name, text), s=share, limit=limit)
            lost = limit.source if np.isnan(limit.value).all() else ""
            words = "; ".join(filter(None, (note, lost)))
            yield setup.measure(CYLINDER_KIND, ratio, at, substance.name, words)
        oxygen = next((t for s, t in mixture if s.name == "oxygen"), None)
        own = (
            Quantity.of(0.0, name="oxygen in the gas", unit="mol/mol", source="scenario")
            if oxygen is None
            else content_of(setup, name, oxygen)
        )
        left = DISPLACED(s=share, x=own)
        yield setup.measure(CYLINDER_LOW_KIND, LEAST(x=left), at, note=note)
        yield setup.measure(CYLINDER_HIGH_KIND, MOST(x=left), at, note=note)
    if not found:
        why = "no gas is held in a cylinder, liquid or frozen"
        fresh = setup.quantity(AIR, "oxygen in the room", "mol/mol", why)
        yield setup.measure(CYLINDER_LOW_KIND, fresh, "room", note=why)
        yield setup.measure(CYLINDER_HIGH_KIND, fresh, "room", note=why)
    if not toxic:
        why = "no cylinder holds a gas with an IDLH"
        nothing = setup.quantity(0.0, "share of the IDLH", "1", why)
        yield setup.measure(CYLINDER_KIND, nothing, "room", note=why)


CYLINDERS = Computation(
    kinds=(CYLINDER_LOW_KIND, CYLINDER_HIGH_KIND, CYLINDER_KIND), compute=_cylinders
)
