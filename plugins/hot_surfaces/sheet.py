"""What the parts of this check share: figures as quantities, temperatures of items, data sheets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from review import Input, Kind, Material, Method, Place, Quantity, Setup

HOTTER: Mapping[str, Literal["up", "down"]] = {
    "heat.*.set_temperature": "up", "heat.*.hottest": "up", "procedure.*.heat.*": "up",
}  # fmt: skip
LESS_LEFT: Mapping[str, Literal["up", "down"]] = dict.fromkeys(HOTTER, "down")

#: What a material nobody named bears: none that is listed bears less than 60 degC (soft PVC).
LEAST_LIMIT = 333.15

HOTTEST = Method(
    id="heat.hottest",
    title="Hottest of several temperatures",
    result="temperature",
    unit="K",
    formula="max(temperatures)",
    inputs=(Input("temperatures", "T", "K", "what the part may be as hot as"),),
    function=lambda temperatures: np.max(np.broadcast_arrays(*temperatures), axis=0),
    source="upper bound: a part is no hotter than the hottest thing that touches it",
    validity="no heat is made in the part itself",
)


def kind(
    method: Method,
    worse: Literal["higher", "lower"],
    display: str,
    moves: Mapping[str, Literal["up", "down"]],
    id: str = "",
    title: str = "",
) -> Kind:
    """The data sheet of a kind that one method computes."""
    return Kind(
        id=id or method.id,
        title=title or method.title,
        worse=worse,
        unit=method.unit,
        display=display,
        method=method.id,
        source=method.source,
        validity=method.validity,
        moves=moves,
    )


def material_called(setup: Setup, name: str | None) -> Material | None:
    """The material of that name; None where none is given or nobody knows it."""
    if name is None:
        return None
    try:
        return setup.reference.material(name)
    except LookupError:
        return None


def figure(material: Material | None, name: str, unit: str, part: str) -> Quantity:
    """A figure of a material, missing where it has none."""
    words = name.replace("_", " ")
    if material is None:
        return Quantity.missing(f"{words} of {part}", unit, why="not given")
    return Quantity.of_datum(material.datum(name), f"{words} of {material.name}")


def limit_of(material: Material | None, temperature: Quantity, part: str) -> Quantity:
    """Highest temperature a material bears, over the trials of `temperature`, K.

    Where the part stays below 60 degC an unknown or estimated limit counts as 60 degC, the lowest
    of any listed material; where it is warmer, what is not known stays missing.
    """
    stated = figure(material, "maximum_temperature", "K", part)
    cold = temperature.value <= LEAST_LIMIT
    bottom = np.fmax(stated.value, LEAST_LIMIT)
    return Quantity.of(
        np.where(cold, bottom, stated.value),
        np.where(cold, np.uint8(0), stated.status),
        name=stated.name,
        unit="K",
        source=stated.source,
    )


def heated(setup: Setup) -> frozenset[str]:
    """Items that something heats."""
    return frozenset(heat.heats for heat in setup.scenario.heat.values())


def item_temperature(place: Place) -> Quantity:
    """The hottest an item gets, its bath and stated temperature included, K."""
    parts = [place.hottest]
    if place.model.bath_temperature is not None:
        parts.append(place.number("bath_temperature"))
    if place.model.temperature is not None:
        parts.append(place.number("temperature"))
    return parts[0] if len(parts) == 1 else HOTTEST(temperatures=parts)
