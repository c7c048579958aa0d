"""Poison that passes through the walls of hoses into the air that people breathe."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Place, Quantity, Setup, Substance
from review.physics.gas import R

from ..shared.air import Air, near_field_airflow
from ..shared.harm import limits_of
from ..shared.names import WHERE

PASSED = Method(
    id="exposure.through_hoses",
    title="What passes through hoses, in the near field, over its limit of a day",
    result="share of the limit",
    unit="1",
    formula="g / (beta + g) / limit",
    inputs=(
        Input("g", "G", "m3/s", "passes through the walls of all hoses outside a proven hood"),
        Input("beta", "beta", "m3/s", "air between near field and room"),
        Input("limit", "L", "mol/mol", "8-hour limit, else the shortest there is"),
    ),
    function=lambda g, beta, limit: g / (beta + g) / limit,
    compares=lambda g, beta, limit: (g / (beta + g), limit),
    compared_in=("mol/mol", "ppm"),
    source="two-zone model of Nicas (1996); permeability of the polymer as its table says",
    validity="steady; beside all hoses at once; a polymer's figure holds within a factor of 3",
)
KIND = Kind.of(
    PASSED,
    "higher",
    "%",
    {
        "ventilation.air_speed": "down",
        "ventilation.near_field_radius": "down",
        "train.*.wall": "down",
        "train.*.length": "up",
    },
    factor=3.0,
)
#: Below this share of the limit nobody asks whether a hood takes it away.
LITTLE = 0.01
#: What people breathe anyway.
HARMLESS = ("nitrogen", "oxygen", "argon", "helium", "neon", "water")


def _compute(setup: Setup) -> Iterable[Measure]:
    found = 0
    hoses = [place for place in setup.places if not (place.permeance("other").value <= 0).all()]
    between = near_field_airflow(setup)
    for row, substance in enumerate(setup.species if hoses else ()):
        limit = limits_of(setup, substance).lowest_of_a_day
        if limit is None or substance.name in HARMLESS:
            continue
        through = [_through(setup, place, row, substance) for place in hoses]
        whole = PASSED(g=_sum(setup, through), beta=between, limit=limit)
        if not (whole.value < LITTLE).all():
            earns = setup.once(Air).earns
            left = [
                each.revised(np.where(earns, 0.0, each.value), each.status)
                if place.model.in_ == "hood" else each
                for place, each in zip(hoses, through, strict=True)
            ]  # fmt: skip
            eased = PASSED(g=_sum(setup, left), beta=between, limit=limit)
            little = whole.value < LITTLE
            whole = eased.revised(
                np.where(little, whole.value, eased.value),
                np.where(little, whole.status, eased.status),
            )
        found += 1
        yield setup.measure(KIND, whole, WHERE, substance.name)
    if not found:
        none = setup.quantity(0.0, "share of the limit", "1", "no poison in a hose of a polymer")
        yield setup.measure(KIND, none, WHERE)


def _through(setup: Setup, place: Place, row: int, substance: Substance) -> Quantity:
    """What passes through one hose, m3/s at the room's temperature and pressure."""
    most = np.max([place.composition(p)[row] for p in ("old", "inlet", "outlet")], axis=0)
    wall = place.permeance(substance.name)
    ambient = setup.number("ambient.temperature").value / setup.number("ambient.pressure").value
    rate = np.where(most == 0, 0.0, wall.value * most * place.pressure.value * R * ambient)
    lost = np.isnan(rate)
    known = np.maximum(place.pressure.status, np.where(most == 0, np.uint8(0), wall.status))
    status = np.where(lost, np.uint8(3), known)
    return Quantity.of(rate, status, name=place.id, unit="m3/s", source="wall of the hose")


def _sum(setup: Setup, each: Sequence[Quantity]) -> Quantity:
    return Quantity.of(
        np.sum([q.value for q in each], axis=0), np.max([q.status for q in each], axis=0),
        name="passes through hoses", unit="m3/s", source="walls of the hoses outside a proven hood",
    )  # fmt: skip


HOSES = Computation(kinds=(KIND,), compute=_compute)
