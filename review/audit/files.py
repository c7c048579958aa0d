"""Which files of some folders an audit looks at, and their bytes.

Every YAML file may be a scenario and every JSON file a record, or a scenario since JSON is YAML;
what else lies there is counted.
Folders are walked in the order of their names. A folder or file that links lead to more than once
is met once, so that links in a loop end. What cannot be read is found too, with the reason: what
nobody could look at must be seen.
"""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Literal

from review.register.record import LARGEST, is_note, looks_like_record
from review.scenario.yaml import LARGEST_FILE

YAML, JSON = (".yaml", ".yml"), (".json",)
#: Beside the records of a register; no scenario and no record, and not worth a word.
_SILENT = (".sig", ".lock")
_REGISTER_MARK = b'"benchgate_register"'
#: How a record's file begins; a changed byte in here leaves the marks that stand further on.
_BEGINS = b'{\n "answers": ['
_HEAD = 1_000_000
_TRAIN = b'"train"'
#: Where nothing has the name any more, it went away since its folder was listed. Any other error,
#: such as a name that is too long or a folder that nobody may look into, hides something.
_AWAY = (FileNotFoundError, NotADirectoryError)
_ESCAPED = re.compile(r"\\x[0-9a-f]{2}")


class Unreadable(Exception):
    """A file or folder that cannot be read; the message says why, in words."""


@dataclass(frozen=True, slots=True)
class Found:
    """A file to look at: its path, what it may be, and why it cannot be read if that is so.

    `named` files were named themselves, rather than a folder above them.
    """

    path: str
    source: Literal["scenario", "record", "other"]
    error: str = ""
    named: bool = False

    @property
    def shown(self) -> str:
        """The path as any text can hold it: bytes that are no UTF-8 are escaped.

        No two paths come to the same, not even where a name itself holds such an escape.
        """
        return _shown(self.path)


@dataclass(slots=True)
class Finds:
    """What lies in the folders `named`: files to look at, and how many others."""

    named: list[str]
    files: list[Found] = field(default_factory=list)
    others: int = 0

    @property
    def unread(self) -> list[str]:
        """Folders and files that could not be looked into."""
        return [found.shown for found in self.files if found.error]


def find(named: Sequence[str | os.PathLike[str]], pass_over: Collection[str] = ()) -> Finds:
    """Every YAML and JSON file in and below the folders, or the files named themselves.

    Paths are as the folder is named, joined with what lies below it, with forward slashes.
    `pass_over` are real paths of files that are not even counted, such as the store itself.
    """
    names = [PurePath(each).as_posix() for each in named]
    finds = Finds([_shown(name) for name in names])
    seen: set[tuple[int, int]] = set()
    waiting = [(name, True) for name in reversed(names)]
    while waiting:
        path, is_named = waiting.pop()
        try:
            about = os.stat(path)
        except OSError as error:
            if os.path.lexists(path) or not isinstance(error, _AWAY):
                finds.files.append(Found(path, _source(path), _why(error), is_named))
            continue
        if stat.S_ISREG(about.st_mode) and _is_one_of(path, pass_over):
            continue
        if stat.S_ISREG(about.st_mode) and not _wanted(path, is_named):
            finds.others += not path.endswith(_SILENT)
            continue
        if stat.S_ISDIR(about.st_mode) or stat.S_ISREG(about.st_mode):
            if (about.st_dev, about.st_ino) in seen:
                continue
            seen.add((about.st_dev, about.st_ino))
        if stat.S_ISDIR(about.st_mode):
            try:
                below = sorted(os.listdir(path), reverse=True)
            except OSError as error:
                finds.files.append(Found(path, "other", f"the folder {_why(error)}", is_named))
                continue
            waiting += [((PurePath(path) / name).as_posix(), False) for name in below]
        elif stat.S_ISREG(about.st_mode):
            finds.files.append(Found(path, _source(path, is_named), "", is_named))
        elif _wanted(path, is_named):
            why = "is not a regular file, and was not opened"
            finds.files.append(Found(path, _source(path), why, is_named))
        else:
            finds.others += 1
    return finds


