"""Solids that light hydrogen and carbon monoxide in air far below autoignition, catalyst or not.

Metals of groups 8 to 11, and those whose oxides give oxygen up, as grains, gauze or powder that the
gas passes. Walls and hoses are too small a surface to count, and what lies under a liquid is wet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from review import Place, Setup, Substance, UnknownName

from .dilute import Dilute
from .fuels import Limits

#: What they light.
LIT = frozenset({"hydrogen", "carbon monoxide"})
#: Platinum metals light hydrogen at room temperature (Doebereiner 1823), and vapours of alcohol and
#: ether go on glowing over them (Davy 1817): so any fuel, at any temperature.
NOBLE = frozenset({"Ru", "Os", "Rh", "Ir", "Pd", "Pt"})
#: The others from here on, K: over oxides of copper and manganese carbon monoxide burns from room
#: temperature on (Hutchings et al., Appl. Catal. A 166 (1998) 143), hydrogen over those of copper,
#: cobalt and manganese from 100 to 200 degC on, and freshly reduced iron, cobalt or nickel glows in
#: air (from memory). Moist or in large grains they do so later.
BASE = frozenset({"Fe", "Co", "Ni", "Cu", "Ag", "Au", "Mn", "V", "Cr", "Ce"})
FROM = 373.15
#: Oxides that hydrogen reduces more slowly, and their metals, from here on, K: sensors of tin
#: dioxide burn hydrogen at 300 degC (from memory).
SLOW, SLOW_FROM = frozenset({"Sn", "W", "Mo", "Pb"}), 573.15
#: Hydrogen and carbon monoxide burn over all of these from here on, K, whatever light-off the file
#: states of a catalyst (from memory: nickel, iron and chromium oxides, the slowest, by 250 degC).
BELIEVED = 473.15
#: Share of the mass below which such a metal is a trace of a solid.
TRACE = 0.001
#: Metals among the materials that are none of these.
DARK = frozenset({"aluminium", "titanium grade 2"})
#: Up to this warming by its worst mixture with air, K, gas that a bed lights glows there, or sends
#: a flame upwards at most: hydrogen in air travels sideways from 6 % on, warming by 500 K, and
#: downwards from 9 %, by 740 K (Coward and Jones, Bulletin 503, from memory; over 29.1 J/(mol K)).
#: 5 % hydrogen in argon, the richest of what is sold as forming gas, warms by 510 K.
WEAK = 550.0
#: Classes that say the same of what has no formula, such as a metal on a carrier.
NOBLE_CLASS = "noble metal catalyst"
METALS = frozenset({"metal powder", "acetylide-forming metal", "carbonyl-forming metal"})
_SYMBOL = re.compile("[A-Z][a-z]?")


def lights_from(setup: Setup, place: Place) -> tuple[float, str]:
    """From which temperature a bed lights what burns there, K, and by what; infinite: it does not.

    Of what the file declares as a catalyst with a light-off of its own, the highest believed; one
    of unknown light-off is not known, and others say so.
    """
    if place.liquid:
        return float("inf"), ""
    catalysts = {
        name
        for key, catalyst in setup.scenario.catalysts.items()
        if catalyst.in_ == place.id
        for name in (key, catalyst.material or key)
    }
    declared = {name for text in catalysts for name, _ in _named(setup, text)} | catalysts
    stated = any(
        catalyst.in_ == place.id and catalyst.light_off not in ("none", "unknown")
        for catalyst in setup.scenario.catalysts.values()
    )
    bed = [each for each in _bed(setup, place) if stated or each[0] not in declared]
    bed += [each for text in catalysts for each in _named(setup, text) if stated]
    found = []
    for name, elements in bed:
        if NOBLE & elements:
            found.append((FROM if name in declared else 0.0, name))
        elif BASE & elements:
            found.append((BELIEVED if name in declared else FROM, name))
        elif SLOW & elements:
            found.append((SLOW_FROM, name))
    return min(found, default=(float("inf"), ""))


def wet_noble(setup: Setup, place: Place) -> str:
    """A platinum metal in a held liquid, by its name: powder that is strewn into a solvent in air
    lights its vapour as it falls; '' if there is none."""
    if not place.liquid:
        return ""
    bed = list(_bed(setup, place))
    for key, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ == place.id:
            bed += _named(setup, catalyst.material or key)
    return next((name for name, elements in bed if NOBLE & elements), "")


def weak(setup: Setup, place: Place, limits: Limits) -> NDArray[np.bool_]:
    """Where no gas that comes here carries more than a weak flame with any amount of air."""
    points = ("old", "inlet", "outlet", "outlet_middle", "outlet_end")
    gases = np.array([place.composition(point) for point in points])
    rise = Dilute.of(setup.species, limits).rise_in_air(gases, setup.fresh_air)
    return np.asarray((rise <= WEAK).all(axis=0))


def _bed(setup: Setup, place: Place) -> Iterator[tuple[str, set[str]]]:
    """Name and elements of every solid that gas passes here: charged, packed, or what forms."""
    reference = setup.reference
    for name, share in place.solids.items():
        if not share <= TRACE:
            yield name, _metals(reference.substance(name))
    for terms in place.equations:
        yield from ((t.text, set(_SYMBOL.findall(t.formula))) for t in terms if t.solid)
    packing = place.model.packing
    if packing is not None and packing.material is not None:
        yield from _named(setup, packing.material)


def _named(setup: Setup, text: str) -> Iterator[tuple[str, set[str]]]:
    """Its name in the data and its metals; nothing of what the data do not know."""
    with suppress(UnknownName):
        found = setup.reference.substance(text)
        yield found.name, _metals(found)
        return
    with suppress(UnknownName):
        material = setup.reference.material(text)
        if material.kind == "metal" and material.name not in DARK:
            yield material.name, set(BASE)


def _metals(solid: Substance) -> set[str]:
    """Elements of a solid; of one without a formula those that its classes speak of."""
    classes = solid.classes or ()
    if NOBLE_CLASS in classes:
        return set(NOBLE)
    return set(solid.elements) or (set(BASE) if METALS & set(classes) else set())
