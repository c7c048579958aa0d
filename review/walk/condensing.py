"""Condensers: what a jacket with coolant takes out of the gas."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.reference.finding import Substance, vapour_pressure

if TYPE_CHECKING:
    from review.walk.train import Properties

#: How much warmer than its coolant a condenser lets the gas go, K (common practice, no source).
APPROACH = 10.0
#: Heat that a condenser of glass takes up, W/(m2 K): the low end of 60 to 150 for condensing
#: organic vapours behind glass (from memory); too little leaves more vapour, the hazardous side.
GLASS_CONDENSER = 60.0


def condensing_at(view: ItemView) -> FloatArray:
    """Temperature of the gas that leaves a condenser, K."""
    return view.get("coolant_temperature") + APPROACH


def condense(
    view: ItemView, properties: Properties, flow: FloatArray, pressure: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """What condenses, (species, runs), mol/s, and where all of the rest leaves cold.

    An ideal liquid of everything that condenses at that temperature, no more than the heat taken
    up allows: the stated one, else what the bore's surface passes.
    """
    running = view.get("cooling") > 0
    at = condensing_at(view)
    total = flow.sum(axis=0)
    share = flow / np.where(total > 0, total, 1.0)
    ratios = saturation(properties.species, at) / pressure
    vapour = physics.flash_vapour(share, ratios)
    with np.errstate(invalid="ignore", divide="ignore"):
        liquid = share / (1 + vapour * (ratios - 1))
    liquid = np.where(np.isinf(ratios) | ~(vapour < 1), 0.0, liquid) * (1 - vapour) * total
    heats = [_heat(s) for s in properties.species]
    needed = sum(h * n for h, n in zip(heats, liquid, strict=True))
    surface = np.pi * view.get("inner_diameter") * view.get("length")
    hottest = np.max([np.where(flow[k] > 0, s.number("boiling_point"), 0.0)
                      for k, s in enumerate(properties.species)], axis=0)  # fmt: skip
    drive = np.maximum(hottest - view.get("coolant_temperature"), 0.0)
    power = view.get("cooling_power")
    power = np.where(np.isnan(power), GLASS_CONDENSER * surface * drive, power)
    enough = np.where(needed <= 0, np.inf, power / np.where(needed <= 0, 1.0, needed))
    part = np.where(running & (total > 0), np.clip(np.nan_to_num(enough), 0.0, 1.0), 0.0)
    return liquid * part, running & (total > 0) & (enough >= 1)


def saturation(species: Sequence[Substance], temperature: FloatArray) -> FloatArray:
    """Vapour pressure of each species, (species, runs), Pa; infinite for what stays a gas.

    A species whose curve does not reach down counts as at its cold end, which leaves more vapour.
    """
    out = np.full((len(species), temperature.size), np.inf)
    for k, substance in enumerate(species):
        curve = substance.curve("vapour_pressure")
        if curve.state == "known":
            held = np.maximum(temperature, curve.low)
            pressure, inside = vapour_pressure(substance, held)
            out[k] = np.where(inside, pressure, np.inf)
    return out


def _heat(substance: Substance) -> float:
    """Heat of vaporisation at the boiling point, J/mol; without data that of water."""
    found = physics.heat_of_vaporisation(
        substance.number("boiling_point"),
        substance.number("critical_temperature"),
        substance.number("critical_pressure"),
        substance.number("boiling_point"),
    )
    return float(np.nan_to_num(found, nan=41e3))
