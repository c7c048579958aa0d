"""What fills the holes of a letter's sentences: the numbers of a finding in words."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable

from review.interface.measure import Compared, Measure
from review.interface.result import Finding, Review
from review.render import words
from review.render.grouping import measure_of

ZERO_CELSIUS = 273.15
#: Fills a hole whose number is not known.
UNKNOWN = "an unknown number of"
#: Below this ignition temperature (125 degC) no share of it in degC is sure to be far enough below.
NO_SHARE = 398.15


def values(review: Review, finding: Finding) -> dict[str, str]:
    """Each hole by its name, with its text; UNKNOWN where nobody knows the number."""
    kind = review.kinds.get(finding.kind)
    said = words.reading(finding, review.kinds)
    _, limit = words.value_and_limit(finding, review.kinds)
    limit = limit.removeprefix("at most ").removeprefix("at least ")
    if kind is not None and kind.unit == kind.display == "K":
        limit = said.wanted.removeprefix("wanted: ")
    filled = {
        "at": named(review, finding.at),
        "of": finding.of,
        "step": f'"{finding.step}"',
        "value": said.value,
        "limit": limit or "none",
        "times": "",
        "apart": "",
    }
    edge, value = finding.limit, _graded(finding)
    if kind is not None and edge is not None and math.isfinite(value):
        apart = words.number(math.ceil(abs(value - edge)))
        filled["apart"] = f"{apart} {kind.display}".strip()
        over, under = (value, edge) if kind.worse == "higher" else (edge, value)
        if under > 0 and over > under:
            filled["times"] = _two_digits(over / under, math.ceil)
    measure = measure_of(finding, review)
    filled["note"] = measure.note.partition(" (")[0] if measure and measure.note else UNKNOWN
    filled |= dict(_pair(review, measure, finding))
    passes, needs = _enough(review, measure, finding)
    filled |= {"passes": passes, "needs": needs}
    for name, other in _beside(review, finding) if measure is not None else ():
        filled[name] = other
    return filled


def sentences(text: str, filled: dict[str, str]) -> str:
    """A letter's text with its holes filled, without what holds a number nobody knows."""
    # "236 times the limit", where a smaller one is "80 % of the limit".
    if not text:
        return ""
    done = text.format_map(filled).replace(" times of ", " times ")
    known = [part for part in re.split(r"(?<=[.;,]) ", done) if UNKNOWN not in part]
    return words.upper_first(" ".join(known).rstrip(".;,") + ".") if known else ""


def reads(review: Review, finding: Finding) -> str:
    """A value and its limit in one phrase: two figures in their unit, never a bare share."""
    filled = values(review, finding)
    kind = review.kinds.get(finding.kind)
    value, edge, _, _ = _figures(review, measure_of(finding, review), finding)
    # Rich in fuel and short of oxygen: the pair that is told is not the one that decides.
    decides = (
        kind is None
        or finding.grade != "acceptable"
        or (value <= edge * finding.limit if kind.worse == "higher" and finding.limit else True)
    )
    if decides and UNKNOWN not in (filled["amount"], filled["passes"]):
        return f"{filled['amount']} (limit {filled['passes']})"
    if kind is not None and kind.labels:
        return f"{filled['value']}; wanted: {filled['limit']}"
    bare = kind is not None and kind.unit == "1" and not kind.display
    if bare and finding.limit and math.isfinite(finding.value):
        share = finding.value / finding.limit
        if kind is not None and kind.worse == "lower":
            return f"{words.number(share, 2)} times the least that passes"
        return f"{words.quantity(share, '1', '%', 2)} of its limit"
    return f"{filled['value']} (limit {filled['limit']})"


def plainly(review: Review, finding: Finding) -> str:
    """A value and its limit where the letter says nothing of its own."""
    if not finding.kind:
        return "The file does not say so."
    what = words.upper_first(words.reading(finding, review.kinds).what)
    return words.upper_first(f"{what}: {reads(review, finding)}.".removeprefix(": "))


def named(review: Review, at: str) -> str:
    """A place as a sentence has it: items and steps in quotes."""
    known = at in review.facts.get("items", ()) or at in review.trials.steps
    return f'"{at}"' if known else at or "the set-up"


def _graded(finding: Finding) -> float:
    """What it is graded at: an estimate by its bound."""
    return finding.value if math.isnan(finding.bound) else finding.bound


def _cell(review: Review, finding: Finding) -> tuple[int, int] | None:
    """Where its trial stands in an array of (cells, runs)."""
    runs = [run.id for run in review.trials.runs]
    cells = [review.trials.cell_name(n) for n in range(1 + len(review.trials.steps))]
    if finding.trial not in runs or finding.step not in cells:
        return None
    return cells.index(finding.step), runs.index(finding.trial)


def _figures(
    review: Review, measure: Measure | None, finding: Finding
) -> tuple[float, float, float, Compared | None]:
    """What there is, what it is held against and how warm, in the finding's trial; NaN for none."""
    at, pair = _cell(review, finding), None if measure is None else measure.compared
    shape = (1 + len(review.trials.steps), len(review.trials.runs))
    if at is None or pair is None or pair.value.shape != shape:
        return math.nan, math.nan, math.nan, None
    warmth = math.nan if pair.warmth is None else float(pair.warmth[at])
    return float(pair.value[at]), float(pair.edge[at]), warmth, pair


