"""What an audit's workers on other machines do, and what is sent to them: plain data both ways.

A worker builds its engine from texts of rules and plugins in a folder of its own, compares it with
what the caller has, and answers only where the two are the same.
"""

from __future__ import annotations

import json
import os
import tempfile
import threading
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from review.audit.store import Judged, Row
from review.audit.work import AuditError, Desk, Measured, Recipe, Task, Text, in_words
from review.engine.limited import VARIABLE, seconds_allowed
from review.provenance import code_hash, libraries

_working = threading.Lock()
_made: dict[str, tuple[Any, Desk | None, str]] = {}


def kit_of(recipe: Recipe, desk: Desk) -> dict[str, Any]:
    """What an engine is built from and must come to, as plain data. A new audit has a new one."""
    try:
        files = {
            part: [(Path(path).name, Path(path).read_bytes()) for path in getattr(recipe, part)]
            for part in ("plugins", "rules")
        }
    except OSError as error:
        raise AuditError(f"{error.filename} cannot be read: {error.strerror}") from error
    return {
        "id": uuid.uuid4().hex,
        **files,
        "seconds": seconds_allowed(),
        "key": asdict(desk.key),
        "code": code_hash(),
        "libraries": libraries(),
    }


def as_data(task: Task) -> dict[str, Any]:
    """A task as `answer` takes it."""
    return {"measured": isinstance(task, Measured), "task": asdict(task)}


def answer(kit: dict[str, Any], data: dict[str, Any]) -> dict[str, Any]:
    """What a worker says to a task: a row, a judgement, or why it refuses; never raises for a file.

    A worker with several threads works on one task at a time: an engine is not shared.
    """
    with _working:
        try:
            desk, why = _desk(kit)
            if desk is None:
                return {"refused": f"the worker {_name()} {why}"}
            task = (Measured if data["measured"] else Text)(**data["task"])
            result = desk.do(task)
        except Exception as error:
            return {"refused": f"the worker {_name()} could not do it: {in_words(error)}"}
    if isinstance(result, Judged):
        return {"judged": asdict(result)}
    return {"row": asdict(result), "data": _data_of(result), "worker": _name()}


def differing(kit: dict[str, Any]) -> str:
    """Why this worker cannot be used; "" where it can."""
    with _working:
        desk, why = _desk(kit)
    return "" if desk is not None else f"the worker {_name()} {why}"


def _desk(kit: dict[str, Any]) -> tuple[Desk | None, str]:
    """The desk of this audit, or why there is none; made once in each worker."""
    if kit["id"] not in _made:
        _made.clear()
        folder = tempfile.TemporaryDirectory(prefix="benchgate-")
        try:
            with _patience(kit["seconds"]):
                made = Desk(_unpacked(kit, Path(folder.name)))
            why = _differences(kit, made)
            _made[kit["id"]] = folder, None if why else made, why
        except Exception as error:
            why = f"could not load the rules and plugins: {in_words(error)}"
            _made[kit["id"]] = folder, None, why
    _, desk, why = _made[kit["id"]]
    return desk, why


@contextmanager
def _patience(seconds: float) -> Iterator[None]:
    """Plugins get the time here that the caller gives them."""
    before = os.environ.get(VARIABLE)
    os.environ[VARIABLE] = repr(seconds)
    try:
        yield
    finally:
        os.environ.pop(VARIABLE)
        if before is not None:
            os.environ[VARIABLE] = before


def _unpacked(kit: Mapping[str, Any], folder: Path) -> Recipe:
    """The files of a kit, each in a folder of its own, so that all keep their names."""
    paths: dict[str, list[str]] = {"plugins": [], "rules": []}
    for part, found in paths.items():
        for number, (name, content) in enumerate(kit[part]):
            path = folder / f"{part}-{number}" / Path(name).name
            path.parent.mkdir()
            path.write_bytes(content)
            found.append(str(path))
    return Recipe(tuple(paths["plugins"]), tuple(paths["rules"]))


def _differences(kit: Mapping[str, Any], desk: Desk) -> str:
    """How this worker differs from the caller; "" where its results are the caller's."""
    here, there = asdict(desk.key), kit["key"]
    told = []
    if code_hash() != kit["code"]:
        told.append("the code of benchgate")
    mine, theirs = libraries(), kit["libraries"]
    told += [
        f"{name} {mine.get(name, 'missing')} instead of {theirs.get(name, 'none')}"
        for name in sorted(mine.keys() | theirs.keys())
        if mine.get(name) != theirs.get(name)
    ]
    if here["code"] != there["code"] and not told:
        told.append("checks that did not load")
    told += [part for part in ("rules", "plugins") if here[part] != there[part]]
    if not told:
        return ""
    return f"is not as this machine, so its result was not asked for: other {', '.join(told)}"


def _data_of(row: Row) -> list[list[str]]:
    return [[d["kind"], d["name"], d["file"], d["sha256"]] for d in json.loads(row.data)]


def _name() -> str:
    try:
        from distributed import get_worker

        return str(get_worker().address)
    except Exception:
        return "here"
