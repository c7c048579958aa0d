"""How numbers, places and trials read in every output."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from review.interface.plugin import Kind
from review.interface.result import STATED_PLAN, Finding, LayerInfo, Trials
from review.walk.procedure import AFTERWARDS

#: A share of so many per cent is said in times; beyond the second nobody needs its number.
_MANY_PER_CENT, _FAR = 1e3, 1e6
#: Limits from here on only stand for "any number".
_ENDLESS = 1e9
#: How the title of a temperature difference says what it is measured from.
_DIRECTION = re.compile(r"(.+?),? (over|below) (.+)")

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
    >>> quantity(236.0, "1", "%"), quantity(4e6, "1", "%")
    ('236 times', 'far above')
    """
    value, shown = in_display(value_si, unit, display)
    if shown == "%" and unit == "1" and math.isfinite(value) and abs(value) >= _MANY_PER_CENT:
        return "far above" if value > _FAR else f"{number(value / 100, digits)} times"
    text = number(value, digits)
    return f"{text} {shown}" if shown and math.isfinite(value) else text


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
    if labels:
        limit = finding.limit
        return rating(finding.value, labels), "" if limit is None else rating(limit, labels)
    value, edge = _told_apart(finding.value, finding.limit, finding.unit, finding.display)
    if finding.limit is not None and abs(finding.limit) >= _ENDLESS:
        return value, "unlimited"
    if edge and kind:
        edge = ("at most " if kind.worse == "higher" else "at least ") + edge
    return value, edge


def _told_apart(value: float, limit: float | None, unit: str, display: str) -> tuple[str, str]:
    """Both as text, with the digits it takes to see that they differ."""
    shown = edge = ""
    for digits in (3, 4, 6, 9, 17):
        shown = quantity(value, unit, display, digits)
        edge = "" if limit is None else quantity(limit, unit, display, digits)
        if shown != edge or limit is None or math.isclose(value, limit, rel_tol=1e-9):
            break
    return shown, edge


@dataclass(frozen=True, slots=True)
class Reading:
    """A value as one says it: what it is of, the value, and what is wanted instead.

    `what` begins in lower case and may be "" (a rating needs none). `wanted` is "" where there is
    no limit. `brief` is the value for whoever has read another of the same kind before.
    """

    what: str
    value: str
    wanted: str
    brief: str


def reading(finding: Finding, kinds: Mapping[str, Kind]) -> Reading:
    """A finding's value in words.

    A temperature difference whose kind is titled "<part> over <threshold>" or "<part> below <...>"
    is said with its direction, so that nobody has to work out what a minus sign means.
    """
    kind = kinds.get(finding.kind)
    value, limit = value_and_limit(finding, kinds)
    what = lower_first(kind.title) if kind else finding.kind
    if math.isnan(finding.value):
        value = "not known"
    if kind is None:
        return Reading(what, value, "", value)
    if kind.labels:
        return Reading("", value, f"wanted: {limit}" if limit else "", value)
    parted = _DIRECTION.fullmatch(kind.title)
    if parted and kind.unit == kind.display == "K" and math.isfinite(finding.value):
        part, word, threshold = parted.groups()
        above = 1.0 if word == "over" else -1.0
        value, edge = _told_apart(abs(finding.value), _size(finding.limit), "K", "K")
        side = "above" if above * finding.value >= 0 else "below"
        wanted = ""
        if finding.limit is not None:
            up_is_worse = (kind.worse == "higher") == (word == "over")
            wanted = _wanted_side(above * finding.limit, edge, up_is_worse)
        said = f"{value} {side}"
        return Reading(lower_first(part), f"{said} {threshold}", wanted, said)
    wanted = f"wanted: {limit}" if limit == "unlimited" else f"{limit} is wanted"
    return Reading(what, value, wanted if limit else "", value)


def _wanted_side(limit: float, edge: str, up_is_worse: bool) -> str:
    """On which side of its threshold a temperature is wanted, and how far from it."""
    if limit == 0:
        return f"wanted: not {'above' if up_is_worse else 'below'} it"
    bound = "at most" if (limit > 0) == up_is_worse else "at least"
    return f"wanted: {bound} {edge} {'above' if limit > 0 else 'below'} it"


def _size(limit: float | None) -> float | None:
    return None if limit is None else abs(limit)


#: What stands before the name of a substance and is no part of its first word.
_PLACE = re.compile(r"(?:[nompdl]|sec|tert|iso|cis|trans|[\d,]+)-(?=[a-z])")


