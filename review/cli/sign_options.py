"""What the options of the command `sign` say."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from review.register.questions import Question


def free_name(name: str) -> str:
    """A file is never written over: what somebody has filled in may stand there."""
    stem, _, suffix = name.rpartition(".")
    names = (name, *(f"{stem}-{n}.{suffix}" for n in range(2, 1000)))
    return next(each for each in names if not Path(each).exists())


def number(text: str, name: str) -> int | None:
    from review.register.questions import MOST_RUNS
    from review.register.record import RecordError

    if not text.strip():
        return None
    if not text.strip().isdecimal() or not 1 <= int(text) <= MOST_RUNS:
        raise RecordError(f"{name}: runs is no number from 1 to {MOST_RUNS}")
    return int(text)


def on_terminal() -> bool:
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def split(given: Iterable[str], asked: Sequence[Question], option: str) -> dict[str, str]:
    """What is said, by the id it is said to; an id may itself hold the sign between the two."""
    from review.render.words import clean

    found: dict[str, str] = {}
    for text in given:
        known = [q.id for q in asked if text.startswith(f"{q.id}=")]
        id = max(known, key=len, default=text.partition("=")[0].strip())
        said = text[len(id) + 1 :] if known else text.partition("=")[2]
        if "=" not in text or not id:
            raise _malformed(option, text)
        if id in found:
            raise click.BadParameter(f"'{clean(id)}' is given twice", param_hint=f"'{option}'")
        found[id] = said.strip()
    return found


def answered(said: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    found = {}
    for id, text in said.items():
        role, colon, reason = text.partition(":")
        if not colon:
            raise _malformed("--answer", f"{id}={text}")
        found[id] = role.strip(), reason.strip()
    return found


def _malformed(option: str, text: str) -> click.BadParameter:
    from review.render.words import clean

    form, example = {
        "--accept": ("ID=TEXT", "heat.hot_part@tube=the guard is in place"),
        "--answer": ("ID=ROLE:REASON", "heat.joint@tube=teacher: it was hotter in the last run"),
    }[option]
    return click.BadParameter(
        f"'{clean(text)}' is not {form}, such as '{example}'", param_hint=f"'{option}'"
    )


def options_again(name: str, files: Iterable[Path]) -> list[str]:
    return [part for file in files for part in (name, str(file))]
