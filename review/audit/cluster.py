"""The work of an audit on many machines: a Dask cluster as a pool (``audit --scheduler``).

What goes to a worker and comes back is plain data: texts, bytes and numbers. Rules and plugin files
travel as texts, and a worker builds its engine from them in a folder of its own. Before it answers,
it compares its code, libraries, rules and plugins with the caller's, and so does the caller with
the data that an answer rests on. Where anything differs there is an error row and no result.
"""

from __future__ import annotations

import json
import logging
import os
import tempfile
import threading
import time
import uuid
import warnings
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import asdict
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from review.audit.store import Judged, Row
from review.audit.work import (
    AuditError,
    Desk,
    Measured,
    Recipe,
    Task,
    Text,
    in_words,
    looked_up,
)
from review.limited import VARIABLE, seconds_allowed, within
from review.provenance import code_hash, libraries

#: Seconds to wait for a scheduler to answer, and then for a first worker.
_CONNECT, _WORKERS = 8.0, 8.0
#: So often a task whose worker died is given to another one.
_RETRIES = 2
#: Seconds without any worker after which the audit gives up, and between two looks.
_ALONE, _LOOK = 60.0, 2.0
_MOST_AT_ONCE = 1000
_DIED = (
    "the worker that had it died, and so did others it was given to then; perhaps this set-up, or "
    "another one that was worked on beside it, needs more memory than there is"
)


class ClusterError(Exception):
    """The cluster cannot be used; the message says why, in words."""


class Cluster:
    """A pool of the workers behind a Dask scheduler.

    `desk` is the caller's own: it says what the workers must have too. Raises `ClusterError`
    within about ten seconds where no scheduler answers at `address` or it has no workers, and
    ImportError without the package distributed.
    """

    died: tuple[type[BaseException], ...] = ()

    def __init__(
        self, address: str, recipe: Recipe, desk: Desk, *, seconds_alone: float = _ALONE
    ) -> None:
        self._desk, self._kit = desk, _kit(recipe, desk)
        self._seconds_alone = seconds_alone
        self._client = _connected(address)
        self._address = address
        self._lock = threading.Lock()
        self._waiting: dict[Future[Row | Judged], Any] = {}
        self._ended = threading.Event()
        self._data: dict[tuple[str, str], tuple[str, str]] = {}
        try:
            self._most_deaths_before = _at_most_deaths(self._client, _RETRIES)
            self.width = _width(self._client)
        except BaseException:
            self._client.close()
            raise
        self._count = 0
        threading.Thread(target=self._watch, daemon=True).start()

    def submit(self, task: Task) -> Future[Row | Judged]:
        """Give a task to the cluster; its future never holds the error of a single file."""
        future: Future[Row | Judged] = Future()
        future.set_running_or_notify_cancel()
        self._count += 1
        try:
            remote = self._client.submit(
                answer, self._kit, _as_data(task), pure=False,
                key=f"benchgate-{self._kit['id']}-{self._count}",
            )  # fmt: skip
        except Exception as error:
            raise self._lost(in_words(error)) from error
        with self._lock:
            self._waiting[future] = remote
        remote.add_done_callback(partial(self._done, future, task))
        return future

    def renew(self) -> None:
        """Dask takes fresh workers by itself."""

    def close(self) -> None:
        """Let go of what is under way, and of the cluster, which stays as it was."""
        if self._ended.is_set():
            return
        self._ended.set()
        try:
            if self._client.status == "running":
                _at_most_deaths(self._client, self._most_deaths_before)
        except Exception:  # a cluster that is gone has nothing to be put right
            pass
        finally:
            self._client.close()

    def _done(self, future: Future[Row | Judged], task: Task, remote: Any) -> None:
        """Runs in a thread of the client, when a task is done, lost or given up."""
        with self._lock:
            if self._waiting.pop(future, None) is None or self._ended.is_set():
                return
        try:
            future.set_result(self._result(task, remote))
        except Exception as error:
            future.set_exception(error)

    def _result(self, task: Task, remote: Any) -> Row | Judged:
        from distributed import KilledWorker

        try:
            told = remote.result()
        except KilledWorker:
            return self._error(task, _DIED)
        except Exception as error:
            if remote.status != "error":
                raise self._lost(in_words(error)) from error
            return self._error(task, f"no worker could take it on: {in_words(error)}")
        if "refused" in told:
            return self._error(task, told["refused"])
        if "judged" in told:
            return Judged(**_tuples(told["judged"]))
        row = Row(**_tuples(told["row"]))
        other = self._other_data(told["data"])
        if other:
            return self._error(task, f"the worker {told['worker']} has other data: {other}")
        return row

    def _other_data(self, data: Sequence[Sequence[str]]) -> str:
        """Names that lead to other data there than here."""
        for kind, name, *_ in data:
            if (kind, name) not in self._data:
                here = looked_up(self._desk.engine.reference, kind, name)
                self._data[kind, name] = here.file, here.sha256
        return ", ".join(
            sorted(
                {
                    self._data[kind, name][0] or file or name
                    for kind, name, file, sha256 in data
                    if self._data[kind, name] != (file, sha256)
                }
            )
        )

    def _error(self, task: Task, why: str) -> Row:
        return self._desk.unreadable(task.path, task.source, why)

    def _lost(self, why: str) -> AuditError:
        return AuditError(
            f"the scheduler at {self._address} is lost: {why}. What is stored stays, and the same "
            "command goes on from there"
        )

    def _watch(self) -> None:
        """Give up where there is nobody left to work; else the audit would wait for ever."""
        last_seen = time.monotonic()
        while not self._ended.wait(_LOOK):
            try:
                workers = self._client.status == "running" and self._client.nthreads()
            except Exception:
                workers = None
            if workers:
                last_seen = time.monotonic()
                self.width = _width_of(workers)
            elif time.monotonic() - last_seen > self._seconds_alone:
                with self._lock:
                    left, self._waiting = list(self._waiting), {}
                for future in left:
                    future.set_exception(self._lost("it has no workers any more"))


