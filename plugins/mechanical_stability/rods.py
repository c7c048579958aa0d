"""Rods bent by what their clamps carry, and boss heads that may turn."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Setup

GRAVITY = 9.80665

BENDING = Method(
    id="stability.rod_stress_ratio",
    title="Bending stress as a share of what the rod's material allows",
    result="share of the allowable stress",
    unit="1",
    formula="32 * sum([m * 9.80665 * r for m, r in zip(carried, reaches)]) / (pi * d**3) / s",
    inputs=(
        Input("carried", "m", "kg", "what each clamp carries"),
        Input("reaches", "r", "m", "reach of each clamp"),
        Input("d", "d", "m", "diameter of the rod"),
        Input("s", "s", "Pa", "allowable stress of the rod's material"),
    ),
    function=lambda carried, reaches, d, s: (
        32 * np.sum([m * GRAVITY * r for m, r in zip(carried, reaches, strict=True)], axis=0)
        / (np.pi * d**3) / s
    ),
    source="bending of a round bar, sigma = 32 M / (pi d^3)",
    validity="all clamps on one side, the worst case; static load",
)  # fmt: skip
TURNING = Method(
    id="stability.clamp_torque_ratio",
    title="Torque on a boss head as a share of what it holds",
    result="share of the holding torque",
    unit="1",
    formula="m * 9.80665 * r / torque",
    inputs=(
        Input("m", "m", "kg", "what the clamp carries"),
        Input("r", "r", "m", "its reach"),
        Input("torque", "torque", "N m", "what the boss head holds"),
    ),
    function=lambda m, r, torque: m * GRAVITY * r / torque,
    compares=lambda m, r, torque: (m * GRAVITY * r, torque),
    compared_in=("N m", ""),
    source="statics",
    validity="static load; a knock is more",
)
ROD_KIND = Kind.of(
    BENDING, "higher", "%",
    {"frame.clamps.*.carries": "up", "frame.clamps.*.reach": "up", "frame.rods.*.diameter": "down"},
    factor=1.5,
)  # fmt: skip
CLAMP_KIND = Kind.of(
    TURNING, "higher", "%",
    {"frame.clamps.*.carries": "up", "frame.clamps.*.reach": "up",
     "frame.clamps.*.holding_torque": "down"},
    factor=1.5,
)  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    frame = setup.scenario.frame
    if frame is None:
        return
    for name, rod in frame.rods.items():
        held = [clamp for clamp, c in frame.clamps.items() if c.rod == name]
        if not held:
            continue
        stress = Quantity.missing(f"allowable stress of {name}", "Pa", why="no material is named")
        if rod.material is not None:
            datum = setup.reference.material(rod.material).datum("allowable_stress")
            room = setup.number("ambient.temperature").value
            stress = Quantity.of_datum(datum, f"allowable stress of {rod.material}", room)
        ratio = BENDING(
            carried=[setup.number(f"frame.clamps.{c}.carries") for c in held],
            reaches=[setup.number(f"frame.clamps.{c}.reach") for c in held],
            d=setup.number(f"frame.rods.{name}.diameter"),
            s=stress,
        )
        yield setup.measure(ROD_KIND, ratio, name)
    for name in frame.clamps:
        path = f"frame.clamps.{name}"
        ratio = TURNING(
            m=setup.number(f"{path}.carries"),
            r=setup.number(f"{path}.reach"),
            torque=setup.number(f"{path}.holding_torque"),
        )
        yield setup.measure(CLAMP_KIND, ratio, name)


RODS = Computation(kinds=(ROD_KIND, CLAMP_KIND), compute=_compute)
