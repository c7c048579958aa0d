"""What stands on the operator's page: a review boiled down to what is set, done and watched.

Frozen data only; `runsheet_markdown` and `runsheet_html` write it down. The page holds what fits
on two sheets of paper: every condition and every step, and of the failures the most serious.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from review.cautions import CAUTIONS
from review.interface.result import Finding, Review
from review.render import words
from review.render.grouping import entries
from review.render.reasons import condition
from review.render.runsheet_failures import FailureLine, failure_lines
from review.render.runsheet_room import failures_that_fit
from review.render.runsheet_settings import Setting, Watched, at_hand, settings, watched
from review.render.runsheet_steps import StepLine, step_lines, still_on
from review.scenario import Scenario

NOT_SIGNED_OFF = "NOT SIGNED OFF"
ONE_PERSON = "ONE PERSON"
ONE_PERSON_MEANS = (
    "One person signed this off; nobody else has compared the set-up with the review."
)
#: What only the site knows, to be filled in by hand.
BLANKS = (
    "Emergency number", "Poison centre", "Person in charge", "Second person", "Extinguisher",
    "Eyewash and shower", "Gas shut-off", "Power switch", "Way out",
)  # fmt: skip
#: The course in doubt, and what no single failure of the train stands for; common practice, no
#: source.
IN_DOUBT = (
    "In doubt, in this order: shut what burns, oxidises or poisons, heat off, let inert gas flow "
    "(not where the pressure climbs, nor through a liquid that burns or poisons), leave, close the "
    "door, call the emergency number."
)
CYLINDER = (
    "A cylinder lets its gas into the room: do not go to it. Leave, close the door, ventilate from "
    "outside, call."
)
GAS_FIRE = (
    "Gas burns where it leaks: shut its supply. Do not put out a gas flame whose supply cannot be "
    "shut: leave, close the door, call."
)
NO_TIME = "Where no time stands, nobody worked out how soon it harms: act at once."
FLOW_ON = '"Let … flow" means: turn it on if it is off.'
LEAST_TIME = (
    "Keep to the planned time. Never go on before the least time where one stands: it is what the "
    "limit of the review asks for."
)
NOTHING_AT_HAND = "The scenario names nothing that is worn or at hand: agree it beforehand."
NO_ALARM = "No detector or alarm is claimed. Odour is no warning."
NO_FAILURE = "No single failure that was played is worse than acceptable. In doubt, as above."
UNSIGNED = "Nobody has signed this set-up off. Do not run it from this page before two people have:"
SITE_FIRST = "The site's own emergency procedure comes before every line here."

#: Sections of checks that speak of the time after the run, by how their title begins.
_AFTERWARDS = ("How long hot parts must cool", "What remains")
_PLACES = 4
_LONGEST = 300


@dataclass(frozen=True, slots=True)
class Answer:
    """What somebody answered to a question that could not be judged."""

    title: str
    at: str
    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A condition of the record and what was said to it."""

    criterion: str
    title: str
    at: str
    action: str
    text: str


@dataclass(frozen=True, slots=True)
class SignOff:
    """What a record says of the sign-off.

    `signers` says who signed as what, `run` the number of the next run, `earlier` what was noted in
    those before it.
    """

    number: int
    sha256: str
    signed_at: str
    valid_until: str
    runs: int
    preparer: str
    reviewer: str
    signers: str = ""
    one_person: bool = False
    run: int = 1
    earlier: tuple[str, ...] = ()
    confirmed: tuple[Confirmation, ...] = ()
    answers: tuple[Answer, ...] = ()

    @property
    def hash_groups(self) -> str:
        """The hash in groups of eight, to compare by eye."""
        return " ".join(self.sha256[n : n + 8] for n in range(0, len(self.sha256), 8))


@dataclass(frozen=True, slots=True)
class Condition:
    """One criterion that allows the run only on a condition: where, what to do, what was said."""

    title: str
    where: str
    action: str
    confirmed: str = ""


