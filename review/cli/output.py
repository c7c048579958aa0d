"""Getting text out: consoles, files written whole or not at all, pipes that close early."""

from __future__ import annotations

import gc
import io
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.replacing import replaced

if TYPE_CHECKING:
    from rich.console import Console

_PIPE_WIDTH = 80

EXIT_STATUS = {
    "may proceed": 0,
    "may proceed with conditions": 0,
    "must not proceed": 1,
    "cannot be judged": 1,
}


@contextmanager
def loading() -> Iterator[None]:
    """Loads without looking for garbage, then or later: what is loaded stays to the end."""
    gc.unfreeze()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def rendered(draw: Callable[[Console], None], *, to_file: bool = False) -> str:
    """What `draw` prints, complete before anything reaches the reader.

    Colour and the terminal's width only on a terminal, and no colour where `NO_COLOR` is set.
    """
    from rich.console import Console

    terminal = sys.stdout is not None and sys.stdout.isatty() and not to_file
    colour = terminal and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    text = io.StringIO()
    console = Console(
        file=text,
        width=shutil.get_terminal_size().columns if terminal else _PIPE_WIDTH,
        force_terminal=colour,
        color_system="standard" if colour else None,
        legacy_windows=False,
    )
    draw(console)
    return text.getvalue()


def write(text: str) -> None:
    """Text to standard output. A reader that stopped reading is no fault.

    Raises `click.ClickException` where standard output was closed before the command began.
    """
    if sys.stdout is None:
        raise click.ClickException("standard output is closed; nothing can be shown")
    try:
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        # The interpreter flushes once more at exit; let that go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def write_file(path: Path, text: str | bytes, keep: tuple[Path, ...] = ()) -> None:
    """Text or bytes to a file that is either complete or untouched.

    Raises `click.ClickException` where the path cannot be written or is one of the inputs.
    """
    data = text if isinstance(text, bytes) else (text + "\n" * (text[-1:] != "\n")).encode()
    try:
        target = path.resolve()
        if any(target == other.resolve() for other in keep):
            raise click.ClickException(f"{path} is an input of this review; choose another --out")
        replaced(target, [data])
    except OSError as error:
        raise click.ClickException(f"cannot write {path}: {error.strerror or error}") from error


def write_new(path: Path, text: str) -> None:
    """Text to a file that was not there. Raises `click.ClickException` where it was."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise click.ClickException(f"cannot write {path}: {error.strerror or error}") from error
