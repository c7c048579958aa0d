"""Numbers of the train itself: read by people and by site rules, judged by no built-in one."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.gas import R

from . import directions

CONTACT_TIME = Method(
    id="train.contact_time",
    title="Contact time in an item",
    result="contact time",
    unit="s",
    formula="V * P / (n * R * T)",
    inputs=(
        Input("V", "V", "m3", "gas volume: of the bed alone where there is one"),
        Input("P", "P", "Pa", "absolute pressure"),
        Input("n", "n", "mol/s", "molar flow"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("T", "T", "K", "hottest temperature in the item"),
    ),
    function=lambda V, P, n, R, T: V * P / (n * R * T),
    source="void volume over actual flow; ideal gas",
    validity="plug flow at the hottest temperature, so the shortest contact; infinite without flow",
)

BED_VOLUME = Method(
    id="train.bed_volume",
    title="Gas between the grains of a bed",
    result="void volume of the bed",
    unit="m3",
    formula="pi / 4 * d**2 * L * e",
    inputs=(
        Input("d", "d", "m", "bore"),
        Input("L", "L", "m", "length of the bed"),
        Input("e", "e", "1", "voidage"),
    ),
    function=lambda d, L, e: np.pi / 4 * d**2 * L * e,
    source="definition of voidage",
    validity="a bed that fills the bore",
)
_CONTACT = Kind.of(
    CONTACT_TIME, "lower", "s", directions.CONTACT_TIME, id="train.contact_time",
    title="Contact time",
)  # fmt: skip
_GAS = Kind(
    id="train.gas_temperature_out",
    title="Gas temperature at the outlet end of an item",
    worse="higher",
    unit="K",
    display="degC",
    method="train.cooling_line",
    source="wall conduction, gas enthalpy and outside loss solved together (review.physics.heat)",
    validity="still air outside; the low end of the outside loss, so never too cold",
    moves=directions.GAS_TEMPERATURE,
)
_WALL = Kind(
    id="train.wall_temperature_out",
    title="Wall temperature at the outlet end of an item",
    worse="higher",
    unit="K",
    display="degC",
    method="train.cooling_line",
    source=_GAS.source,
    validity=_GAS.validity,
    moves=directions.TEMPERATURE,
)
_PRESSURE = Kind(
    id="train.pressure",
    title="Absolute pressure at the inlet of an item",
    worse="higher",
    unit="Pa",
    display="bar absolute",
    method="train.pressure",
    source="losses marched back from the outlet: Churchill (1977), Ergun (1952), rho g h",
    validity="isothermal flow at the hottest temperature; steady",
    moves=directions.PRESSURE,
)


def _compute(setup: Setup) -> Iterable[Measure]:
    constant = setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact")
    for place in setup.places:
        yield setup.measure(_GAS, place.gas_out, place.id)
        yield setup.measure(_WALL, place.wall_out, place.id)
        yield setup.measure(_PRESSURE, place.pressure, place.id)
        if place.is_end:
            continue
        contact = CONTACT_TIME(
            V=_contact_volume(place), P=place.pressure, n=place.flow, R=constant, T=place.hottest
        )
        yield setup.measure(_CONTACT, contact, place.id)


def _contact_volume(place: Place) -> Quantity:
    """The void of the bed where the item is packed over a stated length, else all of its gas."""
    packing = place.model.packing
    if packing is None or packing.length is None:
        return place.volume
    return BED_VOLUME(
        d=place.number("inner_diameter"),
        L=place.number("packing.length"),
        e=place.number("packing.voidage"),
    )


TRAIN = Computation(kinds=(_CONTACT, _GAS, _WALL, _PRESSURE), compute=_compute)
