"""What the letter says, as data that every page tells in the same words and order.

The verdict; its causes, most serious first; the conditions as acts to tick, in the order in which
they are done; what comes nearest to a limit; what was not checked here; the cautions. It decides
nothing and leaves nothing out: how much of it there is room for, each page decides.
"""

from __future__ import annotations

import math
import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from review.cautions import IN_BRIEF
from review.interface.plugin import Gap
from review.interface.result import Cause, Finding, Review
from review.render import words
from review.render.failures import added, family
from review.render.grouping import failing_upsets, measure_of
from review.render.reasons import condition, why

NEAREST = 2
_NAMED = 4
_ORDER = ("build", "before", "during", "after")
_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
#: Fills a hole whose number is not known.
_UNKNOWN = "an unknown number of"
#: Nearer to its limit than this share of the way is worth a line.
_NEAR = 0.3


@dataclass(frozen=True, slots=True)
class Line:
    """A paragraph; `label` leads it. A `detail` may go where there is little room."""

    text: str
    label: str = ""
    detail: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """One cause that stands against the run: its headline, and the lines that explain it."""

    cause: Cause
    headline: str
    lines: tuple[Line, ...]
    explain: str
    """What to ask `benchgate explain` for, "" where no measure leads."""


@dataclass(frozen=True, slots=True)
class Act:
    """One condition as an act to tick, and the causes that it meets."""

    text: str
    when: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """All that a letter may say, in the order in which it is read.

    `gravest` are the conditions again, the most serious first.
    """

    opening: str
    causes: tuple[Told, ...]
    conditions: str
    acts: tuple[Act, ...]
    gravest: tuple[str, ...]
    loosened: tuple[str, ...]
    nearest: str
    played: str
    gaps: tuple[str, ...]
    notes: tuple[str, ...]
    further: tuple[Line, ...]
    plugins: tuple[str, ...]
    cautions: tuple[str, ...]
    contacts: tuple[str, ...]
    rules: str


def contents(review: Review) -> Contents:
    """What there is to say of a review."""
    against = tuple(_told(review, c) for c in review.causes if c.grade != "condition")
    acts = _acts(review)
    count = words.counted(len(acts), "condition")
    title = words.upper_first(count)
    if against:
        title = f"If this is changed, {count} remain{'s' if len(acts) == 1 else ''}"
    one = len(against) == 1
    opening = (
        f"{_counted(len(against)).capitalize()} thing{'' if one else 's'} "
        f"stand{'s' if one else ''} against this run."
    )
    return Contents(
        opening=opening if against else "" if review.findings else "Nothing was judged.",
        causes=against,
        conditions=title if acts else "",
        acts=acts,
        gravest=tuple(
            dict.fromkeys(act(review, c) for c in review.causes if c.grade == "condition")
        ),
        loosened=tuple(
            f"{e.criterion}, by {e.layer}: {e.what}. {e.reason}" for e in review.loosened
        ),
        nearest=_nearest(review),
        played=_played(review),
        gaps=tuple(
            gap for _, gap in review.not_covered
            if isinstance(gap, Gap) and gap.concerns(review.facts)
        ),
        notes=review.notes,
        further=tuple(
            Line("; ".join(section.lines), section.title)
            for section in review.sections if section.letter and not section.plugin
        ),
        plugins=tuple(dict.fromkeys(s.plugin for s in review.sections if s.plugin)),
        cautions=IN_BRIEF,
        contacts=review.contacts,
        rules=words.rules_used(review.layers),
    )  # fmt: skip


def _told(review: Review, cause: Cause) -> Told:
    lead = review.findings[cause.leading]
    lines = (
        _unjudged(review, cause, lead)
        if cause.grade == "undetermined"
        else _refused(review, cause, lead)
    )
    at = f"@{lead.at}" if lead.at else ""
    of = f":{lead.of}" if lead.of else ""
    explain = f"{lead.kind}{at}{of}" if lead.kind else ""
    return Told(cause, headline(review, cause), tuple(lines), explain)


