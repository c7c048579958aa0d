"""The files of a register: what is written is whole and on the disk, or is not there at all."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from review.register.record import LARGEST, RecordError

#: How the name of a file begins and ends that has not taken its place yet.
_BEFORE, _AFTER = ".", ".unplaced"


def unplaced(path: Path) -> Path:
    """Where a file is written before it takes its place."""
    return path.with_name(f"{_BEFORE}{path.name}{_AFTER}")


def is_unplaced(name: str) -> bool:
    return name.startswith(_BEFORE) and name.endswith(_AFTER)


def place(path: Path) -> None:
    """Let a file that was written aside take its place, at one stroke."""
    os.replace(unplaced(path), path)


def write(path: Path, data: bytes) -> None:
    """Bytes to a file; they are on the disk when this returns."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _BINARY, 0o666)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def settle(folder: Path) -> None:
    """Wait until the names in a folder are on the disk."""
    if os.name == "nt":  # a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make(folder: Path) -> None:
    """A folder and those above it, where they are missing."""
    if not folder.is_dir():
        make(folder.parent)
        folder.mkdir(exist_ok=True)
        settle(folder.parent)


def remove(path: Path) -> None:
    with suppress(FileNotFoundError):
        os.unlink(path)


def read(path: Path) -> bytes:
    """The bytes of a file.

    Raises FileNotFoundError where there is none, and RecordError where it cannot be read.
    """
    try:
        # A pipe in the place of a file must not keep anybody waiting.
        handle = os.open(path, os.O_RDONLY | _BINARY | getattr(os, "O_NONBLOCK", 0))
        with open(handle, "rb") as stream:
            status = os.fstat(handle)
            if not stat.S_ISREG(status.st_mode):
                raise RecordError(f"{path.name} is no file")
            if status.st_size > LARGEST:
                raise RecordError(f"{path.name} is too large: at most {LARGEST} bytes")
            return stream.read()
    except FileNotFoundError:
        raise
    except OSError as error:
        raise RecordError(f"{path.name} cannot be read: {error.strerror or error}") from error


_BINARY: int = getattr(os, "O_BINARY", 0)
