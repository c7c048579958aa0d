"""How numbers, places and trials read in every output."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping

from review.plugin import Kind
from review.result import STATED_PLAN, Finding, Trials

#: Categories that can move the cursor, hide text or reverse its direction.
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def clean(text: str) -> str:
    """Text from outside as one harmless line: control and invisible characters removed.

    >>> clean("a\\x1b[31m\\n b")
    'a[31m b'
    """
    spaced = "".join(" " if c.isspace() else c for c in text)
    shown = "".join(c for c in spaced if unicodedata.category(c) not in _UNPRINTABLE)
    return " ".join(shown.split())


def number(value: float, digits: int = 3) -> str:
    """A number with `digits` significant digits, as one would write it by hand.

    >>> number(0.0421678), number(1234.0), number(2.5e-7), number(float("nan"))
    ('0.0422', '1230', '2.5e-7', 'unknown')
    """
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return "unlimited" if value > 0 else "minus unlimited"
    rounded = float(f"{value:.{digits - 1}e}")
    if rounded == 0:
        return "0"
    if 1e-3 <= abs(rounded) < 1e6:
        places = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
        text = f"{rounded:.{places}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    mantissa, exponent = f"{rounded:.{digits - 1}e}".split("e")
    if "." in mantissa:
        mantissa = mantissa.rstrip("0").rstrip(".")
    return f"{mantissa}e{int(exponent)}"


def in_display(value_si: float, unit: str, display: str) -> tuple[float, str]:
    """The number and the unit a bench user reads.

    SI where no display unit is declared, or one that nobody can convert to: a slip in a check's
    declaration must not cost the reader the review.

    >>> in_display(0.25, "1", "")
    (0.25, '')
    """
    shown = display or unit
    if display and math.isfinite(value_si):
        from review.scenario.units import convert

        try:
            value_si = convert(value_si, display)
        except (ValueError, TypeError, AttributeError):
            shown = unit
    return value_si, "" if shown == "1" else shown


def quantity(value_si: float, unit: str, display: str, digits: int = 3) -> str:
    """A value with its display unit.

    >>> quantity(0.25, "", ""), quantity(float("nan"), "Pa", "bar")
    ('0.25', 'unknown')
    """
    value, shown = in_display(value_si, unit, display)
    text = number(value, digits)
    return f"{text} {shown}" if shown and not math.isnan(value) else text


def rating(value: float, labels: tuple[str, ...]) -> str:
    """The label of a rating stored as its index.

    >>> rating(1.0, ("good", "poor"))
    'poor'
    """
    if math.isnan(value):
        return "unknown"
    index = round(value) if math.isfinite(value) else -1
    return labels[index] if 0 <= index < len(labels) else number(value)


def value_and_limit(finding: Finding, kinds: Mapping[str, Kind]) -> tuple[str, str]:
    """Value and limit of a finding; the limit is "" where there is none.

    As many digits as it takes to tell the two apart, so that a limit just passed never looks met.
    """
    kind = kinds.get(finding.kind)
    labels = kind.labels if kind else ()
    limit = finding.limit
    if labels:
        return rating(finding.value, labels), "" if limit is None else rating(limit, labels)
    for digits in (3, 4, 6, 9, 17):
        value = quantity(finding.value, finding.unit, finding.display, digits)
        edge = "" if limit is None else quantity(limit, finding.unit, finding.display, digits)
        if value != edge or finding.value == limit:
            break
    if edge and kind:
        edge = ("at most " if kind.worse == "higher" else "at least ") + edge
    return value, edge


def place(at: str, of: str) -> str:
    """Where, and of what.

    >>> place("tube", "hydrogen"), place("", "hydrogen"), place("tube", "")
    ('tube, of hydrogen', 'of hydrogen', 'tube')
    """
    return ", ".join(part for part in (at, f"of {of}" if of else "") if part)


def trial(trials: Trials, run_id: str, step: str) -> str:
    """In which run and step, as a phrase that follows a value."""
    run = next((r for r in trials.runs if r.id == run_id), None)
    inside = "at the stated settings" if step == STATED_PLAN else f"in step {step}"
    if run is None:
        return ", ".join(p for p in (f"in {run_id}" if run_id else "", inside if step else "") if p)
    if run.case == "plan":
        return "in the plan" if step == STATED_PLAN else inside
    worst = f" (worst {inside})" if step else ""
    if run.case == "sample":
        return f"within the stated accuracies{worst}"
    if run.case == "window":
        return f"at {run.title}{worst}"
    start = ""
    if run.from_step is not None and "from step" not in run.title:
        start = f" from step {trials.cell_name(run.from_step)} on"
    return f"if {run.title}{start}{worst}"