def _unjudged(review: Review, cause: Cause, lead: Finding) -> Iterable[Line]:
    if cause.lacks and cause.letter.gathers:
        yield Line(f"{words.upper_first(shortened(cause.lacks, 230))}.")
        yield Line("What is left out counts as the worst: state it.")
        return
    open_ = sum(f.grade == "undetermined" and f.blocks for f in review.findings)
    blocked = len(cause.findings)
    first = words.lower_first(lead.title or lead.criterion)
    where = f" at {_named(review, lead.at)}" if lead.at else ""
    text = f"It blocks {blocked} of {words.counted(open_, 'judgement')}: {first}{where}"
    names = {review.findings[n].criterion for n in cause.findings}
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    yield Line(f"{text}{more}.")
    if not cause.lacks and lead.reason:
        yield Line(f"{words.upper_first(shortened(why(lead.reason), 200))}.")
    if not math.isnan(lead.known):
        known = _values(review, replace(lead, value=lead.known))
        said = f"Where it is known it comes to {known['value']} (limit {known['limit']})."
        yield Line(said)
    if cause.lacks:
        yield Line("State it in the file, or ask whoever knows.")
    else:
        yield Line(_first_sentence(lead.action))


def _refused(review: Review, cause: Cause, lead: Finding) -> Iterable[Line]:
    letter, values = cause.letter, _values(review, lead)
    shown = _plainly(review, lead)
    if letter.shows:
        clauses = _filled(letter.shows, values).split(", ")
        known_ones = [clause for clause in clauses if _UNKNOWN not in clause]
        shown = words.upper_first(", ".join(known_ones).rstrip(".") + "." if known_ones else "")
    guess = " Estimated." if lead.status == "estimated" else ""
    yield Line(f"{_when(review, cause, lead)} {shown}{guess}".strip())
    elsewhere = _elsewhere(review, cause, lead)
    if elsewhere:
        yield Line(elsewhere, detail=True)
    holes = [name for _, name, _, _ in string.Formatter().parse(letter.target) if name]
    known = letter.target and all(values[name] not in ("", _UNKNOWN) for name in holes)
    target = _filled(letter.target, values) if known else ""
    yield Line(target or _first_sentence(lead.action))


def headline(review: Review, cause: Cause) -> str:
    """A cause in one sentence that is true by itself."""
    lead = review.findings[cause.leading]
    if cause.lacks and cause.letter.gathers:
        return cause.letter.says
    if cause.lacks:
        # A reason that is a sentence already says what is not known.
        sentence = " not " in cause.lacks
        text = shortened(cause.lacks, 150)
        return f"{words.upper_first(text)}." if sentence else f"Not known: {text}."
    if cause.grade == "undetermined":
        return f"Not judged: {words.lower_first(lead.title or lead.criterion)}."
    if cause.letter.says:
        return words.upper_first(_filled(cause.letter.says, _values(review, lead)))
    where = f" at {_named(review, lead.at)}" if lead.at else ""
    return f"{lead.title or lead.criterion}{where}."


def _when(review: Review, cause: Cause, lead: Finding) -> str:
    """As planned or after which failure, in which step, and how many failures do the same."""
    if not lead.kind:
        return ""
    step = _step(review, lead.step)
    if lead.case in ("plan", "step"):
        return f"As planned{step}."
    run = next((r for r in review.trials.runs if r.id == lead.trial), None)
    if run is None or lead.case == "sample":
        return f"Within the stated accuracies{step}."
    others = len(failing(review, cause.findings) - {lead.trial})
    does = "does" if others == 1 else "do"
    same = f"; {words.counted(others, 'other failure')} {does} the same" if others else ""
    return f"Worst if {family(run, review.trials).phrase}{step}{same}."


def failing(review: Review, findings: Iterable[int]) -> frozenset[str]:
    """The upsets that come to any of these findings."""
    runs: set[str] = set()
    for n in findings:
        if review.findings[n].case == "upset":
            runs |= failing_upsets(review.findings[n], review).keys()
    return frozenset(runs)


