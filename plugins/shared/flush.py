"""Gas held in the train from the step before while it is pushed out into hood and room."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce

import numpy as np

from review import FloatArray, Place, Setup
from review.physics.gas import R


@dataclass(frozen=True, slots=True)
class Flush:
    """Gas still held from the step before while it is pushed out, (species, trials)."""

    rate: FloatArray
    """m3/s at room conditions."""
    amount: FloatArray
    """m3 at room conditions, all that the items hold of it."""


def flushed(setup: Setup) -> dict[str, Flush]:
    """What is pushed out of the train into hood and room.

    The richest gas between the outlet and the nearest item that reacts, absorbs, gives off vapour,
    or joins streams leaves at the step's flow, until all those items are swept.
    """
    shape = (len(setup.species), setup.trials)
    found = {to: Flush(np.zeros(shape), np.zeros(shape)) for to in ("hood", "room")}
    room = setup.number("ambient.pressure").value
    ambient = setup.number("ambient.temperature").value / room
    for place in setup.places:
        to = place.model.to if place.is_end else place.model.in_ or "room"
        if to not in found:
            continue
        share = np.ones(setup.trials) if place.is_end else place.outward
        where = np.flatnonzero(~(share <= 0))  # elsewhere nothing leaves there
        if not where.size:
            continue
        passing = _passing(setup, place)
        chain = [(p.composition("old")[:, where] * whole[where], p) for p, whole in passing]
        held = reduce(np.maximum, [old for old, _ in chain])
        pushed = (place.flow.value * share)[where]
        # Gas at rest is pushed out by nothing, whatever it is.
        rate = np.where(pushed == 0, 0.0, held * pushed * R * ambient[where])
        found[to].rate[:, where] += rate
        amount = np.zeros_like(held)
        for old, p in chain:
            denser = np.maximum(p.pressure.value / room, 1)[where]
            amount += np.where(old == 0, 0.0, old * p.volume.value[where] * denser)
        found[to].amount[:, where] += amount
    return found


def _passing(setup: Setup, place: Place) -> list[tuple[Place, FloatArray]]:
    """An end and the items upstream whose held gas leaves there as it is, 1 where it does.

    An absorbent that is out of action holds nothing back.
    """
    fed = {flow.into for flow in setup.scenario.flows.values()}
    whole = np.ones(setup.trials)
    chain = [(place, whole)]
    while True:
        last = chain[-1][0]
        model, before = last.model, last.upstream
        if model.absorbs:
            whole = whole * (last.number("absorbing").value == 0)
        changes = model.reactions or (model.liquid and not model.absorbs) or not whole.any()
        if changes or len(before) != 1 or model.id in fed:
            return chain
        chain.append((setup.places[before[0]], whole))
