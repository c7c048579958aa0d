"""Room air through a trap in liquid nitrogen, worked by hand."""

from __future__ import annotations

import pytest

NAME = "air_dried_in_liquid_nitrogen"
#: 2 L/min of room air for 30 min at 20 degC and 1 atm, mol.
DRAWN = 101325 * 60e-3 / (8.314 * 293.15)  # 2.494
DRY_ICE = ("bath_temperature: -196 degC        # a flask of liquid nitrogen around it",
           "bath_temperature: -78 degC")  # fmt: skip


def test_it_must_not_proceed(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "must not proceed"
    assert {"flammability.condensed", "pressure.trap_warmed"} <= review.graded("unacceptable")


def test_oxygen_stands_above_its_vapour_pressure(demo) -> None:
    # 20.95 % of nearly 101.3 kPa over 20.1 kPa at 77.15 K (NIST: 19.9 kPa at 77.15 K).
    value = demo(NAME).value("flammability.condensing_oxidiser", "cold trap", "dry", of="oxygen")
    assert value == pytest.approx(0.2095 * 101.2 / 19.9, rel=0.02)


def test_all_of_it_is_a_gas_again_in_250_millilitres(demo) -> None:
    pressure = DRAWN * 8.314 * 293.15 / 250e-6  # 243 bar
    value = demo(NAME).value("pressure.trap_warmed", "cold trap", "dry")
    assert value == pytest.approx(pressure / 0.5e5, rel=0.01)  # rated for 0.5 bar


def test_in_dry_ice_none_of_it_condenses(demo) -> None:
    review = demo(NAME, DRY_ICE)
    assert review.value("pressure.trap_warmed", "cold trap", "dry") == 0.0
    assert not review.graded("unacceptable")
