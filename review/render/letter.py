"""The letter: what a reader gets without asking, at most 60 lines of 80 columns.

The verdict; its causes, most serious first; the conditions as acts to tick, in the order in which
they are done; what comes nearest to a limit; what was not checked here; the cautions. It decides
nothing and leaves nothing out without saying so: what there is no room for is counted, and the full
review has it all.
"""

from __future__ import annotations

import io
import math
import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from rich.console import Console

from review.cautions import IN_BRIEF
from review.interface.plugin import Gap
from review.interface.result import Cause, Finding, Review
from review.render import words
from review.render.failures import added, family
from review.render.grouping import failing_upsets, measure_of
from review.render.page import Page
from review.render.reasons import condition, why

LINES, COLUMNS = 60, 80
CAUSES, CONDITIONS, NEAREST, GAPS = 5, 10, 2, 4
_NAMED = 4
_COLOURS = {
    "may proceed": "bold green",
    "may proceed with conditions": "bold yellow",
    "must not proceed": "bold red",
    "cannot be judged": "bold magenta",
}
_ORDER = ("build", "before", "during", "after")
_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
#: Fills a hole whose number is not known.
_UNKNOWN = "an unknown number of"
#: Nearer to its limit than this share of the way is worth a line.
_NEAR = 0.3


@dataclass(frozen=True, slots=True)
class _Room:
    """How much is shown: fewer causes and conditions where the page would be too long."""

    causes: int = CAUSES
    conditions: int = CONDITIONS
    details: bool = True


def render_letter(review: Review, console: Console, quiet: bool = False) -> None:
    """Print the letter. `quiet`: the verdict, what to act on and the cautions."""
    room = _Room()
    smaller = (
        replace(room, details=False),
        *(_Room(causes, conditions, False) for causes, conditions in
          ((4, 10), (4, 8), (3, 8), (3, 6), (2, 6), (2, 4), (1, 3), (1, 1))),
    )  # fmt: skip
    for fewer in (room, *smaller):
        if _length(review, fewer, quiet, console.width) <= LINES:
            room = fewer
            break
    else:
        room = smaller[-1]
    _write(review, Page(console), room, quiet)


def _length(review: Review, room: _Room, quiet: bool, width: int) -> int:
    text = io.StringIO()
    _write(review, Page(Console(file=text, width=width, color_system=None)), room, quiet)
    return text.getvalue().count("\n")


def _write(review: Review, page: Page, room: _Room, quiet: bool) -> None:
    page.text(review.title, style="bold")
    page.text(review.verdict.upper(), style=_COLOURS.get(review.verdict, "bold"))
    _causes(review, page, room)
    _conditions(review, page, room)
    for e in review.loosened[:3]:
        page.blank()
        page.text(f"{e.criterion}, by {e.layer}: {e.what}. {e.reason}", label="Loosened:")
    if len(review.loosened) > 3:
        page.text(f"and {len(review.loosened) - 3} more that were loosened (--full).")
    if not quiet:
        _otherwise(review, page)
        _unchecked(review, page)
    _close(review, page)


def _causes(review: Review, page: Page, room: _Room) -> None:
    against = [c for c in review.causes if c.grade != "condition"]
    if not against:
        if not review.findings:
            page.blank()
            page.text("Nothing was judged.")
        return
    page.blank()
    one = len(against) == 1
    page.text(
        f"{_counted(len(against)).capitalize()} thing{'' if one else 's'} "
        f"stand{'s' if one else ''} against this run."
    )
    for number, cause in enumerate(against[: room.causes], 1):
        page.blank()
        _cause(review, page, cause, number, room.details or number == 1)
    more = against[room.causes :]
    if more:
        page.blank()
        names = "; ".join(dict.fromkeys(_headline(review, c).rstrip(".") for c in more[:2]))
        page.text(f"And {len(more)} more (--full), first: {_cut(names)}.")


