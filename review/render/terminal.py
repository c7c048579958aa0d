"""A review as a letter: the verdict, what must change, then everything it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from rich.console import Console

from review.cautions import CAUTIONS
from review.interface.result import Review
from review.render import words
from review.render.entry import is_claim, place, write_entry
from review.render.failures import Consequence, Table, table
from review.render.grouping import Entry, entries, margins
from review.render.page import Page

_COLOURS = {
    "may proceed": "bold green",
    "may proceed with conditions": "bold yellow",
    "must not proceed": "bold red",
    "cannot be judged": "bold magenta",
}
#: So many consequences of failures are spelt out, and one of each hazard; the others are named.
_FULL_FAILURES = 6
_NAMED_FAILURES = 6
#: About a line of names.
_NAMES_LENGTH = 70
#: A criterion whose reason says this was left out because the scenario is silent.
_UNSEEN = "nobody has looked"
_UNCLAIMED = "The scenario does not say that these are seen to:"
_HASH_DIGITS = 12
_HEAD = "Review of "


def render_terminal(review: Review, console: Console, quiet: bool = False) -> None:
    """Print a review. `quiet`: the verdict, what to act on, loosened rules and the cautions."""
    page = Page(console)
    # Further lines of a title hang below it, so that none can pass for a line of the page.
    page.text(review.title, indent=len(_HEAD), mark=_HEAD, style="bold")
    page.blank()
    page.text(review.verdict, label="Verdict:", style=_COLOURS.get(review.verdict, "bold"))
    _to_act_on(review, page)
    _list(
        page,
        "Rules that were loosened",
        (f"{e.criterion}, by {e.layer}: {e.what}. Reason: {e.reason}" for e in review.loosened),
    )
    if not quiet:
        write_grounds(review, page)
    _list(page, "Emergency contacts of the site", review.contacts)
    _list(page, "Before you rely on this review", CAUTIONS)


def write_grounds(review: Review, page: Page) -> None:
    """All that the findings rest on: failures, margins, what was covered, data and rules."""
    _failures(review, page)
    _margins(review, page)
    _coverage(review, page)
    _grounds(review, page)


def _to_act_on(review: Review, page: Page) -> None:
    """The three groups of findings that ask for something."""
    must_change = [f for f in review.findings if f.grade == "unacceptable"]
    unjudged = [f for f in review.findings if f.grade == "undetermined" and f.blocks]
    tolerable = [f for f in review.findings if f.grade == "tolerable"]
    asked = [f for f in review.findings if f.grade == "undetermined" and not f.blocks]
    groups = [
        ("What must change", entries(must_change, review.kinds)),
        ("What could not be judged", entries(unjudged, review.kinds)),
        ("Conditions", entries(tolerable + asked, review.kinds)),
    ]
    accepted = sum(f.grade == "acceptable" for f in review.findings)
    counts = [len(found) for _, found in groups]
    tally = (
        f"{counts[0]} to change" if counts[0] else "",
        f"{counts[1]} not judged" if counts[1] else "",
        words.counted(counts[2], "condition") if counts[2] else "",
        f"{words.counted(accepted, 'judgement')} acceptable",
    )
    page.text(", ".join(part for part in tally if part) + ".")
    seen: dict[str, tuple[Entry, ...]] = {}
    for title, found in groups:
        if found:
            page.heading(title)
            claim = False
            for position, entry in enumerate(found, 1):
                if not (claim and is_claim(entry.worst)):
                    page.blank()
                if is_claim(entry.worst) and not claim:
                    page.text(_UNCLAIMED, indent=4)
                claim = is_claim(entry.worst)
                write_entry(review, page, entry, position, seen.get(entry.worst.criterion, ()))
        for entry in found:
            seen[entry.worst.criterion] = (*seen.get(entry.worst.criterion, ()), entry)


def _failures(review: Review, page: Page) -> None:
    """What each single failure adds to what is said above, by the hazard it leads to."""
    found = table(review)
    if not found.total:
        return
    page.heading("If one thing fails")
    timed = any(not math.isnan(c.seconds) for c in found.consequences)
    countered = any(c.credit for c in found.consequences)
    page.text(_played(found, timed, countered), indent=2)
    hazards: dict[tuple[str, str], list[Consequence]] = {}
    for one in found.consequences:
        hazards.setdefault((one.worst.criterion, one.worst.grade), []).append(one)
    left = _FULL_FAILURES
    for several in hazards.values():
        worst = several[0].worst
        said = words.reading(worst, review.kinds)
        # A direction ("above it") needs its threshold before it.
        wanted = said.wanted if said.brief == said.value else ""
        title = f"{worst.title or worst.criterion} ({worst.grade})"
        page.text(f"{title}; {wanted}:" if wanted else f"{title}:", indent=2)
        full = several[: max(1, left)]
        left -= len(full)
        for one in full:
            page.text(_consequence(review, one, timed, countered), indent=4, mark="  -")
        names = [failed.phrase for one in several[len(full) :] for failed in one.failures]
        if names:
            page.text(f"less so if {_any_of(names)}", indent=4, mark="  -")
    count = found.total - found.adding
    if count:
        adds = "adds" if count == 1 else "add"
        text = f"{words.counted(count, 'failure')} {adds} nothing to what is said above"
        page.text(f"{text}: {_shortened(found.others)}.", indent=2)


def _played(found: Table, timed: bool, countered: bool) -> str:
    count = words.counted(found.total, "single failure")
    text = f"{count} {'was' if found.total == 1 else 'were'} played, each alone and unnoticed."
    lacking = (
        "How soon they harm was not worked out." if not timed else "",
        "No safeguard counters them." if not countered else "",
    )
    return " ".join(part for part in (text, *lacking) if part) if found.consequences else text


def _consequence(review: Review, one: Consequence, timed: bool, countered: bool) -> str:
    """What fails and when, what it comes to, how soon, and what counters it."""
    causes = [words.failed(f.phrase, f.begins, f.count) for f in one.failures]
    worst = one.worst
    step = f", {words.in_step(worst.step)}" if worst.step != one.failures[0].begins else ""
    said = words.reading(worst, review.kinds)
    doubt = f" ({worst.status})" if worst.status in ("estimated", "outside range") else ""
    parts = [f"{said.value}{doubt} {place(review, worst)}{step}"]
    if said.brief != said.value and said.wanted:
        parts.append(said.wanted)
    if timed:
        parts.append(words.soon(one.seconds))
    if countered:
        parts.append(one.credit or "no safeguard counters it")
    return f"if {_any_of(causes)}: {'; '.join(parts)}"


def _any_of(causes: Sequence[str]) -> str:
    """Any of several failures; very many are counted rather than named."""
    more = len(causes) - _NAMED_FAILURES
    others = [f"any of {more} others"] if more > 1 else causes[_NAMED_FAILURES:]
    return words.listed([*causes[:_NAMED_FAILURES], *others], "or")


def _shortened(names: tuple[str, ...]) -> str:
    """As many names as a line holds, short ones first."""
    kept: list[str] = []
    for name in sorted(names, key=len):
        if kept and len("; ".join([*kept, name])) > _NAMES_LENGTH:
            return "; ".join(kept) + " and so on"
        kept.append(name)
    return "; ".join(kept)


def _margins(review: Review, page: Page) -> None:
    """For each hazard what comes nearest to its limit, place first."""
    found = margins(review)
    if not found:
        return
    page.heading("Closest margins of what is acceptable")
    for margin in found:
        nearest = margin.nearest
        if nearest is None:
            text = f"{margin.accepted} acceptable, none with a number"
        else:
            said = words.reading(nearest, review.kinds)
            value = " ".join(part for part in (said.what, said.value) if part)
            limit = said.wanted.removesuffix(" is wanted").removeprefix("wanted: ")
            text = f"{place(review, nearest)}, {value}"
            text += f" ({limit})" if limit not in ("", said.value) else ""
        page.text(text, indent=4, mark="  -", label=f"{margin.hazard}:")


def _coverage(review: Review, page: Page) -> None:
    """What was looked at, what was not, what did not apply."""
    checks = [f"{words.lower_first(c.title)} ({c.id} {c.version})" for c in review.checks]
    if checks:
        page.heading("What was reviewed")
        text = f"{words.upper_first(words.listed(checks))}."
        page.text(f'{text} "benchgate checks" says in full what each of them covers.', indent=2)
    titles = {c.id: c.title for c in review.checks}
    gaps: dict[str, list[str]] = {}
    for check, what in review.not_covered:
        gaps.setdefault(check, []).append(what)
    by_reason: dict[str, list[str]] = {}
    for one in review.not_applicable:
        by_reason.setdefault(one.reason, []).append(one.title or one.criterion)
    unseen = [reason for reason in by_reason if _UNSEEN in reason]
    _list(
        page,
        "What was NOT covered",
        (
            *(f"{words.upper_first(reason)}." for reason in unseen),
            *(f"{titles.get(check, check)}: {'; '.join(whats)}" for check, whats in gaps.items()),
        ),
    )
    _list(
        page,
        "What does not apply here",
        (
            f"{words.upper_first(reason)}: {'; '.join(words.lower_first(t) for t in names)}"
            for reason, names in by_reason.items()
            if reason not in unseen
        ),
    )


def _grounds(review: Review, page: Page) -> None:
    """Failures, data notes, plugin sections and what was read."""
    _list(
        page,
        "Checks that failed",
        (f"{f.check}: {f.reason}. What it covers is not judged." for f in review.failures),
    )
    for section in review.sections:
        whose = f"From plugin {section.plugin}: " if section.plugin else ""
        _list(page, f"{whose}{section.title}", section.lines)
    _list(page, "Notes on the data", review.notes)
    layers = "; ".join(f"{r.name} {r.sha256[:_HASH_DIGITS]}" for r in review.layers)
    plugins = "; ".join(f"{p.name} {p.sha256[:_HASH_DIGITS]}" for p in review.plugins)
    _list(
        page,
        "What this review rests on",
        (
            f"Scenario: {review.path} {review.scenario_sha256[:_HASH_DIGITS]}",
            f"Rules: {layers or 'none'}",
            *((f"Plugins: {plugins}",) if plugins else ()),
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
