"""What an audit says to its reader: one page of plain paragraphs, most serious first.

The database does the sums; only the few rows that are shown are read. Everything speaks of the
set-ups that `review.audit.select.choose` chose on the same connection.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Any

from rich.console import Console

from review.audit.changes import draw_comparison
from review.audit.compare import Compared
from review.audit.figures import SIGNED_ROWS, Counts, count, worst_findings
from review.audit.select import Selection, met
from review.cautions import CAUTIONS, DEFERS
from review.interface.plugin import Kind
from review.render import words
from review.render.grouping import excess, urgency
from review.render.page import Page
from review.render.reasons import why

#: So many of each are shown; the rest is counted.
_SIGNED, _WORST, _OFTEN, _UNJUDGED, _SETUPS, _ERRORS, _UNTOLD, _SKIPPED = 5, 3, 5, 3, 3, 3, 4, 3
#: About two lines.
_LONG = 120
_REST = "--format json names them"
#: Heading of the last part.
NOT_LOOKED_AT = "What was not looked at"


def draw_summary(
    store: sqlite3.Connection,
    console: Console,
    kinds: Mapping[str, Kind],
    selection: Selection,
    today: date,
    *,
    done: str = "",
    compared: Compared | None = None,
    others: int = 0,
    quiet: bool = False,
) -> None:
    """Print the summary. `quiet` keeps what is signed, verdicts, changes and what was not read.

    `done` says what the audit did to come here; what was `compared` is told too. `others` are
    files met besides those the store has rows of; they hold no set-up.
    """
    write_summary(
        store, Page(console), kinds, selection, today, done=done, compared=compared, others=others,
        quiet=quiet,
    )  # fmt: skip


def write_summary(
    store: sqlite3.Connection,
    page: Page,
    kinds: Mapping[str, Kind],
    selection: Selection,
    today: date,
    *,
    done: str = "",
    compared: Compared | None = None,
    others: int = 0,
    quiet: bool = False,
    registers: bool = False,
) -> None:
    """The summary on any page; see `draw_summary`. `registers`: the page tells of them itself."""
    counts = count(store, today)
    page.text(f"Audit of {words.counted(selection.total, 'set-up')}", style="bold")
    if done:
        page.text(done)
    if selection.text:
        _selection(store, page, selection)
    if counts.refused or counts.expired_refused:
        _signed(store, page, counts, today)
    _verdicts(page, counts, selection, registers)
    if compared is not None:
        draw_comparison(store, page, compared)
    if not quiet:
        write_details(store, page, kinds)
    _errors(store, page, counts)
    _not_looked_at(store, page, counts.skipped, others)
    page.blank()
    page.text(CAUTIONS[1])
    page.text(DEFERS)


def write_details(store: sqlite3.Connection, page: Page, kinds: Mapping[str, Kind]) -> None:
    """What is worst, what must change most often, what nobody can judge."""
    _worst(store, page, kinds)
    _often(store, page)
    _unjudged(store, page)
    _gravest_setups(store, page)


def _selection(store: sqlite3.Connection, page: Page, selection: Selection) -> None:
    page.text(selection.text, label="Only those for which this holds:")
    left = selection.total - selection.chosen - selection.untold
    text = f"It holds for {selection.chosen} and not for {left}."
    if not selection.untold:
        text += " It could be told for all of them."
    else:
        paths = store.execute("SELECT path FROM temp.untold ORDER BY path LIMIT ?", (_UNTOLD,))
        some = _some([path for (path,) in paths], selection.untold)
        text += f" For {selection.untold} it cannot be told: {some}."
    page.text(text)


def _signed(store: sqlite3.Connection, page: Page, counts: Counts, today: date) -> None:
    """The most prominent part: what people rely on and should not."""
    number = counts.refused or "none before its last day"
    page.heading(f"Signed set-ups that would not pass today: {number}")
    rows = store.execute(
        f"SELECT * FROM ({SIGNED_ROWS}) WHERE refused AND NOT expired ORDER BY"
        " verdict = 'must not proceed' DESC, coalesce(answered, 0), path LIMIT :most",
        {"today": today.isoformat(), "most": _SIGNED},
    )
    names = [each[0] for each in rows.description]
    shown = 0
    for shown, values in enumerate(rows, 1):
        row = dict(zip(names, values, strict=True))
        today_is = row["verdict"] or "could not be reviewed"
        page.text(f"{_named(row['path'], row['title'])}: {today_is}.", indent=4, mark=f"{shown:>2}")
        page.text(" ".join((_sign_off(row), _first(store, row))), indent=4)
    if counts.refused > shown:
        page.text(f"and {counts.refused - shown} more; {_REST}.", indent=4)
    if counts.refused:
        page.text(
            'None of them should run on its old sign-off. "benchgate verify" says of a record what '
            "changed."
        )
    if counts.answered:
        page.text(
            f"{counts.answered} of them could not be judged when signed either, and somebody "
            'answered for what was open: "benchgate verify" says whether that covers what is open '
            "today."
        )
    if counts.expired_refused:
        several = counts.expired_refused > 1
        page.text(
            f"{words.counted(counts.expired_refused, 'sign-off')} past "
            f"{'their' if several else 'its'} last day would{' also' * bool(counts.refused)} not "
            "pass."
        )


def _sign_off(row: Mapping[str, Any]) -> str:
    if not row["signed_at"]:
        return "What was signed cannot be read."
    text = f"Signed on {row['signed_at'][:10]} as {row['signed_verdict'] or 'not known what'}"
    return f"{text}, to hold until {row['valid_until']}." if row["valid_until"] else f"{text}."


def _first(store: sqlite3.Connection, row: Mapping[str, Any]) -> str:
    """What speaks first against a set-up."""
    if row["state"] != "reviewed":
        return words.upper_first(_error(row["error"]))
    grade = "unacceptable" if row["verdict"] == "must not proceed" else "undetermined"
    criteria, criterion = store.execute(
        "SELECT count(DISTINCT criterion), min(criterion) FROM finding"
        " WHERE path = ? AND grade = ? AND blocks",
        (row["path"], grade),
    ).fetchone()
    if not criteria:
        return ""
    title, at, of, step = store.execute(
        "SELECT title, at, of, step FROM finding WHERE path = ? AND grade = ? AND criterion = ?"
        " AND blocks ORDER BY position LIMIT 1",
        (row["path"], grade, criterion),
    ).fetchone()
    told = "Unacceptable" if grade == "unacceptable" else "Not judged"
    more = f", and {criteria - 1} more" if criteria > 1 else ""
    where = _place(at, of, step)
    return f"{told}: {words.lower_first(title)}{f', {where}' if where else ''}{more}."


def _verdicts(page: Page, counts: Counts, selection: Selection, registers: bool) -> None:
    page.heading("Verdicts")
    told = [f"{number} {verdict}" for verdict, number in counts.verdicts.items() if number]
    if counts.errors:
        told.append(f"{counts.errors} could not be reviewed")
    none = "no set-up was looked at" if not selection.total else "the condition holds for no set-up"
    text = f"{words.listed(told)}." if told else f"There is none: {none}."
    if counts.failing:
        text += f" In {counts.failing} of them a single failure leads to something unacceptable."
    page.text(text)
    if counts.signed + counts.expired:
        page.text(_signed_in_words(counts, registers))


def _signed_in_words(counts: Counts, registers: bool) -> str:
    signed, expired = counts.signed + counts.expired, counts.expired
    text = f"{words.counted(signed, 'set-up')} {'is' if signed == 1 else 'are'} signed"
    if expired:
        text += f", {expired if expired < signed else 'all'} past the last day"
    text += "."
    if counts.signed and not counts.refused:
        text += " By the rules given here, each that is not past its last day would pass today."
    if counts.conditions_since:
        since = words.counted(counts.conditions_since, "set-up")
        text += f" {words.upper_first(since)} signed without conditions would have some today."
    return (
        f"{text} {'Signatures' if registers else 'Signatures, registers, withdrawals'} and the "
        "rules of then were not looked at: "
        '"benchgate verify" does that.'
    )


def _worst(store: sqlite3.Connection, page: Page, kinds: Mapping[str, Kind]) -> None:
    """Of each hazard the worst place of all; those that kill quickly first."""
    found = sorted(
        worst_findings(store, kinds),
        key=lambda one: (
            urgency(one[1].criterion), -excess(one[1], kinds) if one[1].kind else 0.0,
        ),
    )  # fmt: skip
    if not found:
        return
    page.heading("Worst findings")
    for position, (path, finding, when) in enumerate(found[:_WORST], 1):
        page.text(finding.title or finding.criterion, indent=4, mark=f"{position:>2}", style="bold")
        said = words.reading(finding, kinds)
        value = " ".join(part for part in (said.what, said.value) if part) if finding.kind else ""
        where = _place(finding.at, finding.of, finding.step)
        parts = [f"{path}, {where}" if where else path, value, said.wanted if value else "", when]
        head, *rest = (part for part in parts if part)
        page.text(f"{head}: {'; '.join(rest)}." if rest else f"{head}.", indent=4)


def _often(store: sqlite3.Connection, page: Page) -> None:
    rows = store.execute(
        "SELECT title, criterion, count(DISTINCT path) FROM finding JOIN temp.chosen USING (path)"
        " WHERE grade = 'unacceptable' GROUP BY criterion ORDER BY 3 DESC, criterion"
    ).fetchall()
    if not rows:
        return
    page.heading("What must change most often")
    for title, criterion, number in rows[:_OFTEN]:
        text = f"{words.lower_first(title or criterion)} ({criterion})"
        page.text(text, indent=6, mark=f"{number:>4}")
    _more(page, len(rows) - _OFTEN, "criterion", "criteria", 6)


def _unjudged(store: sqlite3.Connection, page: Page) -> None:
    """What nobody can tell, each with the reason that is given most often."""
    rows = store.execute(
        """
        SELECT criterion, title, reason, setups, total FROM (
            SELECT *, row_number() OVER (PARTITION BY criterion ORDER BY setups DESC, reason) AS n
            FROM (
                SELECT criterion, title, reason, count(DISTINCT path) AS setups FROM finding
                JOIN temp.chosen USING (path) WHERE grade = 'undetermined' AND blocks
                GROUP BY criterion, reason
            )
        ) JOIN (
            SELECT criterion, count(DISTINCT path) AS total FROM finding
            JOIN temp.chosen USING (path) WHERE grade = 'undetermined' AND blocks
            GROUP BY criterion
        ) USING (criterion) WHERE n = 1 ORDER BY total DESC, criterion
        """
    ).fetchall()
    if not rows:
        return
    page.heading("What cannot be judged")
    for criterion, title, reason, setups, total in rows[:_UNJUDGED]:
        told = _shortened(why(words.clean(reason)))
        example = "" if setups == total else "for example "
        text = f"{words.lower_first(title or criterion)}: {example}{told}"
        page.text(text, indent=6, mark=f"{total:>4}")
    _more(page, len(rows) - _UNJUDGED, "criterion", "criteria", 6)


def _gravest_setups(store: sqlite3.Connection, page: Page) -> None:
    rows = store.execute(
        """
        SELECT path, title, wrong, unknown FROM setup JOIN (
            SELECT path, count(DISTINCT CASE grade WHEN 'unacceptable' THEN criterion END) AS wrong,
                count(DISTINCT CASE WHEN grade = 'undetermined' AND blocks THEN criterion END)
                    AS unknown
            FROM finding JOIN temp.chosen USING (path) GROUP BY path
        ) USING (path) WHERE wrong ORDER BY wrong DESC, unknown DESC, path LIMIT ?
        """,
        (_SETUPS,),
    ).fetchall()
    if len(rows) < 2:
        return
    page.heading("Set-ups with the most to change")
    for path, title, wrong, unknown in rows:
        not_judged = f", {unknown} not judged" if unknown else ""
        page.text(f"{_named(path, title)}: {wrong} to change{not_judged}", indent=4, mark="  -")


def _errors(store: sqlite3.Connection, page: Page, counts: Counts) -> None:
    if not counts.errors:
        return
    page.heading("What could not be reviewed")
    rows = store.execute(
        "SELECT path, error FROM setup JOIN temp.chosen USING (path) WHERE state = 'error'"
        " ORDER BY path LIMIT ?",
        (_ERRORS,),
    ).fetchall()
    for path, error in rows:
        told = _error(error)
        label = "" if told.startswith(words.clean(path)) else f"{path}:"
        page.text(told, indent=4, mark="  -", label=label)
    if counts.errors > len(rows):
        page.text(f"and {counts.errors - len(rows)} more; {_REST}.", indent=4)


def _not_looked_at(store: sqlite3.Connection, page: Page, skipped: int, others: int) -> None:
    page.heading(NOT_LOOKED_AT)
    if skipped + others:
        was = "file was" if skipped + others == 1 else "files were"
        text = f"{skipped + others} {was} skipped, as neither a scenario nor a record."
    else:
        text = "No file was skipped."
    if skipped:
        rows = store.execute(
            f"SELECT path FROM setup {met(store)} WHERE state = 'skipped' ORDER BY path LIMIT ?",
            (_SKIPPED,),
        )
        text += f" YAML files among them: {_some([path for (path,) in rows], skipped)}."
    page.text(
        f'{text} Only the figures in each file were reviewed, not the bench. "benchgate checks" '
        "lists what no check covers."
    )


def _more(page: Page, number: int, one: str, many: str, indent: int) -> None:
    if number > 0:
        page.text(f"and {words.counted(number, one, many)} more.", indent=indent)


def _named(path: str, title: str | None) -> str:
    return f"{path} ({title})" if title else path


def _some(names: list[str], total: int) -> str:
    more = f" and {total - len(names)} more" if total > len(names) else ""
    return "; ".join(names) + more


def _error(text: str | None) -> str:
    """The first of a file's errors."""
    lines = [line for line in (text or "").splitlines() if line.strip()] or ["no reason was given"]
    more = f" (and {len(lines) - 1} more)" if len(lines) > 1 else ""
    return _shortened(words.clean(lines[0])) + more


def _shortened(text: str) -> str:
    return text if len(text) <= _LONG else f"{text[: _LONG - 3].rsplit(' ', 1)[0]} ..."


def _place(at: str, of: str, step: str) -> str:
    """Where: "at tube (hydrogen)"; a place that is a step is said as one."""
    where = words.in_step(at) if at and at == step else f"at {at}" if at else ""
    return " ".join(part for part in (where, f"({of})" if of else "") if part)
