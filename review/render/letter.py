"""The letter: what a reader gets without asking, at most 60 lines of 80 columns.

What there is no room for is counted, and the full review has it all.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

from rich.console import Console

from review.interface.result import Review
from review.render import words
from review.render.page import Page
from review.render.phrases import shortened
from review.render.telling import Contents, Told, contents

LINES, COLUMNS = 60, 80
CAUSES, CONDITIONS, GAPS = 5, 10, 4
COLOURS = {
    "may proceed": "bold green",
    "may proceed with conditions": "bold yellow",
    "must not proceed": "bold red",
    "cannot be judged": "bold magenta",
}


@dataclass(frozen=True, slots=True)
class _Room:
    """How much is shown: fewer causes and conditions where the page would be too long."""

    causes: int = CAUSES
    conditions: int = CONDITIONS
    details: bool = True


def render_letter(review: Review, console: Console, quiet: bool = False) -> None:
    """Print the letter. `quiet`: the verdict, what to act on and the cautions."""
    room = _Room()
    smaller = (
        replace(room, details=False),
        *(_Room(causes, conditions, False) for causes, conditions in
          ((4, 10), (4, 8), (3, 8), (3, 6), (2, 6), (2, 4), (1, 3), (1, 1))),
    )  # fmt: skip
    said = contents(review)
    for fewer in (room, *smaller):
        if _length(review, said, fewer, quiet, console.width) <= LINES:
            room = fewer
            break
    else:
        room = smaller[-1]
    _write(review, said, Page(console), room, quiet)


def _length(review: Review, said: Contents, room: _Room, quiet: bool, width: int) -> int:
    text = io.StringIO()
    _write(review, said, Page(Console(file=text, width=width, color_system=None)), room, quiet)
    return text.getvalue().count("\n")


def _write(review: Review, said: Contents, page: Page, room: _Room, quiet: bool) -> None:
    page.text(review.title, style="bold")
    page.text(review.verdict.upper(), style=COLOURS.get(review.verdict, "bold"))
    _causes(said, page, room)
    _conditions(said, page, room)
    for text in said.loosened[:3]:
        page.blank()
        page.text(text, label="Loosened:")
    if len(said.loosened) > 3:
        page.text(f"and {len(said.loosened) - 3} more that were loosened (--full).")
    if not quiet:
        _otherwise(said, page)
        _unchecked(said, page)
    page.blank()
    for line in said.cautions:
        page.text(line)
    if said.contacts:
        page.text("; ".join(said.contacts[:2]), label="Emergency contacts:")
    page.text(f"Rules: {said.rules}. Full review: --full. Page: --format html")


def _causes(said: Contents, page: Page, room: _Room) -> None:
    if said.opening:
        page.blank()
        page.text(said.opening)
    for number, told in enumerate(said.causes[: room.causes], 1):
        page.blank()
        _cause(told, page, number, room.details or number == 1)
    more = said.causes[room.causes :]
    if more:
        page.blank()
        names = "; ".join(dict.fromkeys(told.headline.rstrip(".") for told in more[:2]))
        page.text(f"And {len(more)} more (--full), first: {shortened(names)}.")


def _cause(told: Told, page: Page, number: int, details: bool) -> None:
    page.text(told.headline, indent=3, mark=str(number), style="bold")
    for line in told.lines:
        if details or not line.detail:
            page.text(line.text, indent=3)
    if told.explain and details:
        page.text(f"benchgate explain FILE {told.explain}", indent=3, label="More:")


def _conditions(said: Contents, page: Page, room: _Room) -> None:
    if not said.acts:
        return
    page.blank()
    page.text(f"{said.conditions}:")
    page.blank()
    # What comes last in time is no less serious: the gravest stay when there is no room for all.
    kept = said.gravest[: room.conditions]
    for act in said.acts:
        if act.text in kept:
            page.text(act.text, indent=4, mark="[ ]")
    if len(said.acts) > len(kept):
        page.text(f"and {len(said.acts) - len(kept)} more (--full).", indent=4)


def _otherwise(said: Contents, page: Page) -> None:
    """The nearest limits among what is acceptable, and how many failures change nothing."""
    if said.nearest or said.played:
        page.blank()
    if said.nearest:
        page.text(said.nearest, label="Nearest limits otherwise:")
    if said.played:
        page.text(said.played)


def _unchecked(said: Contents, page: Page) -> None:
    """Only gaps that this set-up could have."""
    page.blank()
    if said.gaps:
        more = f"; and {len(said.gaps) - GAPS} more" if len(said.gaps) > GAPS else ""
        page.text(f"{'; '.join(said.gaps[:GAPS])}{more}.", label="Not checked here:")
    for note in said.notes[:1]:
        page.text(note, label="Data:")
    for line in said.further:
        page.text(f"{shortened(line.text, 230)}.", label=f"{line.label}:")
    if said.plugins:
        page.text(f"what plugins add ({words.listed(said.plugins)}): see --full.", label="Further:")
