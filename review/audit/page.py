"""An audit as one HTML page for whoever answers for a room: what may run, on whose word, how long.

Nothing is fetched and no script is needed; the list sorts by buttons of the page itself.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote

import yaml

from review.audit.compare import Compared
from review.audit.figures import VERDICTS
from review.audit.select import Selection
from review.audit.standings import Standing, standings
from review.audit.summary import NOT_LOOKED_AT, write_details, write_summary
from review.interface.plugin import Kind
from review.render import words
from review.render.html import environment
from review.render.page import Blocks
from review.scenario.errors import InputError
from review.scenario.yaml import read_bytes

#: A sign-off that ends within so many days is worth a look now.
SOON_DAYS = 30
#: So many changes that would clear set-ups, and changed verdicts, are told.
_CHANGES, _HISTORIES = 5, 30
NOBODY = "not stated"


@dataclass(frozen=True, slots=True)
class Listed:
    """One set-up in the list. `orders` is its place by verdict, file, owner and last day.

    `room` is the one that the file states, else its folder; `standing` is of a sign-off.
    """

    path: str
    title: str
    verdict: str
    owner: str
    room: str
    signed: str
    until: str
    cylinders: tuple[str, ...]
    link: str
    then: str
    text: str
    standing: Standing = Standing()
    orders: tuple[int, ...] = ()


def to_html(
    store: sqlite3.Connection,
    kinds: Mapping[str, Kind],
    selection: Selection,
    today: date,
    *,
    done: str = "",
    compared: Compared | None = None,
    others: int = 0,
    beside: Path | None = None,
) -> str:
    """The page. Links lead to a set-up's own page where one lies beside its file.

    `beside` is the folder that the page will lie in, which links start from.
    """
    blocks, details = Blocks(), Blocks()
    write_summary(
        store, blocks, kinds, selection, today, done=done, compared=compared, others=others,
        quiet=True, registers=True,
    )  # fmt: skip
    write_details(store, details, kinds)
    last = next(n for n, block in enumerate(blocks.blocks) if block.text == NOT_LOOKED_AT)
    setups = _ordered(list(_setups(store, compared is not None, beside or Path())))
    became, broken = standings((s.path for s in setups if s.signed), today)
    setups = [replace(s, standing=became.get(s.path, s.standing)) for s in setups]
    soon = (today + timedelta(days=SOON_DAYS)).isoformat()
    now = today.isoformat()
    return environment().get_template("audit.html.j2").render(
        title=f"Audit of {words.counted(selection.total, 'set-up')}",
        blocks=blocks.blocks[1:last],
        details=details.blocks,
        end=blocks.blocks[last:],
        counts=[(v, sum(s.verdict == v for s in setups)) for v in (*VERDICTS, "not reviewed")],
        setups=setups,
        groups=_groups(setups),
        waiting=[s for s in setups if s.standing.awaits],
        unused=[s for s in setups if s.standing.why and not s.standing.awaits],
        broken=sorted(broken.items()),
        history=_history(store),
        unsigned=_unsigned(setups),
        expiring=[s for s in setups if now <= s.until <= soon],
        clears=list(_clears(store)),
        cylinders=_cylinders(setups),
        compared=compared is not None,
        soon=SOON_DAYS,
        today=now,
    )  # fmt: skip


def _setups(store: sqlite3.Connection, compared: bool, beside: Path) -> Iterator[Listed]:
    then = _then(store) if compared else {}
    rows = store.execute(
        "SELECT path, source, state, title, verdict, signed_verdict, signed_at, valid_until,"
        " scenario_sha256 FROM setup JOIN temp.chosen USING (path) ORDER BY path"
    )
    for path, source, state, title, verdict, signed_verdict, signed_at, until, text in rows:
        data = _data(path, source)
        signed = f"{signed_verdict}, {(signed_at or '')[:10]}" if signed_verdict else ""
        yield Listed(
            path, title or Path(path).name, verdict if state == "reviewed" else "not reviewed",
            _stated(data, "prepared_by"), _stated(data, "room", str(Path(path).parent)), signed,
            until or "", tuple(_held(data)),
            _link(path, beside), then.get(path, ""), text or "",
        )  # fmt: skip


def _then(store: sqlite3.Connection) -> dict[str, str]:
    return dict(store.execute("SELECT path, verdict_then FROM temp.change"))


def _data(path: str, source: str) -> dict[str, Any]:
    """The file as plain data; {} where it cannot be read as such."""
    try:
        content = Path(path).read_bytes()
        if source == "record":
            return {"prepared_by": json.loads(content)["preparer"]} | read_bytes(
                json.loads(content)["scenario"]["text"].encode(), path
            ).data
        return read_bytes(content, path).data
    except (OSError, ValueError, KeyError, TypeError, AttributeError, InputError, yaml.YAMLError):
        return {}


def _stated(data: Mapping[str, Any], key: str, else_: str = NOBODY) -> str:
    given = data.get(key)
    return words.clean(given) if isinstance(given, str) and given.strip() else else_


def _held(data: Mapping[str, Any]) -> Iterator[str]:
    """The cylinders of a set-up by the names of their reagents."""
    reagents = data.get("reagents")
    for name, reagent in reagents.items() if isinstance(reagents, dict) else ():
        held = reagent.get("held") if isinstance(reagent, dict) else None
        if held == "cylinder" or (isinstance(held, dict) and held.get("as") == "cylinder"):
            yield str(name)


def _link(path: str, beside: Path) -> str:
    """The address of a set-up's own page, "" where none lies beside its file."""
    page = Path(path).with_suffix(".html")
    if not page.is_file():
        return ""
    return quote(os.path.relpath(page, beside).replace(os.sep, "/"))


