"""Reasons of the judge, shortened for a reader."""

from __future__ import annotations

import pytest

from review.render.reasons import condition, why


@pytest.mark.parametrize(
    ("reason", "text"),
    [
        ("no value", "not known"),
        ("no value (not known: bore of tube (not given))", "not known: bore of tube (not given)"),
        ("no value (the scenario names no material here)", "the scenario names no material here"),
        ("no value; condition: look at it", "not known"),
        ("outside the range of its method", "outside the range of its method"),
        # a note that repeats what a figure already says
        ("no value (not known: IDLH of x (none found); none found)",
         "not known: IDLH of x (none found)"),
        ("estimated, so graded at its hazardous bound (a note)",
         "estimated: a note"),
    ],
)  # fmt: skip
def test_a_reason_names_what_is_lacking(reason: str, text: str) -> None:
    assert why(reason) == text


def test_many_lacking_figures_are_two_and_a_count() -> None:
    figures = "; ".join(f"figure {n} of the tube (not given; write it; please)" for n in range(9))
    text = why(f"no value (not known: {figures})")
    assert text == (
        "not known: figure 0 of the tube (not given; write it; please); "
        "figure 1 of the tube (not given; write it; please); and 7 more"
    )


def test_what_the_ruleset_asks_for_instead_is_kept_apart() -> None:
    assert condition("no value; condition: look at the part; press it") == (
        "look at the part; press it"
    )
    assert condition("no value") == ""
