"""The pressure to which a slow generator can press: the one that lifts its own stopper.

A flask in which gas is made has no regulator. What ends the rise behind a plug is the joint of the
flask that is only pushed together: it is lifted and lets out as much as is made.
"""

from __future__ import annotations

import numpy as np

from review.interface.measure import FloatArray
from review.walk.flowing import Flow
from review.walk.state import Moment

#: A joint is counted as lifted only at so many times what it is said to hold (a judgement).
SURELY = 2.0
#: Most gas that leaves past a lifted stopper without a pressure that counts, mol/s: 1 L/min, which
#: at 0.05 bar goes through a gap of 0.3 mm2 (orifice, coefficient 0.6).
SLOW = 1e-3 / 60 * 101325.0 / (8.314462618 * 293.15)


def lifted(at: Moment, flow: Flow, name: str, i: int) -> FloatArray:
    """Pressure that lifts the stopper of the item that a gas is made in, Pa absolute, (runs,).

    NaN for what is no generator, for one that may give more than SLOW or of which nobody says how
    much it can give, for an item whose joint is not pushed together, and where the way out is shut
    on purpose: that joint was not meant to open.
    """
    none = np.full(at.runs.size, np.nan)
    scenario = at.resolved.scenario
    stated, item = scenario.flows[name], scenario.train[i]
    held = scenario.reagents[stated.reagent].held
    if held is None or held.as_ != "generator" or item.joint is None:
        return none
    joint = at.resolved.reference.joint(item.joint)
    if not joint.lifts:
        return none
    table = float("nan") if joint.rating.value is None else float(joint.rating.value)
    claimed = at.number(f"train.{item.id}.joint_rating") - at.ambient_pressure
    holds = np.fmin(claimed, table)
    rate, at_most = at.number(f"flows.{name}.rate"), at.number(f"flows.{name}.at_most")
    most = flow.feeds[name].sum(axis=0) * np.maximum(at_most / rate, 1.0)
    planned = np.array([overlay.case == "plan" for overlay in at.runs.overlays])
    planned |= ~at.runs.begun(at.cell, before=at.before)  # until it begins a failure is the plan
    slow = (most <= SLOW) & ~(planned & (flow.start.leaves[i] <= 0))
    return np.asarray(np.where(slow, at.ambient_pressure + SURELY * holds, np.nan))
