"""The liquids stage: what each item's liquid does in one step, between flow and pressure.

A liquid is a source of gas whether or not anything is fed, and a cold surface takes gas out. The
stage reads the flow and says, for each item and each run: how much vapour of which species the
liquid gives off by itself (mol/s) and for how long (s), how hot the liquid is (K), and how many
moles of which species a cold surface has condensed. The stages after it (rest, pressure, air) and
the checks read nothing else of liquids.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.items import ItemView
from review.interface.measure import FloatArray
from review.walk.flowing import Flow
from review.walk.state import Moment


@dataclass(frozen=True, slots=True)
class Liquids:
    """The balance of heat and mass of each item's liquid in one step.

    Arrays (items, runs), and (items, species, runs) where said; zeros where an item holds none.
    """

    vapour: FloatArray
    """(items, species, runs) vapour it gives off by itself, mol/s: evaporation or boiling, not
    what a carrier gas takes along (that is in the flow)."""
    lasts: FloatArray
    """How long it goes on, s: until the liquid is gone; infinite where nothing is given off."""
    temperature: FloatArray
    """Temperature of the liquid, K; NaN without one."""
    condensed: FloatArray
    """(items, species, runs) what a cold surface has taken out of the gas by the end, mol."""
    over: FloatArray
    """(items, species, runs) mole fractions over the liquid at rest; the old gas without one."""
    vapour_pressure: FloatArray
    """Sum of the vapour pressures over it, Pa; 0 without liquid."""


def liquids(at: Moment, flow: Flow) -> Liquids:
    """What the liquids of the train do in this step."""
    rows = flow.start.outlet.shape
    items, _, size = rows
    return Liquids(
        vapour=np.zeros(rows),
        lasts=np.full((items, size), np.inf),
        temperature=np.array(
            [v.liquid_temperature if v.vapours else np.full(size, np.nan) for v in flow.views]
        ),
        condensed=np.zeros(rows),
        over=_over(flow.views, at.state.filling, flow.start.pressure),
        vapour_pressure=np.array(
            [
                view.partial_pressures().sum(axis=0) if view.vapours else np.zeros(view.size)
                for view in flow.views
            ]
        ),
    )


def _over(views: list[ItemView], filling: FloatArray, pressure: FloatArray) -> FloatArray:
    """What stands over a liquid at rest: the old gas saturated with its vapour.

    NaN where the liquid would boil or its vapour pressure is not known.
    """
    out = filling.copy()
    for i, view in enumerate(views):
        if not view.vapours:
            continue
        share = view.partial_pressures() / pressure[i]
        full = share.sum(axis=0)
        ids = [v.species for v in view.vapours]
        dry = filling[i].copy()
        dry[ids] = 0.0
        dry_total = dry.sum(axis=0)
        out[i] = dry * (1 - full) / np.where(dry_total > 0, dry_total, 1.0)
        out[i][ids] = share
        out[i] = np.where(full < 1, out[i], np.nan)
    return out
