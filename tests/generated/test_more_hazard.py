"""What makes a set-up more hazardous never makes its review look better.

Direction alone is expected here, by the physics named beside each test; the scenarios are invented.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import yaml
from generator import scenario

from review import Engine, Overlay, Review, loads
from review.interface.measure import Measure

RANK = {"acceptable": 0, "tolerable": 1, "undetermined": 2, "unacceptable": 3}
VERDICTS = (
    "may proceed", "may proceed with conditions", "cannot be judged", "must not proceed",
)  # fmt: skip
FUELS = {"hydrogen", "methane", "carbon monoxide", "ammonia", "ethylene", "propane"}
STARTS = range(100, 107)


def _changed(engine: Engine, data: dict[str, Any]) -> Review:
    return _reviewed(engine, yaml.safe_dump(data, sort_keys=False))


@cache
def _reviewed(engine: Engine, text: str) -> Review:
    """The unchanged scenario is what several tests begin with."""
    return engine.review(loads(text), upsets=False)


def _grades(review: Review, criterion: str) -> dict[tuple[str, str, str, str], int]:
    return {
        (f.criterion, f.at, f.of, f.case): RANK[f.grade]
        for f in review.findings
        if f.criterion.startswith(criterion)
    }


def _no_better(now: Review, before: Review, criterion: str) -> None:
    old, new = _grades(before, criterion), _grades(now, criterion)
    assert old.keys() == new.keys() and old
    better = [key for key in old if new[key] < old[key]]
    assert not better


@pytest.mark.parametrize("start", STARTS)
def test_a_weaker_part_never_helps(engine: Engine, start: int) -> None:
    """The same pressure against a lower rating: pressure over rating, and sooner past it."""
    data = yaml.safe_load(scenario(start))
    before = _changed(engine, data)
    item = random.Random(start).choice([i for i in data["train"] if "rating" in i])
    item["rating"] = "0.01 bar gauge"
    now = _changed(engine, data)
    _no_better(now, before, "pressure.")
    assert VERDICTS.index(now.verdict) >= VERDICTS.index(before.verdict)


@pytest.mark.parametrize("start", STARTS)
def test_a_higher_regulator_never_helps(engine: Engine, start: int) -> None:
    """A plug lets the pressure rise to what the regulator is set to."""
    data = yaml.safe_load(scenario(start))
    before = _changed(engine, data)
    reagent = data["flows"][random.Random(start).choice([*data["flows"]])]["reagent"]
    data["reagents"][reagent]["held"]["regulator"] = "3 bar gauge"
    now = _changed(engine, data)
    _no_better(now, before, "pressure.")
    assert VERDICTS.index(now.verdict) >= VERDICTS.index(before.verdict)


@pytest.mark.parametrize("start", [start for start in STARTS if "\nheat:" in scenario(start)])
def test_a_hotter_furnace_never_ignites_less(engine: Engine, start: int) -> None:
    """A hotter surface is nearer to autoignition, and flammability limits widen with heat."""
    data = yaml.safe_load(scenario(start))
    before = _changed(engine, data)
    for heat in data["heat"].values():
        for key in ("set_temperature", "hottest"):
            heat[key] = f"{float(heat[key].split()[0]) + 150:g} degC"
    now = _changed(engine, data)
    _no_better(now, before, "heat.cold_splash")
    if before.facts["has_combustible"]:
        _no_better(now, before, "ignition.")
        _no_better(now, before, "flammability.allowance")


def _never_higher(without: Measure, column: int, base: Measure, plan: int, first: int) -> None:
    """No value above that with fuel; what is not known counts as the most."""
    ours = np.nan_to_num(without.value[first:, column], nan=np.inf)
    theirs = np.nan_to_num(base.value[first:, plan], nan=np.inf)
    assert (ours <= theirs * (1 + 1e-9)).all(), (without.kind, without.at)


@pytest.mark.parametrize("start", range(9))
def test_without_fuel_there_is_never_more_of_it(engine: Engine, start: int) -> None:
    """Fuel over its lower limit and the share of what is allowed fall when no fuel comes at all.

    The fuel ratio alone: other gas that no longer dilutes or sweeps may let in more oxygen. Held
    against the plan as a whole, and against every upset that begins with the first step, each with
    and without all flows that carry fuel.
    """
    loaded = loads(scenario(start))
    carry = [
        name
        for name, flow in loaded.flows.items()
        if FUELS & set(loaded.reagents[flow.reagent].composition)
    ]
    if not carry:
        liquids = {item.liquid for item in loaded.train}
        assert "methanol" in liquids or loaded.title == "A bed dried in a stream of gas" or (
            "hydrogen chloride" in loaded.title.lower()
        )
        return
    lost = {f"flows.{name}.delivered": 0.0 for name in carry}
    early = [o for o in engine.overlays(loaded) if o.from_step == 1 and not o.late][::3]
    # With cylinders or hoses exchanged fuel comes through another flow; what is begun again is
    # swept by the fuel itself.
    apart = ("exchanged", "begun again")
    early = [o for o in early if not o.counters and not any(word in o.id for word in apart)]
    nothing = Overlay(id="no fuel", title="no fuel comes", case="upset", changes=lost)
    pairs = [
        (replace(o, id=f"{o.id}+"), replace(o, id=f"{o.id}-", changes={**o.changes, **lost}))
        for o in early
    ]
    extra = [nothing, *(o for pair in pairs for o in pair)]
    review = engine.review(loaded, upsets=False, extra=extra)
    column = {run.id: n for n, run in enumerate(review.trials.runs)}
    kinds = ("flammability.fuel_to_lower_limit", "flammability.allowance_used")
    measures = [m for m in review.measures if m.kind in kinds]
    assert measures
    for measure in measures:
        _never_higher(measure, column["no fuel"], measure, 0, 0)
        if measure.kind == kinds[0]:
            assert measure.value[:, 0].any() or measure.at not in ("inlet", "tube")
        for with_fuel, without in pairs:
            _never_higher(measure, column[without.id], measure, column[with_fuel.id], 1)


