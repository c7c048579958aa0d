"""One entry of the letter: a criterion that is not met, where, when, why and what to do."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from review.interface.result import Finding, Grade, Review
from review.render import words
from review.render.failures import family
from review.render.grouping import Entry, Spot, other_runs
from review.render.page import Page
from review.render.reasons import condition, only_estimated, unclaimed, why

#: What a criterion that asks for something rather than for a number has found.
_ANSWERS: dict[Grade, str] = {
    "unacceptable": "The scenario does not say so.",
    "tolerable": "The scenario does not say so.",
    "undetermined": "Not judged.",
    "acceptable": "This is so.",
}
_NAMED_FAILURES = 2


def write_entry(
    review: Review, page: Page, entry: Entry, position: int, graver: tuple[Entry, ...] = ()
) -> None:
    """Print one entry. `graver` are the entries of this criterion that stand above already."""
    worst = entry.worst
    title = worst.title or worst.criterion
    if is_claim(worst):
        action = words.lower_first(worst.action)
        page.text(f"{action} ({_basis(worst)})", indent=4, mark=f"{position:>2}", label=f"{title}:")
        return
    unrated = _unrated(review, entry)
    if unrated:
        title = f"{title}: no rating"
    elif graver:
        title = f"{title}, {_apart(entry, graver)}"
    page.text(title, indent=4, mark=f"{position:>2}", style="bold")
    for line in unrated:
        page.text(line, indent=4)
    if not unrated:
        _write_value(review, page, entry)
    for asked in _distinct(condition(f.reason) for f in entry.findings):
        page.text(f"{asked}.", indent=4, label="Condition:")
    for action in _distinct(f.action for f in entry.findings):
        page.text(action, indent=4, label="Do:")
    if len(entry.spots) > 1 and not unrated:
        page.text(_elsewhere(review, entry.spots), indent=4, label="Also at:")
    for basis in _distinct(_basis(f) for f in entry.findings):
        page.text(basis, indent=4, label="Basis:")


def _apart(entry: Entry, graver: tuple[Entry, ...]) -> str:
    """What tells an entry from a graver one of the same criterion."""
    upset = [f.case == "upset" for f in entry.findings]
    if all(upset):
        return "after a further failure"
    above = {(f.at, f.of) for other in graver for f in other.findings}
    if not above & {(f.at, f.of) for f in entry.findings}:
        return "elsewhere"
    return "otherwise" if any(upset) else "as planned"


def is_claim(finding: Finding) -> bool:
    """Whether a finding only misses a statement in the scenario, which a line or two can say."""
    return not finding.kind and unclaimed(finding.reason)


def _basis(finding: Finding) -> str:
    return f"{finding.basis}; {finding.layer} rules, {finding.criterion}"


def _write_value(review: Review, page: Page, entry: Entry) -> None:
    first = entry.spots[0]
    page.text(_measured(review, first.worst), indent=4)
    if not math.isnan(first.worst.known):
        known = words.reading(replace(first.worst, value=first.worst.known), review.kinds)
        page.text(f"at worst {known.value} where it is known; {known.wanted}.", indent=4)
    when = _when(review, first)
    if first.worst.kind and when and when != f"as planned, {_where(review, [first.worst.at])}.":
        page.text(when, indent=4, label="When:")
    reasons = [f.reason for f in (first.worst, *first.others) if not only_estimated(f.reason)]
    for reason in _distinct(why(reason) for reason in reasons):
        page.text(f"{reason}.", indent=4, label="Why:")


def _measured(review: Review, finding: Finding) -> str:
    """What was found, where, and what is wanted instead."""
    if not finding.kind:
        return _ANSWERS[finding.grade]
    return words.upper_first(f"{place(review, finding)}: {value_and_wanted(review, finding)}.")


def value_and_wanted(review: Review, finding: Finding) -> str:
    """The value and what is wanted instead."""
    said = words.reading(finding, review.kinds)
    verb = "is" if said.what and math.isnan(finding.value) else ""
    what = " ".join(p for p in (said.what, verb, doubted(review, finding)) if p)
    return f"{what}; {said.wanted}" if said.wanted else what


def doubted(review: Review, finding: Finding) -> str:
    """The value; an estimate is called one, and so is what lies outside its method's range."""
    value = words.reading(finding, review.kinds).value
    if finding.status == "estimated":
        if math.isnan(finding.bound):
            return f"{value} (estimated)"
        bound = words.reading(replace(finding, value=finding.bound), review.kinds).value
        return f"{value} (estimated, so counted as {bound})"
    outside = finding.status == "outside range"
    return f"{value} (outside the range of its method)" if outside else value


def place(review: Review, finding: Finding) -> str:
    """Where a value holds and what it speaks of: "at tube (hydrogen)"."""
    kind = review.kinds.get(finding.kind)
    of = words.subject(finding.of, kind)
    at = _where(review, [finding.at])
    if kind is not None and kind.labels:
        return ", ".join(p for p in (at, of) if p) or "in the whole set-up"
    return " ".join(p for p in (at, f"({of})" if of else "") if p) or "in the whole set-up"


