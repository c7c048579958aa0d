"""What a review says: findings, verdict and everything a reader needs to weigh them.

Frozen data only; `review.judge` makes findings and the verdict, `review.engine` puts the review
together and `review.render` shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any, Literal

from review.interface.measure import Measure
from review.interface.plugin import Check, Kind, Section
from review.reference.finding import LookedUp

Case = Literal["plan", "step", "upset", "sample"]
Grade = Literal["acceptable", "tolerable", "unacceptable", "undetermined"]
Verdict = Literal[
    "may proceed", "may proceed with conditions", "must not proceed", "cannot be judged"
]

CASES: tuple[Case, ...] = ("plan", "step", "upset", "sample")
#: Most serious first; the order in which a report lists findings.
GRADES: tuple[Grade, ...] = ("unacceptable", "undetermined", "tolerable", "acceptable")
STATED_PLAN = "stated settings"


@dataclass(frozen=True, slots=True)
class Run:
    """One run as the judge sees it: the plan, an upset or a sample.

    `sign` and `response` are what the operator sees and does at once, "" where nobody says.
    """

    id: str
    title: str
    case: Literal["plan", "upset", "sample", "window"]
    from_step: int | None = None
    until_step: int | None = None
    counters: str = ""
    adequacy: tuple[str, str] | None = None
    in_time_for: tuple[str, ...] = ()
    sign: str = ""
    response: str = ""

    def cells(self, count: int) -> range:
        """The cells of `count` in which this run is judged."""
        return range(self.from_step or 0, min(self.until_step or count, count))


@dataclass(frozen=True, slots=True)
class Trials:
    """Names the axes of every measure: cell 0 is the stated plan, then one cell per step."""

    steps: tuple[str, ...]
    runs: tuple[Run, ...]

    def cell_name(self, cell: int) -> str:
        """The step's name, or the stated plan's."""
        return STATED_PLAN if cell == 0 else self.steps[cell - 1]


@dataclass(frozen=True, slots=True)
class Basis:
    """Where a criterion comes from and how it is known."""

    document: str
    clause: str
    how: str

    def __str__(self) -> str:
        text = f"{self.document}, {self.clause}" if self.clause else self.document
        return text if self.how in ("read", "") else f"{text} ({self.how})"


@dataclass(frozen=True, slots=True)
class Finding:
    """A measure judged by a criterion in one case, at its worst trial.

    `value` is in SI (`unit`); NaN where missing. `limit` is the band edge that was passed or that
    stands nearest, in the same unit, or None for presence criteria. `display` is the unit a bench
    user reads. `reason` says why a finding is undetermined or graded more cautiously.
    `blocks` is false where the ruleset turns an undetermined finding into a condition. `bound` is
    what an estimated value is graded at; `known` the worst value of an undetermined finding's other
    trials that is known not to be acceptable; both NaN where there is none. `lacking` names what
    is missing where a value is.
    """

    criterion: str
    title: str
    kind: str
    at: str
    of: str
    grade: Grade
    status: str
    case: Case
    trial: str
    step: str
    value: float
    unit: str
    display: str
    limit: float | None
    action: str
    basis: Basis
    layer: str
    reason: str = ""
    blocks: bool = True
    bound: float = float("nan")
    known: float = float("nan")
    lacking: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Letter:
    """How the letter speaks of a criterion; blank fields fall back to its title and action.

    `cause` groups criteria that one act clears; `by_subject` keeps its substances apart. `says` is
    the headline, `shows` a sentence about the numbers, `target` what would pass; they may hold
    {at}, {of}, {all} (each {of} of its findings), {note}, {step}, {value}, {limit}, {times} (how
    far past the limit), {apart}; of a share or a difference {amount} and {edge}, the figures that
    it is made of, {what} and {warmth} of them, {passes}, the amount that would pass, {needs}, the
    edge with which it would; and the names of `beside`, which are kinds of measure read at the same
    place and trial, with _limit, _amount, _edge, _what and _warmth of each. `act` is what to do, a
    short imperative; `when` orders it; `at_hand` names a thing that is to be there. Conditions on
    one thing (`together`) are told in one line. Of criteria of
    one cause the one that `leads` is told, and beside it each that `tells`. What lacks a fact of
    its own is one cause with all of its kind where the criterion `gathers` them.
    """

    cause: str = ""
    says: str = ""
    shows: str = ""
    target: str = ""
    act: str = ""
    when: Literal["build", "before", "during", "after"] = "during"
    at_hand: str = ""
    together: str = ""
    by_subject: bool = False
    urgent: bool = False
    leads: bool = False
    gathers: bool = False
    tells: bool = False
    beside: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing the user can act on, and all findings that hang on it.

    `findings` are positions in the review's findings, `leading` the one to tell. `grade` is that of
    the leading one; a condition may be tolerable, or undetermined without blocking. `lacks` is the
    missing fact that blocks, where there is one. `also` are findings of other criteria that are
    told beside it, each with the headline of its letter.
    """

    id: str
    grade: Literal["unacceptable", "undetermined", "condition"]
    leading: int
    findings: tuple[int, ...]
    letter: Letter
    lacks: str = ""
    also: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one upset comes to: its gravest grade, by which criterion, where and in which step.

    `credit` says which safeguard was credited, or why one was refused. `seconds` is how long it
    takes to matter where a check computes it, else NaN.
    """

    run: str
    title: str
    grade: Grade
    criterion: str
    criterion_title: str
    kind: str
    at: str
    of: str
    step: str
    value: float
    unit: str
    display: str
    credit: str = ""
    seconds: float = float("nan")


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """A criterion that does not apply here, and why."""

    criterion: str
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class LayerInfo:
    """One ruleset layer that was used."""

    name: str
    sha256: str
    rank: str = ""


@dataclass(frozen=True, slots=True)
class PluginInfo:
    """One plugin that is no part of benchgate, and the hash of its code."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Loosened:
    """A built-in criterion that a later layer loosened, with its written reason."""

    criterion: str
    layer: str
    what: str
    reason: str


@dataclass(frozen=True, slots=True)
class Failure:
    """A check that could not load or raised: its findings are undetermined."""

    check: str
    reason: str


@dataclass(frozen=True, eq=False)
class Review:
    """One reviewed set-up."""

    version: str
    title: str
    path: str
    scenario_sha256: str
    layers: tuple[LayerInfo, ...]
    checks: tuple[Check, ...]
    verdict: Verdict
    findings: tuple[Finding, ...]
    measures: tuple[Measure, ...]
    kinds: Mapping[str, Kind]
    owners: Mapping[str, str]
    """Id of the check that declares each kind."""
    trials: Trials
    facts: Mapping[str, Any]
    not_covered: tuple[tuple[str, str], ...]
    not_applicable: tuple[NotApplicable, ...]
    loosened: tuple[Loosened, ...] = ()
    failures: tuple[Failure, ...] = ()
    sections: tuple[Section, ...] = ()
    contacts: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())
    outcomes: tuple[Outcome, ...] = ()
    plugins: tuple[PluginInfo, ...] = ()
    data: tuple[LookedUp, ...] = ()
    """Every name that was looked up in the reference data, and the file that answered."""
    causes: tuple[Cause, ...] = ()

    def _repr_html_(self) -> str:
        """The page, as a notebook shows it below a cell."""
        # By name, since a review knows nothing of the pages that show it.
        return str(import_module("review.render.html").in_notebook(self))