def _step(review: Review, step: str) -> str:
    return f', step "{step}"' if step in review.trials.steps else ""


def _elsewhere(review: Review, cause: Cause, lead: Finding) -> str:
    """Other places of the same criterion that are refused too."""
    places = dict.fromkeys(
        f.at for f in (review.findings[n] for n in cause.findings)
        if f.criterion == lead.criterion and f.grade == lead.grade and f.at not in ("", lead.at)
    )  # fmt: skip
    return f"The same in {_several(review, tuple(places))}." if places else ""


def _acts(review: Review) -> tuple[Act, ...]:
    """The conditions in the order in which they are done, each once."""
    met: dict[str, list[Cause]] = {}
    for cause in review.causes:
        if cause.grade == "condition":
            met.setdefault(act(review, cause), []).append(cause)
    whens = {
        text: min(_ORDER.index(c.letter.when) for c in several) for text, several in met.items()
    }
    ordered = sorted(met, key=lambda text: whens[text])
    return tuple(Act(text, _ORDER[whens[text]], tuple(met[text])) for text in ordered)


def act(review: Review, cause: Cause) -> str:
    """A condition as one act."""
    findings = [review.findings[n] for n in cause.findings]
    lead = review.findings[cause.leading]
    if cause.letter.at_hand:
        return f"Have at hand: {cause.letter.at_hand}."
    places = tuple(dict.fromkeys(f.at for f in findings if f.at))
    if not any(f.grade == "tolerable" for f in findings):
        asked = words.upper_first(condition(lead.reason) or _first_sentence(lead.action))
        where = f": {_several(review, places)}" if places else ""
        return f"{asked.rstrip('.')}{where}."
    values = _values(review, lead)
    if places:
        values["at"] = _several(review, places)
    if cause.letter.act:
        return words.upper_first(_filled(cause.letter.act, values))
    return _first_sentence(lead.action)


def _nearest(review: Review) -> str:
    """The nearest limits among what is acceptable; "" where nothing comes near one."""
    near = [
        f for f in review.findings
        if f.grade == "acceptable" and f.kind and f.limit is not None and math.isfinite(f.value)
        and not review.kinds[f.kind].labels and abs(f.limit) < 1e8
        and _nearness(review, f) >= _NEAR
    ]  # fmt: skip
    by_criterion: dict[str, Finding] = {}
    for f in sorted(near, key=lambda f: -_nearness(review, f)):
        by_criterion.setdefault(f.criterion, f)
    parts = []
    for f in list(by_criterion.values())[:NEAREST]:
        values = _values(review, f)
        where = f" at {_named(review, f.at)}" if f.at else ""
        of = f", {f.of}" if f.of else ""
        reached = f"{values['value']} (limit {values['limit']})"
        parts.append(f"{words.lower_first(f.title)}{where}{of}: {reached}")
    return f"{'; '.join(parts)}." if parts else ""


def _played(review: Review) -> str:
    """How many failures were played, and how many change nothing."""
    played = len(review.outcomes)
    if not played:
        return ""
    changing = len(added(review))
    change = "change" if played - changing != 1 else "changes"
    return (
        f"{words.counted(played, 'failure')} {'was' if played == 1 else 'were'} played, "
        f"{played - changing} {change} nothing."
    )


def _nearness(review: Review, finding: Finding) -> float:
    """How much of the way to its limit a value has gone; of a temperature, 100 K are the way."""
    kind, limit = review.kinds[finding.kind], finding.limit
    if limit is None:
        return 0.0
    if kind.unit == "K":
        return 1 - abs(finding.value - limit) / 100.0
    if kind.about == limit:
        return 0.0
    share = (finding.value - kind.about) / (limit - kind.about)
    return share if kind.worse == "higher" or kind.about else 1 / share if share else 0.0


