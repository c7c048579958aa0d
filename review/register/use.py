"""Whether a sign-off is in use: countersigned, not withdrawn, runs left, files as they were."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from review.register import files
from review.register.also import remarks
from review.register.entries import Standing
from review.register.inspection import record_name
from review.register.record import Record, RecordError, sha256
from review.register.verified import Point
from review.render.words import clean, counted

#: What a page says of a sign-off without a second person.
AWAITED = "it awaits a second person: nobody may run it before they have countersigned"
ONE_PERSON = "one person signed it; nobody else has compared the set-up"


def standing_points(record: Record, became: Standing, one_person: bool = False) -> Iterator[Point]:
    """What was noted later; `one_person`: what one person signed was asked for."""
    if became.problems:
        yield Point("Noted later", became.problems, False)
    gone = became.withdrawn
    if gone is not None:
        said = f"{gone.data['by']} withdrew it on {gone.signed_at:%Y-%m-%d}: {gone.data['reason']}"
        yield Point("Withdrawn", (said,), False, idle=True)
    if record.second == "nobody":
        told = ONE_PERSON if one_person else f"{ONE_PERSON}. Where that is meant, add --one-person"
        yield Point("Second person", (told,), one_person)
    elif record.second == "later":
        found = became.countersigned
        if found is None and gone is None:
            yield Point("Second person", (AWAITED,), False, idle=True)
        elif found is not None:
            when = f"{found.signed_at:%Y-%m-%d %H:%M} UTC"
            said = f"{found.reviewer} countersigned it at {when}: {found.told['compared']}"
            yield Point("Second person", (said,))
    if became.runs:
        left = record.runs - len(became.runs)
        noted = tuple(run_in_words(run) for run in became.runs)
        told = f"{counted(len(became.runs), 'run')} of {record.runs} noted"
        if left <= 0:
            yield Point("Runs", (f"{told}: they are used up. Sign it again", *noted), False, True)
        else:
            yield Point("Runs", (f"{told}:", *noted))


def run_in_words(run: Record) -> str:
    """A run that was noted: when, by whom, what was seen, what the log said."""
    parts = [run.data["noted"]]
    parts += [f"INCIDENT: {run.data['incident']}"] if run.data["incident"] else []
    parts += [text for text in remarks(run) if text != run.data["incident"]]
    told = "; ".join(clean(part).rstrip(".") for part in parts if part)
    by = f"{clean(run.data['by'])} ({record_name(run.number)})"
    return f"{run.signed_at:%Y-%m-%d} by {by}: {told or 'nothing noted'}"


def attached(paths: tuple[Path, ...]) -> list[dict[str, str]]:
    """What a record says of files that are attached to it; raises RecordError where one is none."""
    found = []
    for path in paths:
        try:
            data = files.read(path)
        except FileNotFoundError:
            raise RecordError(f"there is no file {clean(str(path))} to attach") from None
        found.append({"name": path.name, "sha256": sha256(data)})
    return found


def attachments(record: Record, given: tuple[Path, ...]) -> Iterator[Point]:
    """Whether files given now are those that were attached."""
    named = {each["name"]: each["sha256"] for each in record.data.get("attached", ())}
    if not named and not given:
        return
    told, holds = [], True
    for path in given:
        now = sha256(files.read(path))
        name = clean(os.path.basename(path))
        if now in named.values():
            told.append(f"{name} is as it was attached")
        else:
            holds = False
            known = path.name in named
            told.append(
                f"{name} is not as it was attached" if known else f"{name} was not attached"
            )
    looked_at = {sha256(files.read(path)) for path in given}
    rest = [name for name, digest in named.items() if digest not in looked_at]
    if rest:
        told.append(f"not compared: {', '.join(map(clean, rest))}; add --attached")
    yield Point("Attached", tuple(told), holds)


def not_to_be_run(record: Record, became: Standing, today: date) -> list[str]:
    """Why nobody may run a set-up on this sign-off, by what its register says alone."""
    found = []
    if record.second == "later" and became.countersigned is None:
        found.append("the record awaits a second person")
    if became.withdrawn is not None:
        found.append(f"the record was withdrawn: {became.withdrawn.data['reason']}")
    if today > record.valid_until:
        found.append(f"{record.valid_until} was its last day")
    if len(became.runs) >= record.runs:
        found.append(f"its {counted(record.runs, 'run')} {_IS_ARE[record.runs > 1]} used up")
    return found


_IS_ARE = ("is", "are")


def signers(record: Record, became: Standing) -> str:
    """Who signed a record as what, in words."""
    preparer = f"{clean(record.preparer)} (prepared it)"
    if record.second == "nobody":
        return f"{preparer}; ONE PERSON, nobody else compared it"
    if record.second == "later" and became.countersigned is None:
        return f"{preparer}; awaits a second person"
    later = " (countersigned it)" if record.second == "later" else " (compared it)"
    return f"{preparer} and {clean(became.reviewer or record.reviewer)}{later}"
