"""A review as one HTML page: the letter, each cause unfolding to all that it rests on.

One file: nothing is fetched and no script is needed. It opens on a phone, prints on paper and is
read in light and dark. The words and their order are the letter's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import escape

from review.cautions import CAUTIONS
from review.interface.result import GRADES, Cause, Finding, Review
from review.render import words
from review.render.entry import place
from review.render.explain import Explained, WorkingStep, working_steps
from review.render.failures import family
from review.render.grouping import entries, failing_upsets
from review.render.page import Block, Blocks
from review.render.reasons import condition, why
from review.render.telling import Contents, Told, contents
from review.render.terminal import write_grounds

if TYPE_CHECKING:
    from review.render.picture import Picture

_TEMPLATES = Path(__file__).with_name("templates")
#: How many failures of one cause, and judgements of one grade, are shown as rows.
_ROWS = 60


@dataclass(frozen=True, slots=True)
class Row:
    """One judgement as a row of a table; blank where there is no number."""

    title: str
    where: str
    grade: str
    value: str
    limit: str
    when: str


@dataclass(frozen=True, slots=True)
class Fold:
    """What a cause unfolds to: numbers, what to do and why, working, sources, failures."""

    rows: tuple[Row, ...]
    reasons: tuple[str, ...]
    acts: tuple[str, ...]
    sources: tuple[str, ...]
    worked: str
    steps: tuple[WorkingStep, ...]
    failures: tuple[tuple[str, str], ...]
    more_failures: int


@dataclass(frozen=True, slots=True)
class Shown:
    """All that the template fills in."""

    review: Review
    said: Contents
    causes: tuple[tuple[Told, Fold], ...]
    asked: tuple[Fold, ...]
    judgements: tuple[tuple[str, tuple[Row, ...], int], ...]
    grounds: tuple[Block, ...]
    pictures: Sequence[Picture] = ()
    lacks: str = ""
    cautions: tuple[str, ...] = CAUTIONS


class Slider(Protocol):
    """A number that can be turned; values in the unit of the file."""

    @property
    def path(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def value(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...

    def show(self, value: float) -> str:
        """A value with its unit."""
        ...


@dataclass(frozen=True, slots=True)
class Desk:
    """What a served page has besides: its version, the only script that may run, its sliders."""

    version: int
    nonce: str
    sliders: Sequence[Slider]


def to_html(
    review: Review,
    workings: Mapping[int, Explained] | None = None,
    pictures: Sequence[Picture] = (),
    lacks: str = "",
    desk: Desk | None = None,
) -> str:
    """The page. `workings` are shown by the position of the finding that they belong to;
    `lacks` says why there are no pictures.

    Whatever comes from a file is escaped. `desk` adds what only a served page has.
    """
    known = workings or {}
    said = contents(review)
    blocks = Blocks()
    write_grounds(review, blocks)
    shown = Shown(
        review=review,
        said=said,
        causes=tuple((told, _fold(review, (told.cause,), known)) for told in said.causes),
        asked=tuple(_fold(review, act.causes, known) for act in said.acts),
        judgements=tuple(_judgements(review)),
        grounds=tuple(blocks.blocks),
        pictures=pictures,
        lacks=lacks,
    )
    return environment().get_template("review.html.j2").render(shown=shown, words=words, desk=desk)


def in_notebook(review: Review) -> str:
    """The page in a frame, whose styles are not the notebook's and which runs nothing."""
    page = escape(to_html(review))
    title = escape(f"Review of {words.clean(review.title)}")
    style = "width: 100%; height: 640px; border: 1px solid #8a949e"
    return f'<iframe title="{title}" sandbox style="{style}" srcdoc="{page}"></iframe>'


@cache
def environment() -> Environment:
    """Templates beside this module alone; nothing else is ever one."""
    made = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["clean"] = words.clean
    return made


def _judgements(review: Review) -> list[tuple[str, tuple[Row, ...], int]]:
    found: list[tuple[str, tuple[Row, ...], int]] = []
    for grade in GRADES:
        graded = [f for f in review.findings if f.grade == grade]
        if graded:
            found.append((grade, rows_of(review, graded), len(graded)))
    return found


def rows_of(review: Review, findings: Sequence[Finding]) -> tuple[Row, ...]:
    """One row for each criterion and place: the worst, and when else it has the same grade."""
    return tuple(
        _row(review, spot.worst, spot.others)
        for entry in entries(findings, review.kinds)
        for spot in entry.spots
    )


def _row(review: Review, finding: Finding, others: Sequence[Finding] = ()) -> Row:
    said = words.reading(finding, review.kinds)
    value = said.value if finding.kind else ""
    if finding.status == "estimated":
        value += " (estimated)"
    elif finding.status == "outside range":
        value += " (outside the range of its method)"
    return Row(
        title=finding.title or finding.criterion,
        where=place(review, finding).removeprefix("at "),
        grade=finding.grade,
        value=value,
        limit=said.wanted.removesuffix(" is wanted").removeprefix("wanted: "),
        when="; ".join(
            dict.fromkeys(words.trial(review.trials, f.trial, f.step) for f in (finding, *others))
        )
        if finding.kind
        else "",
    )


def _fold(review: Review, causes: Sequence[Cause], workings: Mapping[int, Explained]) -> Fold:
    positions = list(dict.fromkeys(n for cause in causes for n in cause.findings))
    findings = [review.findings[n] for n in positions]
    order = {grade: n for n, grade in enumerate(GRADES)}
    findings.sort(key=lambda f: order[f.grade])
    lead = causes[0].leading
    steps: tuple[WorkingStep, ...] = ()
    worked = ""
    if lead in workings:
        explained = workings[lead]
        steps = tuple(working_steps(explained.quantity, explained.index))
        of = words.place(explained.at, explained.of)
        worked = f"{explained.measure_kind.title}: {of}" if of else explained.measure_kind.title
    failures = _failures(review, findings)
    reasons = [f"{words.upper_first(why(f.reason))}." for f in findings if why(f.reason)]
    asked = [f"{words.upper_first(condition(f.reason))}." for f in findings if condition(f.reason)]
    sources = [f"{f.basis}; {f.layer} rules, {f.criterion}" for f in findings]
    return Fold(
        rows=rows_of(review, findings),
        reasons=tuple(dict.fromkeys(reasons)),
        acts=tuple(dict.fromkeys([f.action for f in findings if f.action] + asked)),
        sources=tuple(dict.fromkeys(sources)),
        worked=worked,
        steps=steps,
        failures=failures[:_ROWS],
        more_failures=max(0, len(failures) - _ROWS),
    )


def _failures(review: Review, findings: Sequence[Finding]) -> tuple[tuple[str, str], ...]:
    """Which failures come to any of these findings, and the steps from which on they do."""
    runs = {run.id: run for run in review.trials.runs}
    steps: dict[str, list[str]] = {}
    for finding in findings:
        if finding.case != "upset":
            continue
        for id, worst in failing_upsets(finding, review).items():
            steps.setdefault(family(runs[id], review.trials).phrase, []).append(worst)
    return tuple(
        (words.upper_first(phrase), "; ".join(dict.fromkeys(map(words.in_step, worst))))
        for phrase, worst in steps.items()
    )
