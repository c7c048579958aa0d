"""What boils dry: how hot the heater makes the wall then, and the solids that are left on it.

The balance keeps the wall at the boiling point for as long as any liquid is left. A heater of which
nobody says how much it gives boils all of it away. A bath, at its hottest, is as hot as the wall
gets.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Place, Setup, Substance
from review.physics.liquids import heat_of_vaporisation

#: What a kilogram of water takes away as it boils off, J/kg (IAPWS-95).
LATENT = 2.256e6
WATER = 1000.0
#: Of a liquid without figures: no common one takes less, J/kg, or weighs less, kg/m3 (from memory).
LEAST_LATENT, LIGHTEST = 1.5e5, 600.0


def residue(setup: Setup, place: Place) -> tuple[Mapping[str, float], FloatArray]:
    """Mass fractions of the dissolved solids without their liquid, and how hot they get, K.

    Empty where nothing is dissolved, or where the heat cannot boil it dry.
    """
    solids = {
        name: share
        for name, share in place.liquid.items()
        if setup.reference.substance(name).phase_at_20C == "solid"
    }
    rest = sum(solids.values())
    hot = boiled_dry(setup, place) if solids and rest < 1 else np.zeros(setup.trials)
    dried = {name: share / rest for name, share in solids.items()}
    return (dried, hot) if not (hot <= 0).all() else ({}, hot)


def boiled_dry(setup: Setup, place: Place, left: float = 0.0) -> FloatArray:
    """How hot the heater makes the wall of an item that boils dry, K; 0 where it cannot.

    With `left`, a share of the liquid, where no more than that is left. What a condenser gives back
    boils nothing dry.
    """
    hot = np.zeros(setup.trials)
    if not place.liquid or _given_back(setup, place):
        return hot
    for name in _heaters(setup, place):
        to = np.fmax(
            setup.number(f"heat.{name}.hottest").value,
            setup.number(f"heat.{name}.set_temperature").value,
        )
        hot = np.fmax(hot, np.where(_share(setup, place, name) < 1 - left, 0.0, to))
    return hot


def dried_up(setup: Setup, place: Place, left: float) -> NDArray[np.bool_]:
    """Where the plan lets all but a share of an unheated liquid evaporate within a step.

    Once all is off, whoever ran it clears away.
    """
    lasts = place.vapour_lasts.reshape(setup.shape)
    gone = np.zeros(setup.shape[1], dtype=bool)
    for cell in range(max(1, setup.shape[0] - 1)):
        gone |= ~(setup.duration(cell) < (1 - left) * lasts[cell])
    planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
    dries = bool(place.liquid) and not _heaters(setup, place) and bool(gone[planned].any())
    return np.full(setup.trials, dries)


def boiled_volume(setup: Setup, place: Place) -> FloatArray:
    """The most of its liquid that its heaters boil off, m3; NaN where the file says no amount."""
    shares = [np.fmin(_share(setup, place, name), 1.0) for name in _heaters(setup, place)]
    most = np.max(shares, axis=0) if shares else np.zeros(setup.trials)
    return np.where(most == 0, 0.0, place.number("liquid_volume").value * most)


def _heaters(setup: Setup, place: Place) -> list[str]:
    heat = setup.scenario.heat.items()
    return [n for n, h in heat if h.heats == place.id and h.kind != "cooling bath"]


def _share(setup: Setup, place: Place, name: str) -> FloatArray:
    """What a heater boils off at most over what the liquid is; what is not known boils all."""
    power = setup.number(f"heat.{name}.power").value
    lasts = _on(setup, name)
    given = np.where(lasts == 0, 0.0, np.where(np.isnan(power), np.inf, power) * lasts)
    share = given / (place.number("liquid_volume").value * _heat(setup, place))
    return np.where(np.isnan(share), np.inf, share)


def _heat(setup: Setup, place: Place) -> float:
    """What boils a cubic metre of the liquid away, J/m3, the low end: its solids stay."""
    liquids = [(setup.reference.substance(name), x) for name, x in place.liquid.items()]
    boil = [(s, x) for s, x in liquids if s.phase_at_20C != "solid"]
    per_mass = sum(x * _latent(s) for s, x in boil)
    lightest = min((_density(s) for s, _ in boil), default=LIGHTEST)
    return float(lightest * per_mass)


def _density(one: Substance) -> float:
    known = one.number("liquid_density")
    return WATER if one.name == "water" else LIGHTEST if np.isnan(known) else known


def _latent(one: Substance) -> float:
    if one.name == "water":
        return LATENT
    boils, critical, pressure = (
        one.number(f) for f in ("boiling_point", "critical_temperature", "critical_pressure")
    )
    known = float(heat_of_vaporisation(boils, critical, pressure, boils)) / one.molar_mass
    return known if known > 0 else LEAST_LATENT


def _given_back(setup: Setup, place: Place) -> bool:
    """Whether a condenser stands on the vessel, and nothing behind it catches what runs down."""
    after = place.downstream
    if len(after) != 1 or setup.places[after[0]].model.coolant_temperature is None:
        return False
    behind = [p for p in setup.places if after[0] in p.before and p.index != after[0]]
    return all(p.kind.id in PASSED for p in behind)


#: Kinds of items behind a condenser in which nothing is caught.
PASSED = ("outlet", "line", "junction", "check valve")


def _on(setup: Setup, name: str) -> float:
    """How long a heater is on in all, s; as if for ever where no step says it."""
    steps, now, total = setup.scenario.procedure, False, 0.0
    if not steps:
        return np.inf
    for step in steps:
        said = step.heat.get(name)
        now = now if said is None else said != "off"
        total += step.duration if now else 0.0
    return total


def in_the_liquid(setup: Setup, place: Place) -> bool:
    """Whether all declared reactions of an item are those of its liquid: none of gas, nor at a
    catalyst or packing."""
    limiting = [setup.reference.substance(r.limiting) for r in place.model.reactions]
    held = [one for one in limiting if one.name in place.liquid and one.phase_at_20C != "gas"]
    catalysed = any(each.in_ == place.id for each in setup.scenario.catalysts.values())
    return len(held) == len(limiting) and not catalysed and place.model.packing is None
