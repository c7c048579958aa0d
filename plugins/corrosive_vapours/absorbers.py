"""Absorbents: how much of what they can hold is used by the end of each step."""

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
)

from .beds import bed
from .capacity import ROUNDED, WATER, WRONG, most_bound, without_strength

USED = Method(
    id="corrosion.absorbent_used",
    title="Absorbent used, over what it can hold",
    result="share of the absorbent used",
    unit="1",
    formula="n / capacity",
    inputs=(
        Input("n", "n", "mol", "taken up by the end of the step, by all that it binds"),
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
            if substance.name not in setup.rows:
                continue
            if substance.name not in place.taken_up:
                # The balance lets all of it through. Where what passes is mild, nothing rests on
                # what is believed to hold it, and none of that is used.
                passes = np.full(setup.trials, 0.0 if _mild(substance) else np.nan)
                lost = Quantity.of(passes, name="share used", source="no credit")
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
            taken, by = _taken(setup, place, substance)
            used = _breathed_apart(substance, USED(n=taken, capacity=capacity))
            spent = _spent_after(setup, taken.value, capacity.value)
            note = "; ".join(filter(None, (note, spent, by)))
            yield setup.measure(KIND, used, place.id, substance.name, note=note)


#: A gas that endangers life only above so much, and does not burn, does its harm by being breathed.
MILD = 1e-2
#: What its spent absorbent counts as: a condition, as whoever comes next renews it.
SPENT = 0.8


def _mild(gas: Substance) -> bool:
    idlh = gas.datum("idlh").value
    return idlh is not None and idlh >= MILD and gas.datum("lower_limit_air").state == "none"


def _breathed_apart(gas: Substance, used: Quantity) -> Quantity:
    """A spent absorbent of carbon dioxide is no danger by itself, planned or not: what passes it
    is judged by what people breathe."""
    if not _mild(gas):
        return used
    return used.revised(np.where(used.value > SPENT, SPENT, used.value), used.status)


def _taken(setup: Setup, place: Place, substance: Substance) -> tuple[Quantity, str]:
    """What is used of the capacity, mol: by the gas itself and by others that are bound as well."""
    own = place.used(substance)
    total, also = own.value, []
    for name, share in place.rivals(substance).items():
        other = place.used(setup.reference.substance(name))
        own = own.revised(own.value, np.maximum(own.status, other.status))
        total = total + share * other.value
        if not (other.value <= 0).all():
            also.append(name)
    said = f"{' and '.join(also)} use it up too" if also else ""
    return own.revised(total, own.status), said


def _spent_after(setup: Setup, used: FloatArray, capacity: FloatArray) -> str:
    """How soon it is spent at the rate of the fastest step, as planned and in the worst failure."""
    cells, runs = setup.shape
    taken = used.reshape(cells, runs)
    lasts = np.array([setup.duration(cell) for cell in range(cells)])
    before = np.concatenate([np.zeros((2, runs)), taken[1:-1]])[:cells]
    minutes = capacity.reshape(cells, runs) / ((taken - before) / lasts) / 60.0
    minutes = np.where(~(taken <= before), minutes, np.inf)
    planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
    said = []
    for words, which in (("as planned", planned), ("in the worst failure", ~planned)):
        least = np.nanmin(minutes[:, which], initial=np.inf)
        if np.isfinite(least):
            said.append(f"{np.floor(least):.0f} min {words}")
    return f"spent after {' and '.join(said)}, from fresh" if said else ""


def _capacity(setup: Setup, place: Place, substance: Substance, text: str) -> tuple[Quantity, str]:
    """The stated capacity, or what its absorbent binds where that is a little less; missing where
    the statement is wrong by more. And what it binds."""
    stated = place.number(f"absorbs.{text}.capacity")
    surely = place.bound(substance)
    if np.isnan(stated.value).all() and not np.isnan(surely):
        dense = setup.number(f"reagents.{place.model.liquid}.density").value
        mass = place.number("liquid_volume").value * np.where(np.isnan(dense), WATER, dense)
        why = "scenario: none stated, so two fifths of what its liquid binds by stoichiometry"
        capacity = Quantity.of(mass * surely, name=stated.name, unit="mol", source=why)
        return capacity, "capacity worked out from the liquid's strength"
    if without_strength(setup, place):
        name = f"{place.model.liquid} without its strength"
        return Quantity.missing(name, "mol", why="say how much of it is in the water"), ""
    most = most_bound(setup, place, substance)
    if most is None:
        return stated, ""
    what = place.model.liquid or bed(setup, place)
    held = (
        f"{what} in {place.id} binds at most {np.nanmin(most):.3g} mol of it"
        if not np.isnan(most).all()
        else ""
    )
    believed = stated.value <= ROUNDED * most
    if believed.all():
        return stated, held
    bound = np.where(stated.value <= WRONG * most, np.minimum(stated.value, most), np.nan)
    least = np.nan if np.isnan(most).all() else np.nanmin(most)
    why = f'write a "capacity" of at most {least:.2g} mol: {what} in {place.id} binds no more of it'
    told = why if np.isnan(bound).any() and not np.isnan(least) else held
    return Quantity.of(bound, stated.status, name=stated.name, unit="mol", source=why), told


ABSORBERS = Computation(kinds=(KIND,), compute=_compute)
