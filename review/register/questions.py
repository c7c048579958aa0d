"""What somebody has to confirm or answer before a review is signed, and why it may not be signed.

A question is everything that one criterion leaves open, or allows only on a condition, at one
place. What must not proceed leads to no question: nobody can sign it away.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Literal

from review.interface.result import Finding, Review
from review.judge.verdict import verdict
from review.register.people import may_be_one, same_person
from review.render.reasons import condition
from review.render.words import clean, counted, listed
from review.scenario.errors import nearest, quoted

#: How far ahead a sign-off may hold: a year, as safety papers are looked at again every year
#: (common practice, no source).
LONGEST_VALIDITY = timedelta(days=366)
#: Beyond these a text is a mistake (a file given in place of a sentence, say).
LONGEST_NAME, LONGEST_TEXT, MOST_RUNS = 200, 2000, 10_000
#: A reason has to say something.
FEWEST_WORDS = 3

#: What says in itself that nobody did or saw anything.
_NOTHING = frozenset({
    "no", "n", "nope", "not", "not yet", "not done", "not seen", "not done yet", "nothing",
    "none", "never", "later", "todo", "to do", "tbd", "to be done", "na", "n a", "not applicable",
    "unknown", "not known", "no idea", "dont know", "not said", "skip", "skipped",
})  # fmt: skip

_INVISIBLE = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


Second = Literal["named", "later", "nobody"]


@dataclass(frozen=True, slots=True)
class Question:
    """All that one criterion has to say about one (place, subject) and that is not acceptable.

    `id` is `criterion`, `criterion@at` or `criterion@at:of`. `open`: it could not be judged and
    that blocks, so that it needs an answer; else it is a condition and needs a confirmation.
    `findings` are its tolerable and undetermined findings of all cases, in the review's order.
    """

    id: str
    criterion: str
    at: str
    of: str
    title: str
    action: str
    open: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Signing:
    """What two people say when they sign.

    `accepted` confirms conditions: id of the question -> what is said to it. `answered` answers
    open questions: id -> (role of who answers, reason). `valid_until` is the last day on which
    the sign-off holds, `runs` how often the set-up may be run until then. `second`: the reviewer is
    `named`, countersigns `later`, or there is `nobody`, and one person signs; unless named,
    `reviewer` is "". `told_apart`: two names that may be one person's are said to be two people's.
    """

    preparer: str
    reviewer: str
    valid_until: date
    runs: int
    accepted: Mapping[str, str] = field(default_factory=dict)
    answered: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    second: Second = "named"
    told_apart: bool = False


def questions(review: Review) -> tuple[Question, ...]:
    """Every question of a review, in the order of its findings.

    A check that could not do its work is none: no answer takes its place.
    """
    found: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in review.findings:
        if finding.grade in ("tolerable", "undetermined") and not _is_failure(finding):
            found.setdefault((finding.criterion, finding.at, finding.of), []).append(finding)
    taken: set[str] = set()
    return tuple(_question(key, tuple(same), taken) for key, same in found.items())


def refusals(
    review: Review, signing: Signing, now: datetime, also: tuple[Question, ...] = ()
) -> tuple[str, ...]:
    """Every reason, in words, why a review may not be signed like this; none where it may.

    `now` says which day it is, in the zone of whoever signs; `also` is asked besides what the
    review asks.
    """
    outright = _outright(review)
    if outright:
        return outright
    return (
        *_failures(review),
        *_people(signing),
        *_bounds(signing, now.date()),
        *_unanswered((*questions(review), *also), signing),
    )


def _question(
    key: tuple[str, str, str], findings: tuple[Finding, ...], taken: set[str]
) -> Question:
    criterion, at, of = key
    id = plain = criterion + (f"@{at}" if at else "") + (f":{of}" if of else "")
    while id in taken:  # else one answer would settle two questions
        id = f"{plain}#{len(taken)}"
    taken.add(id)
    first = findings[0]
    asked = dict.fromkeys(filter(None, (condition(f.reason) for f in findings if not f.blocks)))
    actions = dict.fromkeys(filter(None, (f.action for f in findings)))
    return Question(
        id=id,
        criterion=criterion,
        at=at,
        of=of,
        title=first.title,
        action=" ".join(_sentence(text) for text in (*asked, *actions)),
        open=any(f.grade == "undetermined" and f.blocks for f in findings),
        findings=findings,
    )


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _is_failure(finding: Finding) -> bool:
    return finding.criterion == "check.failed" and finding.layer == "engine"


def _outright(review: Review) -> tuple[str, ...]:
    """What no answer can change."""
    if not review.findings:
        return ("nothing was judged, so there is nothing to sign",)
    failing = dict.fromkeys(
        f"{f.criterion}@{f.at}" if f.at else f.criterion
        for f in review.findings
        if f.grade == "unacceptable"
    )
    if failing or "must not proceed" in (review.verdict, verdict(review.findings)):
        named = f": {listed(map(clean, failing))}" if failing else ""
        return (f"the verdict is 'must not proceed', and nobody can sign that{named}",)
    return ()


def _failures(review: Review) -> list[str]:
    """A check that did not do its work may have missed anything, so nothing answers for it."""
    return [
        f"{clean(f.title)}: {clean(f.reason)}. This cannot be answered; mend or remove the plugin"
        for f in review.findings
        if _is_failure(f)
    ]


def _people(signing: Signing) -> list[str]:
    found = []
    named = [("preparer", signing.preparer), ("reviewer", signing.reviewer)]
    for role, name in named if signing.second == "named" else named[:1]:
        found += name_problems(role, name)
    if not found and signing.second == "named":
        found += two_people(signing.preparer, signing.reviewer, signing.told_apart)
    return found


def name_problems(role: str, name: str) -> list[str]:
    """What is wrong with a name, in words."""
    return _text_problems(f"the {role}'s name", name, LONGEST_NAME)


def two_people(preparer: str, reviewer: str, told_apart: bool = False) -> list[str]:
    """Why two names may not sign as preparer and reviewer, in words."""
    if same_person(preparer, reviewer):
        return [
            f"preparer and reviewer are the same person ({clean(preparer)}): a second person has "
            "to look at the set-up"
        ]
    if not told_apart and may_be_one(preparer, reviewer):
        return [
            f"{clean(preparer)} and {clean(reviewer)} may be one person: where they are two, say "
            "so with --two-people"
        ]
    return []


def text_problems(what: str, text: str) -> list[str]:
    """What is wrong with a sentence that somebody has to say, in words."""
    found = _text_problems(what, text, LONGEST_TEXT)
    if not found and not _says_something(text):
        found = [f"{what} is too short: say it in a sentence"]
    return found


def _bounds(signing: Signing, today: date) -> list[str]:
    found, last = [], today + LONGEST_VALIDITY
    if signing.valid_until < today:
        found.append(f"it would hold until {signing.valid_until}, and today is {today}")
    if signing.valid_until > last:
        found.append(
            f"it would hold until {signing.valid_until}: at most {LONGEST_VALIDITY.days} days "
            f"ahead, so until {last}"
        )
    if isinstance(signing.runs, bool) or not 1 <= signing.runs <= MOST_RUNS:
        found.append(f"the number of runs has to lie between 1 and {MOST_RUNS}")
    return found


def _unanswered(asked: tuple[Question, ...], signing: Signing) -> list[str]:
    found = []
    for question in asked:
        id = clean(question.id)
        if question.open and question.id not in signing.answered:
            also = ", a confirmation is not enough" if question.id in signing.accepted else ""
            found.append(f"{id} could not be judged: answer it with a role and a reason{also}")
        if not question.open and question.id not in signing.accepted:
            found.append(f"{id} is a condition: confirm it")
        if not question.open and question.id in signing.answered:
            found.append(f"{id} is not open: there is nothing to answer")
    known = [question.id for question in asked]
    for id in dict.fromkeys((*signing.accepted, *signing.answered)):
        if id not in known:
            found.append(f"{quoted(id)} is no question of this review{_hint(id, asked)}")
    for id, text in signing.accepted.items():
        wrong = _text_problems(f"what is said to {quoted(id)}", text, LONGEST_TEXT)
        if not wrong and _plain(text) in _NOTHING:
            wrong = [f"{quoted(text)} confirms nothing: say to {quoted(id)} what was done or seen"]
        found += wrong
    for id, (role, reason) in signing.answered.items():
        found += _text_problems(f"the role of who answers {quoted(id)}", role, LONGEST_NAME)
        wrong = _text_problems(f"the reason given for {quoted(id)}", reason, LONGEST_TEXT)
        if not wrong and not _says_something(reason):
            wrong = [f"the reason given for {quoted(id)} is too short: say why in a sentence"]
        found += wrong
    return found


def _hint(id: str, asked: Iterable[Question]) -> str:
    """The question that was meant: by its id, or by the start of it."""
    spelt = {q.criterion: q.id for q in asked} | {f"{q.criterion}@{q.at}": q.id for q in asked}
    spelt |= {q.id: q.id for q in asked}
    near = spelt.get(id) or spelt.get(nearest(id, spelt))
    return f" (did you mean '{clean(near)}'?)" if near else ""


def _text_problems(what: str, text: str, longest: int) -> list[str]:
    if not any(unicodedata.category(c)[0] in "LN" for c in text):
        return [f"{what} is {'blank' if not text.strip() else 'no text'}"]
    if len(text) > longest:
        return [f"{what} is too long: {counted(len(text), 'character')}, at most {longest}"]
    odd = next((c for c in text if unicodedata.category(c) in _INVISIBLE), None)
    if odd is not None:
        return [f"{what} holds the unprintable character U+{ord(odd):04X}; write it on one line"]
    return []


def _plain(text: str) -> str:
    """Its words alone."""
    letters = (c if c.isalnum() else "" if c in "'’" else " " for c in text.casefold())
    return " ".join("".join(letters).split())


def _says_something(text: str) -> bool:
    """At least three words; of a script that sets no spaces between words, twice as many signs."""
    words = [word for word in text.split() if any(c.isalnum() for c in word)]
    signs = sum(unicodedata.east_asian_width(c) in "WF" and c.isalnum() for c in text)
    return len(words) >= FEWEST_WORDS or signs >= 2 * FEWEST_WORDS
