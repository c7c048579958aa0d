"""The letter as Markdown (CommonMark with tables), for a pull request or a notebook of notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from review.interface.result import Cause, Review
from review.render.html import Row, rows_of
from review.render.runsheet_markdown import escaped, listed, table
from review.render.telling import Line, contents

#: So many rows of numbers for one cause; the page has them all.
_ROWS = 12
_HEADS = ("What", "Where", "Grade", "Value", "Wanted", "When")


def to_markdown(review: Review) -> str:
    """The letter as text. Whatever comes from a file stands there as it is, and forms nothing."""
    said = contents(review)
    parts = [f"# {escaped(review.title)}", f"**{review.verdict.upper()}**", said.opening]
    for number, told in enumerate(said.causes, 1):
        parts += [
            f"## {number}. {escaped(told.headline)}",
            *(_line(line) for line in told.lines),
            *_numbers(review, told.cause),
        ]
    if said.acts:
        parts += [f"## {said.conditions}", *listed(f"[ ] {escaped(a.text)}" for a in said.acts)]
    parts += [f"**Loosened:** {escaped(text)}" for text in said.loosened]
    if said.nearest:
        parts.append(_line(Line(said.nearest, "Nearest limits otherwise:")))
    parts.append(said.played)
    if said.gaps:
        parts += ["## Not checked here", *listed(map(escaped, said.gaps))]
    parts += [_line(Line(note, "Data:")) for note in said.notes]
    parts += [_line(Line(f"{line.text}.", f"{line.label}:")) for line in said.further]
    parts += ["## Before you rely on this review", *(escaped(line) for line in said.cautions)]
    if said.contacts:
        parts.append(_line(Line("; ".join(said.contacts), "Emergency contacts:")))
    rests = f"{escaped(review.path)}, sha256 {review.scenario_sha256[:16]}"
    parts.append(f"Rules: {escaped(said.rules)}. benchgate {review.version}. Scenario: {rests}.")
    return "\n\n".join(part for part in parts if part) + "\n"


def _line(line: Line) -> str:
    return f"**{escaped(line.label)}** {escaped(line.text)}" if line.label else escaped(line.text)


def _numbers(review: Review, cause: Cause) -> Iterable[str]:
    rows = rows_of(review, [review.findings[n] for n in cause.findings])
    yield table(_HEADS, (_cells(row) for row in rows[:_ROWS]))
    if len(rows) > _ROWS:
        yield f"and {len(rows) - _ROWS} more."


def _cells(row: Row) -> Sequence[str]:
    return [escaped(c) for c in (row.title, row.where, row.grade, row.value, row.limit, row.when)]
