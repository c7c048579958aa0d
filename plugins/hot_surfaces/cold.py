"""What cold does to the materials of baths, traps and vessels of liquefied gas."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from review import Computation, FloatArray, Input, Material, Measure, Method, Place, Setup

from .sheet import figure, kind, material_called

#: Share of a liquid by mass from which it is that liquid and not dissolved in another.
HALF = 0.5
#: So much below the room an item counts as cold, K; a spring water bath is none.
COLD_FROM = 15.0

MARGIN = Method(
    id="heat.cold_margin",
    title="Coldest part above the lowest temperature of its material",
    result="margin",
    unit="K",
    formula="T - T_min",
    inputs=(
        Input("T", "T", "K", "coldest it gets"),
        Input("T_min", "T_min", "K", "lowest temperature of use, highest published"),
    ),
    function=lambda T, T_min: T - T_min,
    compares=lambda T, T_min: (T, T_min),
    compared_in=("K", "degC"),
    source="difference",
    validity="slow cooling; a shock breaks glass sooner",
)
#: Estimated lowest temperatures may be so much too low, K (common practice, no source).
DOUBT = 20.0
KIND = replace(kind(MARGIN, "lower", "K", {"train.*.bath_temperature": "up"}), offset=DOUBT)
#: Glass that expands no more than this bears being chilled, 1/K: borosilicate 3.3 and quartz do,
#: soda-lime glass with 9e-6 does not (a judgement between the two).
BEARS_CHILL = 4e-6
GLASS = replace(
    MARGIN,
    id="heat.cold_glass_margin",
    title="Coldest part of heat-resistant glass above the lowest temperature it is named for",
)
GLASS_KIND = replace(
    kind(GLASS, "lower", "K", {"train.*.bath_temperature": "up"}), offset=DOUBT
)


def _compute(setup: Setup) -> Iterable[Measure]:
    ambient = setup.number("ambient.temperature").value
    found: set[str] = set()
    for place in setup.places:
        coldest = _coldest(setup, place)
        if place.is_end or not (coldest < ambient - COLD_FROM).any():
            continue
        at = setup.quantity(coldest, f"coldest of {place.id}", "K", "bath, held liquid or room")
        named = [n for n in (place.model.material, place.model.lining) if n is not None]
        for name in dict.fromkeys(named) or (None,):
            material = material_called(setup, name)
            least = figure(material, "minimum_temperature", "K", name or place.id)
            why = "" if name else f"{place.id}: say what it is made of"
            method, of = (GLASS, GLASS_KIND) if _bears_chill(material) else (MARGIN, KIND)
            found.add(of.id)
            yield setup.measure(of, method(T=at, T_min=least), place.id, name or "", why)
        # A joint stands out of the bath and is half as cold (a judgement, no source).
        half = setup.quantity((coldest + ambient) / 2, f"joint of {place.id}", "K", "half as cold")
        for name in dict.fromkeys(n for n, _ in place.seals if n is not None and n not in named):
            least = figure(material_called(setup, name), "minimum_temperature", "K", name)
            found.add(KIND.id)
            yield setup.measure(KIND, MARGIN(T=half, T_min=least), place.id, f"joint of {name}")
    for of in (KIND, GLASS_KIND):
        if of.id not in found:
            why = "nothing of that kind is far colder than the room"
            room = setup.quantity(ambient, "margin", "K", why)
            yield setup.measure(of, room, "train", note=why)


def _bears_chill(material: Material | None) -> bool:
    if material is None or material.kind != "glass":
        return False
    expansion = material.datum("expansion").value
    return expansion is not None and expansion <= BEARS_CHILL


def _coldest(setup: Setup, place: Place) -> FloatArray:
    """As its surface, or as its liquid, which is no hotter than it boils; the room else."""
    ambient = setup.number("ambient.temperature").value
    stated = place.cold
    liquid = place.liquid_temperature
    for name in (n for n, share in place.liquid.items() if share > HALF):
        # What boils below the room is as cold as that as long as any is left; not what is
        # dissolved in something else.
        liquid = np.fmin(liquid, setup.reference.substance(name).number("boiling_point"))
    found = np.fmin(np.fmin(stated, liquid), ambient)
    return np.asarray(found if place.liquid else np.fmin(stated, ambient))


COLD = Computation(kinds=(KIND, GLASS_KIND), compute=_compute)
