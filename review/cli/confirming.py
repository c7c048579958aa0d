"""The questions that stand between a review and a sign-off, asked on a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import date, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

import click

from review.cautions import CAUTIONS
from review.cli import output
from review.cli.labels import labelled
from review.interface.result import Review
from review.register import clock
from review.register.milder import MILDER, milder
from review.register.people import may_be_one, same_person
from review.register.questions import Question, Second, Signing, refusals
from review.render import words
from review.render.entry import is_claim, write_entry
from review.render.grouping import Entry, entries
from review.render.page import Page

if TYPE_CHECKING:
    from rich.console import Console

#: How long and how often a sign-off holds where nobody says (common practice, no source).
DAYS, RUNS = 30, 1

_NO = ("no", "n")
_SECOND = {
    "named": "{} compared it",
    "later": "and it awaits a second person",
    "nobody": "and one person signs it, whom nobody has checked",
}
_PLACEHOLDER = "not said yet by anybody"


class Stopped(Exception):
    """Somebody said no."""


@dataclass(slots=True)
class Draft:
    """What has been said so far; what is not said yet is None or left out."""

    preparer: str | None = None
    reviewer: str | None = None
    until: date | None = None
    runs: int | None = None
    accepted: dict[str, str] = field(default_factory=dict)
    answered: dict[str, tuple[str, str]] = field(default_factory=dict)
    second: Second = "named"
    told_apart: bool = False

    def missing(self, asked: tuple[Question, ...]) -> tuple[Question, ...]:
        """The questions that nobody has answered yet."""
        return tuple(q for q in asked if q.id not in (self.answered if q.open else self.accepted))

    def defaults(self) -> dict[str, dict[str, str]]:
        """What nobody said, and what counts instead."""
        usual = {"valid_until": (self.until, f"{DAYS} days"), "runs": (self.runs, f"{RUNS} run")}
        return {
            name: {"value": value, "basis": "common practice, no source"}
            for name, (said, value) in usual.items()
            if said is None
        }

    def complete(self, asked: tuple[Question, ...]) -> bool:
        return not self.unnamed() and not self.missing(asked)

    def unnamed(self) -> tuple[str, ...]:
        """The roles of which nobody has said who has them."""
        roles = ("preparer", "reviewer") if self.second == "named" else ("preparer",)
        return tuple(role for role in roles if not getattr(self, role))

    def name(self, reviewer: str) -> None:
        """Who reviews, or that it is done later, or that there is nobody."""
        word = reviewer.strip().lower()
        self.second = "later" if word == "later" else "nobody" if word == "nobody" else "named"
        self.reviewer = reviewer if self.second == "named" else None

    def signing(self, today: date) -> Signing:
        """What is signed; the usual time and number of runs where none was said."""
        return Signing(
            self.preparer or "",
            (self.reviewer or "") if self.second == "named" else "",
            self.until if self.until is not None else today + timedelta(days=DAYS),
            self.runs if self.runs is not None else RUNS,
            dict(self.accepted),
            dict(self.answered),
            self.second,
            self.told_apart,
        )

    def problems(
        self, review: Review, asked: tuple[Question, ...], now: datetime
    ) -> tuple[str, ...]:
        """What is wrong with what has been said, whatever is still missing."""
        today = now.date()
        said = Draft(
            self.preparer if self.preparer is not None else "not yet said who prepares",
            self.reviewer if self.reviewer is not None else "not yet said who reviews",
            self.until,
            self.runs,
            {q.id: _PLACEHOLDER for q in asked if not q.open} | self.accepted,
            {q.id: (_PLACEHOLDER, _PLACEHOLDER) for q in asked if q.open} | self.answered,
            self.second,
            self.told_apart,
        )
        also = tuple(q for q in asked if not q.findings)
        return refusals(review, said.signing(today), now, also)


def ask_for_the_rest(
    review: Review,
    asked: tuple[Question, ...],
    draft: Draft,
    for_runs: Callable[[int], tuple[Question, ...]] = lambda runs: (),
) -> tuple[Question, ...]:
    """Ask for all that `draft` lacks and write it there; `Stopped` where somebody says no.

    `for_runs` is asked besides for a number of runs. All that was asked comes back.
    """
    questions = _Questions(review, asked, draft, clock.now(), for_runs)
    questions.ask()
    return questions.asked


@dataclass(slots=True)
class _Questions:
    review: Review
    asked: tuple[Question, ...]
    draft: Draft
    now: datetime
    for_runs: Callable[[int], tuple[Question, ...]]

    def ask(self) -> None:
        missing = self.draft.missing(self.asked)
        open_ones = tuple(q for q in missing if q.open)
        plain = tuple(q for q in missing if not q.open and not q.findings)
        conditions = tuple(self._conditions([q for q in missing if not q.open and q.findings]))
        _draw(lambda page: self._head(page, len(open_ones), len(conditions) + len(plain)))
        for number, question in enumerate(open_ones, 1):
            self._answer(question, number, len(open_ones))
        for number, (entry, same) in enumerate(conditions, 1):
            self._confirm(entry, same, number, len(conditions))
        for question in plain:
            self._plainly(question)
        self._people()
        self._bounds()
        self._last_look()

    def _head(self, page: Page, open_ones: int, conditions: int) -> None:
        labelled(page, "Sign-off of", self.review.title, style="bold")
        page.blank()
        page.text(self.review.verdict, label="Verdict:", style="bold")
        if loosened := milder({"loosened": map(asdict, self.review.loosened)}):
            page.heading(f"{MILDER}, so that this review asks for less")
            for line in loosened:
                page.text(line, indent=4, mark="  -")
        page.heading("Before you rely on this review")
        for caution in CAUTIONS:
            page.text(caution, indent=4, mark="  -")
        page.blank()
        asked = [
            f"{words.counted(open_ones, 'finding')} that could not be judged" if open_ones else "",
            words.counted(conditions, "condition") if conditions else "",
        ]
        said = words.listed(part for part in asked if part)
        settle = (
            f"To settle: {said}. They follow one by one; what you say to one counts for every "
            "place that is named with it. "
        )
        page.text(
            f"{settle if said else ''}Nothing is written before the last question. 'no' to any "
            "question, or Ctrl-C, ends it."
        )

    def _conditions(self, some: list[Question]) -> Iterator[tuple[Entry, tuple[Question, ...]]]:
        """Conditions as the report counts them, each with the questions that it settles."""
        of = {(q.criterion, q.at, q.of): q for q in some}
        for entry in entries([f for q in some for f in q.findings], self.review.kinds):
            same = {of[f.criterion, f.at, f.of].id: of[f.criterion, f.at, f.of]
                    for f in entry.findings}  # fmt: skip
            yield entry, tuple(same.values())

    def _answer(self, question: Question, number: int, count: int) -> None:
        """Who answers an open finding, and why the run may go on nevertheless."""

        def draw(page: Page) -> None:
            page.heading(f"Not judged, {number} of {count}")
            for entry in entries(question.findings, self.review.kinds):
                page.blank()
                self._entry(page, entry, number)

        _draw(draw)
        answered = self.draft.answered

        def ask_role() -> None:
            answered[question.id] = _said("In which role do you answer for this?"), _PLACEHOLDER

        def ask_reason() -> None:
            reason = _said("Why may the run go on although this is not known?")
            answered[question.id] = answered[question.id][0], reason

        self._until_right(ask_role)
        self._until_right(ask_reason)

    def _confirm(self, entry: Entry, same: tuple[Question, ...], number: int, count: int) -> None:
        def draw(page: Page) -> None:
            page.heading(f"Condition {number} of {count}")
            page.blank()
            self._entry(page, entry, number)

        _draw(draw)
        before = {q.id: self.draft.accepted.get(q.id) for q in same}

        def ask() -> None:
            text = _said("What was done or seen?")
            for id, earlier in before.items():
                self.draft.accepted[id] = f"{earlier}; {text}" if earlier else text

        self._until_right(ask)

    def _plainly(self, question: Question) -> None:
        """What no finding asks: a statement of the file, an earlier run, many runs."""

        def draw(page: Page) -> None:
            page.heading(question.title)
            page.blank()
            page.text(question.action, indent=4)

        def ask() -> None:
            self.draft.accepted[question.id] = _said("What was done or seen?")

        _draw(draw)
        self._until_right(ask)

    def _entry(self, page: Page, entry: Entry, number: int) -> None:
        if is_claim(entry.worst):
            page.text("The scenario does not say that this is seen to:", indent=4)
        write_entry(self.review, page, entry, number)

    def _people(self) -> None:
        draft = self.draft
        named = draft.preparer, draft.reviewer, draft.second
        _draw(lambda page: page.heading("Who signs, and for how long"))

        def ask() -> None:
            draft.preparer, draft.reviewer, draft.second = named
            if draft.preparer is None:
                draft.preparer = _said("Who prepared the set-up?")
            if draft.reviewer is None and draft.second == "named":
                draft.name(_said(
                    "Which second person compared it with the scenario and this review (or: later, "
                    "nobody)?"
                ))  # fmt: skip
            one, other = draft.preparer, draft.reviewer
            if one and other and may_be_one(one, other) and not same_person(one, other):
                draft.told_apart = click.confirm(f"{one} and {other}: are they two people?")

        self._until_right(ask)

    def _bounds(self) -> None:
        usual = self.draft.signing(self.now.date())

        def ask_day() -> None:
            said = _said(f"Last day on which it holds [{usual.valid_until}]?", "usual")
            self.draft.until = None if said == "usual" else day(said)

        def ask_runs() -> None:
            said = _said(f"For how many runs [{usual.runs}]?", "usual")
            if said != "usual" and not said.isdecimal():
                raise ValueError(f"'{said}' is no number of runs: write it as 3")
            self.draft.runs = None if said == "usual" else int(said)

        if self.draft.until is None:
            self._until_right(ask_day)
        if self.draft.runs is None:
            self._until_right(ask_runs)
            known = {question.id for question in self.asked}
            more = self.for_runs(self.draft.runs or RUNS)
            self.asked += tuple(q for q in more if q.id not in known)
            for question in self.draft.missing(self.asked):
                self._plainly(question)

    def _last_look(self) -> None:
        signing = self.draft.signing(self.now.date())
        runs = words.counted(signing.runs, "run")
        text = (
            f"{signing.preparer} prepared it, {_SECOND[signing.second].format(signing.reviewer)}. "
            f"It holds until {signing.valid_until}, for {runs}, while the set-up is as the "
            "scenario says."
        )
        _draw(lambda page: page.heading(text))
        if not click.confirm("Write the record?", default=False):
            raise Stopped

    def _until_right(self, ask: Callable[[], None]) -> None:
        """Ask again for as long as something is wrong with what was said."""
        while True:
            try:
                ask()
                wrong = self.draft.problems(self.review, self.asked, self.now)
            except ValueError as error:
                wrong = (str(error),)
            if not wrong:
                return
            _draw(partial(_problems, wrong))


def day(text: str) -> date:
    """A date as people write it to a computer; ValueError says how.

    >>> day("2031-05-06")
    datetime.date(2031, 5, 6)
    """
    try:
        return datetime.strptime(text.strip(), "%Y-%m-%d").date()
    except ValueError:
        raise ValueError(f"'{words.clean(text)}' is no date: write it as 2031-05-06") from None


def _said(question: str, default: str = "") -> str:
    """What somebody types; a blank line is no answer, and no ends it."""
    while True:
        text = str(click.prompt(question, default=default, show_default=False, prompt_suffix=" "))
        if text.strip().lower() in _NO:
            raise Stopped
        if text.strip():
            return text.strip()
        click.echo("A blank line is no answer. Say it in a few words, or no to end.")


def _problems(wrong: tuple[str, ...], page: Page) -> None:
    for problem in wrong:
        page.text(f"{words.upper_first(problem)}.")


def _draw(draw: Callable[[Page], object]) -> None:
    def onto(console: Console) -> None:
        draw(Page(console))

    output.write("\n" + output.rendered(onto) + "\n")
