"""Methane led out through loosely packed wool, which stops no flame."""

from __future__ import annotations

NAME = "methane_arrester_of_loose_wool"


def test_it_does_not_count_and_is_a_condition(demo) -> None:
    """Channels of 0.1 mm x 0.95/0.05 = 1.9 mm; half of methane's safe gap is 0.56 mm."""
    review = demo(NAME)
    assert review.verdict == "may proceed with conditions"
    found = review.finding("arrester.counts", "arrester", "plan")
    assert (found.grade, found.value) == ("tolerable", 1.0)


def test_packed_tighter_it_counts(demo) -> None:
    """0.1 mm x 0.8/0.2 = 0.40 mm."""
    tight = demo(NAME, ("voidage: 95 %", "voidage: 80 %"))
    assert tight.finding("arrester.counts", "arrester", "plan").grade == "acceptable"
