"""What opens first where a liquid boils behind a plug: the joint that is only pushed together.

A distillation of taper joints and stoppers does not burst: its weakest joint is lifted long before
the glass lets go, and vapour gets out there, which is played as an opened joint of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Input, Method, Place, Quantity, Setup
from review.physics.vessel import plugged_rise

#: A joint is counted as lifted only at so many times what it is said to hold (a judgement).
SURELY = 2.0
#: A regulator creeps above its setting when nothing flows, by up to 0.3 of it (ISO 2503, memory).
LOCK_UP = 1.3
#: Gas of which so little is there is none (a judgement).
TRACE = 1e-5
#: Most gas that leaves past a lifted joint without a pressure that counts, mol/s: 1 L/min, which at
#: 0.05 bar goes through a gap of 0.3 mm2 (orifice, coefficient 0.6).
SLOW = 1e-3 / 60 * 101325.0 / (8.314462618 * 293.15)
#: The same through a stopper's hole or a hose of 4 mm that has come off, 20 L/min, mol/s.
OFF = 20 * SLOW

RISE = Method(
    id="pressure.plugged_rise",
    title="Pressure rise behind a plug",
    result="pressure rise",
    unit="Pa/s",
    formula="n * R / sum([v / t for v, t in zip(V, T)])",
    inputs=(
        Input("n", "n'", "mol/s", "gas that goes on coming, moles gained in reactions included"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("V", "V", "m3", "gas volume of each item upstream of the plug"),
        Input("T", "T", "K", "hottest temperature of each"),
    ),
    function=lambda n, R, V, T: plugged_rise(
        n, np.array(np.broadcast_arrays(*V)), np.array(np.broadcast_arrays(*T))
    ),
    source="ideal gas: dP/dt = n' R / sum(V/T)",
    validity="temperatures constant; a hot volume counts for less",
)


def relieved(setup: Setup, place: Place) -> tuple[Quantity, NDArray[np.bool_]]:
    """Absolute pressure at an item, no higher than what lifts a joint in the same shut space, Pa;
    and where a joint of the item itself is lifted before it bears more.

    Only after a failure, where nothing is pressed in from a supply above that, or so little comes
    that it goes out past that joint: what is shut on purpose and heated is not relieved by a joint
    that was not meant for it.
    """
    pressure = place.pressure
    shut = setup.failed & (place.leaves <= 0)
    if not shut.any():
        return pressure, shut
    supply, most = place.supply.value, np.full(setup.trials, np.inf)
    for reached, holds in setup.once(_lifting):
        # Only what the same supply presses on: a closed valve may stand between.
        most = np.where(reached >= supply * (1 - 1e-9), np.minimum(most, holds), most)
    most = most + setup.number("ambient.pressure").value
    gentle = (supply <= most) | (setup.once(_brought) <= SLOW)
    held = shut & gentle & np.isfinite(most)
    value = np.where(held, np.minimum(pressure.value, most), pressure.value)
    return pressure.revised(value, pressure.status), held & opens(setup, place)


#: What does no harm where a stopper or hose slides off: it takes the place of air, no more, which
#: the air people breathe is judged by.
HARMLESS = ("nitrogen", "argon", "helium", "neon", "carbon dioxide", "water", "oxygen")
#: Most oxygen of such a gas, and the warmest it may be: what touches nobody's skin hot, K.
MOST_OXYGEN, WARMEST = 0.235, 333.15
#: Water, by mass, in what splashes on nobody's skin as more than water: limewater has 0.998.
PLAIN_WATER = 0.99
#: What comes apart counts as no more than this share of its rating: a condition to look out for it.
COMES_APART = 0.9
#: A soft hose gives way at so little without a bang, Pa gauge (a judgement).
GENTLE = 0.5e5


def soft(place: Place) -> bool:
    """A hose or tube of rubber or plastic."""
    polymer = place.material is not None and place.material.kind == "polymer"
    return polymer and place.kind.id == "line"


def slides_off(setup: Setup, place: Place) -> NDArray[np.bool_]:
    """Where no more happens than that a stopper or soft hose comes off while harmless gas flows at
    hand warmth: no part bursts, and nothing that hurts gets out; nor does it where it bubbles
    through water."""
    joint = place.model.joint
    hose = soft(place) and joint is not None and setup.reference.joint(joint).seal == "hose"
    wets = place.liquid and not place.liquid.get("water", 0.0) >= PLAIN_WATER
    if not (hose or opens(setup, place)) or wets:
        return np.zeros(setup.trials, dtype=bool)
    points = [place.composition(point) for point in ("old", "inlet", "outlet")]
    strange = [row for name, row in setup.rows.items() if name not in HARMLESS]
    pure = np.all([(c[strange] <= TRACE).all(axis=0) for c in points], axis=0)
    lean = np.all([c[setup.rows["oxygen"]] <= MOST_OXYGEN for c in points], axis=0)
    return np.asarray(pure & lean & (place.hottest.value <= WARMEST))


def opens(setup: Setup, place: Place) -> bool:
    """Whether an item has a joint that is lifted before anything breaks."""
    kind = place.model.joint
    return kind is not None and setup.reference.joint(kind).lifts


def pressing(setup: Setup, plug: Place) -> FloatArray:
    """Gauge pressure that the supplies before a plug surely do not pass, Pa."""
    before = {setup.places[i].id for i in plug.before}
    flows = [flow for flow in setup.scenario.flows.values() if flow.into in before]
    held = [setup.scenario.reagents[flow.reagent].held for flow in flows]
    locks = any(
        flow.shut_off_pressure is None and h is not None and h.as_ == "cylinder"
        for flow, h in zip(flows, held, strict=True)
    )
    over = plug.supply.value - setup.number("ambient.pressure").value
    return np.asarray(over * (LOCK_UP if locks else 1.0))


def lifts_first(
    setup: Setup, place: Place, most: FloatArray, slow: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Where what presses does no more than lift the joint of an item, by `pressing`, or a `slow`
    flow goes out past it as it comes. What then gets out is played as a joint that opens. One that
    holds less than its kind opens sooner, and as wide; one said to hold more still opens."""
    if not opens(setup, place):
        return np.zeros(setup.trials, dtype=bool)
    return np.asarray((most <= SURELY * _table(setup, place)) | slow)


