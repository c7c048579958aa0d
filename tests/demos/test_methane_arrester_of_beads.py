"""Methane led out through glass beads of 1 mm, which stop a flame that runs back."""

from __future__ import annotations

NAME = "methane_arrester_of_beads"


def test_it_counts_and_nothing_is_asked_for_it(demo) -> None:
    """Holes of (sqrt(2) - 1) mm = 0.41 mm; the safe gap of methane is 1.12 mm, half of it 0.56."""
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    assert review.finding("arrester.counts", "arrester", "plan").grade == "acceptable"


def test_beads_half_as_big_again_do_not(demo) -> None:
    """Holes of 0.62 mm."""
    wide = demo(NAME, ("particle_diameter: 1 mm", "particle_diameter: 1.5 mm"))
    assert wide.finding("arrester.counts", "arrester", "plan").grade == "tolerable"


def test_a_flame_within_its_reach_is_refused_all_the_same(demo) -> None:
    """100 mL/min of methane burn in still air up to 3 x 1.67e-6/(0.044 x 8 pi 1.5e-5) = 0.30 m from
    the outlet, within a factor of 2: an arrester keeps the flame out of the train, no more."""
    near = demo(NAME, ("distance: 3 m", "distance: 400 mm"))
    assert near.finding("ignition.flame_near", "outlet", "plan").grade == "unacceptable"
