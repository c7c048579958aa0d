"""The work of an audit on many machines: a Dask cluster as a pool (``audit --scheduler``).

What goes to a worker and comes back is plain data: texts, bytes and numbers. Rules and plugin files
travel as texts, and a worker builds its engine from them in a folder of its own. Before it answers,
it compares its code, libraries, rules and plugins with the caller's, and so does the caller with
the data that an answer rests on. Where anything differs there is an error row and no result.
"""

from __future__ import annotations

import logging
import threading
import time
import warnings
from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from functools import partial
from importlib import import_module
from typing import Any

from review.audit.remote import answer, as_data, differing, kit_of
from review.audit.store import Judged, Row
from review.audit.work import AuditError, Desk, Recipe, Task, in_words, looked_up
from review.engine.limited import within

#: Seconds to wait for a scheduler to answer, and then for a first worker.
_CONNECT, _WORKERS = 8.0, 8.0
#: Seconds in which a worker shows whether it is as the caller.
_FITTING = 60.0
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
    within about ten seconds where no scheduler answers at `address` or it has no workers, also
    where none of its workers has the same, and ImportError without the package distributed.
    """

    died: tuple[type[BaseException], ...] = ()

    def __init__(
        self, address: str, recipe: Recipe, desk: Desk, *, seconds_alone: float = _ALONE
    ) -> None:
        self._desk, self._kit = desk, kit_of(recipe, desk)
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
            self._find_one_that_fits()
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
                answer, self._kit, as_data(task), pure=False,
                key=f"benchgate-{self._kit['id']}-{self._count}",
            )  # fmt: skip
        except Exception as error:
            raise self._lost("it takes no more work") from error
        with self._lock:
            self._waiting[future] = remote
        remote.add_done_callback(partial(self._done, future, task))
        return future

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

    def _find_one_that_fits(self) -> None:
        """Raise `ClusterError` where every worker differs: else each file would get an error row.

        Workers that have no time to answer are left to show it with their first task.
        """
        distributed: Any = import_module("distributed")
        asked = [
            self._client.submit(
                differing, self._kit, workers=[worker], pure=False,
                key=f"benchgate-{self._kit['id']}-{worker}",
            )
            for worker in self._client.nthreads()
        ]  # fmt: skip
        why = ""
        try:
            for remote in distributed.as_completed(
                asked, timeout=_FITTING, raise_errors=False, loop=self._client.loop
            ):
                if remote.status != "finished":
                    why = why or f"a worker could not take it on: {in_words(remote.exception())}"
                    continue
                answered = remote.result()
                if not answered:
                    return
                why = answered
        except TimeoutError:
            return
        raise ClusterError(f"no worker of {self._address} can be used: {why}")

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
            if remote.status != "error":  # it was cancelled or lost
                raise self._lost("the connection to it has ended") from error
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
    for name in list(logging.root.manager.loggerDict):
        if name.split(".")[0] == "distributed":  # what matters of it is told in words
            logging.getLogger(name).setLevel(logging.CRITICAL)
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


def _tuples(told: dict[str, Any]) -> dict[str, Any]:
    """Rows as tuples again, whatever the way here made of them."""
    return {
        **told,
        "findings": tuple(map(tuple, told["findings"])),
        "upsets": tuple(map(tuple, told["upsets"])),
    }
