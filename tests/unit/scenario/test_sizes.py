"""Trade sizes fill what the file leaves out. Dimensions: see the sources in rulesets/sizes.yaml."""

from __future__ import annotations

import numpy as np
import pytest

from review import InputError
from review.scenario import loads
from review.scenario.sizes import _german
from review.scenario.words import folded
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.setup import Setup
from tests.support import shared_engine

ITEM = "title: a\ntrain:\n  - {{id: a, kind: {kind}, size: {size}{more}}}\n"


def item(size: str, more: str = "", kind: str = "line"):
    return loads(ITEM.format(kind=kind, size=size, more=more)).train[0]


@pytest.mark.parametrize(
    ("size", "bore", "wall"),
    [
        ("hose 8x12", 8e-3, 2e-3),
        ("hose 8 x 12 mm", 8e-3, 2e-3),
        ("hose 8x2", 8e-3, 2e-3),
        ("glass tube 10x1", 8e-3, 1e-3),
        ("steel tube 6x1", 4e-3, 1e-3),
        ("tube 6x4", 4e-3, 1e-3),
        ("quartz tube 20x1.5", 17e-3, 1.5e-3),
    ],
)
def test_bore_and_wall(size: str, bore: float, wall: float) -> None:
    found = item(size)
    assert (found.inner_diameter, found.wall) == (pytest.approx(bore), pytest.approx(wall))


@pytest.mark.parametrize("stated", ["inner_diameter: 4 mm", "wall: 1 mm"])
def test_an_outside_diameter_stands_for_bore_or_wall(stated: str) -> None:
    tube = f"{{id: a, kind: line, length: 1 m, outer_diameter: 6 mm, {stated}}}"
    found = loads(f"title: a\ntrain:\n  - {tube}\n").train[0]
    assert (found.inner_diameter, found.wall) == (pytest.approx(4e-3), pytest.approx(1e-3))


@pytest.mark.parametrize("size", ["400 mm Liebig condenser", "reflux condenser, 400 mm"])
def test_a_condenser_is_told_by_its_jacket(size: str) -> None:
    found = item(f'"{size}"')
    assert (found.length, found.home_made) == (pytest.approx(0.4), "no")


def test_what_the_file_states_counts_before_the_size() -> None:
    assert item("hose 8x12", ", inner_diameter: 7 mm").inner_diameter == pytest.approx(7e-3)


@pytest.mark.parametrize(
    ("size", "more", "material"),
    [
        ("250 mL round flask", "", "borosilicate glass 3.3"),
        ("250 mL round flask", ", material: glass", "borosilicate glass 3.3"),
        ("250 mL beaker", "", "borosilicate glass 3.3"),
        ("250 mL beaker", ", material: polypropylene", "polypropylene"),
        ("hose 8x12", "", None),
    ],
)
def test_the_glass_that_a_size_is_sold_in(size: str, more: str, material: str | None) -> None:
    assert item(size, more, kind="vessel").material == material


@pytest.mark.parametrize("size", ["250 mL round flask", "250 mL beaker"])
def test_a_flask_or_beaker_of_the_trade_is_of_no_other_glass(size: str) -> None:
    text = (
        f"title: a\ntrain:\n  - {{id: a, kind: vessel, size: {size}, "
        "material: soda-lime glass}\n"
    )
    with pytest.raises(InputError, match="is a trade size of borosilicate glass"):
        shared_engine().review(loads(text))


def test_a_test_tube_is_diameter_by_length() -> None:
    """16 mm outside and 160 mm long; no wall of 72 mm."""
    found = item("test tube 16x160", kind="vessel")
    assert found.wall is not None and found.wall < 2e-3
    assert (found.length, found.ends) == (pytest.approx(0.16), "round")
    with pytest.raises(InputError, match="nearly all wall"):
        item("glass tube 16x160")


@pytest.mark.parametrize("size", ['tube 1/4"', "1/4 inch", '1/4" tubing'])
def test_a_tube_by_inches_outside_has_the_thinnest_wall(size: str) -> None:
    """6.35 mm outside, wall 0.035 inch (ASTM A269, from memory)."""
    found = item(size)
    assert found.inner_diameter == pytest.approx(4.57e-3) and found.wall == pytest.approx(0.89e-3)


