"""Play damaged files through the command line and say what it did that it must not.

    python -m tests.fuzz --start 1 --from 0 --cases 2000 [--seconds 1500]

prints one JSON object: the counts, the processor time, the most memory, and each fault with the
numbers that draw it again. A fault is a failure of the tool or a traceback, more than `SECONDS` of
processor time, a warning, JSON that is none, an acceptable finding without a value, a review
without a verdict, a built-in check that fails, or memory above `MEGABYTES`.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from review.cli import group
from tests.fuzz.mutants import files

SECONDS, MEGABYTES = 5.0, 500
VERDICTS = (
    "may proceed", "may proceed with conditions", "must not proceed", "cannot be judged",
)  # fmt: skip
COMMANDS = {
    "set-up": ["check", "x.yaml", "--format", "json"],
    "text": ["check", "x.yaml", "--format", "json"],
    "rules": ["check", "x.yaml", "--format", "json", "--rules", "site.yaml"],
    "data": ["check", "x.yaml", "--format", "json", "--plugin", "site.py"],
    "record": ["verify", "."],
    "store": ["audit", "s", "--jobs", "1"],
}


class _Stop(BaseException):
    """Far too long already."""


def _stop(*_: object) -> None:
    raise _Stop


def played(start: int, number: int) -> tuple[str, bool, list[str]]:
    """The kind of a case, whether a review with failures played came of it, and its faults."""
    kind, written = files(start, number)
    with tempfile.TemporaryDirectory() as folder:
        for name, content in written.items():
            path = Path(folder, name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        os.chdir(folder)
        began = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, 4 * SECONDS)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                done = CliRunner().invoke(group, COMMANDS[kind], prog_name="benchgate")
        except _Stop:
            return kind, False, [f"stopped after {4 * SECONDS:g} s of processor time"]
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            os.chdir("/")
    faults = []
    if (took := time.process_time() - began) > SECONDS:
        faults.append(f"took {took:.1f} s of processor time")
    if done.exit_code not in (0, 1, 2) or "Traceback" in done.output:
        faults.append(f"exit status {done.exit_code}: {done.stderr[-1500:]}")
    if done.exit_code == 2 and not done.stderr.startswith(("benchgate: ", "Usage: ")):
        faults.append(f"no word of what is wrong: {done.stderr[:200]}")
    if COMMANDS[kind][0] != "check" or done.exit_code not in (0, 1):
        return kind, False, faults
    try:
        told = json.loads(done.stdout, parse_constant=_no_number)
    except ValueError as error:
        return kind, False, [*faults, f"no JSON: {error}"]
    return kind, bool(told["upsets"]), [*faults, *_wrong(told, kind)]


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no JSON")


def _wrong(told: dict[str, Any], kind: str) -> Iterator[str]:
    if told["verdict"] not in VERDICTS or not told["findings"]:
        yield f"verdict {told['verdict']!r} of {len(told['findings'])} findings"
    for found in told["findings"]:
        if found["grade"] == "acceptable" and found["value"] is None:
            yield f"acceptable without a value: {found['criterion']} at {found['at']}"
        if found["criterion"] == "check.failed" and kind != "data":
            yield f"a built-in check failed: {found['reason']}"


def _peak() -> float:
    """The most memory so far, MB; not that of whoever started the process, as getrusage has it."""
    status = Path("/proc/self/status").read_text("ascii")
    [line] = [line for line in status.splitlines() if line.startswith("VmHWM:")]
    return int(line.split()[1]) / 1000


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--start", type=int, default=1)
    options.add_argument("--from", type=int, default=0, dest="first")
    options.add_argument("--cases", type=int, default=300)
    options.add_argument("--seconds", type=float, default=1e9)
    asked = options.parse_args()
    os.environ |= {"BENCHGATE_DEBUG": "1", "XDG_CONFIG_HOME": "/nowhere"}
    signal.signal(signal.SIGPROF, _stop)
    resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
    counts: Counter[str] = Counter()
    faults: list[dict[str, Any]] = []
    most, began = 0.0, time.monotonic()
    for number in range(asked.first, asked.first + asked.cases):
        if time.monotonic() - began > asked.seconds:
            break
        kind, ended, wrong = played(asked.start, number)
        counts.update(cases=1, **{kind: 1}, to_the_end=int(ended))
        before, most = most, _peak()
        if before <= MEGABYTES < most:
            wrong.append(f"memory grew from {before:.0f} to {most:.0f} MB")
        faults += [{"number": number, "kind": kind, "fault": each} for each in wrong]
        for each in wrong:
            print(number, kind, each, file=sys.stderr, flush=True)
    print(json.dumps({
        "start": asked.start, **counts, "megabytes": round(most), "faults": faults,
        "processor_seconds": round(time.process_time()), "seconds": round(time.monotonic() - began),
    }))  # fmt: skip


if __name__ == "__main__":
    main()