def content(found: Found) -> bytes | None:
    """The bytes of a file; None for a JSON file of another kind that was not named itself.

    Raises `Unreadable`. Never reads more than a scenario or record may be large, and never waits
    for a pipe that took the place of a file.
    """
    if found.error:
        raise Unreadable(found.error)
    largest = LARGEST if found.source == "record" else LARGEST_FILE
    try:
        handle = os.open(found.path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        with open(handle, "rb") as file:
            about = os.fstat(handle)
            if not stat.S_ISREG(about.st_mode):
                raise Unreadable("is not a regular file, and was not read")
            if found.source == "record":
                head = file.read(_HEAD)
                if not (_may_be_record(head) or found.named or _in_a_register(found.path)):
                    file.seek(0)
                    data = file.read(LARGEST_FILE + 1) if _TRAIN in head else b""
                    return data if is_json_scenario(data) else None
                file.seek(0)
            if about.st_size > largest:
                raise Unreadable(f"is too large: {about.st_size} bytes, at most {largest}")
            data = file.read(largest + 1)
            return None if found.source == "record" and is_note(data) else data
    except FileNotFoundError as error:
        is_link = os.path.islink(found.path)
        raise Unreadable(_why(error) if is_link else "went away during the audit") from None
    except OSError as error:
        raise Unreadable(_why(error)) from None


def is_json_scenario(data: bytes) -> bool:
    """Whether bytes are a scenario that was written as JSON.

    >>> is_json_scenario(b'{"title": "a", "train": []}'), is_json_scenario(b'{"loss": 1}')
    (True, False)
    """
    if _TRAIN not in data or _may_be_record(data[:_HEAD]):
        return False
    try:
        told = json.loads(data)
    except (ValueError, RecursionError):
        return False
    return isinstance(told, dict) and "train" in told


def _may_be_record(head: bytes) -> bool:
    return head.startswith(_BEGINS) or looks_like_record(head)


def is_head(found: Found) -> bool:
    """Whether a JSON file that is no record belongs to a register, and so goes unmentioned."""
    try:
        if os.path.basename(found.path) != "head.json":
            with open(found.path, "rb") as file:
                return _in_a_register(found.path) and is_note(file.read(LARGEST))
        with open(found.path, "rb") as file:
            return _REGISTER_MARK in file.read(_HEAD)
    except OSError:
        return False


def _shown(path: str) -> str:
    return "/".join(_shown_part(os.fsencode(part)) for part in path.split("/"))


def _shown_part(name: bytes) -> str:
    text = name.decode("utf-8", "backslashreplace")
    if not _ESCAPED.search(text):
        return text
    return name.replace(b"\\", b"\\\\").decode("utf-8", "backslashreplace")


def _in_a_register(path: str) -> bool:
    """Whether a file has a record's name in a register: it must be one, whatever it holds now."""
    folder, name = os.path.split(path)
    stem = name.removesuffix(".json")
    head = Found(os.path.join(folder, "head.json"), "record")
    return len(stem) >= 6 and stem.isdecimal() and is_head(head)


def _wanted(path: str, is_named: bool) -> bool:
    return is_named or path.lower().endswith(YAML + JSON)


def _source(path: str, is_named: bool = False) -> Literal["scenario", "record", "other"]:
    if path.lower().endswith(JSON):
        return "record"
    return "scenario" if _wanted(path, is_named) else "other"


def _is_one_of(path: str, paths: Collection[str]) -> bool:
    name = os.path.basename(path)
    return any(os.path.basename(each) == name for each in paths) and os.path.realpath(path) in paths


def _why(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "is a link that leads nowhere"
    return f"cannot be read: {error.strerror or error}"
