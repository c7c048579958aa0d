"""Acid that condenses from moist gas at a cold spot: it is there as a strong solution."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from review import FloatArray, Place, Setup, vapour_pressure
from review.physics.dew import acid_dew_point

#: Mass fraction of what condenses first: the mixtures that boil constantly (handbooks, from
#: memory), and of sulfuric acid what condenses from flue gas.
STRENGTH = {
    "sulfuric acid": 0.80, "hydrogen chloride": 0.20, "hydrogen bromide": 0.48, "nitric acid": 0.68,
}  # fmt: skip
#: What becomes the acid with water: sulfur trioxide at once, the dioxide over a catalyst in air.
MAKES = {"sulfur trioxide": "sulfuric acid", "sulfur dioxide": "sulfuric acid"}
#: Below this mole fraction an acid is not followed: the equations end at some parts per million.
LEAST = 1e-6


class Condensing(NamedTuple):
    """In which trials an acid condenses here (1 or 0), how strong, and what to say of it."""

    where: FloatArray
    strength: float
    note: str


def condensing(setup: Setup, place: Place) -> Iterator[tuple[str, Condensing]]:
    """Each acid that condenses in an item in some trial; what is not known condenses."""
    index = setup.rows
    if "water" not in index or place.is_end:
        return
    found: dict[str, FloatArray] = {}
    for name in (*STRENGTH, *MAKES):
        acid = MAKES.get(name, name)
        if name not in index or (name == "sulfur dioxide" and not _oxidised(setup, place)):
            continue
        for point in ("inlet", "outlet", "outlet_end"):
            gas = place.composition(point)
            pressure, share = place.pressure.value, gas[index[name]]
            water = gas[index["water"]] * pressure
            dew = np.where(share <= LEAST, 0.0, acid_dew_point(acid, water, share * pressure))
            # Where water alone condenses it takes the acid with it.
            least, _ = vapour_pressure(setup.reference.substance("water"), place.coldest.value)
            rains = ~(water <= least) & ~(share <= LEAST)
            dew = np.where(rains, np.fmax(dew, place.coldest.value), dew)
            dew = np.where(water == 0, 0.0, dew)
            found[acid] = np.fmax(found.get(acid, dew), dew)
    for acid, dew in found.items():
        where = ~(dew < place.coldest.value)
        if where.any():
            degrees = np.nanmax(np.where(where, dew, np.nan), initial=0.0) - 273.15
            note = f"{acid} condenses here with water below {max(degrees, 0.0):.0f} degC"
            yield acid, Condensing(where.astype(float), STRENGTH[acid], note)


def _oxidised(setup: Setup, place: Place) -> bool:
    """Whether sulfur dioxide may have become the trioxide: over a catalyst on its way, in air."""
    before = {setup.places[i].id for i in place.before}
    beds = {catalyst.in_ for catalyst in setup.scenario.catalysts.values()}
    return bool(before & beds) and "oxygen" in setup.rows