def _cause(review: Review, page: Page, cause: Cause, number: int, details: bool) -> None:
    lead = review.findings[cause.leading]
    page.text(_headline(review, cause), indent=3, mark=str(number), style="bold")
    if cause.grade == "undetermined":
        _unjudged(review, page, cause, lead)
    else:
        _refused(review, page, cause, lead, details)
    if lead.kind and details:
        at = f"@{lead.at}" if lead.at else ""
        of = f":{lead.of}" if lead.of else ""
        page.text(f'benchgate explain FILE "{lead.kind}{at}{of}"', indent=3, label="More:")


def _unjudged(review: Review, page: Page, cause: Cause, lead: Finding) -> None:
    if cause.lacks and cause.letter.gathers:
        page.text(f"{words.upper_first(_cut(cause.lacks, 230))}.", indent=3)
        page.text("What is left out counts as the worst: state it.", indent=3)
        return
    open_ = sum(f.grade == "undetermined" and f.blocks for f in review.findings)
    blocked = len(cause.findings)
    first = words.lower_first(lead.title or lead.criterion)
    where = f" at {_named(review, lead.at)}" if lead.at else ""
    text = f"It blocks {blocked} of {words.counted(open_, 'judgement')}: {first}{where}"
    names = {review.findings[n].criterion for n in cause.findings}
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    page.text(f"{text}{more}.", indent=3)
    if not cause.lacks and lead.reason:
        page.text(f"{words.upper_first(_cut(why(lead.reason), 200))}.", indent=3)
    if not math.isnan(lead.known):
        known = _values(review, replace(lead, value=lead.known))
        said = f"Where it is known it comes to {known['value']} (limit {known['limit']})."
        page.text(said, indent=3)
    if cause.lacks:
        page.text("State it in the file, or ask whoever knows.", indent=3)
    else:
        page.text(_first_sentence(lead.action), indent=3)


def _refused(review: Review, page: Page, cause: Cause, lead: Finding, details: bool) -> None:
    letter, values = cause.letter, _values(review, lead)
    shown = _plainly(review, lead)
    if letter.shows:
        clauses = _filled(letter.shows, values).split(", ")
        known_ones = [clause for clause in clauses if _UNKNOWN not in clause]
        shown = words.upper_first(", ".join(known_ones).rstrip(".") + "." if known_ones else "")
    guess = " Estimated." if lead.status == "estimated" else ""
    page.text(f"{_when(review, cause, lead)} {shown}{guess}".strip(), indent=3)
    elsewhere = _elsewhere(review, cause, lead)
    if elsewhere and details:
        page.text(elsewhere, indent=3)
    holes = [name for _, name, _, _ in string.Formatter().parse(letter.target) if name]
    known = letter.target and all(values[name] not in ("", _UNKNOWN) for name in holes)
    target = _filled(letter.target, values) if known else ""
    page.text(target or _first_sentence(lead.action), indent=3)


def _headline(review: Review, cause: Cause) -> str:
    lead = review.findings[cause.leading]
    if cause.lacks and cause.letter.gathers:
        return cause.letter.says
    if cause.lacks:
        # A reason that is a sentence already says what is not known.
        sentence = " not " in cause.lacks
        text = _cut(cause.lacks, 150)
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
    others = len(_failing(review, cause.findings) - {lead.trial})
    does = "does" if others == 1 else "do"
    same = f"; {words.counted(others, 'other failure')} {does} the same" if others else ""
    return f"Worst if {family(run, review.trials).phrase}{step}{same}."


@lru_cache(maxsize=64)
def _failing(review: Review, findings: tuple[int, ...]) -> frozenset[str]:
    """The upsets that come to any of these findings; a page is written more than once."""
    runs: set[str] = set()
    for n in findings:
        if review.findings[n].case == "upset":
            runs |= failing_upsets(review.findings[n], review).keys()
    return frozenset(runs)


@lru_cache(maxsize=1)
def _changing(review: Review) -> int:
    return len(added(review))


def _step(review: Review, step: str) -> str:
    return f', step "{step}"' if step in review.trials.steps else ""


def _elsewhere(review: Review, cause: Cause, lead: Finding) -> str:
    """Other places of the same criterion that are refused too."""
    places = dict.fromkeys(
        f.at for f in (review.findings[n] for n in cause.findings)
        if f.criterion == lead.criterion and f.grade == lead.grade and f.at not in ("", lead.at)
    )  # fmt: skip
    return f"The same in {_several(review, tuple(places))}." if places else ""


