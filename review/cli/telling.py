"""Messages on standard error that several verbs share: wrapped, harmless, commands left whole."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Iterable

import click

_WIDTH = 80


def complain(lines: Iterable[str]) -> None:
    """On standard error; what came from a file cannot steer the terminal. Commands stay whole."""
    from review.render.words import clean

    shown: list[str] = []
    for line in lines:
        if line.lstrip(" ").startswith(("--", "benchgate ")):
            shown.append("  " + clean(line))
        else:
            lead = "  - " if line.startswith("  - ") else ""
            shown += textwrap.wrap(
                lead + clean(line.removeprefix(lead)), _WIDTH, subsequent_indent=" " * len(lead),
                break_long_words=False, break_on_hyphens=False,
            )  # fmt: skip
    click.echo("\n".join([f"benchgate: {shown[0]}", *shown[1:]]), err=True)


def command(*parts: object) -> str:
    """A command line of benchgate that can be copied."""
    return shlex.join(["benchgate", *map(str, parts)])
