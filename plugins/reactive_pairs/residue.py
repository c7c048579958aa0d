"""What is left of a solution that boils dry: the dissolved solids, as hot as the heater makes them.

The balance keeps the wall at the boiling point for as long as any liquid is left, and a heater of
unknown power just boils all of it away. Here the most that a heater of the bench gives counts.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from review import FloatArray, Place, Setup

#: What a hot plate, mantle or burner of the bench brings into a vessel at most, W (a judgement, no
#: source), and what a kilogram of water takes away as it boils off, J/kg (IAPWS-95).
POWER, LATENT = 1000.0, 2.256e6
WATER = 1000.0


def residue(setup: Setup, place: Place) -> tuple[Mapping[str, float], FloatArray]:
    """Mass fractions of the dissolved solids without their water, and how hot they get, K.

    Empty where nothing is dissolved, or where the heat cannot boil it dry.
    """
    solids = {
        name: share
        for name, share in place.liquid.items()
        if setup.reference.substance(name).phase_at_20C == "solid"
    }
    hot = np.zeros(setup.trials)
    rest = sum(solids.values())
    if not solids or rest >= 1:
        return {}, hot
    mass = place.number("liquid_volume").value * WATER * (1 - rest)
    for name, source in setup.scenario.heat.items():
        if source.heats != place.id:
            continue
        power = setup.number(f"heat.{name}.power").value
        given = np.where(np.isnan(power), POWER, power) * _on(setup, name)
        to = np.fmax(
            setup.number(f"heat.{name}.hottest").value,
            setup.number(f"heat.{name}.set_temperature").value,
        )
        # What is not known counts: unknown amounts boil dry, an unknown heater is told elsewhere.
        hot = np.fmax(hot, np.where(given < mass * LATENT, 0.0, to))
    dried = {name: share / rest for name, share in solids.items()}
    return (dried, hot) if not (hot <= 0).all() else ({}, hot)


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