@dataclass(frozen=True, slots=True)
class RunSheet:
    """Everything on the page, as text of one line each; `signed` is None where nobody signed."""

    title: str
    purpose: str
    operators: str
    verdict: str
    signed: SignOff | None
    conditions: tuple[Condition, ...]
    at_hand: tuple[str, ...]
    settings: tuple[Setting, ...]
    steps: tuple[StepLine, ...]
    watched: tuple[Watched, ...]
    failures: tuple[FailureLine, ...]
    more_failures: str
    always: tuple[str, ...]
    afterwards: tuple[str, ...]
    contacts: tuple[str, ...]
    cautions: tuple[str, ...]
    grounds: tuple[str, ...]
    scenario_sha256: str
    version: str
    printed: str


def run_sheet(
    review: Review, scenario: Scenario, signed: SignOff | None = None, printed: str = ""
) -> RunSheet:
    """The page for one reviewed scenario.

    `printed` is the day it is printed. Raises ValueError for a review that forbids the run: for
    such a set-up there is no page, signed or not.
    """
    unsigned = signed is None and review.verdict == "cannot be judged"
    if unsigned or review.verdict == "must not proceed":
        raise ValueError(f"no run sheet where the verdict is '{review.verdict}'")
    signed = _cleaned(signed) if signed else None
    conditions, hand = _conditions(review, signed), at_hand(scenario)
    set_to, alarms = settings(review, scenario), watched(scenario)
    steps = step_lines(review, scenario)
    found, afterwards, grounds = (
        failure_lines(review),
        _afterwards(review, scenario),
        _grounds(review, scenario),
    )
    contacts = tuple(map(words.clean, review.contacts))
    answers = signed.answers if signed else ()
    texts = (
        *(signed.earlier if signed else ()),
        "; ".join(hand), *contacts, *afterwards, *grounds,
        *(f"{c.title} ({c.where}): {c.action} {c.confirmed}" for c in conditions),
        *(f"{a.title} ({a.at}): {a.reason} ({a.role})" for a in answers),
        *(w.then for w in alarms),
    )  # fmt: skip
    shown = failures_that_fit(
        found, signed=signed is not None, texts=texts, settings=set_to, steps=steps
    )
    operators = scenario.operators
    return RunSheet(
        title=words.clean(review.title),
        purpose=_short(scenario.purpose or ""),
        operators=words.number(operators) if operators else "",
        verdict=review.verdict,
        signed=signed,
        conditions=conditions,
        at_hand=hand,
        settings=set_to,
        steps=steps,
        watched=alarms,
        failures=shown,
        more_failures=_left_out(len(found) - len(shown)),
        always=_always(review),
        afterwards=afterwards,
        contacts=contacts,
        cautions=CAUTIONS,
        grounds=grounds,
        scenario_sha256=review.scenario_sha256,
        version=review.version,
        printed=printed,
    )


def _left_out(count: int) -> str:
    """How many failures are left out, and where they stand; "" where none is."""
    if not count:
        return ""
    verb = "is" if count == 1 else "are"
    return (
        f"{words.counted(count, 'further failure')} of less weight {verb} left out for want of "
        'room: "benchgate check" says what they come to, each by itself with "--format json".'
    )


def _conditions(review: Review, signed: SignOff | None) -> tuple[Condition, ...]:
    """One for each criterion, the most urgent first; then those that only the record has."""
    asked = [
        f
        for f in review.findings
        if f.grade == "tolerable" or (f.grade == "undetermined" and not f.blocks)
    ]
    by_criterion: dict[str, list[Finding]] = {}
    for entry in entries(asked, review.kinds):
        by_criterion.setdefault(entry.worst.criterion, []).extend(entry.findings)
    said: dict[str, list[Confirmation]] = {}
    for each in signed.confirmed if signed else ():
        said.setdefault(each.criterion, []).append(each)
    lines = []
    for criterion, findings in by_criterion.items():
        known = dict.fromkeys(words.clean(f.action) for f in findings if f.grade == "tolerable")
        unknown = dict.fromkeys(words.clean(condition(f.reason)) for f in findings)
        lines.append(
            Condition(
                title=words.clean(findings[0].title or criterion),
                where=_where(f.at for f in findings),
                action=" ".join(_sentence(text) for text in (*known, *unknown) if text),
                confirmed=_confirmed(said.pop(criterion, ())),
            )
        )
    for criterion, signed_for in said.items():
        actions = dict.fromkeys(words.clean(each.action) for each in signed_for)
        lines.append(
            Condition(
                title=words.clean(signed_for[0].title or criterion),
                where=_where(each.at for each in signed_for),
                action=" ".join(_sentence(text) for text in actions if text),
                confirmed=_confirmed(signed_for),
            )
        )
    return tuple(_together(lines))


