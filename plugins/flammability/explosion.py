"""What an explosion would do: its pressure against what each item holds, and its energy.

Only where the gas of an item passes through a mixture that burns; against what the item holds only
where that mixture has a rule of its own, for elsewhere it is refused. The pressure is a bound: all
of the worst mixture burns at once in a closed vessel and loses no heat. Gas richer in oxygen than
air, and a gas of group IIC in a long line, may detonate and strike an end.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Review,
    Section,
    Setup,
)
from review.physics.burning import detonation_ratio, explosion_energy, explosion_ratio

from ..shared.dilute import Dilute
from ..shared.fuels import GAS, Limits, limits_of
from ..shared.rating import rating
from .cold_train import fierce
from .headspace import ENRICHED, STILL_KIND
from .lines import gases_at, hot_at, may_burn
from .ratios import MARGIN_KIND

#: A line longer than so many bores lets a flame of group IIC run up to a detonation (ISO 16852,
#: from memory).
RUN_UP = 30.0
#: Energy of black powder, J/g (handbooks, from memory).
POWDER = 3000.0
CUSTOMARY = (
    "Customary up to some kilojoules: a polycarbonate screen or the closed sash between it and "
    "everybody, a face shield, nobody nearer than an arm's length, glass taped or netted; beyond "
    "that a closed cubicle (common practice, no source). How far fragments fly is not known."
)

OVER_RATING = Method(
    id="explosion.over_rating",
    title="Pressure of an explosion over what the item holds",
    result="share of the rating",
    unit="1",
    formula="where(burns > 0, p * (r - 1) / rating, 0)",
    inputs=(
        Input("burns", "burns", "1", "1 where the gas passes through a mixture that burns"),
        Input("p", "p", "Pa", "absolute pressure before"),
        Input("r", "r", "1", "most that an explosion multiplies it by"),
        Input("rating", "rating", "Pa", "gauge pressure the item holds without its joints"),
    ),
    function=lambda burns, p, r, rating: np.where(burns > 0, p * (r - 1) / rating, 0.0),
    source="energy balance at constant volume, no heat lost; detonation after Lewis and von Elbe",
    validity="one vessel, an upper bound; what piles up between connected vessels is not known",
)
ENERGY = Method(
    id="explosion.energy",
    title="Work that an explosion can do if the item lets go",
    result="work",
    unit="J",
    formula="where(burns > 0, p * (r - 1) * V / 0.25, 0)",
    inputs=(*OVER_RATING.inputs[:3], Input("V", "V", "m3", "gas volume of the item")),
    function=lambda burns, p, r, V: np.where(burns > 0, explosion_energy(p * r, p, V), 0.0),
    source="Brode 1959, as in Crowl & Louvar, Chemical Process Safety",
    validity="as the pressure",
)
OVER_KIND = Kind.of(OVER_RATING, "higher", "1", factor=2.0)
ENERGY_KIND = Kind.of(ENERGY, "higher", "kJ", factor=2.0)


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    if not limits.fuels:
        return
    thin = Dilute.of(setup.species, limits)
    margins = {m.at: m.value.reshape(-1) for m in setup.measures(MARGIN_KIND.id)}
    own = {m.at: m.value.reshape(-1) for m in setup.measures(STILL_KIND.id)}
    for place in setup.places:
        if place.is_end or place.id not in margins:
            continue
        burns = setup.quantity(
            np.where(margins[place.id] >= 0, 0.0, 1.0), "burns", "1", "margin to the envelope"
        )
        most = _ratio(setup, place, limits, thin)
        ratio = setup.quantity(most, "explosion ratio", "1", "worst mixture, mixing lines")
        allowed = setup.quantity(
            np.where(own[place.id] <= 0, 0.0, burns.value), "burns", "1", "a rule of its own"
        )
        over = OVER_RATING(
            burns=allowed, p=place.pressure, r=ratio, rating=rating(setup, place, joint=False)
        )
        yield setup.measure(OVER_KIND, _quiet(over, allowed), place.id)
        energy = ENERGY(burns=burns, p=place.pressure, r=ratio, V=place.volume)
        yield setup.measure(ENERGY_KIND, _quiet(energy, burns), place.id)


def _quiet(found: Quantity, burns: Quantity) -> Quantity:
    """Nothing where nothing burns, whatever is not known."""
    none = burns.value <= 0
    return found.revised(np.where(none, 0.0, found.value), np.where(none, 0, found.status))


def _ratio(setup: Setup, place: Place, limits: Limits, thin: Dilute) -> FloatArray:
    """Most that an explosion multiplies the pressure by, over all gases that meet at an item."""
    some, here = setup.distinct(place, GAS, ("old", "outlet", "moving", "hot"))
    whole = gases_at(some, here, limits, hot_at(here, limits), every=True)
    may = may_burn(whole, limits)
    line, trial = np.nonzero(may)
    found = thin.explosion(thin.parts(whole.ends(line, trial)), 0, 1)
    heat, used, noble = np.zeros((3, *may.shape))
    heat[may], used[may], noble[may] = found
    worst = np.where(np.isnan(heat), np.inf, heat).argmax(axis=0)[None]
    heat, used, noble = (np.take_along_axis(x, worst, 0)[0] for x in (heat, used, noble))
    # Cold gas is denser, so that the same heat raises the pressure more often over.
    start = np.minimum(here.coldest.value, here.hottest.value)
    ratio = some.over_all(explosion_ratio(heat, np.minimum(used, 1 - noble), noble, start))
    enriched = some.over_all(~(whole.gases[:, limits.oxygen].max(axis=0) <= ENRICHED))
    bores = place.number("length").value / place.number("inner_diameter").value
    runs = ~(bores <= RUN_UP) & (fierce(limits) and place.kind.id in ("line", "reactor", "column"))
    return np.where(enriched | runs, detonation_ratio(ratio), ratio)


def section(review: Review) -> Section | None:
    """What an explosion of each item's worst mixture would set free as planned, beside something
    known, and what is customary against it."""
    lines = []
    for measure in review.measures:
        if measure.kind != ENERGY_KIND.id:
            continue
        most = float(np.nan_to_num(measure.value[:, 0], nan=np.inf).max())
        if np.isinf(most):
            lines.append(f"{measure.at}: not known")
        elif most > 0:
            powder = most / POWDER
            lines.append(
                f"{measure.at}: at most {most / 1e3:.2g} kJ, as {powder:.2g} g of black powder"
            )
    if not lines:
        return None
    return Section("What an explosion could do, were the gas lit", (*lines, CUSTOMARY))


EXPLOSION = Computation(
    kinds=(OVER_KIND, ENERGY_KIND), compute=_compute, needs=(MARGIN_KIND.id, STILL_KIND.id)
)
