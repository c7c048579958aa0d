"""Ethanol over alumina, worked by hand.

Figures: lower limits of ethanol 3.1 % and ethylene 2.3 %, lowest autoignition 363 and 440 degC (IEC
60079-20-1:2010), limiting oxygen in a tube 10.5 and 10 %, lowered by 2 % (NFPA 69, TIA 1211);
limits fall to nothing where gas is as hot as the fuel's flame at the limit in air: 1434 K for
ethanol, 1231 K for ethylene (energy balance, heat capacities from memory). Ethanol 46.07 g/mol,
0.789 g/mL (CRC Handbook). Tc of ethylene 4.1 % (ISO 10156, from memory).
"""

from __future__ import annotations

import math

import pytest

NAME = "ethanol_dehydrated_over_alumina"
LOST = "flow lost:nitrogen:purge"
O2 = 0.2095
MOLAR = 8.314 * 293.15 / 101325  # m3/mol at 20 degC
FEED = 0.05 * 0.789 / 46.07 / 60  # mol/s
NITROGEN = 300e-6 / 60 / MOLAR  # mol/s
HOTTER = (
    ("set_temperature: 280 degC", "set_temperature: 350 degC"),
    ("hottest: 288 degC", "hottest: 360 degC"),
)


def test_it_may_proceed_with_conditions(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert not review.all_graded("unacceptable")
    # What nobody has rated, ethanol on quartz above 100 degC, is looked at and does not block.
    assert review.all_graded("undetermined") == {"corrosion.wetted"}


def test_hot_surface_decides(demo) -> None:
    found = demo(NAME).finding("ignition.hot_surface", "tube", "upset")
    assert (found.grade, found.trial, found.step) == ("tolerable", LOST, "feed")
    assert found.value == pytest.approx(280 / 363, rel=0.01)


def test_the_usual_350_degrees_are_refused(demo) -> None:
    review = demo(NAME, *HOTTER)
    assert review.verdict == "must not proceed"
    assert review.all_graded("unacceptable") == {"ignition.hot_surface"}
    found = review.finding("ignition.hot_surface", "tube", "upset")
    assert (found.trial, found.step) == (LOST, "feed")
    assert 350 > 363 - 25  # closer than 25 K counts as igniting
    assert found.value == 1


def test_margin_in_the_tube_when_the_nitrogen_never_came(demo) -> None:
    fall, faster = 1 - 255 / (1434 - 298), 1 - 255 / (1231 - 298)
    # From air to what leaves the bed: 60 % converted, so 0.4 ethanol, 0.6 ethylene and 0.6 water
    # in 1.6. Le Chatelier; ethylene asks for less oxygen, 8 % when cold.
    lean = (0.4 / 0.031 / fall + 0.6 / 0.023 / faster) / 1.6
    inert = O2 / (0.08 * faster)
    inside = lean * inert / (lean + inert)  # both equal at t = inert / (lean + inert)
    # From air to ethanol itself it is a little less.
    neat, inert = 1 / (0.031 * fall), O2 / (0.085 * fall)
    assert neat * inert / (neat + inert) < inside
    found = demo(NAME).finding("flammability.envelope", "tube", "upset")
    assert (found.grade, found.trial) == ("tolerable", LOST)
    assert found.step in ("feed", "sweep")  # the same gases meet in both
    assert found.value == pytest.approx(1 - inside, rel=0.01)  # -1.90


def test_gas_at_the_outlet_burns_in_air(demo) -> None:
    # Tc of ethanol is not listed: lower limit over the share of air left when its oxygen is just
    # enough, 3.1 % / (1 - 8.5/20.95). Water counts as nitrogen, K = 1.
    tc_ethanol = 0.031 / (1 - 0.085 / O2)
    gas = {"ethanol": 0.4 * FEED, "ethylene": 0.6 * FEED, "inert": NITROGEN + 0.6 * FEED}
    reacted = (gas["ethanol"] / tc_ethanol + gas["ethylene"] / 0.041) / sum(gas.values())
    found = demo(NAME).finding("flammability.outlet", "outlet", "plan")
    assert found.grade == "tolerable"
    assert found.value == pytest.approx(reacted, rel=0.01)


def test_ethylene_in_the_room_when_ventilation_is_lost(demo) -> None:
    # AEGL: none; a failure is held to three times the 8-hour limit of 200 ppm, which stands in.
    release = 0.6 * FEED * MOLAR
    near = release / (math.pi * 0.5**2 * 0.05)
    far = release * 40 * 60 / 120
    found = demo(NAME).finding("exposure.failure", "breathing zone", "upset", of="ethylene")
    # An estimated limit counts by its factor: even a tenth of it is far away (0.157 < 0.5).
    assert 10 * (near + far) / 600e-6 < 0.5
    assert (found.grade, found.status) == ("acceptable", "estimated")
    assert found.value == pytest.approx((near + far) / 600e-6, rel=0.01)
