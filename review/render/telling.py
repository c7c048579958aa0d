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

from review.cautions import IN_BRIEF
from review.interface.plugin import Gap
from review.interface.result import Cause, Finding, Review
from review.render import words
from review.render.acting import joined_acts, looked_at
from review.render.failures import added, family
from review.render.filling import UNKNOWN, named, plainly, reads, sentences, values
from review.render.grouping import failing_upsets
from review.render.phrases import _NAMED, counted_small, first_sentence, lacking_of, shortened, some
from review.render.reasons import condition, why
from review.walk.procedure import AFTERWARDS

NEAREST = 2
_ORDER = ("build", "before", "during", "after")
#: Nearer to its limit than this share of the way is worth a line.
_NEAR = 0.3
#: From room temperature to where skin burns, or a stopper softens, are some 25 K.
WARMING = 25.0


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
    """What to ask `benchgate explain FILE` for, quoted; "" where no measure leads."""


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
        f"{counted_small(len(against)).capitalize()} thing{'' if one else 's'} "
        f"stand{'s' if one else ''} against this run."
    )
    return Contents(
        opening=opening if against else "" if review.findings else "Nothing was judged.",
        causes=against,
        conditions=title if acts else "",
        acts=acts,
        gravest=tuple(dict.fromkeys(text for text, _ in _told_acts(review))),
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
            Line(some(section.lines), section.title)
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
    # Asked for no trial, explain shows the worst that is known, not what is not known.
    trial = f' --run "{lead.trial}" --step "{lead.step}"' if math.isnan(lead.value) else ""
    asked = f'"{explain}"{trial}' if explain else ""
    return Told(cause, headline(review, cause), tuple(lines), asked)


def _unjudged(review: Review, cause: Cause, lead: Finding) -> Iterable[Line]:
    if cause.lacks and cause.letter.gathers:
        yield Line(f"{words.upper_first(shortened(cause.lacks, 230))}.")
        yield Line("What is left out counts as the worst: state it.")
        return
    _, reason = lacking_of(cause.lacks)
    if " not " in reason or ": " in reason:  # a sentence, and no name of a source
        yield Line(f"{words.upper_first(shortened(reason, 230))}.")
    open_ = sum(f.grade == "undetermined" and f.blocks for f in review.findings)
    blocked = len(cause.findings)
    first = words.lower_first(lead.title or lead.criterion)
    where = f" at {named(review, lead.at)}" if lead.at else ""
    text = f"It blocks {blocked} of {words.counted(open_, 'judgement')}: {first}{where}"
    names = {review.findings[n].criterion for n in cause.findings}
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    yield Line(f"{text}{more}.")
    if not cause.lacks and lead.reason:
        yield Line(f"{words.upper_first(shortened(why(lead.reason), 200))}.")
    if not math.isnan(lead.known):
        known = values(review, replace(lead, value=lead.known))
        said = f"Where it is known it comes to {known['value']} (limit {known['limit']})."
        yield Line(said)
    if cause.lacks:
        yield Line("State it in the file, or ask whoever knows.")
    else:
        yield Line(first_sentence(lead.action))


def _refused(review: Review, cause: Cause, lead: Finding) -> Iterable[Line]:
    letter, filled = cause.letter, values(review, lead)
    filled["all"] = words.listed(_subjects(review, cause, lead))
    filled["less"] = _less(review, lead)
    shown = sentences(letter.shows, filled) or plainly(review, lead)
    guess = _guessed(lead) if lead.status == "estimated" else ""
    yield Line(f"{_when(review, cause, lead)} {shown}{guess}".strip())
    for also in _also(review, cause):
        yield Line(also)
    elsewhere = _elsewhere(review, cause, lead)
    if elsewhere:
        yield Line(elsewhere, detail=True)
    holes = [name for _, name, _, _ in string.Formatter().parse(letter.target) if name]
    # What a measure notes beside its number is told where it notes something.
    known = letter.target and all(
        filled[name] not in ("", UNKNOWN) for name in holes if name != "note"
    )
    target = sentences(letter.target, filled) if known else ""
    yield Line(target or first_sentence(lead.action))
    if lead.trial.startswith("hoses exchanged:"):
        yield Line('Hoses with different ends cannot be exchanged: "connector" at each flow.')


def _guessed(lead: Finding) -> str:
    """That a figure is an estimate, and how many times over it counts for that."""
    pair = sorted((abs(lead.value), abs(lead.bound)))
    times = pair[1] / pair[0] if pair[0] > 0 and math.isfinite(pair[1]) else math.nan
    return f" Estimated, so it counts {times:.2g} times over." if times >= 1.1 else " Estimated."


def _subjects(review: Review, cause: Cause, lead: Finding) -> tuple[str, ...]:
    """What the findings like the leading one speak of, each once."""
    alike = (review.findings[n] for n in cause.findings)
    return tuple(
        dict.fromkeys(
            f.of for f in alike
            if (f.criterion, f.grade) == (lead.criterion, lead.grade) and f.of
        )
    )  # fmt: skip


def _also(review: Review, cause: Cause) -> Iterable[str]:
    """Other dangers that the same act clears, where their letter is told beside another's."""
    for n, says in cause.also:
        told = sentences(says, values(review, review.findings[n]))
        yield f"Also: {words.lower_first(told)}"


def headline(review: Review, cause: Cause) -> str:
    """A cause in one sentence that is true by itself."""
    lead = review.findings[cause.leading]
    if cause.lacks and cause.letter.gathers:
        return cause.letter.says
    if cause.lacks:
        # A reason that is a sentence already says what is not known.
        name, reason = lacking_of(cause.lacks)
        text = shortened(name, 150)
        sentence = " not " in text
        return f"{words.upper_first(text)}." if sentence else f"Not known: {text}."
    if cause.grade == "undetermined":
        return f"Not judged: {words.lower_first(lead.title or lead.criterion)}."
    if cause.letter.says:
        return words.upper_first(cause.letter.says.format_map(values(review, lead)))
    where = f" at {named(review, lead.at)}" if lead.at else ""
    return f"{lead.title or lead.criterion}{where}."


def _when(review: Review, cause: Cause, lead: Finding) -> str:
    """As planned or after which failure, in which step, and how many failures do the same."""
    if not lead.kind:
        return ""
    step = _step(review, lead.step)
    run = next((r for r in review.trials.runs if r.id == lead.trial), None)
    other = f", {run.title}" if run is not None and run.id != "plan" else ""
    if lead.case in ("plan", "step"):
        return f"As planned{step}{other}."
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
    if step == AFTERWARDS:
        return f", {step}"
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
    for text, cause in _told_acts(review):
        met.setdefault(text, []).append(cause)
    met = looked_at(review, met)
    whens = {
        text: min(_ORDER.index(c.letter.when) for c in several) for text, several in met.items()
    }
    ordered = sorted(met, key=lambda text: whens[text])
    return tuple(Act(text, _ORDER[whens[text]], tuple(met[text])) for text in ordered)


def _told_acts(review: Review) -> list[tuple[str, Cause]]:
    """Each condition with its act; acts on one thing are one line, with what each asks."""
    told = [(act(review, cause), cause) for cause in review.causes if cause.grade == "condition"]
    on: dict[str, dict[str, None]] = {}
    for text, cause in told:
        if any(review.findings[n].grade == "tolerable" for n in cause.findings):
            on.setdefault(cause.letter.together or text, {})[text] = None
    line = {text: joined_acts(texts) for texts in on.values() if len(texts) > 1 for text in texts}
    return [(line.get(text, text), cause) for text, cause in told]


def act(review: Review, cause: Cause) -> str:
    """A condition as one act."""
    findings = [review.findings[n] for n in cause.findings]
    lead = review.findings[cause.leading]
    if cause.letter.at_hand:
        return f"Have at hand: {cause.letter.at_hand}."
    places = tuple(dict.fromkeys(f.at for f in findings if f.at))
    if not any(f.grade == "tolerable" for f in findings):
        asked = words.upper_first(condition(lead.reason) or first_sentence(lead.action))
        where = f": {_several(review, places)}" if places else ""
        return f"{asked.rstrip('.')}{where}."
    filled = values(review, lead)
    if places:
        filled["at"] = _several(review, places)
    filled["all"] = words.listed(_subjects(review, cause, lead))
    filled["away"] = _away(review)
    if cause.letter.act:
        said = cause.letter.act.format_map(filled)
        return words.upper_first(said.replace(f" ({UNKNOWN})", ""))  # samples keep no notes
    return first_sentence(lead.action)


def _away(review: Review) -> str:
    """What keeps gas from people: the hood that the file already leads it into, or one."""
    if review.facts.get("outlets_to") == ["hood"]:
        return "hood tested and on, sash down"
    return "outlet outdoors or into a tested hood"


def _less(review: Review, lead: Finding) -> str:
    """What brings less gas to people: not the hood whose loss is what harms."""
    facts = review.facts
    boils = bool(facts.get("heat_kinds")) and not facts.get("has_flow")
    bottles = "wash bottle" in (facts.get("item_kinds") or ()) and not facts.get("has_absorbent")
    less = "less heat or a longer condenser" if boils else "less gas"
    less += ", what its wash bottle takes up (absorbs)" if bottles else ""
    if lead.trial.startswith("ventilation"):
        late = ", less heat or a longer condenser" if boils else ""
        late += ", or what its wash bottle takes up (absorbs)" if bottles else ""
        late += ", or a second bottle that takes it up" if facts.get("has_absorbent") else ""
        return f"less gas at a time{late}"
    if facts.get("outlets_to") == facts.get("stands_in") == ["hood"]:
        bounded = facts.get("has_cylinder") and lead.trial.startswith("regulator")
        less += ", or a mass flow controller that bounds what comes" if bounded else ""
        return less if boils or ", " in less else f"{less}, or less of what gives it off"
    if facts.get("outlets_to") == ["hood"]:
        return f"{less}, or every part in a tested hood (in: hood)"
    return f"{less}, or out through a tested hood (to: hood)"


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
        where = f" at {named(review, f.at)}" if f.at else ""
        of = f", {f.of}" if f.of else ""
        parts.append(f"{words.lower_first(f.title)}{where}{of}: {reads(review, f)}")
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
    """How much of the way to its limit a value has gone; of a temperature, WARMING is the way."""
    kind, limit = review.kinds[finding.kind], finding.limit
    if limit is None:
        return 0.0
    if kind.unit == "K":
        return 1 - abs(finding.value - limit) / WARMING
    if kind.about == limit:
        return 0.0
    share = (finding.value - kind.about) / (limit - kind.about)
    return share if kind.worse == "higher" or kind.about else 1 / share if share else 0.0


def _several(review: Review, places: Sequence[str]) -> str:
    told = [named(review, place) for place in places[:_NAMED]]
    more = len(places) - _NAMED
    return words.listed([*told, f"{more} more"] if more > 0 else told)