def _values(review: Review, finding: Finding) -> dict[str, str]:
    """What fills the holes of a letter's sentences."""
    kind = review.kinds.get(finding.kind)
    said = words.reading(finding, review.kinds)
    _, limit = words.value_and_limit(finding, review.kinds)
    limit = limit.removeprefix("at most ").removeprefix("at least ")
    signed = kind is not None and kind.unit == kind.display == "K"
    if signed:
        limit = said.wanted.removeprefix("wanted: ")
    filled = {
        "at": _named(review, finding.at),
        "of": finding.of,
        "step": f'"{finding.step}"',
        "value": said.value,
        "limit": limit or "none",
        "times": "",
        "apart": "",
    }
    edge, value = finding.limit, finding.value
    if kind is not None and edge is not None and math.isfinite(value):
        apart = words.number(math.ceil(abs(value - edge)))
        filled["apart"] = f"{apart} {kind.display}".strip()
        over, under = (value, edge) if kind.worse == "higher" else (edge, value)
        if under > 0 and over > under:
            filled["times"] = _round_up(over / under)
    lead_measure = measure_of(finding, review)
    for name, other in _beside(review, finding) if lead_measure is not None else ():
        filled[name] = other
    return filled


def _beside(review: Review, finding: Finding) -> Iterable[tuple[str, str]]:
    """Kinds that a letter reads beside its own, at the same place and trial.

    Where the finding is the share that such an amount is of its limit, NAME_limit is the amount at
    which the criterion stops.
    """
    cause = next((c for c in review.causes if review.findings[c.leading] == finding), None)
    if cause is None:
        return
    runs = [run.id for run in review.trials.runs]
    cells = [review.trials.cell_name(n) for n in range(1 + len(review.trials.steps))]
    for name, kind_id in cause.letter.beside.items():
        kind = review.kinds[kind_id]
        found = [m for m in review.measures if m.kind == kind_id and m.at == finding.at]
        found = [m for m in found if m.of == finding.of] or found
        text = bound = _UNKNOWN
        if found and finding.trial in runs and finding.step in cells:
            value = float(found[0].value[cells.index(finding.step), runs.index(finding.trial)])
            if math.isfinite(value):
                text = words.quantity(value, kind.unit, kind.display, 2)
            if finding.limit is not None and finding.value > 0 and value > 0:
                most = value * finding.limit / finding.value
                bound = words.quantity(most, kind.unit, kind.display, 2)
        yield name, text
        yield f"{name}_limit", bound


def _plainly(review: Review, finding: Finding) -> str:
    """A value and its limit where the letter says nothing of its own."""
    if not finding.kind:
        return "The file does not say so."
    values = _values(review, finding)
    what = words.upper_first(words.reading(finding, review.kinds).what)
    return f"{what}: {values['value']} (limit {values['limit']}).".removeprefix(": ")


def _filled(text: str, values: dict[str, str]) -> str:
    # "236 times the limit", where a smaller one is "80 % of the limit".
    return text.format_map(values).replace(" times of ", " times ")


def _named(review: Review, at: str) -> str:
    known = at in review.facts.get("items", ()) or at in review.trials.steps
    return f'"{at}"' if known else at or "the set-up"


def _several(review: Review, places: Sequence[str]) -> str:
    named = [_named(review, place) for place in places[:_NAMED]]
    more = len(places) - _NAMED
    return words.listed([*named, f"{more} more"] if more > 0 else named)


def _first_sentence(text: str) -> str:
    first, stop, _ = text.partition("; ")
    sentence = first.split(". ")[0].rstrip(".")
    return f"{sentence}."


def _round_up(ratio: float) -> str:
    """Two digits, never too little."""
    scale = 10.0 ** (math.floor(math.log10(ratio)) - 1)
    return words.number(float(np.ceil(ratio / scale - 1e-9) * scale))


def _counted(number: int) -> str:
    return _SMALL[number] if number < len(_SMALL) else str(number)


def shortened(text: str, most: int = 150) -> str:
    """At most so many characters, cut between words."""
    return text if len(text) <= most else text[:most].rsplit(" ", 1)[0] + " ..."
