"""Prints what an audit costs, as ratios: ``python tests/benchmarks/audit.py --files 120``.

Every audit is a process of its own, as a user starts it, over invented scenarios that differ from
one another. Ratios are of work on the same machine one after the other; a machine that is busy with
something else tells little. ``--memory 500 5000`` also compares the peak memory of audits of so
many small files.
"""

from __future__ import annotations

import argparse
import importlib.util
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

from review import Engine, loads

HERE = Path(__file__).parent
COMMAND = "import sys; from review.cli import main; sys.argv[0] = 'benchgate'; main()"

#: A set-up that is reviewed in little time, for counting files rather than work.
SMALL = HERE.parents[1] / "scenarios" / "bare_frame.yaml"

#: One rule a little stricter than the built-in one.
BANDS = """
name: other bands
criteria:
- {id: heat.material, bands: {acceptable: 30.0, tolerable: 5.0}}
"""


#: Starts a command and prints its seconds, processor seconds and peak memory. A process of little
#: memory: on Linux a child counts what its parent held when it was started as memory of its own.
MEASURE = """
import os, sys, time
start = time.perf_counter()
silent = [(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)]
process = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=silent)
_, status, used = os.wait4(process, 0)
seconds = time.perf_counter() - start
kilobytes = used.ru_maxrss / (1024 if sys.platform == "darwin" else 1)
assert os.waitstatus_to_exitcode(status) in (0, 1), "the audit failed"
print(seconds, used.ru_utime + used.ru_stime, kilobytes / 1024)
"""


@dataclass(frozen=True)
class Cost:
    """One audit: wall time, processor time of all its processes, peak memory of its largest."""

    seconds: float
    processor: float
    megabytes: float


def audit(folder: Path, store: Path, *options: str) -> Cost:
    """Audit a folder in a process of its own; raises CalledProcessError where that fails."""
    words = ["audit", str(folder), "--store", str(store), "--quiet", *options]
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, sys.executable, "-c", COMMAND, *words],
        stdout=subprocess.PIPE, text=True, check=True,
    )  # fmt: skip
    return Cost(*map(float, done.stdout.split()))


def write_varied(folder: Path, count: int) -> None:
    """Scenarios of the generator, one for each start number."""
    generator = _generator()
    folder.mkdir(parents=True)
    for start in range(count):
        (folder / f"{start:05}.yaml").write_text(generator.scenario(start), "utf-8")


def write_small(folder: Path, count: int) -> None:
    """Copies of one small scenario that differ in their title only."""
    folder.mkdir(parents=True)
    text = SMALL.read_text("utf-8")
    for number in range(count):
        new = text.replace("title: ", f"title: Number {number}, ", 1)
        (folder / f"{number:05}.yaml").write_text(new, "utf-8")


def upset_cost(count: int) -> tuple[int, float, float]:
    """Number of upsets, seconds of reviews with them, and seconds of the same without."""
    generator, engine = _generator(), Engine()
    scenarios = [loads(generator.scenario(start)) for start in range(count)]
    engine.review(scenarios[0])
    upsets = sum(len(engine.overlays(each)) - 1 for each in scenarios)
    played = _seconds(lambda: [engine.review(each) for each in scenarios])
    plain = _seconds(lambda: [engine.review(each, upsets=False) for each in scenarios])
    return upsets, played, plain


def ratios(folder: Path, files: int) -> list[tuple[str, float, float, float, str]]:
    """What, seconds of the more costly, of the less costly, processor time's ratio, and the target.

    Processor time does not suffer from what else the machine does.
    """
    lab, store, rules = folder / "lab", folder / "audit.sqlite", folder / "bands.yaml"
    write_varied(lab, files)
    rules.write_text(BANDS, "utf-8")
    one = audit(lab, folder / "one.sqlite", "--jobs", "1")
    two = audit(lab, store, "--jobs", "2")
    again = audit(lab, store, "--jobs", "2")
    judged = audit(lab, store, "--jobs", "2", "--rules", str(rules))
    upsets, played, plain = upset_cost(min(files, 20))
    rows = [
        ("one job / two jobs", one, two, "at least 1.7"),
        ("first audit / again, nothing changed", two, again, "at least 20"),
        ("first audit / again, with new bands", two, judged, "at least 5"),
    ]
    return [
        *((what, a.seconds, b.seconds, a.processor / b.processor, t) for what, a, b, t in rows),
        (f"reviews with {upsets} upsets / the plan alone", played, plain, played / plain, "-"),
    ]


def memory(folder: Path, sizes: Sequence[int]) -> list[tuple[int, int, float]]:
    """Files, jobs and peak memory in megabytes of an audit of so many small files."""
    out = []
    for count in sizes:
        lab = folder / f"small {count}"
        write_small(lab, count)
        for jobs in (1, 2):
            cost = audit(lab, folder / f"{count} {jobs}.sqlite", "--jobs", str(jobs))
            out.append((count, jobs, cost.megabytes))
    return out


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--files", type=int, default=60, help="scenarios to audit")
    parser.add_argument("--memory", type=int, nargs="*", default=(), metavar="N")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        print(f"| what ({asked.files} files) | s | s | ratio | of processor time | target |")
        print("| --- | --- | --- | --- | --- | --- |")
        for what, more, less, work, target in ratios(Path(name), asked.files):
            ratio = f"{more / less:.3g} | {work:.3g}"
            print(f"| {what} | {more:.3g} | {less:.3g} | {ratio} | {target} |")
        if asked.memory:
            print("\n| files | jobs | peak memory of the largest process, MB |")
            print("| --- | --- | --- |")
            for count, jobs, megabytes in memory(Path(name), asked.memory):
                print(f"| {count} | {jobs} | {megabytes:.1f} |")


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _generator() -> ModuleType:
    """The generator of scenarios, which lies in another folder of tests."""
    name = "generator_of_scenarios"
    if name not in sys.modules:
        path = HERE.parent / "generated" / "generator.py"
        spec = importlib.util.spec_from_file_location(name, path)
        if spec is None or spec.loader is None:
            raise RuntimeError(f"{path} cannot be loaded")
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


if __name__ == "__main__":
    main()