def lower_first(text: str) -> str:
    """A title as it reads in mid-sentence; abbreviations keep their capitals.

    >>> lower_first("Hot part"), lower_first("IDLH ratio"), lower_first("A rod bends")
    ('hot part', 'IDLH ratio', 'a rod bends')
    """
    shouted = len(text) > 1 and text[0].isupper() and text[1].isupper()
    return text if shouted else text[:1].lower() + text[1:]


def upper_first(text: str) -> str:
    """A phrase as it reads at the start of a sentence; what says where a group stands stays small.

    >>> upper_first("hot part"), upper_first("n-hexane"), upper_first("tert-butanol")
    ('Hot part', 'n-Hexane', 'tert-Butanol')
    """
    place = _PLACE.match(text)
    start = place.end() if place else 0
    return text[:start] + text[start : start + 1].upper() + text[start + 1 :]


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "condition"), counted(3, "condition")
    ('1 condition', '3 conditions')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(names: Iterable[str], last: str = "and") -> str:
    """Names in a row.

    >>> listed(["inlet", "tube", "hose"], "or"), listed(["tube"])
    ('inlet, tube or hose', 'tube')
    """
    each = list(names)
    return f" {last} ".join(p for p in (", ".join(each[:-1]), *each[-1:]) if p)


def rules_used(layers: Iterable[LayerInfo]) -> str:
    """The rules that judged, in words; that a site gave none of its own is said too.

    >>> rules_used([LayerInfo("general rules", "", "built-in")])
    'built-in (no site rules given)'
    """
    site = [clean(layer.name) for layer in layers if layer.rank != "built-in"]
    return f"built-in and {listed(site)}" if site else "built-in (no site rules given)"


def subject(of: str, kind: Kind | None) -> str:
    """What a measure speaks of: of a rated pair, the material in the substance.

    >>> subject("hydrogen", None)
    'hydrogen'
    """
    material, pair, substance = of.rpartition(" and ")
    return f"{material} in {substance}" if pair and kind is not None and kind.labels else of


def place(at: str, of: str) -> str:
    """Where, and of what.

    >>> place("tube", "hydrogen"), place("", "hydrogen"), place("tube", "")
    ('tube, of hydrogen', 'of hydrogen', 'tube')
    """
    return ", ".join(part for part in (at, f"of {of}" if of else "") if part)


def in_step(step: str) -> str:
    """In which step, as a phrase."""
    if step == STATED_PLAN:
        return "at the stated settings"
    return step if step == AFTERWARDS else f"in step {step}"


def trial(trials: Trials, run_id: str, step: str) -> str:
    """In which run and step, as a phrase that follows a value.

    The step is left out where a failure is worst in the step in which it begins.
    """
    run = next((r for r in trials.runs if r.id == run_id), None)
    inside = in_step(step)
    if run is None:
        return ", ".join(p for p in (f"in {run_id}" if run_id else "", inside if step else "") if p)
    if run.case == "plan":
        said = inside if step == STATED_PLAN else f"as planned, {inside}"
        return said if run_id == "plan" else f"{said}, {run.title}"
    begins = trials.cell_name(run.from_step or 0)
    worst = f" (worst {inside})" if step and step != begins else ""
    if run.case == "sample":
        return f"within the stated accuracies{worst}"
    if run.case == "window":
        return f"at {run.title}{worst}"
    start = ""
    if run.from_step is not None and f"step {begins}" not in run.title:
        start = f" from step {begins} on"
    return f"if {run.title}{start}{worst}"


def failed(phrase: str, begins: str, count: int) -> str:
    """What fails and from when on.

    >>> failed("the tube is blocked", "heat", 3), failed("step heat is left out", "", 1)
    ('the tube is blocked from step heat on (worst of 3)', 'step heat is left out')
    """
    start = f" from step {begins} on" if begins else ""
    return f"{phrase}{start} (worst of {count})" if count > 1 else f"{phrase}{start}"


def soon(seconds: float) -> str:
    """How long until a failure matters.

    >>> soon(0.2), soon(45.0), soon(600.0), soon(float("nan"))
    ('at once', 'after 45 s', 'after 10 min', 'not timed')
    """
    if math.isnan(seconds):
        return "not timed"
    if math.isinf(seconds):
        return "not within any time" if seconds > 0 else "at once"
    if seconds < 1:
        return "at once"
    if seconds < 120:
        return f"after {number(seconds, 2)} s"
    return (
        f"after {number(seconds / 60, 2)} min"
        if seconds < 7200
        else f"after {number(seconds / 3600, 2)} h"
    )
