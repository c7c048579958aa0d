"""The laws over many set-ups, run by hand: what each change lets through, one line each.

    python -m tests.laws less|worse|same demos|practice|dangerous|drawn [--start N] [--count N]

Changes that are not excepted are told; the last line counts set-ups, changes and what was let
through. `--ways N` draws so many changes of each set-up, `--pairs N` so many pairs of fields;
`--field F` takes those with this word; `--plain` leaves failures out, `--minutes N` ends in time.

Where a set-up passes, less and worse have nothing to let through: it is counted and left. A change
is played with failures only where without them something is not refused any more; one
that takes a whole thing away, of which everything is excepted, is counted and not played.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from typing import Any

from review import Engine, Scenario
from tests.generated.generator import scenario
from tests.laws.law import (
    Answer,
    another,
    answered,
    different,
    let_through,
    loaded,
    passes,
    read,
    still_refused,
)
from tests.laws.less import left_out, pairs, without
from tests.laws.same import SAME
from tests.laws.worse import WORSE
from tests.practice.setups import set_ups
from tests.support import SCENARIOS


def texts(which: str, start: int, count: int) -> Iterator[tuple[str, str]]:
    if which == "demos":
        paths = sorted(SCENARIOS.glob("*.yaml"))
        yield from [(path.stem, path.read_text("utf-8")) for path in paths][start:][:count]
    elif which == "drawn":
        yield from ((f"drawn {n}", scenario(n)) for n in range(start, start + count))
    else:
        plain = [each for each in set_ups() if each.allowed == (which == "practice")]
        yield from [(each.name, each.text) for each in plain][start:][:count]


def changes(law: str, name: str, data: Any, told: argparse.Namespace) -> Iterator[tuple[str, Any]]:
    draw = random.Random(f"{told.number} {name}")
    if law == "less":
        kept = [(field, [path]) for field, path in left_out(data)]
        kept = draw.sample(kept, min(told.ways, len(kept)))
        drawn = pairs(data, told.pairs, draw)
        kept += [(" + ".join(f for f, _ in two), [p for _, p in two]) for two in drawn]
        for field, paths in kept:
            where = " + ".join(".".join(map(str, path)) for path in paths)
            yield f"{field} ({where})", without(data, *paths)
        return
    ways, made = list(WORSE if law == "worse" else SAME), 0
    for way in draw.sample(ways, len(ways)):
        changed = way(data, draw)
        if changed is not None and changed != data and made < told.ways:
            made += 1
            yield way.__name__, changed


def main() -> None:
    reads = argparse.ArgumentParser()
    reads.add_argument("law", choices=("less", "worse", "same"))
    reads.add_argument("which", choices=("demos", "practice", "dangerous", "drawn"))
    for name, default in (("start", 0), ("count", 1000), ("ways", 1000), ("pairs", 20)):
        reads.add_argument(f"--{name}", type=int, default=default)
    reads.add_argument("--number", default="1960db6")
    reads.add_argument("--field", default="")
    reads.add_argument("--plain", action="store_true")
    reads.add_argument("--minutes", type=float, default=1e6)
    told = reads.parse_args()
    engine, counted, ends = Engine(), Counter[str](), time.monotonic() + 60 * told.minutes
    for n, (name, text) in enumerate(texts(told.which, told.start, told.count), told.start):
        if time.monotonic() > ends:
            print(f"stopped before {n}", flush=True)
            break
        _one(engine, name, read(text), told, counted, ends)
        print(f"{n} {name}: {counted['changes']} changes, {time.process_time():.0f} s of processor",
              file=sys.stderr, flush=True)  # fmt: skip
    print(dict(counted), f"{time.process_time():.0f} s", flush=True)


def _one(
    engine: Engine, name: str, data: Any, told: argparse.Namespace, counted: Counter[str],
    ends: float,
) -> None:
    """Every change of one set-up; what it lets through is printed and counted."""
    counted["set-ups"] += 1
    before, was = answered(engine, data, upsets=not told.plain), loaded(engine, data)
    if before is None or was is None or (told.law != "same" and passes(before)):
        counted["pass, nothing to let through"] += before is not None
        return
    for change, changed in changes(told.law, name, data, told):
        if told.field not in change:
            continue
        if time.monotonic() > ends:
            counted["not reached"] += 1
            continue
        counted["changes"] += 1
        if another(told.law, change.split(" (")[0]):
            counted["whole things"] += 1
            continue
        try:
            now = _now(engine, changed, before, was, told)
        except Exception as fault:  # told, not hidden: a review must never raise
            print(f"{name}\t{change}\tRAISES {fault!r}", flush=True)
            counted["raises"] += 1
            continue
        if now is None:
            counted["wrong input"] += 1
            continue
        _tell(told.law, name, change, before, now, counted)


def _now(
    engine: Engine, changed: Any, before: Answer, was: Scenario, told: argparse.Namespace
) -> Answer | None:
    """The answer to a changed set-up, as far as it has to be known; None: wrong input."""
    scenario = loaded(engine, changed)
    if scenario is None or scenario.model_dump() == was.model_dump():
        return None if scenario is None else before
    if told.law != "same":
        plain = answered(engine, changed, upsets=False)
        if plain is None or told.plain or still_refused(plain, before):
            return plain
    return answered(engine, changed, upsets=not told.plain)


def _tell(
    law: str, name: str, change: str, before: Answer, now: Answer, counted: Counter[str]
) -> None:
    if law == "same":
        lets = list(different(now, before))
    else:
        lets, fine = let_through(law, change.split(" (")[0], now, before)
        counted["excepted"] += fine
    for what in lets:
        counted["let through"] += 1
        print(f"{name}\t{change}\t{what}", flush=True)


if __name__ == "__main__":
    sys.exit(main())