@pytest.mark.parametrize("size", ["hose 1/4 in", "pipe 1/2 inch", "silicone tube 1/8 in"])
def test_hose_and_pipe_by_inches_are_not_read_as_tube(size: str) -> None:
    """They are called by their bore: twice the gas is in them."""
    with pytest.raises(InputError, match="bore x outside diameter"):
        item(size)


@pytest.mark.parametrize("size", ["NS 14/23", "14/23", "NS 29/32"])
def test_a_ground_joint(size: str) -> None:
    assert item(size).joint == "ground taper joint"


@pytest.mark.parametrize(
    ("size", "capacity", "across", "wall", "ends"),
    [
        ("250 mL round flask", 250e-6, 85e-3, 0.8e-3, "round"),
        ("1 L three-neck flask", 1e-3, 131e-3, 1e-3, "round"),
        ("500 mL Erlenmeyer flask", 500e-6, 105e-3, 0.8e-3, "flat"),
        ("250 ml beaker", 250e-6, 70e-3, 0.9e-3, "flat"),
        ("250 mL wash bottle", 250e-6, None, None, "flat"),
    ],
)
def test_a_vessel(
    size: str, capacity: float, across: float | None, wall: float | None, ends: str
) -> None:
    found = item(size, kind="vessel")
    assert (found.capacity, found.ends) == (pytest.approx(capacity), ends)
    assert found.inner_diameter == (across if across is None else pytest.approx(across))
    assert found.wall == (wall if wall is None else pytest.approx(wall))


@pytest.mark.parametrize(
    ("size", "near", "says"),
    [
        ("NS 14/32", "14/23", "there is no ground joint"),
        ("250 mL rund flask", "round flask", "no trade size is known"),
        ("300 mL round flask", "", "is sold with 50, 100, 250"),
        ("hose 8x8", "", "leaves no bore or no wall"),
        ("big", "", "is no trade size: write for example 'hose 8x12'"),
    ],
)
def test_a_size_that_is_not_sold(size: str, near: str, says: str) -> None:
    with pytest.raises(InputError, match=says) as wrong:
        item(size, kind="vessel")
    (problem,) = wrong.value.problems
    assert problem.suggestion == near
    assert (problem.line, problem.text) == (3, size)


@pytest.mark.parametrize(
    ("more", "volume"),
    [
        ("capacity: 250 mL, liquid: water, liquid_volume: 100 mL", 150e-6),
        ("inner_diameter: 60 mm", np.nan),  # how tall it is, nobody says
        ("kind: round flask, inner_diameter: 60 mm", np.pi / 6 * 0.06**3),
        ("kind: needle valve, inner_diameter: 6 mm", np.pi / 6 * 0.006**3),
        ("inner_diameter: 60 mm, height: 100 mm", np.pi / 4 * 0.06**2 * 0.1),
        ("inner_diameter: 60 mm, height: 100 mm, liquid: water, liquid_volume: 100 mL",
         np.pi / 4 * 0.06**2 * 0.1 - 1e-4),
        ("gas_volume: 70 mL, capacity: 250 mL", 70e-6),
        ("capacity: 100 mL, liquid: water, liquid_volume: 100 mL", np.nan),
        # 1 %: filled to its mark
        ("kind: burette, capacity: 100 mL, liquid: water, liquid_volume: 100 mL", 1e-6),
        ("kind: burette, capacity: 100 mL, liquid: water, liquid_volume: 115 mL", np.nan),
    ],
)  # fmt: skip
def test_a_vessel_takes_dimensions_or_volume(more: str, volume: float) -> None:
    engine = shared_engine()
    kind = "" if "kind" in more else "kind: trap, "
    text = f"title: a\ntrain:\n  - {{id: a, {kind}{more}}}\n"
    resolved = resolve(engine.loads(text), engine.reference, engine._item_kinds)
    setup = Setup(resolved, Runs(resolved.base, [PLAN]), {}, lambda kind: [])
    assert setup.places[0].volume.value[0] == pytest.approx(volume, nan_ok=True)


def test_each_german_word_stands_for_an_item() -> None:
    """A word of which nobody knows what it stands for helps nobody."""
    known = shared_engine()._item_kinds
    assert not [english for english in _german().values() if folded(english) not in known]
