"""Code that is not ours, run with a limit on its time.

The work runs in a thread of its own, so that whoever waits can go on whatever the work does: a
loop, a sleep, a wait for an answer that never comes. What is cut off is asked to end and then left
alone. What cannot be cut off is one call into compiled code that holds the interpreter's lock.
"""

from __future__ import annotations

import contextvars
import ctypes
import math
import os
import threading
from collections.abc import Callable
from typing import TypeVar

from review.interface.plugin import PluginError

T = TypeVar("T")

#: Seconds for one call of a plugin: one hook, or one computation over one chunk of runs.
SECONDS = 20.0
VARIABLE = "BENCHGATE_PLUGIN_SECONDS"

_ASKED, _PATIENCE = 5, 0.05


class TookTooLong(Exception):
    """The work was not done in time; nothing of it is used."""


class _Stop(BaseException):
    """Raised inside work that is cut off; no `except Exception` there holds it."""


def seconds_allowed(given: float | None = None) -> float:
    """The limit: as given, else from the environment, else 20 s.

    Raises `PluginError` where it is no number above 0.

    >>> seconds_allowed(3.0)
    3.0
    """
    text = os.environ.get(VARIABLE, "")
    try:
        limit = given if given is not None else float(text) if text else SECONDS
    except ValueError:
        limit = math.nan
    if not 0 < limit <= threading.TIMEOUT_MAX:
        said = repr(text) if given is None else f"{given:g}"
        raise PluginError(f"{VARIABLE}: {said} is no number of seconds above 0")
    return limit


def within(seconds: float, work: Callable[[], T]) -> T:
    """What `work` returns or raises; `TookTooLong` if that takes longer than `seconds`.

    >>> within(1.0, lambda: 6 * 7)
    42
    """
    given: list[T] = []
    raised: list[BaseException] = []

    def run() -> None:
        try:
            given.append(work())
        except BaseException as error:  # handed on to the caller, an exit included
            raised.append(error)

    context = contextvars.copy_context()  # whether the working is recorded goes along
    thread = threading.Thread(target=context.run, args=(run,), daemon=True)
    thread.start()
    thread.join(seconds)
    if thread.is_alive():
        _stop(thread)
        raise TookTooLong(f"it was not done after {seconds:g} s and was cut off")
    if raised:
        raise raised[0]
    return given[0]


def _stop(thread: threading.Thread) -> None:
    """Ask a thread to end, more than once: it may catch what it is asked with."""
    for _ in range(_ASKED):
        if thread.ident is not None:
            ctypes.pythonapi.PyThreadState_SetAsyncExc(
                ctypes.c_ulong(thread.ident), ctypes.py_object(_Stop)
            )
        thread.join(_PATIENCE)
        if not thread.is_alive():
            return
