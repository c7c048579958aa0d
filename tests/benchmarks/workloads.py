"""What is timed: each function does one piece of work, in this process or in a fresh one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from itertools import cycle
from pathlib import Path

import numpy as np
import yaml

from review import Engine, Overlay, Review, Scenario, load, loads
from review.explore.accuracy import samples as samples_of
from review.explore.accuracy import spreads
from review.explore.batched import over_batch
from review.explore.points import Points, plain, turned
from review.explore.two import Map, over
from review.scenario import numbers

HERE = Path(__file__).parent
SCENARIO = HERE / "twelve_items.yaml"
SAMPLES = 10_000
VARIED = (
    "flows.argon.rate",
    "flows.forming gas.rate",
    "heat.furnace.set_temperature",
    "ventilation.air_changes",
)

TURNED = ("flows.argon.rate=100..1900", "flows.forming gas.rate=100..1900")

COMMAND = "import sys; from review.cli import main; sys.argv[0] = 'benchgate'; main()"

#: The demo that the README reviews.
DEMO = Path(__file__).parents[2] / "scenarios" / "copper_oxide_forming_gas.yaml"
#: Loads every module that a review needs and builds the registry of units first, so that only work
#: is timed. No text with a unit is known yet; for a review, reference data are still unread.
TIMED = """
import importlib, json, sys, time
names, path, what = json.loads(sys.argv[1])
for name in names:
    importlib.import_module(name)
from review import Engine, load
from review.scenario.units import convert
convert(1.0, "mm")
scenario, engine = (None, None) if what == "load" else (load(path), Engine())
start = time.perf_counter()
if what == "load":
    load(path)
else:
    engine.review(scenario, upsets=what == "review")
print(time.perf_counter() - start)
"""
LAST = "modules:"
#: Prints at the end which modules of others were loaded, in the order in which they were.
ENDED = f"""
import atexit, sys
started = set(sys.modules)
def ended():
    others = [n for n in sys.modules if n.split(".")[0] not in ("review", "__main__")]
    print({LAST!r}, *[n for n in others if n not in started and sys.modules[n] is not None])
atexit.register(ended)
"""
LOADED = """
import json, sys
from review import Engine, load
Engine().review(load(sys.argv[1]))
parts = ("numpy", "pint", "pydantic", "review", "scipy", "yaml", "cel")
print(json.dumps([n for n in sys.modules if n.startswith(parts)]))
"""


def fresh(code: str, *arguments: str) -> str:
    """Run Python code in a fresh process; returns what it prints."""
    # A user's Python does not compile the same modules each time.
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True, text=True, check=False, env=kept,
    )  # fmt: skip
    if done.returncode not in (0, 1):  # 1: the scenario must not proceed, which is an answer
        raise RuntimeError(done.stderr)
    return done.stdout


def cold_check(scenario: Path = SCENARIO) -> str:
    """``benchgate check`` from nothing, as a user meets it."""
    return fresh(COMMAND, "check", str(scenario))


@cache
def libraries() -> tuple[str, ...]:
    """The modules of others that a check of the demo loads."""
    said = fresh(ENDED + COMMAND, "check", str(DEMO))
    return tuple(said.rpartition(LAST)[2].split())


def cold_libraries() -> str:
    """Loading these alone: what any tool of this make needs before it can do anything."""
    return fresh("import importlib, sys\nfor n in sys.argv[1:]: importlib.import_module(n)",
                 *libraries())  # fmt: skip


@cache
def _modules() -> list[str]:
    names: list[str] = json.loads(fresh(LOADED, str(SCENARIO)))
    return names


def seconds_of(what: str) -> float:
    """Seconds of ``load``, ``steps`` (a review without upsets) or ``review`` in a fresh process.

    Imports are not counted.
    """
    return float(fresh(TIMED, json.dumps([_modules(), str(SCENARIO), what])))


def samples(count: int) -> list[Overlay]:
    """Runs around the plan: both rates, the furnace and the room's air vary at random."""
    random = np.random.default_rng(20240229)
    stated = numbers(load(SCENARIO))
    base = {path: stated[path] for path in VARIED}
    factors = random.uniform(0.9, 1.1, (count, len(base)))
    return [
        Overlay(
            id=f"sample:{n}",
            title=f"sample {n}",
            case="sample",
            changes={path: value * f for (path, value), f in zip(base.items(), row, strict=True)},
        )
        for n, row in enumerate(factors)
    ]


def longer(items: int) -> Scenario:
    """The same set-up with more items before the outlet: copies of its hoses, tubes and traps."""
    data = yaml.load(SCENARIO.read_text("utf-8"), yaml.BaseLoader)  # noqa: S506
    *train, outlet = data["train"]
    plain_items = [item for item in train[1:] if item["kind"] not in ("reactor", "wash bottle")]
    copies = cycle(plain_items)
    while len(train) < items - 1:
        item = next(copies)
        train.append(item | {"id": f"{item['id']} {len(train)}"})
    data["train"] = [*train, outlet]
    return loads(yaml.safe_dump(data, sort_keys=False))


class Warm:
    """An engine and a scenario that have been used once, for what is timed in one process."""

    def __init__(self) -> None:
        self.engine, self.scenario = Engine(), load(SCENARIO)
        self.one_run()

    def one_run(self) -> Review:
        """The plan alone."""
        return self.engine.review(self.scenario, upsets=False)

    def with_upsets(self) -> Review:
        """The plan and every upset in every step, as a user gets them."""
        return self.engine.review(self.scenario)

    def many_runs(self, overlays: list[Overlay]) -> Review:
        """The plan and as many samples as overlays."""
        return self.engine.review(self.scenario, extra=overlays, upsets=False)

    def sampled(self) -> None:
        """The plan and its steps anywhere within the accuracies of what is set and measured."""
        self.engine.sampled(self.scenario, samples_of(spreads(self.scenario)))

    def points(self, *, upsets: bool) -> Points:
        """Both rates, to be turned."""
        text = SCENARIO.read_text("utf-8")
        data = plain(text, "file")
        chosen = [turned(self.scenario, data, path) for path in TURNED]

        def review(changed: Scenario) -> Review:
            return self.engine.review(changed, upsets=upsets)

        return Points(text, "file", chosen, review)

    def one_by_one(self, count: int = 3) -> None:
        """Some points of a map, each as a changed file, the plan alone."""
        points = self.points(upsets=False)
        for n in range(count):
            points.at(500.0 + n, 200.0 + n)

    def mapped(self) -> Map:
        """A map of 200 steps each way, the plan alone."""
        found = over_batch(self.points(upsets=False), self.engine, "file")
        assert found is not None
        return found

    def refined(self) -> Map:
        """A map refined where it changes, each point with all failures."""
        return over(self.points(upsets=True))


def stored_numbers(review: Review) -> int:
    """How many numbers the measures of a review hold."""
    return sum(measure.value.size for measure in review.measures)
