"""What a cold surface makes liquid that must not collect: oxygen, ozone, acetylene and the like."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
    Substance,
    vapour_pressure,
)

SATURATION = Method(
    id="flammability.condensing_oxidiser",
    title="Oxidiser or gas that decomposes, over what its liquid gives off at the coldest surface",
    result="saturation",
    unit="1",
    formula="y * P / p_sat",
    inputs=(
        Input("y", "y", "mol/mol", "highest content of the gas that comes here"),
        Input("P", "P", "Pa", "absolute pressure"),
        Input("p_sat", "p_s", "Pa", "its vapour pressure at the coldest surface"),
    ),
    function=lambda y, P, p_sat: np.where(y == 0, 0.0, y * P / p_sat),
    source="Raoult's law for one component; it condenses from 1 on",
    validity="at its partial pressure alone: with nitrogen it dissolves a little sooner",
)
KIND = Kind.of(
    SATURATION, "higher", "", {"train.*.bath_temperature": "down"},
    title="Oxidiser that condenses on a cold surface, as a share of saturation",
)  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for place in setup.places:
        if np.isnan(place.cold).all():
            continue
        cold = np.where(np.isnan(place.cold), np.inf, place.cold)
        for row, substance in enumerate(setup.species):
            if not (substance.oxidiser or substance.burns_without_oxygen):
                continue
            found = True
            content = _content(setup, place, row)
            ratio = SATURATION(
                y=setup.quantity(
                    content, f"{substance.name} that comes to {place.id}", "mol/mol",
                    "balance of the train",
                ),
                P=place.pressure,
                p_sat=_saturation(setup, substance, cold),
            )  # fmt: skip
            yield setup.measure(KIND, ratio, place.id, substance.name)
    if not found:
        why = "nothing here is colder than the room and meets an oxidiser"
        yield setup.measure(KIND, setup.quantity(0.0, "saturation", "1", why), "train", note=why)


def _content(setup: Setup, place: Place, row: int) -> FloatArray:
    """Most of a species in what flows in, or comes in where nothing flows.

    Not what stood here before it was cooled, nor once the bath is taken away.
    """
    moving = place.moving > 0
    flowing = np.maximum(place.composition("inlet")[row], place.composition("outlet")[row])
    exposed = place.exposed > 0
    drawn = np.where(exposed, place.composition("drawn_from")[row], 0.0)
    content = np.where(moving, np.maximum(flowing, drawn * exposed), drawn)
    return np.where(np.isnan(place.cold), 0.0, content)


def _saturation(setup: Setup, substance: Substance, cold: FloatArray) -> Quantity:
    """Vapour pressure at the cold surface; colder than the curve as at its cold end."""
    curve = substance.curve("vapour_pressure")
    pressure = np.full(setup.trials, np.nan)
    if curve.state == "known":
        own, inside = vapour_pressure(substance, np.maximum(cold, curve.low))
        pressure = np.where(inside, own, np.where(cold > curve.high, np.inf, np.nan))
    name = f"vapour pressure of {substance.name}"
    return Quantity.of(pressure, name=name, unit="Pa", source=curve.source or "no curve is known")


CONDENSED = Computation(kinds=(KIND,), compute=_compute)
