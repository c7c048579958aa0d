"""A command run in a process of its own, so that a plugin that ends it does not end it as passed.

The child says as its last act that it came to its end, and with which exit status. Where it does
not, whatever its own status was, the review did not take place.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Sequence
from importlib.metadata import entry_points

#: The group of entry points; what declares it imports more than a command line should.
_GROUP = "benchgate"
_BUILT_IN = "review.plugins."
_ENDED_EARLY = (
    "benchgate: a fault in the tool, and nothing was judged: a plugin ended the process\n"
    "Do not take this as a result.\n"
)


def needed(arguments: Sequence[str]) -> bool:
    """Whether code that is not part of benchgate may run: a plugin named, or one installed."""
    named = any(each == "--plugin" or each.startswith("--plugin=") for each in arguments)
    return hasattr(os, "fork") and (
        named or any(not p.value.startswith(_BUILT_IN) for p in entry_points(group=_GROUP))
    )


def run(work: Callable[[], object], ended_early: int) -> int:
    """The exit status of `work`, which leaves through `SystemExit`; `ended_early` where it did not.

    The last act of the child is one byte through a pipe; exit handlers of plugins do not run.
    """
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        status = ended_early
        try:
            work()
        except SystemExit as leaving:
            status = leaving.code if isinstance(leaving.code, int) else int(bool(leaving.code))
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os.write(writer, bytes([status]))
            os._exit(status)
    os.close(writer)
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)  # the child hears it too, and answers
    try:
        told = os.read(reader, 1)
        _, how = os.waitpid(child, 0)
    finally:
        signal.signal(signal.SIGINT, before)
        os.close(reader)
    if told and os.waitstatus_to_exitcode(how) == told[0]:
        return told[0]
    sys.stderr.write(_ENDED_EARLY)
    return ended_early
