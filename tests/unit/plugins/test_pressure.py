"""Pressure where a liquid is shut in: with its supply, and alone."""

from __future__ import annotations

from functools import cache

import pytest

from review import Engine, loads
from tests.support import shared_engine


@cache
def engine() -> Engine:
    return shared_engine()


def pressure(bath: str, steps: str, cell: int, regulator: str = "0.2 bar gauge") -> float:
    """Absolute pressure in a closed bottle of acetone, bar."""
    text = (
        "title: t\nduration: 1 h\nreagents:\n"
        "  gas: {state: gas, composition: {nitrogen: 100 %}, held: {as: cylinder, volume: 2 L,"
        f" pressure: 100 bar gauge, regulator: {regulator}}}}}\n"
        "  acetone: {state: liquid, composition: {acetone: 100 %}, held: {as: bottle}}\n"
        "flows: {feed: {reagent: gas, into: bottle, rate: 100 mL/min, reference: standard}}\n"
        "train:\n  - {id: bottle, kind: wash bottle, liquid: acetone, liquid_volume: 100 mL,"
        f" gas_volume: 100 mL, dip_depth: 20 mm, dip_tube_bore: 6 mm, bath_temperature: {bath}}}\n"
        "  - {id: out, kind: outlet, to: hood, open: no}\n"
        f"procedure:\n{steps}"
    )
    review = engine().review(loads(text), upsets=False)
    (found,) = [m for m in review.measures if m.kind == "train.pressure" and m.at == "bottle"]
    return float(found.value[cell, 0]) / 1e5


ON = "  - {step: on, duration: 1 h, flows: {feed: on}}\n"


def test_joined_to_its_supply_the_higher_of_supply_and_vapour_counts():
    """Acetone at 80 degC: 2.15 bar (Antoine of the CRC Handbook, from memory); supply 1.21 bar."""
    assert pressure("80 degC", ON, 1) == pytest.approx(2.15, rel=0.02)
    assert pressure("80 degC", ON, 1, "3 bar gauge") == pytest.approx(4.013, rel=1e-3)


def test_once_shut_in_gas_and_vapour_add_up():
    """1.213 bar of nitrogen pressed in, then the supply is closed: 2.15 bar on top of it."""
    steps = ON + "  - {step: shut, duration: 1 h, flows: {feed: off}}\n"
    assert pressure("80 degC", steps, 2) >= 1.2 + 2.10
