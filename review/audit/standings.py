"""Whether sign-offs that an audit met are in use, as their registers say; nothing is reviewed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from review.register.chain import Register
from review.register.entries import standing
from review.register.inspection import in_a_register, record_name
from review.register.record import RecordError
from review.register.use import ONE_PERSON, not_to_be_run
from review.render.words import clean

#: What a copy cannot tell.
APART = "a copy by itself: only its register tells whether it was withdrawn"


@dataclass(frozen=True, slots=True)
class Standing:
    """Why nobody may run a set-up on a sign-off, in words; `alone`: one person signed it."""

    why: tuple[str, ...] = ()
    alone: bool = False
    awaits: bool = False


def standings(
    paths: Iterable[str], today: date
) -> tuple[Mapping[str, Standing], Mapping[str, str]]:
    """By the path of a record what has become of it, and by folder why a register is not in order.

    Signatures are not checked for who made them, which `benchgate verify` does.
    """
    folders: dict[Path, list[str]] = {}
    found: dict[str, Standing] = {}
    for path in paths:
        try:
            inside = in_a_register(Path(path))
        except OSError:
            inside = False
        if inside:
            folders.setdefault(Path(path).parent, []).append(path)
        else:
            found[path] = Standing((APART,))
    broken: dict[str, str] = {}
    for folder, named in sorted(folders.items()):
        register = Register(folder)
        try:
            problems = register.problems()
            told = {} if problems else dict(_told(register, today))
        except RecordError as error:
            problems, told = (str(error),), {}
        if problems:
            broken[str(folder)] = clean(problems[0])
        lost = Standing(("its register is not in order",))
        found |= {path: told.get(Path(path).name, lost) for path in named}
    return found, broken


def _told(register: Register, today: date) -> Iterator[tuple[str, Standing]]:
    entries = register.entries()
    for record in entries:
        if record.kind != "sign-off":
            continue
        became = standing(record, entries)
        alone = record.second == "nobody"
        awaits = (
            record.second == "later" and became.countersigned is None and became.withdrawn is None
        )
        why = (ONE_PERSON,) * alone + tuple(not_to_be_run(record, became, today))
        yield record_name(record.number), Standing(why, alone, awaits)
