"""How fast the gas runs in each line."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from review import Check, Computation, Input, Kind, Measure, Method, Setup, hookimpl

SPEED = Method(
    id="gas_velocity.mean",
    title="Mean velocity of the gas, at the pressure of the room",
    result="velocity",
    unit="m/s",
    formula="4 * n * 8.314462618 * max(T1, T2) / (pi * p * d**2)",
    inputs=(
        Input("n", "n", "mol/s", "molar flow leaving the line"),
        Input("T1", "T1", "K", "temperature of the gas at the inlet"),
        Input("T2", "T2", "K", "hottest surface it touches"),
        Input("p", "p", "Pa", "pressure of the room, absolute"),
        Input("d", "d", "m", "inner diameter"),
    ),
    function=lambda n, T1, T2, p, d: 4 * n * 8.314462618 * np.maximum(T1, T2) / (np.pi * p * d**2),
    source="ideal gas law and continuity, any textbook of fluid mechanics",
    validity="ideal gas at or above room pressure, where it takes no more space; plug flow",
)
KIND = Kind(
    id="gas_velocity.mean",
    title="Velocity of the gas in a line",
    worse="higher",
    unit="m/s",
    display="m/s",
    method=SPEED.id,
    source=SPEED.source,
    validity=SPEED.validity,
    moves={"flows.*.rate": "up", "train.*.inner_diameter": "down"},
)


def compute(setup: Setup) -> Iterable[Measure]:
    """Every line, whether gas flows in it or not."""
    room = setup.number("ambient.pressure")
    for place in setup.places:
        if place.kind.id == "line":
            speed = SPEED(
                n=place.flow,
                T1=place.gas_in,
                T2=place.hottest,
                p=room,
                d=place.number("inner_diameter"),
            )
            yield setup.measure(KIND, speed, place.id)


@hookimpl
def check() -> Check:
    return Check(
        id="gas_velocity",
        title="Gas velocity in lines",
        version="1",
        covers=("the mean velocity in each line",),
        not_covered=("narrow places inside joints and valves; items that are not lines",),
        sources=(SPEED.source,),
    )


@hookimpl
def measures() -> list[Computation]:
    return [Computation(kinds=(KIND,), compute=compute)]


@hookimpl
def criteria() -> list[Path]:
    return [Path(__file__).with_name("gas_velocity.yaml")]
