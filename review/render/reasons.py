"""Why a finding is graded as it is, in a few words: the judge's reason, shortened."""

from __future__ import annotations

from collections.abc import Sequence

from review.interface.measure import parts
from review.judge.grading import ESTIMATE

#: About three lines of a letter.
_LONG = 220
_NAMED = 2
_CONDITION = "; condition: "
_UNKNOWN = "no value ("
_LACKS = "not known: "
_FALSE = "does not hold: "
_ESTIMATED = ESTIMATE


def why(reason: str) -> str:
    """What is not known, or what else stands behind a grade; "" where the value says it all.

    >>> why("no value (not known: bore of tube (not given))")
    'not known: bore of tube (not given)'
    >>> why("no value; condition: look at it")
    'not known'
    """
    text = reason.partition(_CONDITION)[0]
    if text.startswith(_UNKNOWN) and text.endswith(")"):
        text = text.removeprefix(_UNKNOWN)[:-1]
    elif text == "no value":
        text = "not known"
    if text.startswith(f"{_ESTIMATED} (") and text.endswith(")"):
        text = f"estimated: {text.removeprefix(_ESTIMATED)[2:-1]}"
    items = _distinct(parts(text.removeprefix(_LACKS)))
    if sum(map(len, items)) > _LONG and len(items) > _NAMED:
        items = [*items[:_NAMED], f"and {len(items) - _NAMED} more"]
    return (_LACKS if text.startswith(_LACKS) else "") + "; ".join(items)


def condition(reason: str) -> str:
    """What the ruleset asks for where a finding could not be judged; "" where it asks nothing."""
    return reason.partition(_CONDITION)[2]


def only_estimated(reason: str) -> bool:
    """Whether the reason says no more than that the value is an estimate."""
    return reason == _ESTIMATED


def unclaimed(reason: str) -> bool:
    """Whether the reason is a condition of the ruleset that does not hold, as a formula."""
    return reason.startswith(_FALSE)


def _distinct(items: Sequence[str]) -> list[str]:
    """Without what an earlier part already says."""
    kept: list[str] = []
    for item in items:
        if not any(item in earlier for earlier in kept):
            kept.append(item)
    return kept
