"""The file in which the answers to a sign-off are written at leisure: one entry a cause or pair.

`written` asks, `filled` takes what was filled in. A file answers exactly the questions it was
written for: those of one text of one scenario, under the rules of then.
"""

from __future__ import annotations

import hashlib
import json
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from review.interface.result import Cause, Review
from review.register.also import MANY_RUNS
from review.register.questions import Question
from review.register.record import RecordError
from review.render.telling import act, headline
from review.render.words import clean, counted, listed
from review.scenario import InputError
from review.scenario.yaml import read_bytes

#: What the file is called where nobody gives it another name.
NAME = "answers.yaml"
_WIDTH = 96
_KEYS = frozenset({"for", "scenario_sha256", "asked", "preparer", "reviewer", "until", "runs",
                   "confirm", "answer"})  # fmt: skip
_ENTRY = frozenset({"ask", "said", "role", "why", "settles"})


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that one answer settles, and what is asked in one sentence."""

    ask: str
    questions: tuple[Question, ...]

    @property
    def open(self) -> bool:
        return self.questions[0].open


@dataclass(frozen=True, slots=True)
class Filled:
    """What stands in a file of answers; texts that were left blank are left out.

    `blank` are the entries that nobody has filled in, as they ask.
    """

    preparer: str = ""
    reviewer: str = ""
    until: str = ""
    runs: str = ""
    accepted: Mapping[str, str] = field(default_factory=dict)
    answered: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    blank: tuple[str, ...] = ()


def groups(review: Review, asked: Sequence[Question]) -> tuple[Group, ...]:
    """Questions by the cause they hang on, ratings of materials by pair, what blocks first."""
    cause_of = {n: cause for cause in reversed(review.causes) for n in cause.findings}
    position = {id(finding): n for n, finding in enumerate(review.findings)}
    found: dict[tuple[str, ...], tuple[Cause | None, list[int], list[Question]]] = {}
    for question in asked:
        numbers = [position[id(f)] for f in question.findings if id(f) in position]
        causes = [cause_of[n] for n in numbers if n in cause_of]
        cause = min(causes, key=review.causes.index, default=None)
        kind = review.kinds.get(question.findings[0].kind) if question.findings else None
        pair = question.of if kind is not None and kind.labels else ""
        key = (str(question.open), cause.id if cause else question.id, pair)
        entry = found.setdefault(key, (cause, [], []))
        entry[1].extend(numbers)
        entry[2].append(question)
    ordered = sorted(found.values(), key=lambda entry: not entry[2][0].open)
    return tuple(Group(_ask(review, *entry), tuple(entry[2])) for entry in ordered)


def _ask(
    review: Review, cause: Cause | None, numbers: Sequence[int], asked: Sequence[Question]
) -> str:
    if cause is None or not numbers:
        return asked[0].action
    leading = cause.leading if cause.leading in numbers else numbers[0]
    grade = "undetermined" if asked[0].open else "condition"
    some = replace(cause, findings=tuple(numbers), leading=leading, grade=grade)  # type: ignore[arg-type]
    return headline(review, some) if asked[0].open else act(review, some)


def written(
    review: Review,
    asked: Sequence[Question],
    command: str,
    said: Mapping[str, str] | None = None,
    answered: Mapping[str, tuple[str, str]] | None = None,
    people: Mapping[str, str] | None = None,
) -> str:
    """The text of a file that asks all of `asked`; what was said already stands in it.

    `command` signs with the file.
    """
    said, answered, people = said or {}, answered or {}, people or {}
    lines = [
        *_comment(
            f'Answers for the sign-off of "{clean(review.title)}". Write between the quotes, in '
            "words of your own, what was done or seen. Where something could not be judged, write "
            "the role of who answers for it and why the run may go on although it is not known. "
            "Then:"
        ),
        f"#   {clean(command)}",
        "",
        f"for: {_quoted(review.title)}",
        f"scenario_sha256: {review.scenario_sha256}",
        f"asked: {_mark(asked)}",
        "",
        f"preparer: {_quoted(people.get('preparer', ''))}",
        *_comment(
            'The second person, who compared the bench with the file; "later" where they '
            'countersign on another machine, "nobody" where there is none.'
        ),
        f"reviewer: {_quoted(people.get('reviewer', ''))}",
        *_comment("The last day, as 2031-05-06, and the number of runs; 30 days and 1 if blank."),
        f"until: {_quoted(people.get('until', ''))}",
        f"runs: {_quoted(people.get('runs', ''))}",
    ]
    each = groups(review, asked)
    for title, some in (
        ("answer", [g for g in each if g.open]), ("confirm", [g for g in each if not g.open]),
    ):  # fmt: skip
        if some:
            lines += ["", f"{title}:"]
        for group in some:
            lines += _entry(group, said, answered)
    return "\n".join(lines) + "\n"


def _entry(
    group: Group, said: Mapping[str, str], answered: Mapping[str, tuple[str, str]]
) -> Iterator[str]:
    first = group.questions[0]
    yield f"  - ask: {_quoted(group.ask)}"
    more = " ".join(dict.fromkeys(q.action for q in group.questions))
    if clean(more) != clean(group.ask):
        yield from (f"    {line}" for line in _comment(more))
    if group.open:
        role, why = answered.get(first.id, ("", ""))
        yield f"    role: {_quoted(role)}"
        yield f"    why: {_quoted(why)}"
    else:
        yield f"    said: {_quoted(said.get(first.id, ''))}"
    yield f"    settles: [{', '.join(_quoted(q.id) for q in group.questions)}]"


def opened(data: bytes, name: str) -> Mapping[str, Any]:
    """A file of answers as it stands; raises RecordError where it is none."""
    try:
        told = read_bytes(data, name).data
    except InputError as error:
        raise RecordError(str(error)) from error
    _must_be_answers(told, name)
    return told


def filled(
    told: Mapping[str, Any], name: str, review: Review, asked: Sequence[Question], file: str = ""
) -> Filled:
    """What was filled in; `name` stands for the file of answers and `file` for the scenario.

    Raises RecordError where it answers for another scenario or other questions.
    """
    if told["scenario_sha256"] != review.scenario_sha256:
        other = str(told["for"])
        what = (
            f"{name} answers for this set-up as it was: {clean(file)} has changed since"
            if other == review.title
            else f"{name} answers for another scenario: '{clean(other)}', not '{review.title}'"
        )
        raise RecordError(f"{what}. Sign without --answers, and new ones are written")
    if told["asked"] != _mark(asked):
        raise RecordError(
            f"{name} answers other questions than are asked today: the rules, data or code have "
            "changed since. Sign without --answers, and new ones are written"
        )
    known = {question.id for question in asked}
    written_for = {id for id in _all_ids(told) if id.startswith(MANY_RUNS)}
    accepted: dict[str, str] = {}
    answered: dict[str, tuple[str, str]] = {}
    blank = []
    for section in ("answer", "confirm"):
        for number, entry in enumerate(told.get(section) or (), 1):
            ids = _ids(entry, f"{name}: {section}, entry {number}", known | written_for)
            ids = [id for id in ids if id in known]
            if not ids:
                continue
            texts = ("role", "why") if section == "answer" else ("said",)
            values = [_text(entry, key, name) for key in texts]
            if not all(values):
                blank.append(_text(entry, "ask", name))
            elif section == "answer":
                answered |= dict.fromkeys(ids, (values[0], values[1]))
            else:
                accepted |= dict.fromkeys(ids, values[0])
    people = {key: _text(told, key, name) for key in ("preparer", "reviewer", "until", "runs")}
    return Filled(**people, accepted=accepted, answered=answered, blank=tuple(blank))


def still_blank(filled: Filled, name: str) -> str:
    """Which entries nobody has filled in, in words; "" where all are."""
    if not filled.blank:
        return ""
    shown = [f'"{text}"' for text in filled.blank[:3]]
    rest = len(filled.blank) - len(shown)
    if rest:
        shown.append(counted(rest, "other"))
    verb = "is" if len(filled.blank) == 1 else "are"
    return f"in {name}, {counted(len(filled.blank), 'entry', 'entries')} {verb} not filled in: " + (
        listed(shown)
    )


def _must_be_answers(told: Any, name: str) -> None:
    if not isinstance(told, dict) or not {"for", "scenario_sha256", "asked"} <= set(told):
        raise RecordError(f"{name} is no file of answers; sign without --answers, and one is made")
    strange = sorted(map(str, set(told) - _KEYS))
    if strange:
        raise RecordError(f"{name}: {clean(strange[0])!r} is no part of a file of answers")
    for section in ("answer", "confirm"):
        entries = told.get(section) or ()
        if not isinstance(entries, list | tuple):
            raise RecordError(f"{name}: {section} is no list")


def _all_ids(told: Mapping[str, Any]) -> Iterator[str]:
    for section in ("answer", "confirm"):
        for entry in told.get(section) or ():
            settles = entry.get("settles") if isinstance(entry, dict) else None
            yield from (id for id in settles or () if isinstance(id, str))


def _ids(entry: Any, where: str, known: Iterable[str]) -> list[str]:
    if not isinstance(entry, dict) or not isinstance(entry.get("settles"), list):
        raise RecordError(f"{where} does not say which questions it settles")
    strange = [key for key in entry if key not in _ENTRY]
    strange += [id for id in entry["settles"] if not isinstance(id, str) or id not in known]
    if strange:
        raise RecordError(f"{where}: {clean(str(strange[0]))!r} is nothing that was asked")
    return list(entry["settles"])


def _text(entry: Mapping[str, Any], key: str, name: str) -> str:
    value = entry.get(key) or ""
    if not isinstance(value, str):
        raise RecordError(f"{name}: {key} is no text")
    return " ".join(value.split())


def _mark(asked: Sequence[Question]) -> str:
    """What is asked, in short: any other question, or one in other words, gives another."""
    # What many runs use up depends on their number, which is filled in too.
    some = [[q.id, q.action, q.open] for q in asked if not q.id.startswith(MANY_RUNS)]
    told = json.dumps(some, ensure_ascii=True)
    return hashlib.sha256(told.encode("ascii")).hexdigest()[:16]


def _quoted(text: str) -> str:
    plain = clean(text)
    if '"' in plain and "'" not in plain and "\\" not in plain:
        return f"'{plain}'"
    return json.dumps(plain, ensure_ascii=False)


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(clean(text), _WIDTH, break_on_hyphens=False)]
