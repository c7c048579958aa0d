"""The hose that a burner hangs on, which no item of the train describes."""

from __future__ import annotations

from collections.abc import Iterable

from review import Quantity, Setup

#: What a plain rubber hose pushed onto a burner bears, Pa gauge: class 1 of EN 16436-1, 0.2 bar
#: (from memory).
HOSE = 0.2e5


def supplies(setup: Setup) -> Iterable[tuple[str, Quantity, Quantity]]:
    """Each burner's hose by name, with the absolute pressure of its gas and what it holds.

    A torch is sold with a hose for its pressure, a camping stove stands on its cartridge.
    """
    for name, heat in setup.scenario.heat.items():
        if heat.kind != "burner" or heat.fuel not in setup.scenario.reagents:
            continue
        held = f"reagents.{heat.fuel}.held"
        stated = setup.number(f"{held}.regulator")
        if not setup.states(f"{held}.regulator"):
            stated = setup.number(f"{held}.pressure")
        reagent = setup.scenario.reagents[heat.fuel]
        if reagent.state == "gas":
            holds = setup.quantity(HOSE, "hose", "Pa", "EN 16436-1, class 1 (from memory)")
            yield f"hose of {name}", stated, holds
