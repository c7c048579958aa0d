"""A review as a letter: the verdict, what must change, then everything it rests on."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console

from review.cautions import CAUTIONS
from review.render import words
from review.render.grouping import Entry, Spot, entries, margins, other_runs
from review.render.page import Page
from review.result import Finding, Grade, Review

_COLOURS = {
    "may proceed": "bold green",
    "may proceed with conditions": "bold yellow",
    "must not proceed": "bold red",
    "cannot be judged": "bold magenta",
}
#: What a criterion that asks for something rather than for a number has found.
_ANSWERS: dict[Grade, str] = {
    "unacceptable": "This is not so.",
    "tolerable": "This is not so.",
    "undetermined": "Not judged.",
    "acceptable": "This is so.",
}
_NAMED_RUNS = 3
_HASH_DIGITS = 12


def render_terminal(review: Review, console: Console, quiet: bool = False) -> None:
    """Print a review. `quiet` keeps the verdict, the findings to act on and the cautions."""
    page = Page(console)
    page.text(f"Review of {review.title}", style="bold")
    page.blank()
    page.text(review.verdict, label="Verdict:", style=_COLOURS.get(review.verdict, "bold"))
    _to_act_on(review, page)
    if not quiet:
        _margins(review, page)
        _coverage(review, page)
        _grounds(review, page)
    _list(page, "Emergency contacts of the site", review.contacts)
    _list(page, "Before you rely on this review", CAUTIONS)


def _to_act_on(review: Review, page: Page) -> None:
    """The three groups of findings that ask for something."""

    def graded(*grades: str, blocks: bool = True) -> list[Finding]:
        return [f for f in review.findings if f.grade in grades and f.blocks is blocks]

    must_change = [f for f in review.findings if f.grade == "unacceptable"]
    unjudged = graded("undetermined")
    tolerable = [f for f in review.findings if f.grade == "tolerable"]
    conditions = tolerable + graded("undetermined", blocks=False)
    groups = (
        ("What must change", "to change", must_change),
        ("What could not be judged", "not judged", unjudged),
        ("Conditions", "conditions" if len(conditions) != 1 else "condition", conditions),
    )
    found = [(title, count, entries(some, review.kinds)) for title, count, some in groups]
    accepted = sum(f.grade == "acceptable" for f in review.findings)
    tally = [f"{len(some)} {count}" for _, count, some in found if some]
    page.text(", ".join([*tally, f"{accepted} judgements acceptable"]) + ".")
    for title, _, some in found:
        if some:
            page.heading(title)
            for position, entry in enumerate(some, 1):
                page.blank()
                _entry(review, page, entry, position)


def _entry(review: Review, page: Page, entry: Entry, position: int) -> None:
    worst = entry.worst
    page.text(worst.title or worst.criterion, indent=4, mark=f"{position:>2}", style="bold")
    page.text(_measured(review, worst), indent=4)
    when = _when(review, entry.spots[0])
    if worst.kind and when:
        page.text(when, indent=4, label="When:")
    first = entry.spots[0]
    for reason in _distinct(f.reason for f in (first.worst, *first.others)):
        page.text(reason, indent=4, label="Why:")
    for action in _distinct(f.action for f in entry.findings):
        page.text(action, indent=4, label="Do:")
    if len(entry.spots) > 1:
        page.text(_elsewhere(review, entry.spots), indent=4, label="Also at:")
    for basis in _distinct(f"{f.basis} [{f.layer} rules, {f.criterion}]" for f in entry.findings):
        page.text(basis, indent=4, label="Basis:")


def _measured(review: Review, finding: Finding) -> str:
    """What was found, where, against which limit."""
    value, limit = words.value_and_limit(finding, review.kinds)
    where = words.place(finding.at, finding.of)
    if not finding.kind:
        return _ANSWERS[finding.grade]
    name = _kind_title(review, finding)
    subject = f"{name} at {where}" if finding.at else f"{name} {where}".rstrip()
    doubt = "" if finding.status in ("ok", "missing") else f" ({finding.status})"
    against = f"; the limit is {limit}" if limit else ""
    return f"{subject}: {value}{doubt}{against}."


def _when(review: Review, spot: Spot) -> str:
    """In which run and step the worst is, and in how many other runs it also fails."""
    text = words.trial(review.trials, spot.worst.trial, spot.worst.step)
    others = other_runs(spot, review)
    if not others:
        return f"{text}." if text else ""
    named = "; ".join(
        words.trial(review.trials, run, step) for run, step in list(others.items())[:_NAMED_RUNS]
    )
    more = len(others) - _NAMED_RUNS
    rest = f"; and {more} more" if more > 0 else ""
    runs = "run" if len(others) == 1 else "runs"
    return f"{text}. Also in {len(others)} other {runs}: {named}{rest}."


def _elsewhere(review: Review, spots: tuple[Spot, ...]) -> str:
    """The other places, each with its own worst value, and its reason where that differs."""
    known = spots[0].worst.reason
    parts = []
    for spot in spots[1:]:
        value, limit = words.value_and_limit(spot.worst, review.kinds)
        where = words.place(spot.worst.at, spot.worst.of) or "the whole set-up"
        against = f"; limit {limit}" if limit else ""
        why = f"; {spot.worst.reason}" if spot.worst.reason not in ("", known) else ""
        parts.append(f"{where} ({value}{against}{why})")
    return ", ".join(parts) + "."


def _margins(review: Review, page: Page) -> None:
    found = margins(review)
    if not found:
        return
    page.heading("Closest margins of what is acceptable")
    for margin in found:
        nearest = margin.nearest
        if nearest is None:
            text = f"{margin.accepted} acceptable, none with a number"
        else:
            value, limit = words.value_and_limit(nearest, review.kinds)
            where = words.place(nearest.at, nearest.of)
            place = f"{where}: " if where else ""
            trial = words.trial(review.trials, nearest.trial, nearest.step)
            text = f"{value} (limit {limit}), {place}{_kind_title(review, nearest)}, {trial}"
        page.one_line(text, indent=2, label=f"{margin.hazard}:")


def _kind_title(review: Review, finding: Finding) -> str:
    kind = review.kinds.get(finding.kind)
    return kind.title if kind else finding.kind


def _coverage(review: Review, page: Page) -> None:
    """What was looked at, what was not, what did not apply."""
    _list(
        page,
        "What was reviewed",
        (f"{c.title} ({c.id} {c.version}): {'; '.join(c.covers)}" for c in review.checks),
    )
    titles = {c.id: c.title for c in review.checks}
    gaps: dict[str, list[str]] = {}
    for check, what in review.not_covered:
        gaps.setdefault(check, []).append(what)
    _list(
        page,
        "What was NOT covered",
        (f"{titles.get(check, check)}: {'; '.join(whats)}" for check, whats in gaps.items()),
    )
    _list(
        page,
        "What does not apply here",
        (f"{n.title or n.criterion}: {n.reason}" for n in review.not_applicable),
    )


def _grounds(review: Review, page: Page) -> None:
    """Rules, failures, data notes, plugin sections and what was read."""
    _list(
        page,
        "Rules that were loosened",
        (f"{e.criterion}, by {e.layer}: {e.what}. Reason: {e.reason}" for e in review.loosened),
    )
    _list(
        page,
        "Checks that failed",
        (f"{f.check}: {f.reason}. What it covers is not judged." for f in review.failures),
    )
    for section in review.sections:
        _list(page, section.title, section.lines)
    _list(page, "Notes on the data", review.notes)
    layers = "; ".join(f"{r.name} {r.sha256[:_HASH_DIGITS]}" for r in review.layers)
    _list(
        page,
        "What this review rests on",
        (
            f"Scenario: {review.path} {review.scenario_sha256[:_HASH_DIGITS]}",
            f"Rules: {layers or 'none'}",
            f"benchgate {review.version}",
        ),
    )


def _list(page: Page, title: str, lines: Iterable[str]) -> None:
    """A heading and its lines; nothing where there are no lines."""
    shown = tuple(lines)
    if not shown:
        return
    page.heading(title)
    for line in shown:
        page.text(line, indent=4, mark="  -")


def _distinct(texts: Iterable[str]) -> tuple[str, ...]:
    """Non-blank texts, each once, in order."""
    return tuple(dict.fromkeys(t for t in texts if t.strip()))
