"""A metal that a solution of a nobler one's salt dissolves, declared or not: how hot that gets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from review import Measure, Place, Quantity, Setup

from .dissolving import KIND, MARGIN, OTHER, RISE, WATER, amount_of, limit

#: Charge of a metal's ion and its heat of formation in water at 25 degC, kJ/mol (NBS tables of
#: chemical thermodynamic properties 1982, from memory).
IONS: Mapping[str, tuple[int, float]] = {
    "magnesium": (2, -466.9), "aluminium": (3, -531.0), "zinc": (2, -153.9), "iron": (2, -89.1),
    "cobalt": (2, -58.2), "nickel": (2, -54.0), "tin": (2, -8.8), "lead": (2, -1.7),
    "copper": (2, 64.8), "silver": (1, 105.6),
}  # fmt: skip
#: The ion that a salt brings; ferric chloride as far as it becomes iron.
SALTS: Mapping[str, tuple[int, float]] = {
    "copper sulfate": IONS["copper"], "copper chloride": IONS["copper"],
    "copper nitrate": IONS["copper"], "silver nitrate": IONS["silver"],
    "lead nitrate": IONS["lead"], "ferric chloride": (3, -48.5), "iron nitrate": (3, -48.5),
    "cobalt chloride": IONS["cobalt"], "cobalt sulfate": IONS["cobalt"],
    "cobalt nitrate": IONS["cobalt"],
    "nickel sulfate": IONS["nickel"], "nickel nitrate": IONS["nickel"],
}  # fmt: skip


def displacing(setup: Setup) -> Iterable[Measure]:
    """Each metal with each nobler salt in the liquid where it lies, all of it at once."""
    for place in setup.places:
        for metal in sorted(IONS.keys() & place.solids.keys()):
            rise = _rise(setup, place, metal)
            if rise is not None:
                margin = MARGIN(
                    T_max=limit(setup, place.liquid), T=setup.number("ambient.temperature"),
                    rise=rise,
                )  # fmt: skip
                yield setup.measure(KIND, margin, place.id, metal)


def _rise(setup: Setup, place: Place, metal: str) -> Quantity | None:
    """Of the liquid if all that can is displaced; None where no salt there is nobler."""
    charge, formed = IONS[metal]
    nobler = {s: (n, h) for s, (n, h) in SALTS.items() if h / n > formed / charge}
    found = sorted(nobler.keys() & place.liquid.keys())
    if not found:
        return None
    molar = setup.reference.substance(metal).molar_mass
    mass = 1000.0 * place.number("liquid_volume").value
    solid = charge * amount_of(setup, metal) / molar / mass
    water = float(np.min(place.liquid.get("water", 0.0)))
    extents, heats = [], []
    for salt in found:
        n, h = nobler[salt]
        held = n * np.max(place.liquid[salt]) / setup.reference.substance(salt).molar_mass
        each = np.minimum(solid, held)
        extents.append(Quantity.of(each, name=salt, unit="mol/kg", source="the file"))
        heat = 1e3 * (formed / charge - h / n)
        heats.append(setup.quantity(heat, "heat per charge", "J/mol", "NBS tables"))
    return RISE(
        extents=extents, H=heats,
        c=setup.quantity(water * WATER + (1 - water) * OTHER, "heat capacity", "J/(kg K)",
            "water 4180, other liquids at least 1700 (from memory)"),
    )  # fmt: skip
