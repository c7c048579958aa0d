"""Methanation over nickel, worked by hand: what nobody has measured can't be judged.

Figures: hydrogen 4 % in air, lowest autoignition 400 degC, limiting oxygen 5 % in a tube, times
0.85 (NFPA 69, TIA 1211); its lower limit falls by 1.75e-3/K (Schroeder and Holtappels, ICHS 2005,
from memory); Tc of hydrogen 5.5, methane 8.7 and carbon monoxide 15.2 %, K of carbon dioxide 1.5
(ISO 10156, from memory).
"""

from __future__ import annotations

import math

import pytest

NAME = "carbon_dioxide_methanated_over_nickel"
LOST = "flow lost:nitrogen:purge"
LIGHT_OFF = "light_off: unknown"


def test_it_cannot_be_judged_for_one_reason(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "cannot be judged"
    assert not review.all_graded("unacceptable")
    (blocking,) = [f for f in review.review.findings if f.grade == "undetermined" and f.blocks]
    assert (blocking.criterion, blocking.at, blocking.case) == (
        "ignition.hot_surface",
        "tube",
        "upset",
    )
    assert math.isnan(blocking.value)
    assert "light-off temperature of nickel on alumina" in blocking.reason


@pytest.mark.parametrize(
    ("light_off", "ratio", "verdict"),
    [
        # Nobody takes it that nickel does not light off at all: it counts as not measured.
        ("none", math.nan, "cannot be judged"),
        # That it lights off later than 200 degC nobody is believed.
        ("450 degC", 300 / 200, "must not proceed"),
        # It lights off at 150 degC: a tube of 300 degC is far beyond.
        ("150 degC", 300 / 150, "must not proceed"),
    ],
)
def test_a_measured_light_off_decides(demo, light_off: str, ratio: float, verdict: str) -> None:
    review = demo(NAME, (LIGHT_OFF, f"light_off: {light_off}"))
    assert review.verdict == verdict
    found = review.finding("ignition.hot_surface", "tube", "upset")
    assert (found.trial, found.step) == (LOST, "react")
    assert found.value == pytest.approx(ratio, rel=0.01, nan_ok=True)


def test_margin_in_the_tube_when_the_nitrogen_never_came(demo) -> None:
    # From air to 12 % hydrogen at 300 degC. Carbon dioxide and nitrogen burn nothing.
    fall = 1 - 1.75e-3 * 275
    lean, inert = 0.12 / (0.04 * fall), 0.2095 / (0.0425 * fall)
    inside = lean * inert / (lean + inert)
    found = demo(NAME).finding("flammability.envelope", "tube", "upset")
    assert (found.grade, found.trial, found.step) == ("tolerable", LOST, "react")
    assert found.value == pytest.approx(1 - inside, rel=0.01)  # -2.60


def test_gas_at_the_outlet_burns_only_if_nothing_reacts(demo) -> None:
    review = demo(NAME)
    # 100 mol: 3 CO2 of which 85 % convert, 97 % of that to methane, the rest to CO.
    methane, monoxide = 3 * 0.85 * 0.97, 3 * 0.85 * 0.03
    hydrogen = 12 - 4 * methane - monoxide
    water = 2 * methane + monoxide
    dioxide = 3 * 0.15
    fuel = hydrogen / 0.055 + methane / 0.087 + monoxide / 0.152
    total = hydrogen + methane + monoxide + 85 + water + 1.5 * dioxide
    found = review.finding("flammability.outlet", "outlet", "plan")
    assert found.grade == "acceptable"
    assert found.value == pytest.approx(fuel / total, rel=0.01)
    # Heat lost: all 12 % of hydrogen leave.
    found = review.finding("flammability.outlet", "outlet", "upset")
    assert (found.grade, found.trial) == ("tolerable", "heat lost:furnace:heat")
    assert found.value == pytest.approx(0.12 / (0.12 + 0.85 + 1.5 * 0.03) / 0.055, rel=0.01)


def test_carbon_monoxide_in_the_room_when_ventilation_is_lost(demo) -> None:
    # 0.0765 % of 200 mL/min and less; ceiling 200 ppm (NIOSH). The sweep pushes what is held out
    # at 500 mL/min; moles shrink from 100 to 94.9 in the reaction, so its share is larger.
    share = 3 * 0.85 * 0.03 / (100 - 2 * 3 * 0.85 * 0.97)
    peak = share * 500e-6 / 60
    near = peak / (math.pi * 0.5**2 * 0.05)
    far = 3e-2 * 0.85 * 0.03 * 200e-6 * 40 / 120
    found = demo(NAME).finding("exposure.ceiling", "breathing zone", "upset", of="carbon monoxide")
    assert found.grade == "acceptable"
    value = demo(NAME).value(
        "exposure.ceiling_ratio", "breathing zone", "sweep", "ventilation lost:purge",
        of="carbon monoxide",
    )  # fmt: skip
    assert value == pytest.approx((near + far) / 200e-6, rel=0.01)
