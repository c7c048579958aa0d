"""Prints every benchmark as a ratio in one table: ``python tests/benchmarks/table.py``.

A ratio compares the tool with plain work on the same machine at the same time, so that it means
the same everywhere. Each is the median over repeats, ours and the yardstick in turn; maps, which
take minutes, are made once.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
import workloads

REPEATS = 7


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def in_turn(repeats: int, *works: Callable[[], float]) -> list[float]:
    """The median of each work's seconds, all measured in turn."""
    measured = [[work() for work in works] for _ in range(repeats)]
    return [statistics.median(column) for column in zip(*measured, strict=True)]


def rows(repeats: int) -> list[tuple[str, float, float, float]]:
    """What, our seconds, the yardstick's seconds, the target of their ratio."""
    warm = workloads.Warm()
    overlays = workloads.samples(workloads.SAMPLES)
    stored = np.linspace(0.0, 1.0, workloads.stored_numbers(warm.many_runs(overlays)))
    many, one, exp = in_turn(
        repeats,
        lambda: seconds(lambda: warm.many_runs(overlays)),
        lambda: seconds(warm.one_run),
        lambda: seconds(lambda: np.exp(stored)),
    )
    upsets = len(warm.with_upsets().trials.runs) - 1
    played, plain = in_turn(
        repeats,
        lambda: seconds(warm.with_upsets),
        lambda: seconds(warm.one_run),
    )
    short, long = workloads.longer(20), workloads.longer(40)
    forty, twenty = in_turn(
        1,
        lambda: seconds(lambda: warm.engine.review(long)),
        lambda: seconds(lambda: warm.engine.review(short)),
    )
    sampled, once = in_turn(
        repeats,
        lambda: seconds(warm.sampled),
        lambda: seconds(warm.one_run),
    )
    few = 3
    mapped, points = in_turn(
        1,
        lambda: seconds(warm.mapped),
        lambda: seconds(lambda: warm.one_by_one(few)),
    )
    refined, full = in_turn(
        1,
        lambda: seconds(warm.refined),
        lambda: seconds(warm.with_upsets),
    )
    cold, demo, libraries = in_turn(
        repeats,
        lambda: seconds(workloads.cold_check),
        lambda: seconds(lambda: workloads.cold_check(workloads.DEMO)),
        lambda: seconds(workloads.cold_libraries),
    )
    review, steps, load = in_turn(
        repeats,
        lambda: workloads.seconds_of("review"),
        lambda: workloads.seconds_of("steps"),
        lambda: workloads.seconds_of("load"),
    )
    return [
        ("a cold check of a demo / importing the libraries it builds on", demo, libraries, 2.5),
        (f"the same of 12 items with {upsets} upsets", cold, libraries, 2.5),
        ("first review of 12 items in 6 steps / reading their file", steps, load, 15),
        (f"the same with {upsets} upsets", review, load, 15),
        (f"6 steps with {upsets} upsets / without any", played, plain, 4),
        ("40 items with their upsets / 20 items", forty, twenty, 4),
        ("256 samples over 6 steps / the plan", sampled, once, 4),
        ("a map of 201 x 201, plan only / its points", mapped, points * 201 * 201 / few, 0.005),
        (f"a map of two numbers with {upsets} upsets / one review", refined, full, 300),
        ("10,000 runs / one run", many, one, 30),
        (f"a stored number ({stored.size / 1e6:.1f} million) / its exp()", many, exp, 10),
    ]


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else REPEATS
    print(f"| what (median of {repeats}) | s | yardstick, s | ratio | target at most |")
    print("| --- | --- | --- | --- | --- |")
    for what, ours, yardstick, target in rows(repeats):
        ratio = ours / yardstick
        print(f"| {what} | {ours:.3g} | {yardstick:.3g} | {ratio:.2g} | {target:g} |")


if __name__ == "__main__":
    main()