def _pair(
    review: Review, measure: Measure | None, finding: Finding, prefix: str = ""
) -> Iterable[tuple[str, str]]:
    """The two figures that a share or a difference is made of, told apart."""
    value, edge, warmth, pair = _figures(review, measure, finding)
    texts = [UNKNOWN, UNKNOWN]
    if pair is not None:
        for digits in (2, 3, 4, 6):
            texts = [_shown(each, pair, digits) for each in (value, edge)]
            if texts[0] != texts[1] or math.isclose(value, edge, rel_tol=1e-9):
                break
    yield f"{prefix}amount", texts[0]
    yield f"{prefix}edge", texts[1]
    yield f"{prefix}what", pair.what if pair is not None else ""
    hot = f"{warmth - ZERO_CELSIUS:.0f} degC" if math.isfinite(warmth) else UNKNOWN
    yield f"{prefix}warmth", hot


def _shown(value: float, pair: Compared, digits: int) -> str:
    """One of the two figures; degrees Celsius in whole ones, or as it takes to tell them apart."""
    if not math.isfinite(value):
        return UNKNOWN
    if pair.display != "degC":
        return words.quantity(value, pair.unit, pair.display, digits)
    return f"{value - ZERO_CELSIUS:.{max(digits - 2, 0)}f} degC"


def _enough(review: Review, measure: Measure | None, finding: Finding) -> tuple[str, str]:
    """The amount that would pass, and the figure against which this one would.

    Where the criterion inverts in closed form: a share must fall to its limit, a difference must
    reach it; of an estimate its bound must.
    """
    value, edge, _, pair = _figures(review, measure, finding)
    kind, limit = review.kinds.get(finding.kind), finding.limit
    if pair is None or kind is None or limit is None or not math.isfinite(value + edge):
        return UNKNOWN, UNKNOWN
    graded = _graded(finding)
    if kind.clock:  # what cannot reach its edge, an estimate by its factor, never does
        edge /= kind.factor if finding.status == "estimated" else 1.0
        return _safely(edge, pair, math.floor), UNKNOWN
    if kind.unit == "1" and kind.worse == "higher" and limit > 0:
        doubt = graded / finding.value if finding.value > 0 and math.isfinite(graded) else 1.0
        if pair.display == "degC":
            if edge < NO_SHARE:
                return UNKNOWN, UNKNOWN
            passes = ZERO_CELSIUS + limit / doubt * (edge - ZERO_CELSIUS)
            return _safely(passes, pair, math.floor), UNKNOWN
        most = _safely(limit / doubt * edge, pair, math.floor)
        return most, _safely(value * doubt / limit, pair, math.ceil)
    if kind.unit == "K" and pair.display == "degC":
        up = abs(finding.value - (value - edge)) <= abs(finding.value + (value - edge))
        aside = limit - (graded - finding.value if math.isfinite(graded) else 0.0)
        passes = edge + aside if up else edge - aside
        hot = (kind.worse == "higher") == up
        return _safely(passes, pair, math.floor if hot else math.ceil), UNKNOWN
    return UNKNOWN, UNKNOWN


def _safely(value: float, pair: Compared, side: Callable[[float], int]) -> str:
    """A number that tells what to do, rounded to the safe side."""
    shown, unit = words.in_display(value, pair.unit, pair.display)
    text = str(side(round(shown, 6))) if unit == "degC" else _two_digits(shown, side)
    return f"{text} {unit}".strip()


def _two_digits(value: float, side: Callable[[float], int]) -> str:
    if not value or not math.isfinite(value):
        return words.number(value)
    scale = 10.0 ** (math.floor(math.log10(abs(value))) - 1)
    return words.number(side(round(value / scale, 9)) * scale)


def _beside(review: Review, finding: Finding) -> Iterable[tuple[str, str]]:
    """Kinds that a letter reads beside its own, at the same place and trial.

    Where the finding is the share that such an amount is of its limit, NAME_limit is the amount at
    which the criterion stops; NAME_amount, NAME_edge, NAME_what and NAME_warmth are the figures
    that it is made of itself.
    """
    cause = next((c for c in review.causes if review.findings[c.leading] == finding), None)
    at = _cell(review, finding)
    for name, kind_id in cause.letter.beside.items() if cause is not None else ():
        kind = review.kinds[kind_id]
        found = [m for m in review.measures if m.kind == kind_id and m.at == finding.at]
        found = [m for m in found if m.of == finding.of] or found
        text = bound = UNKNOWN
        if found and at is not None:
            value = float(found[0].value[at])
            if math.isfinite(value):
                text = words.quantity(value, kind.unit, kind.display, 2)
            if finding.limit is not None and finding.value > 0 and value > 0:
                most = value * finding.limit / finding.value
                bound = words.quantity(most, kind.unit, kind.display, 2)
        yield name, text
        yield f"{name}_limit", bound
        yield from _pair(review, found[0] if found else None, finding, f"{name}_")
