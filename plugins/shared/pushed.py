"""What a warmed liquid pushes out of its vessel, by the growth of its gas, though nothing flows."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Place, Setup

#: Warming from which a vessel is taken to push out what stands over its liquid, K (a judgement, no
#: source): its gas grows by a thirtieth, and by more over what is volatile.
WARMED = 10.0


def pushed_out(
    setup: Setup, place: Place, given_back: Collection[str] = frozenset()
) -> FloatArray:
    """What warmed liquids upstream push out of their vessels though nothing flows, (species, runs).

    As it stands over them, undiluted; as far as a liquid that takes it up, or for what is
    `given_back` a condenser that is cooled. What no heater heats pushes only while it gets warmer:
    a receiver that cools draws in.
    """
    most, warm = np.zeros((len(setup.species), setup.trials)), setup.once(_pushes)
    sources = {p.index for p in setup.places if p.liquid and warm[p.index].any()}
    if not sources & set(place.before):
        return most

    def back(item: Place, stopped: frozenset[str], open_: FloatArray) -> None:
        for j in item.upstream:
            there = setup.places[j]
            if j in sources:
                over = np.nan_to_num(there.composition("over_liquid"))
                for name in there.liquid.keys() - stopped:
                    row = setup.rows.get(name)
                    if row is not None:
                        way = open_ if name in given_back else 1.0
                        most[row] = np.maximum(most[row], np.where(warm[j], over[row] * way, 0.0))
            cooled = there.model.coolant_temperature is not None
            runs = there.number("cooling").value == 1 if cooled else np.zeros(setup.trials)
            back(there, stopped | frozenset(there.taken_up), np.where(runs, 0.0, open_))

    back(place, frozenset(), np.ones(setup.trials))
    return most


def _pushes(setup: Setup) -> NDArray[np.bool_]:
    """Where an item is warm enough to push out what stands in it, (items, trials)."""
    hot, room = setup.stacked("hot"), setup.number("ambient.temperature")
    warm = ~(hot <= room.value + WARMED)
    warm &= ~(setup.stacked("moving") > 0)
    cells = hot.reshape(-1, *setup.shape)
    before = np.concatenate([np.full_like(cells[:, :1], -np.inf), cells[:, :-1]], axis=1)
    heated = {heat.heats for heat in setup.scenario.heat.values()}
    itself = np.array([p.id in heated or p.model.temperature is not None for p in setup.places])
    return np.asarray(warm & (~(hot <= before.reshape(hot.shape)) | itself[:, None]))
