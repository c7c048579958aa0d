"""Condensers, cold traps, wash bottles: what stays liquid of a gas, and what becomes of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from review.interface.items import ItemKind, ItemView
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.physics import liquids as physics
from review.reference.finding import Substance, vapour_pressure
from review.scenario.units import ATMOSPHERE
from review.walk.properties import Properties

#: How much warmer than its coolant a condenser lets the gas go, K (common practice, no source).
APPROACH = 10.0
#: Heat that a condenser of glass takes up, W/(m2 K): alcohol condensers cooled with water have 250
#: to 700 (engineersedge.com, representative values), behind 2 mm of glass of 1.14 W/(m K) 174 at
#: the low end (1 / (1/250 + 0.002/1.14)), and little more than half of that where water trickles.
#: Too little leaves more vapour, the hazardous side.
GLASS_CONDENSER = 100.0
#: How much warmer than stated a liquid may be in which something reacts, K (common practice, no
#: source). More of what forms goes on, the hazardous side.
REACTING = 20.0
#: What meets water in the gas as a mist, which liquid does not hold.
MISTS = frozenset({"sulfur trioxide"})
#: Vapour with less than this share of other gas need not diffuse through it.
NEARLY_ALONE = 1e-3


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
    total = flow.sum(axis=0)
    liquid = _above_saturation(properties, flow, pressure, condensing_at(view))
    surface = np.pi * view.get("inner_diameter") * view.get("length")
    enough = _share_cooled(view, properties, flow, liquid, surface, view.get("coolant_temperature"))
    part = np.where(running & (total > 0), np.clip(np.nan_to_num(enough), 0.0, 1.0), 0.0)
    return liquid * part, running & (total > 0) & (enough >= 1)


def caught(
    kind: ItemKind,
    view: ItemView,
    properties: Properties,
    flow: FloatArray,
    pressure: FloatArray,
    ambient: FloatArray,
) -> FloatArray:
    """What a cold surface without a jacket takes out of the gas, (species, runs), mol/s.

    Down to saturation a little warmer than the surface, no more than its heat and, where other gas
    carries the vapour, no more of it than diffuses to the wall of a bore of the item's width in
    laminar flow, 1 - exp(-3.66 pi D L / V'): the least there is. Nothing where a liquid is held,
    where the width or volume is not known, and nothing of what must not condense at all.
    """
    surface = view.cold
    if surface is None or view.model.liquid is not None:
        return np.zeros_like(flow)
    at = np.minimum(surface + APPROACH, ambient)
    at = np.where(np.isnan(at), ambient, at)
    species, total = properties.species, flow.sum(axis=0)
    liquid = _above_saturation(properties, flow, pressure, at)
    must_not = [bool(s.oxidiser or s.burns_without_oxygen is not False) for s in species]
    liquid[must_not] = 0.0
    volume = kind.volume(view)
    bore = view.get("inner_diameter")
    bore = np.where(np.isnan(bore), np.cbrt(6 * volume / np.pi), bore)
    length = volume / (np.pi / 4 * bore**2)
    enough = _share_cooled(view, properties, flow, liquid, np.pi * bore * length, surface)
    rate = gas_physics.R * total * ambient / pressure
    out = np.zeros_like(flow)
    for k, substance in enumerate(species):
        diffuses = substance.number("diffusion_in_air") * (at / 298.15) ** 1.75 * ATMOSPHERE
        reached = physics.wall_capture(diffuses / pressure, length, rate)
        alone = (total - flow[k]) <= NEARLY_ALONE * total
        part = np.where(alone, enough, np.fmin(enough, np.nan_to_num(reached)))
        part = np.where(np.isnan(surface) | ~(total > 0), 0.0, np.nan_to_num(part))
        out[k] = np.where(liquid[k] > 0, liquid[k] * np.clip(part, 0.0, 1.0), 0.0)
    return out


def stays(
    kind: ItemKind,
    view: ItemView,
    properties: Properties,
    inlet: FloatArray,
    outlet: FloatArray,
    pressure: FloatArray,
    ambient: FloatArray,
) -> FloatArray:
    """What forms in a liquid that gas bubbles through and is no gas there, (species, runs), mol/s.

    It goes on at its own vapour pressure, as sulfuric acid does in a bottle; the rest stays.
    """
    bath = kind.bath(view)
    mists = [r for r in view.reactions if any(
        properties.species[k].name in MISTS for k in np.flatnonzero(r.coefficients))]  # fmt: skip
    if view.model.liquid is None or bath is None or not view.reactions or mists:
        return np.zeros_like(outlet)
    at = np.maximum(np.where(np.isnan(bath), ambient, bath), ambient) + REACTING
    carried = saturation(properties.species, at) / pressure * outlet.sum(axis=0)
    carried = np.where(np.isnan(carried), np.inf, carried)
    return np.maximum(outlet - np.maximum(inlet, carried), 0.0)


def _above_saturation(
    properties: Properties, flow: FloatArray, pressure: FloatArray, at: FloatArray
) -> FloatArray:
    """What of a gas is an ideal liquid at this temperature, (species, runs), mol/s."""
    total = flow.sum(axis=0)
    share = flow / np.where(total > 0, total, 1.0)
    ratios = saturation(properties.species, at) / pressure
    vapour = physics.flash_vapour(share, ratios)
    liquid = share / (1 + vapour * (ratios - 1))
    return np.asarray(
        np.where(np.isinf(ratios) | ~(vapour < 1), 0.0, liquid) * (1 - vapour) * total
    )


def _share_cooled(
    view: ItemView,
    properties: Properties,
    flow: FloatArray,
    liquid: FloatArray,
    surface: FloatArray,
    coldest: FloatArray,
) -> FloatArray:
    """Heat that a surface takes up over what its condensate gives off; infinite for none."""
    heats = [_heat(s) for s in properties.species]
    needed = sum(h * n for h, n in zip(heats, liquid, strict=True))
    hottest = np.max([np.where(flow[k] > 0, s.number("boiling_point"), 0.0)
                      for k, s in enumerate(properties.species)], axis=0)  # fmt: skip
    drive = np.maximum(hottest - coldest, 0.0)
    power = view.get("cooling_power")
    power = np.where(np.isnan(power), GLASS_CONDENSER * surface * drive, power)
    return np.asarray(np.where(needed <= 0, np.inf, power / np.where(needed <= 0, 1.0, needed)))


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
