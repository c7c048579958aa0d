"""Liquids that set: a plug of ice in a bottle, condensate that freezes on a condenser's wall."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.liquids import ice_volume

#: Freezing point of water over molality, K kg/mol (CRC Handbook, cryoscopic constant).
WATER_LOWERED = 1.86
#: An oil without a melting point pours from here on, K; colder it may set. From memory.
POURS = 283.15
#: Share of a liquid from which its melting point is nearly that of the pure one.
NEARLY_PURE = 0.98
#: Less than half of a condensate freezes at least so much lower, K: ideal solubility, R T2 ln 2
#: Entropy of melting over the gas constant, no more than which a bench's liquids have: a mixture
#: freezes lower by at least T (1 - x) / this (ideal; long chains, from memory).
MOST_ENTROPY = 13.0
#: over a heat of fusion of 20 kJ/mol, more than solvents have (from memory).
HALF, HALF_LOWERED = 0.5, 24.0

FROZEN = Method(
    id="pressure.frozen",
    title="How far a held liquid stays above its freezing point",
    result="margin",
    unit="K",
    formula="T - T_melt",
    inputs=(
        Input("T", "T", "K", "temperature of the liquid"),
        Input("T_melt", "T_m", "K", "its melting point"),
    ),
    function=lambda T, T_melt: T - T_melt,
    compares=lambda T, T_melt: (T, T_melt),
    compared_in=("K", "degC"),
    source="difference",
    validity="a pure liquid, or dilute in water; other solutions below that are not known",
)
FROZEN_KIND = Kind.of(FROZEN, "lower", "K", {"train.*.bath_temperature": "up"})


def _compute(setup: Setup) -> Iterable[Measure]:
    """Liquids against their freezing points: a plug of ice, and glass that it breaks."""
    found = False
    for place in setup.places:
        if not place.liquid or place.is_end:
            continue
        name = max(place.liquid, key=lambda n: place.liquid[n])
        substance = setup.reference.substance(name)
        put_in = setup.scenario.reagents.get(str(place.model.liquid))
        bubbled = place.model.dip_depth is not None
        if put_in is not None and put_in.state == "solid" and not bubbled:
            continue  # what is put in as a solid and lies in a vessel plugs nothing when it sets
        melts = substance.number("melting_point") - _depression(setup, place, name)
        if substance.datum("melting_point").state == "none":
            melts = POURS
        room = setup.number("ambient.temperature").value
        own = np.fmin(place.liquid_temperature, place.cold)
        own = np.where(np.isnan(own), room, own)
        margin = FROZEN(
            T=setup.quantity(own, f"temperature of {place.id}", "K", "bath, room or heat"),
            T_melt=Quantity.of(melts, name=f"melting point of {name}", unit="K",
                source="substance data"),
        )  # fmt: skip
        # Another solution freezes lower than its main part, by how much more nobody says: what the
        # file calls a liquid is one at the temperature of the room, and not known colder.
        if place.liquid[name] < NEARLY_PURE and name != "water":
            colder = np.where(own < room, np.nan, np.inf)
            value = np.where(margin.value < 0, colder, margin.value)
            margin = margin.revised(value, margin.status)
        found = True
        yield setup.measure(FROZEN_KIND, margin, place.id, name, _breaks(place, name))
    for place in setup.places:
        for measure in _frozen_in_condenser(setup, place):
            found = True
            yield measure
    if not found:
        why = "no liquid is held"
        room = setup.number("ambient.temperature").value
        yield setup.measure(
            FROZEN_KIND, setup.quantity(room, "margin", "K", why), "train", note=why
        )


def _breaks(place: Place, name: str) -> str:
    """Whether ice would fill the item, in words."""
    liquid, gas = place.number("liquid_volume").value, place.volume.value
    fills = ~(ice_volume(liquid) < liquid + gas)
    return "frozen it fills the vessel and breaks it" if name == "water" and fills.any() else ""


def _depression(setup: Setup, place: Place, solvent: str) -> float:
    """How much lower a solution in water freezes, K: 1.86 K per mol/kg of what is dissolved.

    Salts that part into ions lower it more, so it is never too much.
    """
    if solvent != "water":
        return 0.0
    moles = sum(
        share / setup.reference.substance(name).molar_mass
        for name, share in place.liquid.items()
        if name != solvent
    )
    return WATER_LOWERED * moles / place.liquid[solvent]


def _frozen_in_condenser(setup: Setup, place: Place) -> Iterable[Measure]:
    """What condenses against the coolant's temperature, where it sets on the wall and plugs it.

    What is nearly all of the condensate freezes as the pure one does; how much lower a mixture
    does, nobody says.
    """
    coolant = place.number("coolant_temperature").value
    caught = place.condensed
    total = caught.sum(axis=0)
    for row, substance in enumerate(setup.species):
        share = caught[row] / np.where(total <= 0, 1.0, total)
        melts = substance.number("melting_point")
        if np.isnan(coolant).all() or (caught[row] <= 0).all():
            continue
        margin = FROZEN(
            T=setup.quantity(coolant, f"coolant of {place.id}", "K", "scenario"),
            T_melt=Quantity.of(melts, name=f"melting point of {substance.name}", unit="K",
                source="substance data"),
        )  # fmt: skip
        less = np.where(share < HALF, HALF_LOWERED, melts * (1.0 - share) / MOST_ENTROPY)
        lowered = margin.value + np.nan_to_num(less)  # of what share ever, no higher than pure
        mixed = (share < NEARLY_PURE) & (lowered < 0)
        value = np.where(caught[row] <= 0, np.inf, np.where(mixed, np.nan, lowered))
        yield setup.measure(FROZEN_KIND, margin.revised(value), place.id, substance.name)


FROZEN_SOLID = Computation(kinds=(FROZEN_KIND,), compute=_compute)