def _connected(address: str) -> Any:
    """A client of the scheduler that has a worker; raises `ClusterError` where there is none."""
    distributed: Any = import_module("distributed")  # slow to import, and partly without types
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters is told in words
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # other versions are found out and told by `answer`
            # The client's own limit does not hold for what accepts a connection and says nothing.
            client = within(
                1.25 * _CONNECT,
                partial(distributed.Client, address, timeout=_CONNECT, set_as_default=False),
            )
    except Exception as error:
        raise ClusterError(
            f"no Dask scheduler answers at {address} ({_short(error)}). An address is written like "
            "tcp://127.0.0.1:8786"
        ) from error
    try:
        client.wait_for_workers(1, timeout=_WORKERS)
    except Exception as error:
        client.close()
        raise ClusterError(f"the scheduler at {address} has no workers") from error
    return client


def _short(error: BaseException) -> str:
    lines = str(error).splitlines()
    return lines[0].strip() if lines else type(error).__name__


def _width(client: Any) -> int:
    return _width_of(client.nthreads())


def _width_of(threads: Mapping[str, int]) -> int:
    """Each worker finds its next text waiting."""
    return min(_MOST_AT_ONCE, 2 * max(1, sum(threads.values())))


def _at_most_deaths(client: Any, number: int) -> int:
    """Set how many deaths of its workers a task survives; what it was before."""

    def on_scheduler(dask_scheduler: Any) -> int:
        before = int(dask_scheduler.allowed_failures)
        dask_scheduler.allowed_failures = number
        return before

    # Defined in here, the function travels whole: a scheduler need not have benchgate.
    return int(client.run_on_scheduler(on_scheduler))


def _kit(recipe: Recipe, desk: Desk) -> dict[str, Any]:
    """What an engine is built from and must come to, as plain data. A new audit has a new one."""
    try:
        files = {
            part: [(Path(path).name, Path(path).read_bytes()) for path in getattr(recipe, part)]
            for part in ("plugins", "rules")
        }
    except OSError as error:
        raise ClusterError(f"{error.filename} cannot be read: {error.strerror}") from error
    return {
        "id": uuid.uuid4().hex,
        **files,
        "seconds": seconds_allowed(),
        "key": asdict(desk.key),
        "code": code_hash(),
        "libraries": libraries(),
    }


def _as_data(task: Task) -> dict[str, Any]:
    return {"measured": isinstance(task, Measured), "task": asdict(task)}


def _tuples(told: dict[str, Any]) -> dict[str, Any]:
    """Rows as tuples again, whatever the way here made of them."""
    return {
        **told,
        "findings": tuple(map(tuple, told["findings"])),
        "upsets": tuple(map(tuple, told["upsets"])),
    }


# What follows runs on a worker.

_working = threading.Lock()
_made: dict[str, tuple[Any, Desk | None, str]] = {}


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
