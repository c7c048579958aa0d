"""What changed since a set-up was signed last, for whoever signs it again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from review.engine.reviewing import Engine
from review.interface.result import Review
from review.register.comparison import scenario_changes
from review.register.entries import standing
from review.register.record import Record
from review.register.since import since
from review.register.use import AWAITED, run_in_words
from review.render.words import counted

_MOST = 12


def renewal(
    before: Record, file: Path, engine: Engine, review: Review, entries: Sequence[Record]
) -> tuple[str, ...]:
    """Each thing that changed, a line; `before` is the last sign-off of the scenario in `file`."""
    text = file.read_bytes().decode("utf-8")
    changes = [each.words for each in scenario_changes(before.scenario_text, text) if not each.same]
    changed = since(before.data, engine, review)
    grounds = [*changed.absent, *changed.other, *changed.rules.values(), *changed.grounds]
    became = standing(before, entries)
    lines = [
        *_cut(changes, "the file has not changed"),
        *_cut(grounds, "rules, data and code have not changed"),
    ]
    if review.verdict != before.verdict:
        lines.append(f"the verdict was '{before.verdict}', is '{review.verdict}'")
    if before.second == "later" and became.countersigned is None:
        lines.append(f"record {before.number}: {AWAITED}")
    if became.withdrawn is not None:
        lines.append(f"it was withdrawn: {became.withdrawn.data['reason']}")
    lines.append(f"{counted(len(became.runs), 'run')} of {before.runs} noted")
    lines += [run_in_words(run) for run in became.runs]
    return tuple(lines)


def _cut(found: Sequence[str], none: str) -> list[str]:
    if not found:
        return [none]
    rest = len(found) - _MOST
    return [*found[:_MOST], *([f"and {counted(rest, 'other change')}"] if rest > 0 else [])]