def _ordered(setups: list[Listed]) -> list[Listed]:
    """The gravest first, each with its place in every order."""
    ranks = [*VERDICTS, "not reviewed"]
    keys: tuple[Callable[[Listed], tuple[Any, ...]], ...] = (
        lambda s: (ranks.index(s.verdict) if s.verdict in ranks else -1, s.path),
        lambda s: (s.path,),
        lambda s: (s.owner == NOBODY, s.owner.casefold(), s.path),
        lambda s: (s.until == "", s.until, s.path),
    )
    places = []
    for key in keys:
        order = sorted(setups, key=key)
        places.append({s.path: n for n, s in enumerate(order)})
    numbered = [replace(s, orders=tuple(place[s.path] for place in places)) for s in setups]
    return sorted(numbered, key=lambda s: s.orders[0])


def _unsigned(setups: list[Listed]) -> list[Listed]:
    """What may proceed and nobody has signed as it stands: no record in use holds this text."""
    signed = {s.text for s in setups if s.signed and not s.standing.why}
    awaited = {s.text for s in setups if s.standing.awaits}
    return [
        s for s in setups
        if s.verdict.startswith("may") and not s.signed and s.text not in signed | awaited
    ]  # fmt: skip


def _groups(setups: list[Listed]) -> list[tuple[str, ...]]:
    """By room and owner, how many set-ups may proceed and how many not."""
    found: dict[tuple[str, str], dict[str, int]] = {}
    for s in setups:
        counts = found.setdefault((s.room, s.owner), {})
        counts[s.verdict] = counts.get(s.verdict, 0) + 1
    rows: list[tuple[str, ...]] = []
    for (room, owner), counts in sorted(found.items()):
        refused = sum(n for verdict, n in counts.items() if not verdict.startswith("may"))
        total = sum(counts.values())
        rows.append((room, owner, str(total), str(total - refused), str(refused)))
    return rows


def _cylinders(setups: list[Listed]) -> list[tuple[str, str, str]]:
    """How many cylinders the set-ups of a room name; one gas may stand in several set-ups."""
    found: dict[str, list[str]] = {}
    for s in setups:
        if s.cylinders and not s.signed:
            found.setdefault(s.room, []).extend(s.cylinders)
    return [
        (room, str(len(names)), ", ".join(sorted(set(names))))
        for room, names in sorted(found.items())
    ]


def _history(store: sqlite3.Connection) -> list[tuple[str, str]]:
    """Verdicts that changed from one audit to another, the last change first."""
    found: dict[str, list[tuple[str, str]]] = {}
    for path, since, verdict in store.execute(
        "SELECT path, since, verdict FROM history JOIN temp.chosen USING (path) ORDER BY since"
    ):
        found.setdefault(path, []).append((since, verdict))
    changed = [(path, steps) for path, steps in found.items() if len(steps) > 1]
    changed.sort(key=lambda one: one[1][-1][0], reverse=True)
    return [
        (path, "; ".join(f"{since[:10]} {verdict}" for since, verdict in steps))
        for path, steps in changed[:_HISTORIES]
    ]


def _clears(store: sqlite3.Connection) -> Iterator[tuple[str, str, str]]:
    """Criteria by how many set-ups they stand against, and for how many nothing else does."""
    rows = store.execute(
        """
        WITH against AS (
            SELECT DISTINCT path, criterion, title FROM finding JOIN temp.chosen USING (path)
            WHERE grade = 'unacceptable' OR (grade = 'undetermined' AND blocks)
        ), alone AS (
            SELECT path FROM against GROUP BY path HAVING count(DISTINCT criterion) = 1
        )
        SELECT min(title), count(DISTINCT path), total(path IN (SELECT path FROM alone))
        FROM against GROUP BY criterion ORDER BY 3 DESC, 2 DESC, criterion LIMIT ?
        """,
        (_CHANGES,),
    )
    for title, stands, alone in rows:
        yield title, str(stands), str(int(alone))
