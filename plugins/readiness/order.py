"""Order of steps: what must come before what, step by step, from the gas that the walk finds.

A rule is broken in a trial where all of its parts exceed 1 at one item.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Setup

from ..shared.fuels import TRACE
from ..shared.names import STILL
from .gases import LIMITS, MISSING, UNSWEPT, Gases

COOL = "readiness.cool_enough"
LABELS = ("in order", "out of order")
ZERO_CELSIUS = 273.15
#: Share of its lower limit that gas may hold where no purge came before: the most that NFPA 69 lets
#: gas hold that is watched (from memory); test gases for alarms hold half of it. Hot it is what the
#: check on flammability takes for no flame, of gas that warms itself little: ovens that dry lean
#: vapours are swept with air (NFPA 86, from memory).
LEAN, HOT_LEAN = 0.6, 0.4
#: What leaves an item is as lean as what came where it is no richer than by rounding.
RICHER = 1.001

ORDER = Method(
    id="readiness.order",
    title="Order of steps",
    result="order (0 in order, 1 out of order)",
    unit="1",
    formula="where(min(parts) > 1, 1, 0)",
    inputs=(Input("parts", "parts", "1", "what makes the order wrong, where all are above 1"),),
    function=lambda parts: _broken(parts),
    source="purging practice: NFPA 69 for the shares; no fuel into air, no air into fuel",
    validity="the steps as written; a purge that is too short is another measure",
)
KIND = Kind.of(ORDER, "higher", "", {"heat.*.cooling_time": "up"}, labels=LABELS)


def _broken(parts: Sequence[FloatArray]) -> FloatArray:
    """1 where all parts exceed 1, 0 where one does not, NaN where that can't be told."""
    stack = np.array(np.broadcast_arrays(*parts))
    fine = (stack <= 1).any(axis=0)
    return np.where(fine, 0.0, np.where(np.isnan(stack).any(axis=0), np.nan, 1.0))


def hotness(hot: FloatArray, cool: float) -> FloatArray:
    """Temperature over the one that counts as cool, in degrees Celsius."""
    return (hot - ZERO_CELSIUS) / (cool - ZERO_CELSIUS)


def _compute(setup: Setup) -> Iterable[Measure]:
    gases = setup.once(Gases)
    held, made = gases.held(), gases.made()
    allowed, guessed = gases.allowed([held, gases.new, made], gases.hot)
    cool = float(setup.limit(COOL).value[0])
    # Lean gas of a cylinder gets leaner by whatever air it meets; cold, that is all there is to it.
    # Hot, what so little may burn without a flame must not warm it much.
    brought, leaves = gases.brought, gases.fuel(made, gases.hot)
    cold = hotness(gases.hot, cool) <= 1
    quiet = gases.burns_quietly([gases.new, held], ~cold & (brought <= HOT_LEAN))
    most = np.where(cold, LEAN, np.where(quiet & ~cold, HOT_LEAN, 0.0))
    most = np.where(leaves <= RICHER * brought, most, 0.0)
    lean = np.maximum(gases.lean_share, most)
    fuel_held = gases.fuel(held, gases.hot) / lean
    # A trace of oxygen is below what is allowed, estimate or not.
    guessed &= ~(np.maximum(gases.oxygen(held), gases.oxygen(gases.new)) <= TRACE)
    fuel_comes = np.maximum(brought, leaves) / lean
    oxygen_held = gases.oxygen(held) / allowed
    oxygen_comes = gases.oxygen(gases.new) / allowed
    no_purge = 2.0 * (1.0 - gases.purge_before)
    exposed = setup.stacked("exposed") > 0
    moved = gases.before(gases.moving) & (gases.cell_before > 0)
    stops = moved & ~gases.moving & (setup.stacked("delivered") == 0)
    hot = hotness(gases.hot, cool)
    flag = "2 where so, else 0"
    elsewhere = {
        f"more than vapour over a cold liquid ({flag})": np.where(gases.elsewhere, 2.0, 0.0)
    }
    rules: dict[str, dict[str, FloatArray]] = {
        "purge before fuel": {
            "fuel that comes, over what is allowed": fuel_comes,
            "oxygen held, over what is allowed": oxygen_held,
            f"no purge came just before ({flag})": np.where(gases.moving, no_purge, 0.0),
            **elsewhere,
        },
        "purge before heat": {
            "fuel that comes, over what is allowed": fuel_comes,
            "oxygen held, over what is allowed": oxygen_held,
            "temperature over the one that counts as cool, degC": hot,
            f"gas flows ({flag})": np.where(gases.moving, 2.0, 0.0),
            **elsewhere,
        },
        "purge before air": {
            "oxygen that comes, over what is allowed": oxygen_comes,
            "fuel held, over what is allowed": fuel_held,
            f"no purge came just before ({flag})": np.where(gases.moving | exposed, no_purge, 0.0),
            **elsewhere,
        },
        "cool before the gas stops": {
            "fuel held, over what is allowed": fuel_held,
            "temperature over the one that counts as cool, degC": hot,
            f"gas stops ({flag})": np.where(stops, 2.0, 0.0),
        },
    }
    for rule, parts in rules.items():
        yield from _step_by_step(setup, gases, rule, parts, guessed)


def _step_by_step(
    setup: Setup,
    gases: Gases,
    rule: str,
    parts: dict[str, FloatArray],
    guessed: NDArray[np.bool_],
) -> Iterable[Measure]:
    stack = np.array(list(parts.values()))
    found = _broken(list(stack))
    # A rule that is surely broken somewhere counts before one that cannot be told.
    worst = np.argmax(np.where(np.isnan(found), 0.5, found), axis=0)
    trials = np.arange(setup.trials)
    there = stack[:, worst, trials]
    doubtful = guessed[worst, trials]
    for cell, step in enumerate(setup.steps, 1):
        counts = gases.in_cell(cell)
        given = [
            gases.step_quantity(value, 0.0, counts, name, "1")
            for name, value in zip(parts, there, strict=True)
        ]
        # A limiting oxygen that is an estimate is an estimate of what is wrong, too.
        given = [
            q.revised(q.value, np.maximum(q.status, (counts & doubtful).astype(np.uint8)))
            if "oxygen" in q.name
            else q
            for q in given
        ]
        done = ORDER(parts=given)
        # One part that keeps the rule keeps it, whatever is doubtful about the others.
        keeps = np.min([np.where(q.value <= 1, q.status, MISSING) for q in given], axis=0)
        kept = keeps < MISSING
        done = done.revised(np.where(kept, 0.0, done.value), np.where(kept, keeps, done.status))
        planned = np.tile([o.case == "plan" for o in setup.runs.overlays], setup.shape[0])
        broken = np.flatnonzero(counts & planned & ~(done.value <= 0))
        note = _unswept(gases, int(worst[broken[0]]), int(broken[0])) if broken.size else ""
        yield setup.measure(KIND, done, step.name, rule, note=note)


def _unswept(gases: Gases, item: int, trial: int) -> str:
    """What to do where gas comes by items that no gas swept in the step before."""
    rests = gases.moving[:, trial] & ~gases.before(gases.moving)[:, trial]
    before = gases.setup.places[item].before
    names = [p.id for p in gases.setup.places if rests[p.index] and p.index in before]
    swept = gases.before(gases.moving)[item, trial]
    if not names or not swept:
        return ""
    return UNSWEPT.format(names[0])


ORDERS = Computation(
    kinds=(KIND,), compute=_compute, limits=(*LIMITS, COOL), needs=(STILL,)
)
