"""The distilled methanol, worked by hand.

Figures: methanol boils at 64.6 degC and flashes at 9 to 12 degC (CRC Handbook, IEC 60079-20-1, from
memory); bare metal burns within 1 s from 65 degC (ISO 13732-1, from memory).
"""

from __future__ import annotations

import pytest

NAME = "methanol_distilled"


def test_it_may_proceed_with_few_conditions(demo) -> None:
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert not review.all_graded("unacceptable")
    assert {"flammability.headspace", "heat.boiling_point"} <= review.all_graded("tolerable")


def test_it_boils_and_is_no_hotter(demo) -> None:
    assert demo(NAME).finding("heat.boiling_point", "flask", "plan", of="methanol").value == (
        pytest.approx(0, abs=0.2)
    )
    hot = demo(NAME).finding("heat.hot_part", "flask", "plan", of="bath")
    assert hot.value == pytest.approx(64.6 - 65, abs=0.2)


def test_it_is_far_above_its_flash_point(demo) -> None:
    found = demo(NAME).finding("heat.flash_point", "flask", "plan", of="methanol")
    assert found.value == pytest.approx(9 - 64.6, abs=3.1)
    assert found.grade == "tolerable"


def test_the_flask_is_filled_to_two_fifths(demo) -> None:
    """200 mL of 500 mL; half full is the most."""
    assert demo(NAME).finding("heat.fill_level", "flask", "plan").value == pytest.approx(0.4 / 0.5)


def test_in_a_small_room_without_a_hood_it_is_refused(demo) -> None:
    small = demo(
        NAME,
        ("  room_volume: 150 m3\n  air_changes: 4 / hour\n", "  room_volume: 20 m3\n"
         "  air_changes: 0.3 / hour\n"),
        ("{id: vent, kind: outlet, to: hood", "{id: vent, kind: outlet, to: room"),
        ("    coolant_temperature: 15 degC\n", ""),
    )  # fmt: skip
    assert small.verdict == "must not proceed"
