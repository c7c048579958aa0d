"""Wording of numbers, places and trials."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import pytest

from review.interface.plugin import Kind
from review.interface.result import STATED_PLAN, Finding, Review
from review.render import words


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.0421678, "0.0422"),
        (9.996, "10"),
        (99.96, "100"),
        (1234.0, "1230"),
        (999999.0, "1e6"),
        (-2.5e-7, "-2.5e-7"),
        (math.inf, "unlimited"),
        (math.nan, "unknown"),
    ],
)
def test_three_significant_digits(value: float, text: str) -> None:
    assert words.number(value) == text


@pytest.mark.parametrize("value", [1.0, 0.00123, 45.67, 123456.0, 7.7e9, 3.3e-9, -0.25])
@pytest.mark.parametrize("digits", [3, 6])
def test_a_printed_number_reads_back_within_its_digits(value: float, digits: int) -> None:
    assert float(words.number(value, digits)) == pytest.approx(value, rel=0.5 * 10 ** (1 - digits))


def test_units_of_the_bench() -> None:
    # 0 degC = 273.15 K (SI Brochure, 9th ed., 2.3.1); 1 bar = 100 kPa (ibid., table 8)
    assert words.quantity(573.15, "K", "degC") == "300 degC"
    assert words.quantity(250000.0, "Pa", "bar") == "2.5 bar"
    assert words.quantity(0.05, "", "%") == "5 %"


def test_a_display_unit_nobody_knows_falls_back_to_si() -> None:
    assert words.quantity(12.0, "Pa", "florps") == "12 Pa"


def test_a_limit_just_passed_never_looks_met(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    value, limit = words.value_and_limit(make_finding(value=0.60004, limit=0.6), review.kinds)
    assert value == "0.60004"
    assert limit == "at most 0.6"


def test_a_limit_with_lower_as_the_worse_side(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    found = make_finding(kind="breathing.minutes", value=60.0, unit="s", display="min", limit=600.0)
    assert words.value_and_limit(found, review.kinds) == ("1 min", "at least 10 min")


def test_a_limit_that_stands_for_any_number_is_no_number(
    review: Review, make_finding: Callable[..., Finding]
) -> None:
    found = make_finding(kind="breathing.minutes", value=math.inf, unit="s", display="s", limit=1e9)
    assert words.value_and_limit(found, review.kinds) == ("unlimited", "unlimited")


def test_ratings_are_words(review: Review, make_finding: Callable[..., Finding]) -> None:
    found = make_finding(kind="materials.rating", value=2.0, limit=1.0)
    assert words.value_and_limit(found, review.kinds) == ("attacked", "limited")


@pytest.mark.parametrize(
    ("run", "step", "text"),
    [
        ("plan", STATED_PLAN, "at the stated settings"),
        ("plan", "heat", "as planned, in step heat"),
        ("argon lost@1", "purge", "if argon is lost from step purge on"),
        ("argon lost@1", "heat", "if argon is lost from step purge on (worst in step heat)"),
        ("sample 1", "heat", "within the stated accuracies (worst in step heat)"),
        ("a run of another review", "heat", "in a run of another review, in step heat"),
    ],
)
def test_trials_are_phrases(review: Review, run: str, step: str, text: str) -> None:
    assert words.trial(review.trials, run, step) == text


@pytest.mark.parametrize(
    ("title", "worse", "value", "limit", "said", "wanted"),
    [
        ("Wall over a mark", "higher", 250.0, 0.0, "250 K above a mark", "not above"),
        ("Wall over a mark", "higher", 5.0, 14.0, "5 K above a mark", "at most 14 K above"),
        ("Wall over a mark", "higher", -5.0, 0.0, "5 K below a mark", "not above"),
        ("Bed below its mark", "lower", -30.0, 20.0, "30 K above its mark", "at least 20 K below"),
        ("Bed below its mark", "lower", 15.0, 20.0, "15 K below its mark", "at least 20 K below"),
        ("Gas over its mark", "lower", 3.0, 5.0, "3 K above its mark", "at least 5 K above"),
    ],
)  # fmt: skip
def test_differences_are_said_with_their_side(
    make_finding: Callable[..., Finding],
    title: str,
    worse: Literal["higher", "lower"],
    value: float,
    limit: float,
    said: str,
    wanted: str,
) -> None:
    kind = Kind("bed.margin", title, worse, "K", "K", "a formula", "a book", "everywhere")
    found = make_finding(kind=kind.id, value=value, limit=limit, unit="K", display="K")
    reading = words.reading(found, {kind.id: kind})
    assert reading.value == said
    assert reading.wanted == f"wanted: {wanted} it"


def test_a_difference_nobody_knows_has_no_side(make_finding: Callable[..., Finding]) -> None:
    kind = Kind("bed.margin", "Bed below its limit", "lower", "K", "K", "f", "a book", "everywhere")
    found = make_finding(kind=kind.id, value=math.nan, limit=20.0, unit="K", display="K")
    reading = words.reading(found, {kind.id: kind})
    assert (reading.what, reading.value) == ("bed below its limit", "not known")


def test_text_from_outside_cannot_steer_a_terminal() -> None:
    hostile = "tube\x1b[2J\x07\r\nVerdict:\u202e\u200b\x9b31m may proceed"
    assert words.clean(hostile) == "tube[2J Verdict:31m may proceed"
