"""What meets or forms in an item without the file or the data saying with what: not known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from review import Place, Quantity, Setup, UnknownName, vapour_pressure

from .present import Presence, unknown_solids

#: A substance, how far it is known, and why not.
Lost = tuple[str, Quantity, str]

#: Classes of what holds chloride, bromide or iodide.
HALIDES = {"halide salt", "hydrogen halide"}

#: Vapour of a packing below this, Pa, is 10 ppm of the gas: no matter of a hood.
LITTLE_VAPOUR = 1.0

#: Share of a halide, by mass, from which a current makes its halogen beside oxygen (a judgement).
BRINE = 0.001


def not_told(setup: Setup, place: Place, here: Sequence[Presence]) -> Iterator[Lost]:
    """All of it in one item."""
    yield from _unclassified(setup, place, here)
    yield from _volatile(setup, place)
    yield from _electrolysed(setup, place)


def _unclassified(setup: Setup, place: Place, here: Sequence[Presence]) -> Iterator[Lost]:
    """What nobody classified, where more than it and plain walls are there: not known."""
    lost = Quantity.of(np.full(setup.trials, np.nan), name="reactivity")
    unknown = {one.member.name for one in here if one.member.classes is None}
    unknown |= set(unknown_solids(setup, place))
    for name in sorted(unknown):
        yield name, lost, f"the data do not say what {name} reacts with"


def _volatile(setup: Setup, place: Place) -> Iterator[Lost]:
    """A packing that gives off vapour: the balance knows only what liquids give off."""
    for text, part in place.parts:
        try:
            solid = setup.reference.substance(text) if part == "packing" else None
        except UnknownName:
            continue
        if solid is None or not solid.can_be_gas or solid.name in place.liquid:
            continue
        pressure, _ = vapour_pressure(solid, place.hottest.value)
        counts = ~(pressure <= LITTLE_VAPOUR)
        lost = Quantity.of(np.where(counts, np.nan, 0.0), name="vapour of the packing")
        why = (
            f"{solid.name} gives off vapour, which of a packing is not counted: write it as what "
            f"lies in a vessel, such as liquid: {solid.name}, liquid_volume: 1 mL"
        )
        yield solid.name, lost, why


def _electrolysed(setup: Setup, place: Place) -> Iterator[Lost]:
    """Water that a current splits in a solution of a halide: its halogen forms, not oxygen."""
    split = any(
        {t.substance.name if t.substance else "" for t in terms if t.coefficient < 0} == {"water"}
        for terms in place.made
    )
    halogens = any("halogen" in (each.classes or ()) for each in setup.species)
    for name, share in place.liquid.items() if split and not halogens else ():
        if not share <= BRINE and HALIDES & set(setup.reference.substance(name).classes or ()):
            lost = Quantity.of(np.full(setup.trials, np.nan), name="halogen at the anode")
            why = f"the halogen of {name} forms at the anode: state it as a gas that is made"
            yield name, lost, why
