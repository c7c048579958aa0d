"""What of a spilled liquid is gas at once: heat that it holds above the room, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from review import Reference
from review.interface.items import ItemView, Vapour
from review.walk.liquids import flashed
from review.walk.worked import Worked

REFERENCE = Reference()


def held(name: str, temperature: float, room: float = 293.15, water: float = 0.0) -> float:
    """Share of the first component that is gas at once."""
    table = REFERENCE.solution(name, "water") if water else None
    first = REFERENCE.substance(name)
    vapours = [Vapour(0, first, 1 - water, table.at(0.07) if table else None)]
    if water:
        vapours.append(Vapour(1, REFERENCE.substance("water"), water))
    view = ItemView(
        model=None,  # type: ignore[arg-type]
        numbers={"bath_temperature": np.array([temperature])},
        size=1,
        vapours=tuple(vapours),
    )
    left = np.array([[1 - water], [water]])
    gas = flashed(Worked(), view, left, np.array([room]))
    return float((gas / np.where(left > 0, left, 1.0))[0, 0])


def test_a_boiling_solvent_does_not_go_all_at_once():
    """Acetone at 56 degC: at most (81 + 67) J/(mol K) times 36 K over 29.1 kJ/mol, 18 %; gas 81
    J/(mol K) at 330 K and 29.1 kJ/mol from the NIST WebBook (from memory). Measured 126 J/(mol K)
    would make 15 %.
    """
    share = held("acetone", 373.15)
    assert share == pytest.approx(148 * 36.1 / 29.1e3, rel=0.05)
    assert share > 126 * 36.1 / 29.1e3


def test_what_is_no_warmer_than_the_room_only_evaporates():
    assert held("acetone", 293.15) == 0
    assert held("hydrogen chloride", 293.15, water=0.93) == 0


@pytest.mark.parametrize(("name", "at"), [("nitrogen", 77.0), ("diethyl ether", 320.0)])
def test_what_boils_colder_than_the_room_is_gas_at_once(name, at):
    assert held(name, at, room=320.0) == 1
