"""A site's check: what is left to breathe once a whole dewar of liquid nitrogen has evaporated."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from review import Check, Computation, Input, Kind, Measure, Method, Quantity, Setup, hookimpl
from review.physics.gas import R

OXYGEN_OF_AIR = 0.2095
NOTHING_HELD = "no liquid nitrogen is held"

GAS = Method(
    id="liquid_nitrogen.gas",
    title="Gas from a dewar that has evaporated",
    result="gas from the dewar",
    unit="m3",
    formula="V * rho / M * R * T / p",
    inputs=(
        Input("V", "V", "m3", "liquid in the dewar"),
        Input("rho", "rho", "kg/m3", "density of the liquid at its boiling point"),
        Input("M", "M", "kg/mol", "molar mass"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("T", "T", "K", "temperature of the room"),
        Input("p", "p", "Pa", "pressure of the room"),
    ),
    function=lambda V, rho, M, R, T, p: V * rho / M * R * T / p,
    source="balance of amount, ideal gas",
    validity="all of it evaporates and warms to the room; until then it takes less space",
)
LEFT = Method(
    id="liquid_nitrogen.oxygen",
    title="Oxygen in the room once the dewar's gas is in it",
    result="oxygen in the room",
    unit="mol/mol",
    formula="0.2095 * max(1 - v / W, 0)",
    inputs=(
        Input("v", "v", "m3", "gas from the dewar"),
        Input("W", "W", "m3", "volume of the room"),
    ),
    function=lambda v, W: OXYGEN_OF_AIR * np.maximum(1 - v / W, 0.0),
    source="the gas pushes out as much air, then mixes (BCGA CP 30, EIGA Doc 44, from memory)",
    validity="no ventilation counted, which errs low; near the dewar and at the floor it is less",
)
KIND = Kind(
    id="liquid_nitrogen.oxygen",
    title="Oxygen in the room once a dewar has evaporated",
    worse="lower",
    unit="mol/mol",
    display="%",
    method=LEFT.id,
    source=LEFT.source,
    validity=LEFT.validity,
    moves={
        "reagents.*.amount": "down",
        "ventilation.room_volume": "up",
        "ambient.temperature": "down",
        "ambient.pressure": "up",
    },
)


def compute(setup: Setup) -> Iterable[Measure]:
    """Each dewar by itself: two at once are two failures."""
    fixed = {
        "rho": Quantity.of(
            806.1, name="density of liquid nitrogen", unit="kg/m3",
            source="NIST Chemistry WebBook, saturated liquid at 77.36 K (from memory)",
        ),
        "M": Quantity.of(
            0.0280134, name="molar mass of nitrogen", unit="kg/mol", source="IUPAC atomic weights"
        ),
        "R": Quantity.of(R, name="gas constant", unit="J/(mol K)", source="SI definition"),
        "T": setup.number("ambient.temperature"),
        "p": setup.number("ambient.pressure"),
    }  # fmt: skip
    room, held = setup.number("ventilation.room_volume"), False
    for name, reagent in setup.scenario.reagents.items():
        parts = [setup.reference.substance(text).name for text in reagent.composition]
        if reagent.state != "liquid" or parts != ["nitrogen"]:
            continue
        held = True
        gas = GAS(V=_liquid(setup, name), **fixed)
        yield setup.measure(KIND, LEFT(v=gas, W=room), f"dewar of {name}")
    if not held:
        fresh = Quantity.of(OXYGEN_OF_AIR, name="oxygen in the room", source=NOTHING_HELD)
        yield setup.measure(KIND, fresh, "room", note=NOTHING_HELD)


def _liquid(setup: Setup, reagent: str) -> Quantity:
    """Volume of liquid in a dewar; missing where its amount is not given as a volume."""
    amount = setup.scenario.reagents[reagent].amount
    if amount is None or amount.by != "volume":
        return Quantity.missing(f"volume of {reagent}", "m3", why="give the amount in litres")
    return setup.number(f"reagents.{reagent}.amount")


@hookimpl
def check() -> Check:
    return Check(
        id="liquid_nitrogen",
        title="Liquid nitrogen in the room",
        version="1",
        covers=("oxygen left once one whole dewar has evaporated into the closed room",),
        not_covered=("cold burns", "air that condenses on cold parts", "two dewars at once"),
        sources=(LEFT.source,),
    )


@hookimpl
def measures() -> list[Computation]:
    return [Computation(kinds=(KIND,), compute=compute)]


@hookimpl
def criteria() -> list[Path]:
    return [Path(__file__).with_name("liquid_nitrogen.yaml")]
