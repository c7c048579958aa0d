"""What a dry bed holds before it lets the gas through: its mass, its load and its working zone."""

from __future__ import annotations

from contextlib import suppress

import numpy as np

from review import FloatArray, Place, Setup, Substance, UnknownName

#: Bulk density, kg/m3, and load at breakthrough, kg or (of soda lime) mol of gas per kg of bed; the
#: low end of makers' guides, from memory. Charcoal at some hundred ppm; soda lime half of the 26 L
#: of carbon dioxide that 100 g bind; silica gel in air of some 20 % humidity; calcium chloride a
#: little short of its dihydrate (0.32).
BEDS: dict[str, tuple[float, float]] = {
    "activated carbon": (400.0, 0.10), "soda lime": (800.0, 5.0), "molecular sieve": (640.0, 0.15),
    "silica gel": (700.0, 0.07), "calcium chloride": (750.0, 0.20),
    "magnesium sulfate": (700.0, 0.15), "phosphorus pentoxide": (600.0, 0.10),
    "calcium oxide": (800.0, 0.10), "alumina": (750.0, 0.07),
}  # fmt: skip
BY_MOLE = ("soda lime",)
#: The zone in which a bed takes up gas is so many grains long (a judgement, no source); half of it
#: is unused at breakthrough (length of unused bed, Collins 1967, from memory).
ZONE = 30.0
#: Grain where none is stated, m.
COARSE = 5e-3
#: Warmer than this a bed gives back what it took up, K (a judgement, no source).
WARM = 318.15


def bed(setup: Setup, place: Place) -> str | None:
    """The name of the dry absorbent that an item is packed with; None where it is none."""
    packing = place.model.packing
    if packing is None or packing.material is None:
        return None
    with suppress(UnknownName):
        name = setup.reference.substance(packing.material).name
        return name if name in BEDS else None
    return None


def used_share(length: FloatArray, grain: FloatArray) -> FloatArray:
    """Share of a bed that is used when the gas breaks through: 1 - 30 d / (2 L), at least 0.

    >>> float(used_share(np.asarray(0.15), np.asarray(3e-3)).round(3))
    0.7
    """
    return np.asarray(np.clip(1 - ZONE * grain / (2 * length), 0.0, 1.0))


def bed_holds(setup: Setup, place: Place, name: str, substance: Substance) -> FloatArray:
    """Moles of a gas that a dry bed holds until it breaks through, over trials; NaN: not known.

    n = pi/4 d2 L rho q u, with u the share of the bed that is used; 0 where it is warm

    A second gas that the bed takes up as well shares it: nobody says how, so each gets its part.
    """
    density, load = BEDS[name]
    length = place.number("packing.length").value
    length = np.where(np.isnan(length), place.number("length").value, length)
    grain = place.number("packing.particle_diameter").value
    grain = np.where(np.isnan(grain), COARSE, grain)
    mass = np.pi / 4 * place.number("inner_diameter").value ** 2 * length * density
    per_mole = load if name in BY_MOLE else load / substance.molar_mass
    held = mass * per_mole * used_share(length, grain) / max(len(place.model.absorbs), 1)
    return np.asarray(
        np.where(place.hottest.value <= WARM, held, np.where(np.isnan(held), held, 0.0))
    )
