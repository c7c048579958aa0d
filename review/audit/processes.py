"""Where texts are worked on: in this process, or in several of this machine.

A pool takes tasks and gives futures. What another machine's pool must do is what `Pool` says.
Importing this is cheap: what the work needs takes a second, and workers can load it meanwhile.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING, Protocol

from review.audit.recipe import Recipe

if TYPE_CHECKING:
    from review.audit.store import Judged, Row
    from review.audit.work import Desk, Task


class Pool(Protocol):
    """Works on tasks side by side.

    At most `width` tasks are given to it at a time, so that memory does not grow with the number
    of files. `died` are the errors of a future whose worker ended before its task was done.
    """

    width: int
    died: tuple[type[BaseException], ...]

    def submit(self, task: Task) -> Future[Row | Judged]:
        """Begin a task. May raise one of `died` where the pool has lost its workers."""
        ...

    def renew(self) -> None:
        """Take fresh workers after some have died."""
        ...

    def close(self) -> None:
        """End all workers now, whatever they are at."""
        ...


class Here:
    """One task at a time in this process."""

    width = 1
    died: tuple[type[BaseException], ...] = ()

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def submit(self, task: Task) -> Future[Row | Judged]:
        future: Future[Row | Judged] = Future()
        future.set_result(self._desk.do(task))
        return future

    def renew(self) -> None:
        """Nothing can have died."""

    def close(self) -> None:
        """Nothing is left running."""


class Processes:
    """Worker processes of this machine, started when tasks come, or `at_once`."""

    died: tuple[type[BaseException], ...] = (BrokenProcessPool,)

    def __init__(self, recipe: Recipe, jobs: int, *, at_once: bool = False) -> None:
        self._recipe, self._jobs = recipe, jobs
        self.width = 2 * jobs  # each worker finds its next text waiting
        self._others = set(multiprocessing.active_children())
        self._executor = self._started()
        if at_once:
            for _ in range(jobs):
                self._executor.submit(_make_ready, recipe)

    def submit(self, task: Task) -> Future[Row | Judged]:
        from review.audit.work import work

        return self._executor.submit(work, self._recipe, task)

    def renew(self) -> None:
        self.close()
        self._executor = self._started()

    def close(self) -> None:
        for child in set(multiprocessing.active_children()) - self._others:
            child.terminate()
        self._executor.shutdown(wait=True, cancel_futures=True)

    def _started(self) -> Executor:
        # A fresh interpreter each: what this process has open (the store, its lock) stays its own.
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self._jobs, mp_context=context, initializer=_begin)


def _begin() -> None:
    """A worker leaves interruptions to the process that started it, and ends when that one does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent.join,), daemon=True).start()


def _make_ready(recipe: Recipe) -> None:
    """Load what the work needs. What is wrong with the recipe is told by the first task."""
    from review.audit.work import made

    with contextlib.suppress(Exception):
        made(recipe)


def _end_after(joined: Callable[[], None]) -> None:
    joined()
    os._exit(1)
