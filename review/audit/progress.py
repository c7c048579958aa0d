"""How far an audit is: a bar on a terminal, now and then a line in a pipe, nothing if quiet.

It goes to standard error, so that standard output holds the result alone.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from types import TracebackType
from typing import TextIO

SECONDS_BETWEEN_LINES = 10.0
#: The rate is that of the last so many seconds: files that have not changed go by in no time, and
#: say nothing of those that must be reviewed.
_WINDOW = 30.0


class Progress:
    """Counts files as they are done. Use it in a `with` block; `begin` says how many there are."""

    def __init__(self, *, quiet: bool = False, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._quiet = quiet
        self._bar = None if quiet or not self._stream.isatty() else _Bar(self._stream)
        self.total = self.done = self.refused = 0
        self._last = time.monotonic()
        self._passed = deque([(self._last, 0)])

    def __enter__(self) -> Progress:
        if self._bar:
            self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        if self._bar:
            self._bar.stop()

    def begin(self, total: int) -> None:
        """So many files there are."""
        self.total = total
        self._passed = deque([(time.monotonic(), 0)])
        self._show()

    def step(self, *, refused: bool) -> None:
        """One more file is done, refused or not."""
        self.done += 1
        self.refused += refused
        now = time.monotonic()
        if now - self._passed[-1][0] >= 1:
            self._passed.append((now, self.done))
        while len(self._passed) > 1 and now - self._passed[1][0] > _WINDOW:
            self._passed.popleft()
        self._show()

    def _show(self) -> None:
        if self._bar:
            self._bar.show(self.done, self.total, self.summary())
        elif not self._quiet and time.monotonic() - self._last >= SECONDS_BETWEEN_LINES:
            self._last = time.monotonic()
            print(f"{self.done} of {self.total} files, {self.summary()}", file=self._stream)
            self._stream.flush()

    def summary(self) -> str:
        """The rate, the time left and how many are refused or unreadable so far."""
        then, done = self._passed[0]
        passed = time.monotonic() - then
        told = [f"{self.refused} refused or unreadable"]
        if passed > 0 and done < self.done < self.total:
            rate = (self.done - done) / passed
            told.insert(0, f"{_rate(rate)}, {_span((self.total - self.done) / rate)} left")
        return ", ".join(told)


class _Bar:
    """rich's live line, drawn over itself."""

    def __init__(self, stream: TextIO) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
        from rich.progress import Progress as Live

        self._live = Live(
            BarColumn(bar_width=12),
            MofNCompleteColumn(),
            TextColumn("{task.fields[told]}", markup=False),
            console=Console(file=stream),
            transient=True,
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._task = self._live.add_task("", total=None, told="looking for files")

    def start(self) -> None:
        self._live.start()

    def stop(self) -> None:
        self._live.stop()

    def show(self, done: int, total: int, told: str) -> None:
        self._live.update(self._task, completed=done, total=total, told=told)


def _rate(per_second: float) -> str:
    """A rate as one says it.

    >>> _rate(12.3), _rate(0.5)
    ('12 a second', '30 a minute')
    """
    if per_second >= 1:
        return f"{per_second:.0f} a second"
    return f"{60 * per_second:.0f} a minute"


def _span(seconds: float) -> str:
    """A time as one says it.

    >>> _span(4.2), _span(70), _span(4000)
    ('5 s', '2 min', '1 h 7 min')
    """
    whole = int(seconds) + 1
    if whole < 60:
        return f"{whole} s"
    minutes = -(-whole // 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"
