"""The operator's page as Markdown (CommonMark with tables), to print or to edit on."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from review.render import words
from review.render.runsheet import (
    BLANKS,
    FLOW_ON,
    LEAST_TIME,
    NO_ALARM,
    NO_FAILURE,
    NO_TIME,
    NOT_SIGNED_OFF,
    NOTHING_AT_HAND,
    ONE_PERSON,
    ONE_PERSON_MEANS,
    SITE_FIRST,
    UNSIGNED,
    RunSheet,
    SignOff,
)
from review.render.runsheet_settings import AS_FOUND

_BLANK = "______________"
_READ = "________"
_SPECIAL = re.compile(r"[\\`*_{}\[\]#|~!$]")
_AT_START = re.compile(r"([-+=]|\d{1,9}[.)])(?=\s|$)")


def to_markdown(sheet: RunSheet) -> str:
    """The page as text. Whatever comes from a file stands there as it is, and forms nothing."""
    parts = [
        f"# Run sheet: {escaped(sheet.title)}",
        *_head(sheet),
        "## In an emergency",
        SITE_FIRST,
        *listed(map(escaped, sheet.contacts)),
        table(("", "", "", ""), _in_twos(BLANKS)),
        *listed(f"**{escaped(line)}**" for line in sheet.always),
        *_before(sheet),
        *_settings(sheet),
        *_steps(sheet),
        *_watched(sheet),
        *_failures(sheet),
        *_after(sheet),
        "## Before you rely on this sheet",
        *listed(map(escaped, sheet.cautions)),
        "## What this sheet rests on",
        *_grounds(sheet),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def escaped(text: str) -> str:
    """Text as CommonMark shows it literally, in a paragraph, a list or a cell of a table.

    >>> print(escaped("a|b <i> *c* 1_2 & [x]"))
    a\\|b &lt;i&gt; \\*c\\* 1\\_2 &amp; \\[x\\]
    """
    line = words.clean(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    line = _SPECIAL.sub(r"\\\g<0>", line).replace("://", r"\://")
    start = _AT_START.match(line)
    return f"{line[: start.end() - 1]}\\{line[start.end() - 1 :]}" if start else line


def _head(sheet: RunSheet) -> Iterable[str]:
    signed = sheet.signed
    told = [f"Verdict of the review: **{sheet.verdict}**."]
    if sheet.operators:
        told.append(f"Operators: {sheet.operators}.")
    if sheet.purpose:
        told.append(escaped(sheet.purpose))
    if signed is None:
        yield f"## {NOT_SIGNED_OFF}"
        yield UNSIGNED
        yield table(("", "Name", "Date", "Signature"), _signatures())
    else:
        if signed.one_person:
            yield f"## {ONE_PERSON}"
            yield ONE_PERSON_MEANS
        yield _signed(signed)
        yield f"Run {signed.run} of {signed.runs} allowed. Date {_BLANK} Operator {_BLANK}"
        if signed.earlier:
            yield "Noted in earlier runs:"
            yield from listed(map(escaped, signed.earlier))
    yield " ".join(told)


def _signatures() -> list[Sequence[str]]:
    return [(role, _BLANK, _BLANK, _BLANK) for role in ("Preparer", "Reviewer")]


def _signed(signed: SignOff) -> str:
    return (
        f"**Signed off**: record {signed.number} of {escaped(signed.signed_at)}, "
        f"by {escaped(signed.signers or f'{signed.preparer} and {signed.reviewer}')}; "
        f"**holds until {escaped(signed.valid_until)}**."
    )


def _before(sheet: RunSheet) -> Iterable[str]:
    yield "## Before the start"
    hand = f"Worn and at hand: {'; '.join(sheet.at_hand)}." if sheet.at_hand else NOTHING_AT_HAND
    yield f"[ ] {escaped(hand)}"
    lines = []
    for each in sheet.conditions:
        where = f" ({escaped(each.where)})" if each.where else ""
        said = f" *Confirmed: {escaped(each.confirmed)}*" if each.confirmed else ""
        lines.append(f"[ ] **{escaped(each.title)}**{where}: {escaped(each.action)}{said}")
    if lines:
        yield "Conditions:"
        yield from listed(lines)
    answers = sheet.signed.answers if sheet.signed else ()
    if answers:
        yield "What could not be judged, and was answered by a person:"
        yield from listed(
            f"**{escaped(a.title)}**{f' ({escaped(a.at)})' if a.at else ''}: {escaped(a.reason)} "
            f"({escaped(a.role)})"
            for a in answers
        )


def _settings(sheet: RunSheet) -> Iterable[str]:
    if sheet.settings:
        yield "## Settings"
        rows = [
            (*map(escaped, (s.name, s.planned, s.limit)), "" if s.limit == AS_FOUND else _READ)
            for s in sheet.settings
        ]
        yield table(("Setting", "Should read", "Must not pass", "Read"), rows)


def _steps(sheet: RunSheet) -> Iterable[str]:
    yield "## Steps"
    yield LEAST_TIME
    rows = []
    for number, step in enumerate(sheet.steps, 1):
        does = "; ".join((*step.does, *((step.note,) if step.note else ())))
        cells = (step.name, does, step.planned, step.hold)
        rows.append((str(number), *map(escaped, cells), "[ ]", _BLANK))
    heads = ("", "Step", "Do", "Planned", "At least", "Done", "Time, initials")
    yield table(heads, rows)


def _watched(sheet: RunSheet) -> Iterable[str]:
    yield "## Alarms and checks"
    if not sheet.watched:
        yield NO_ALARM
        return
    rows = [tuple(map(escaped, (w.name, w.shows, w.alarm, w.where, w.then))) for w in sheet.watched]
    yield table(("What", "Shows", "Alarm at", "Where", "Do"), rows)


def _failures(sheet: RunSheet) -> Iterable[str]:
    yield "## If something fails"
    if not sheet.failures:
        yield NO_FAILURE
        return
    yield f"The most serious first. {NO_TIME} {FLOW_ON} {SITE_FIRST}"
    rows = []
    for each in sheet.failures:
        soon = f"; {each.soon}" if each.soon else ""
        what = f"**{escaped(each.what)}**: {escaped(each.leads_to)}{soon}"
        rows.append((what, escaped(each.sign), escaped(each.response)))
    yield table(("What fails, and what it leads to", "What you see", "Do at once"), rows)
    yield escaped(sheet.more_failures)


def _after(sheet: RunSheet) -> Iterable[str]:
    if sheet.afterwards:
        yield "## After the run"
        yield from listed(map(escaped, sheet.afterwards))


def _grounds(sheet: RunSheet) -> Iterable[str]:
    lines = []
    if sheet.signed is not None:
        lines.append(f"Record {sheet.signed.number}, SHA-256: {sheet.signed.sha256}")
        lines.append(f"The same in groups: {sheet.signed.hash_groups}")
    lines += [f"Scenario, SHA-256: {sheet.scenario_sha256}", *map(escaped, sheet.grounds)]
    printed = f", printed on {sheet.printed}" if sheet.printed else ""
    kept = "the record" if sheet.signed else "the scenario and its review"
    lines.append(f"benchgate {escaped(sheet.version)}{printed}. Keep this page with {kept}.")
    yield from listed(lines)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of cells that are escaped already."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def listed(lines: Iterable[str]) -> tuple[str, ...]:
    """One list as one part of a page; no part where there are no lines."""
    text = "\n".join(f"- {line}" for line in lines)
    return (text,) if text else ()


def _in_twos(names: Sequence[str]) -> list[Sequence[str]]:
    cells = [cell for name in names for cell in (escaped(name), _BLANK)]
    cells += [""] * (-len(cells) % 4)
    return [cells[n : n + 4] for n in range(0, len(cells), 4)]