def _confirmed(said: Iterable[Confirmation]) -> str:
    return _short("; ".join(dict.fromkeys(words.clean(each.text) for each in said)))


def _together(lines: Iterable[Condition]) -> Iterable[Condition]:
    """Conditions that ask for the same at the same place as one."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for each in lines:
        alike.setdefault((each.where, each.action, each.confirmed), []).append(each.title)
    for (where, action, confirmed), titles in alike.items():
        yield Condition("; ".join(titles), where, action, confirmed)


def _where(named: Iterable[str]) -> str:
    places = [p for p in dict.fromkeys(map(words.clean, named)) if p]
    more = len(places) - _PLACES
    if more > 1:
        places = [*places[:_PLACES], f"{more} more places"]
    return words.listed(places)


def _always(review: Review) -> tuple[str, ...]:
    """What holds whatever fails."""
    return (
        IN_DOUBT,
        *((CYLINDER,) if review.facts.get("has_cylinder") else ()),
        *((GAS_FIRE,) if review.facts.get("has_combustible") else ()),
    )


def _afterwards(review: Review, scenario: Scenario) -> tuple[str, ...]:
    on = still_on(scenario)
    told = tuple(
        _short(f"{section.title}: {'; '.join(line.rstrip('.') for line in section.lines)}.")
        for section in review.sections
        if section.title.startswith(_AFTERWARDS)
    )
    return (on, *told) if on else told


def _grounds(review: Review, scenario: Scenario) -> tuple[str, ...]:
    """Rules and plugins that were used, by the start of their hashes; what was loosened."""
    rules = ", ".join(f"{each.name} {each.sha256[:12]}" for each in review.layers)
    used = words.rules_used(review.layers)
    plugins = ", ".join(f"{each.name} {each.sha256[:12]}" for each in review.plugins)
    prepared = words.clean(scenario.prepared_by or "")
    room = words.clean(scenario.room or "")
    return (
        *((f"File prepared by: {prepared}",) if prepared else ()),
        *((f"Room: {room}",) if room else ()),
        f"Rules: {used}: {words.clean(rules) or 'none'}",
        *((f"Plugins: {words.clean(plugins)}",) if plugins else ()),
        *(
            words.clean(f"Loosened: {each.criterion}, by {each.layer}: {each.what} ({each.reason})")
            for each in review.loosened
        ),
    )


def _cleaned(signed: SignOff) -> SignOff:
    """The sign-off with every text from the record as one harmless line."""
    answers = tuple(
        Answer(words.clean(a.title), words.clean(a.at), words.clean(a.role), _short(a.reason))
        for a in signed.answers
    )
    return replace(
        signed,
        signed_at=words.clean(signed.signed_at),
        valid_until=words.clean(signed.valid_until),
        preparer=_short(signed.preparer),
        reviewer=_short(signed.reviewer),
        signers=_short(signed.signers),
        earlier=tuple(map(_short, signed.earlier)),
        answers=answers,
    )


def _short(text: str) -> str:
    """A text that one line or two can hold; where it is cut, it says so."""
    line = words.clean(text)
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST].rstrip()} … (cut short)"


def _sentence(text: str) -> str:
    return words.upper_first(text if text.endswith((".", "!", "?")) else f"{text}.")
