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
from concurrent.futures import Future, ThreadPoolExecutor
from multiprocessing.connection import Connection
from queue import Empty, SimpleQueue
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
        """Begin a task. A pool takes a fresh worker where one has died."""
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

    def close(self) -> None:
        """Nothing is left running."""


class WorkerDied(Exception):
    """A worker process ended before its task was done."""


class Processes:
    """Worker processes of this machine, started when tasks come, or `at_once`.

    Each has a thread here that hands it one task at a time, and a pipe of its own: when it ends,
    be it in the middle of an answer, so does the pipe, and nobody waits for the rest.
    """

    died: tuple[type[BaseException], ...] = (WorkerDied,)

    def __init__(self, recipe: Recipe, jobs: int, *, at_once: bool = False) -> None:
        self._recipe = recipe
        self.width = 2 * jobs  # each worker finds its next text waiting
        self._lock = threading.Lock()  # between starting a worker and ending them all
        self._closed = False
        self._workers: list[_Worker] = []
        self._idle: SimpleQueue[_Worker] = SimpleQueue()
        self._threads = ThreadPoolExecutor(jobs, initializer=_leave_interruptions)
        if at_once:
            for _ in range(jobs):
                self._threads.submit(lambda: self._idle.put(self._started()))

    def submit(self, task: Task) -> Future[Row | Judged]:
        return self._threads.submit(self._done, task)

    def close(self) -> None:
        with self._lock:
            self._closed = True
            for worker in self._workers:
                worker.process.terminate()
        self._threads.shutdown(wait=True, cancel_futures=True)
        for worker in self._workers:
            worker.process.join()

    def _done(self, task: Task) -> Row | Judged:
        """Runs in a thread: no more of them than workers, so an idle one is there or can start."""
        try:
            worker = self._idle.get_nowait()
        except Empty:
            worker = self._started()
        answer = worker.answer(task)
        self._idle.put(worker)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def _started(self) -> _Worker:
        with self._lock:
            if self._closed:
                raise WorkerDied
            worker = _Worker(self._recipe)
            self._workers.append(worker)
        return worker


class _Worker:
    """A process that answers one task after another."""

    def __init__(self, recipe: Recipe) -> None:
        # A fresh interpreter: what this process has open (the store, its lock) stays its own.
        context = multiprocessing.get_context("spawn")
        self._pipe, its_end = context.Pipe()
        self.process = context.Process(target=_serve, args=(its_end, recipe), daemon=True)
        self.process.start()
        its_end.close()  # else its death would not end the pipe

    def answer(self, task: Task) -> Row | Judged | Exception:
        """What it makes of a task. Raises `WorkerDied`."""
        try:
            self._pipe.send(task)
            answer: Row | Judged | Exception = self._pipe.recv()
        except (EOFError, OSError):
            raise WorkerDied from None
        return answer


def _leave_interruptions() -> None:
    """Interruptions are for the main thread alone; what is started from here is spared them too."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


def _serve(pipe: Connection, recipe: Recipe) -> None:
    """A worker's life. It ends with the process that started it, whatever it is at then."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where a system has no masks
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent.join,), daemon=True).start()
    from review.audit.work import made, work

    with contextlib.suppress(Exception):  # what is wrong with the recipe is told by the first task
        made(recipe)
    while True:
        task = pipe.recv()
        try:
            answer: Row | Judged | Exception = work(recipe, task)
        except Exception as error:
            answer = error
        pipe.send(answer)


def _end_after(joined: Callable[[], None]) -> None:
    joined()
    os._exit(1)
