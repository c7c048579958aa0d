"""The page that tells what became of the set-ups of an earlier audit, and why."""

from __future__ import annotations

import json
import sqlite3

from review.audit.causes import because
from review.audit.compare import Compared
from review.render import words
from review.render.page import Page

#: So many of each are shown; the rest is counted.
_WORSE, _BETTER, _NAMED, _WHY, _MOVES = 4, 2, 4, 5, 2
_REST = "--format json names them"


def draw_comparison(store: sqlite3.Connection, page: Page, compared: Compared) -> None:
    """Print what changed, the worse before the better, with what can be the cause."""
    page.heading(f"Compared with {compared.against}")
    changes = compared.changes
    told = [
        f"{changes['worse']} became worse" if changes["worse"] else "",
        f"{changes['better']} became better" if changes["better"] else "",
        f"{changes['new']} {_are(changes['new'])} new" if changes["new"] else "",
        f"{changes['gone']} {_are(changes['gone'])} gone" if changes["gone"] else "",
        f"{changes['otherwise']} changed otherwise" if changes["otherwise"] else "",
    ]
    same = f"{compared.same} {_are(compared.same)} as before"
    page.text(words.upper_first(f"{words.listed([*filter(None, told), same])}."))
    if compared.strangers:
        page.text("No path is in both. Paths are as the folders were named: was it another name?")
    _listed(store, page, "worse", "Became worse", _WORSE)
    _listed(store, page, "better", "Became better", _BETTER)
    _listed(
        store, page, "otherwise", "Verdict changed, but the set-up is not better for it", _BETTER
    )
    _no_more(store, page)
    _why(store, page)
    if changes["new"] or changes["gone"]:
        page.blank()
    for change, title in (("new", "New"), ("gone", "Gone")):
        _named(store, page, change, title, changes[change])


def _listed(store: sqlite3.Connection, page: Page, change: str, heading: str, most: int) -> None:
    which = "change = :change"
    if change == "otherwise":
        which += " AND verdict_then != verdict_now"
    rows = store.execute(
        "SELECT path, title, verdict_then, verdict_now,"
        f" (SELECT count(*) FROM temp.change WHERE {which}) FROM temp.change WHERE {which}"
        " ORDER BY verdict_then != verdict_now DESC, verdict_now = 'must not proceed' DESC, path"
        " LIMIT :most",
        {"change": change, "most": most},
    ).fetchall()
    if not rows:
        return
    page.heading(heading)
    for position, (path, title, then, now, _) in enumerate(rows, 1):
        verdicts = f"was: {then}, now: {now}" if then != now else f"{now}, as before"
        name = f"{path} ({title})" if title else path
        page.text(f"{name}; {verdicts}.", indent=4, mark=f"{position:>2}")
        _moves(store, page, path, change)
    if (more := rows[0][4] - len(rows)) > 0:
        page.text(f"and {more} more; {_REST}.", indent=4)


def _moves(store: sqlite3.Connection, page: Page, path: str, change: str) -> None:
    """The findings that decide; the same move in several cases is said once."""
    decisive = ("gone", "other") if change == "otherwise" else (change, change)
    rows = store.execute(
        """
        SELECT title, criterion, at, of, grade_then, grade_now, because, way, min(position)
        FROM temp.moved WHERE path = ? GROUP BY criterion, at, of, grade_then, grade_now, because
        ORDER BY way NOT IN (?, ?), 9
        """,
        (path, *decisive),
    ).fetchall()
    for title, criterion, at, of, then, now, why, _, _ in rows[:_MOVES]:
        where = words.place(at, of)
        what = f"{title or criterion}, {where}" if where else title or criterion
        page.text(f"{what}: {_step(then, now)}, {because(json.loads(why))}.", indent=4)
    if len(rows) > _MOVES:
        others = rows[_MOVES:]
        worse = sum(row[7] == "worse" for row in others)
        also = f", {worse} of them worse" if worse and change != "worse" else ""
        page.text(f"and {words.counted(len(others), 'finding')} more{also}.", indent=4)
    if not rows:
        causes = store.execute("SELECT cause FROM temp.cause WHERE path = ?", (path,)).fetchall()
        page.text(words.upper_first(f"{because([cause for (cause,) in causes])}."), indent=4)


def _step(then: str, now: str) -> str:
    if not then:
        return f"{now}, and not there before"
    return f"{then} before, and not asked for now" if not now else f"{then} before, {now} now"


def _no_more(store: sqlite3.Connection, page: Page) -> None:
    """Rules that were asked for and are no more: silence is not a pass."""
    rows = store.execute(
        """
        SELECT title, criterion, count(DISTINCT path) FROM temp.moved
        WHERE grade_now = '' AND NOT EXISTS (
            SELECT 1 FROM finding WHERE path = moved.path AND criterion = moved.criterion
        ) GROUP BY criterion ORDER BY 3 DESC, criterion
        """
    ).fetchall()
    if not rows:
        return
    page.heading("Asked for before and not now, by number of set-ups")
    for title, criterion, number in rows[:_WHY]:
        said = f"{words.lower_first(title)} ({criterion})" if title else criterion
        page.text(said, indent=6, mark=f"{number:>4}")
    if len(rows) > _WHY:
        more = words.counted(len(rows) - _WHY, "criterion", "criteria")
        page.text(f"and {more} more.", indent=6)


def _why(store: sqlite3.Connection, page: Page) -> None:
    """What can be the cause of most changes."""
    rows = store.execute(
        "SELECT cause, count(*) FROM temp.cause GROUP BY cause ORDER BY 2 DESC, cause"
    ).fetchall()
    if not rows:
        return
    page.heading("What can be the cause, by number of set-ups")
    for cause, number in rows[:_WHY]:
        page.text(cause, indent=6, mark=f"{number:>4}")
    if len(rows) > _WHY:
        page.text(f"and {words.counted(len(rows) - _WHY, 'cause')} more.", indent=6)


def _named(store: sqlite3.Connection, page: Page, change: str, title: str, total: int) -> None:
    if not total:
        return
    paths = store.execute(
        "SELECT path FROM temp.change WHERE change = ? ORDER BY path LIMIT ?", (change, _NAMED)
    ).fetchall()
    more = f" and {total - len(paths)} more" if total > len(paths) else ""
    page.text(f"{'; '.join(path for (path,) in paths)}{more}.", label=f"{title}:")


def _are(number: int) -> str:
    return "is" if number == 1 else "are"