def held_down(
    setup: Setup, before: Sequence[Place], supply: FloatArray, slow: NDArray[np.bool_]
) -> FloatArray:
    """Highest absolute pressure that a `slow` supply reaches behind a plug, Pa: the one that lifts
    the weakest joint in the same space that is only pushed together."""
    lifts = [SURELY * _holds(setup, p) for p in before if opens(setup, p)]
    if not lifts:
        return supply
    most = setup.number("ambient.pressure").value + np.min(np.broadcast_arrays(*lifts), axis=0)
    return np.where(slow, np.fmin(supply, most), supply)


def _table(setup: Setup, place: Place) -> float:
    """Gauge pressure that a joint of this kind holds, Pa."""
    value = setup.reference.joint(str(place.model.joint)).rating.value
    return np.inf if value is None else float(value)


def _holds(setup: Setup, place: Place) -> FloatArray:
    """Gauge pressure that a joint is said to hold, no more than its table, Pa."""
    stated = place.number("joint_rating").value - setup.number("ambient.pressure").value
    return np.asarray(np.fmin(stated, _table(setup, place)))


def _brought(setup: Setup) -> FloatArray:
    """What all supplies bring together into what is shut in, mol/s; NaN where one is not known."""
    most = np.zeros(setup.trials)
    for place in setup.places:
        most = np.where(place.leaves <= 0, np.maximum(most, place.delivered.value), most)
    return most


def _lifting(setup: Setup) -> list[tuple[FloatArray, FloatArray]]:
    """Of each such joint of what is shut in: what presses on it, Pa absolute, else nothing (NaN),
    and the gauge pressure that surely lifts it, Pa."""
    return [
        (np.where(p.leaves <= 0, p.supply.value, np.nan), SURELY * _holds(setup, p))
        for p in setup.places
        if not p.is_end and opens(setup, p)
    ]
