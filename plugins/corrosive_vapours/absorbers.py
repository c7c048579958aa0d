"""Absorbents: how much of what they can hold is used by the end of each step."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Place, Quantity, Setup, Substance

from .capacity import ROUNDED, WRONG, most_bound, without_strength

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
    compares=lambda n, capacity: (n, capacity),
    compared_in=("mol", ""),
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
            capacity, note = _capacity(setup, place, substance, text)
            used = USED(n=place.used(substance), capacity=capacity)
            yield setup.measure(KIND, used, place.id, substance.name, note=note)


def _capacity(setup: Setup, place: Place, substance: Substance, text: str) -> tuple[Quantity, str]:
    """The stated capacity, or what its absorbent binds where that is a little less; missing where
    the statement is wrong by more. And what it binds."""
    stated = place.number(f"absorbs.{text}.capacity")
    if without_strength(setup, place):
        name = f"{place.model.liquid} without its strength"
        return Quantity.missing(name, "mol", why="say how much of it is in the water"), ""
    most = most_bound(setup, place, substance)
    if most is None:
        return stated, ""
    held = (
        f"{place.model.liquid} in {place.id} binds at most {np.nanmin(most):.3g} mol of it"
        if not np.isnan(most).all()
        else ""
    )
    believed = stated.value <= ROUNDED * most
    if believed.all():
        return stated, held
    bound = np.where(stated.value <= WRONG * most, np.minimum(stated.value, most), np.nan)
    why = f"{held}, less than the stated capacity: state what it can hold, and its density"
    return Quantity.of(bound, stated.status, name=stated.name, unit="mol", source=why), held


ABSORBERS = Computation(kinds=(KIND,), compute=_compute)
