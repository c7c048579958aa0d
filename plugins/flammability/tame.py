"""Dilute gas in a hot item into which air comes after a failure.

Cold it burns in no amount of air (ISO 10156), so that no flame leaves the hot item by the gas of
its cold ends. What can burn in it is little, and where the item holds what that would press if all
of it burnt at once, it is no explosion.
"""

from __future__ import annotations

import numpy as np

from review import FloatArray, Place, Setup
from review.physics.burning import explosion_energy, explosion_ratio

from ..shared.dilute import AIR_HEAT, Dilute
from ..shared.fuels import NOBLE, limits_of
from ..shared.rating import rating

TAME_ENERGY = "ignition.tame_energy"
#: Temperatures between 25 degC and the hottest at which the gas is looked at.
LOOKS = 9


def tame(setup: Setup, place: Place, rise: FloatArray) -> FloatArray:
    """1 in trials where an item holds what the gas in it could press, else 0.

    After a failure. P0 (r - 1) is at most what the item's body holds, and the energy of what is hot
    enough to burn at most what the ruleset allows; r by `explosion_ratio` of all that can burn,
    from the lowest temperature at which the gas burns in some air, so never too low. What comes
    then burns as it comes.

    rise K, of what meets here by burning, infinite where it burns in cold air. An unknown figure
    earns nothing.
    """
    may = setup.failed & np.isfinite(rise)
    if not may.any():
        return np.zeros(setup.trials)
    noble = float(any(s.name in NOBLE for s in setup.species))
    start = _burns_from(setup, place)
    ratio = explosion_ratio(np.where(may, rise, 0.0) * AIR_HEAT, 0.0, noble, start)
    before = place.pressure.value
    holds = rating(setup, place, joint=False).value
    volume = place.volume.value * _hot_share(setup, place, start)
    energy = explosion_energy(before * ratio, before, volume)
    quiet = (before * (ratio - 1) <= holds) & (energy <= setup.limit(TAME_ENERGY).value)
    return np.where(may & quiet, 1.0, 0.0)


def _hot_share(setup: Setup, place: Place, start: FloatArray) -> FloatArray:
    """Share of an item that is hotter than where its gas begins to burn; all where nobody says.

    The heated length and of both ends what a straight line to the room's temperature leaves above:
    a bare end cools faster than that.
    """
    length, heated = place.number("length").value, place.number("heated_length").value
    room, hottest = setup.number("ambient.temperature").value, place.hottest.value
    ends = np.clip((hottest - start) / (hottest - room), 0.0, 1.0)
    share = (heated + (length - heated) * ends) / length
    return np.where(share <= 1, share, 1.0)


def _burns_from(setup: Setup, place: Place) -> FloatArray:
    """Lowest temperature at which any gas of an item burns in some amount of air, K."""
    limits = limits_of(setup.species)
    thin = Dilute.of(setup.species, limits)
    points = ("old", "inlet", "outlet", "outlet_middle", "outlet_end")
    some, here = setup.distinct(place, points, ("hot",))
    gases = np.array([here.composition(point) for point in points])
    hottest = here.hottest.value
    cracked = thin.cracked(some, here)
    lowest, share = hottest.copy(), thin.shares(gases)
    for n in reversed(range(LOOKS)):
        this, below = (298.15 + (hottest - 298.15) * max(m, 0) / (LOOKS - 1) for m in (n, n - 1))
        burns = ~(share(this, cracked).max(axis=0) <= 1)
        lowest = np.where(burns, below, lowest)
    return np.asarray(some.over_all(np.minimum(lowest, hottest)))