def _where(review: Review, places: Iterable[str]) -> str:
    """Items "at", steps "in step"."""
    named = [p for p in dict.fromkeys(places) if p]
    steps = [p for p in named if p in review.trials.steps]
    items = [p for p in named if p not in steps]
    at = f"at {words.listed(items)}" if items else ""
    return words.listed(p for p in (at, *map(words.in_step, steps)) if p)


def _when(review: Review, spot: Spot) -> str:
    """In which run and step the worst is, and where else it also fails."""
    text = words.trial(review.trials, spot.worst.trial, spot.worst.step)
    if not text:
        return ""
    runs = {run.id: run for run in review.trials.runs}
    own = spot.worst.trial
    mine = family(runs[own], review.trials).phrase if own in runs else ""
    also: list[str] = []
    failures: list[str] = []
    for run, step in other_runs(spot, review).items():
        if run in runs and runs[run].case == "upset":
            failures.append(family(runs[run], review.trials).phrase)
        else:
            also.append(words.trial(review.trials, run, step))
    if failures and set(failures) == {mine}:
        steps = "step" if len(failures) == 1 else "steps"
        also.append(f"if it begins in {len(failures)} other {steps}")
    elif failures:
        other = "other " if own in runs and runs[own].case == "upset" else ""
        # The same failure in other steps goes without saying if there is something else to say.
        named = tuple(f for f in dict.fromkeys(failures) if f != mine)
        some = "; ".join(named[:_NAMED_FAILURES])
        among = ": " if len(failures) <= _NAMED_FAILURES else ", among them: "
        noun = "failure" if len(failures) == 1 else "failures"
        also.append(f"in {len(failures)} {other}{noun}{among}{some}")
    return f"{text}. Also {', and '.join(also)}." if also else f"{text}."


def _elsewhere(review: Review, spots: tuple[Spot, ...]) -> str:
    """The other places by their worst value, with what differs from the first place."""
    first = words.reading(spots[0].worst, review.kinds)
    known = why(spots[0].worst.reason)
    alike: dict[str, list[Finding]] = {}
    for spot in spots[1:]:
        said = words.reading(spot.worst, review.kinds)
        guessed = ", estimated" if spot.worst.status == "estimated" else ""
        parts = [f"{said.brief}{guessed}"]
        if said.wanted != first.wanted:
            parts.append(said.wanted)
        reason = why(spot.worst.reason)
        if reason not in ("", known) and not only_estimated(spot.worst.reason):
            parts = [*(parts[1:] if reason.startswith("not known") else parts), reason]
        alike.setdefault("; ".join(parts), []).append(spot.worst)
    kind = review.kinds.get(spots[0].worst.kind)
    lines = []
    for value, findings in alike.items():
        if kind is not None and kind.labels:
            lines.append(f"{_pairs(review, findings)} ({value})")
        else:
            places = [place(review, f).removeprefix("at ") for f in findings]
            lines.append(f"{words.listed(places)} ({value})")
    return "; ".join(lines) + "."


def _unrated(review: Review, entry: Entry) -> list[str]:
    """Pairs that have no rating, grouped by what is lacking; nothing where ratings are no pairs."""
    kind = review.kinds.get(entry.worst.kind)
    findings = [s.worst for s in entry.spots]
    rated = kind is not None and kind.labels and any(" and " in f.of for f in findings)
    if not rated or entry.worst.grade != "undetermined":
        return []
    by_reason: dict[str, list[Finding]] = {}
    for finding in findings:
        reason = why(finding.reason)
        lacking = "" if "no rating" in reason else reason
        by_reason.setdefault(lacking, []).append(finding)
    lines = []
    for reason, some in by_reason.items():
        if not reason:
            lines.append(f"No rating is known for: {_pairs(review, some)}.")
        elif not any(f.of for f in some):
            where = _where(review, [f.at for f in some])
            lines.append(f"{words.upper_first(where)}: {reason}.")
        else:
            lines.append(f"No rating for {_pairs(review, some)}: {reason}.")
    return lines


def _pairs(review: Review, findings: Iterable[Finding]) -> str:
    """Rated pairs; substances that touch the same material in the same places together."""
    where: dict[str, dict[str, list[str]]] = {}
    for finding in findings:
        material, _, substance = finding.of.rpartition(" and ")
        where.setdefault(material, {}).setdefault(substance, []).append(finding.at)
    parts = []
    for material, substances in where.items():
        together: dict[tuple[str, ...], list[str]] = {}
        for substance, places in substances.items():
            together.setdefault(tuple(places), []).append(substance)
        for at, names in together.items():
            pair = f"{material} in {words.listed(names)}" if material else words.listed(names)
            parts.append(" ".join(p for p in (pair, _where(review, at)) if p))
    return "; ".join(parts)


def _distinct(texts: Iterable[str]) -> tuple[str, ...]:
    """Non-blank texts, each once, in order."""
    return tuple(dict.fromkeys(t for t in texts if t.strip()))