def _conditions(review: Review, page: Page, room: _Room) -> None:
    asked = [c for c in review.causes if c.grade == "condition"]
    if not asked:
        return
    acts: dict[str, int] = {}
    for cause in asked:
        text = _act(review, cause)
        acts[text] = min(acts.get(text, 9), _ORDER.index(cause.letter.when))
    ordered = sorted(acts, key=lambda text: acts[text])
    page.blank()
    against = any(c.grade != "condition" for c in review.causes)
    count = words.counted(len(ordered), "condition")
    remains = "remains" if len(ordered) == 1 else "remain"
    title = f"If this is changed, {count} {remains}" if against else words.upper_first(count)
    page.text(f"{title}:")
    page.blank()
    # What comes last in time is no less serious: the gravest stay when there is no room for all.
    kept = [t for t in dict.fromkeys(_act(review, c) for c in asked)][: room.conditions]
    for text in ordered:
        if text in kept:
            page.text(text, indent=4, mark="[ ]")
    if len(ordered) > len(kept):
        page.text(f"and {len(ordered) - len(kept)} more (--full).", indent=4)


def _act(review: Review, cause: Cause) -> str:
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


def _otherwise(review: Review, page: Page) -> None:
    """The nearest limits among what is acceptable, and how many failures change nothing."""
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
    played = len(review.outcomes)
    if not (parts or played):
        return
    page.blank()
    if parts:
        page.text(f"{'; '.join(parts)}.", label="Nearest limits otherwise:")
    if played:
        changing = _changing(review)
        change = "change" if played - changing != 1 else "changes"
        page.text(
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


def _unchecked(review: Review, page: Page) -> None:
    """Only gaps that this set-up could have."""
    here = [
        gap for _, gap in review.not_covered
        if isinstance(gap, Gap) and gap.concerns(review.facts)
    ]  # fmt: skip
    page.blank()
    if here:
        more = f"; and {len(here) - GAPS} more" if len(here) > GAPS else ""
        page.text(f"{'; '.join(here[:GAPS])}{more}.", label="Not checked here:")
    for note in review.notes[:1]:
        page.text(note, label="Data:")
    for section in review.sections:
        if section.letter and not section.plugin:
            page.text(f"{_cut('; '.join(section.lines), 230)}.", label=f"{section.title}:")
    foreign = dict.fromkeys(s.plugin for s in review.sections if s.plugin)
    if foreign:
        names = words.listed(foreign)
        page.text(f"what plugins add ({names}): see --full.", label="Further:")


def _close(review: Review, page: Page) -> None:
    page.blank()
    for line in IN_BRIEF:
        page.text(line)
    if review.contacts:
        page.text("; ".join(review.contacts[:2]), label="Emergency contacts:")
    site = [layer.name for layer in review.layers if layer.rank != "built-in"]
    said = f"built-in and {words.listed(site)}" if site else "built-in (no site rules given)"
    page.text(f"Rules: {said}. Full review: --full.")


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
    for name, other in (_beside(review, finding) if lead_measure is not None else ()):
        filled[name] = other
    return filled


def _beside(review: Review, finding: Finding) -> Iterable[tuple[str, str]]:
    """Kinds that a letter reads beside its own, at the same place and trial."""
    cause = next((c for c in review.causes if review.findings[c.leading] == finding), None)
    if cause is None:
        return
    runs = [run.id for run in review.trials.runs]
    cells = [review.trials.cell_name(n) for n in range(1 + len(review.trials.steps))]
    for name, kind_id in cause.letter.beside.items():
        kind = review.kinds[kind_id]
        found = [m for m in review.measures if m.kind == kind_id and m.at == finding.at]
        text = _UNKNOWN
        if found and finding.trial in runs and finding.step in cells:
            value = float(found[0].value[cells.index(finding.step), runs.index(finding.trial)])
            if math.isfinite(value):
                text = words.quantity(value, kind.unit, kind.display, 2)
        yield name, text


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


def _cut(text: str, most: int = 150) -> str:
    return text if len(text) <= most else text[:most].rsplit(" ", 1)[0] + " ..."
