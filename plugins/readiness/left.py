"""What burns or poisons and is still in the train after the last step."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup, Substance

from ..shared.air import RADIUS
from ..shared.harm import failure_limit, limits_of
from ..shared.hood import RATED, TRACER, hood
from ..shared.names import STILL
from .gases import LIMITS, Gases

#: Of the limit for a failure of ten minutes, what may come out of the train unasked: the near field
#: is clear again after some seconds, so that thirty times the limit is about its dose (a
#: judgement, no source), and the criterion refuses at a thousand times this share.
SHARE, SHORTEST = 0.03, 600.0
#: A train is opened within a minute (a judgement, no source).
OPENED = 60.0
#: Of what endangers only above so much (mole fraction) and does not burn, such as carbon dioxide,
#: the limit itself counts and no share of it.
MILD = 1e-2
LEFT = Method(
    id="readiness.left_in_train",
    title="Gas left in the train as a share of what is allowed",
    result="share of what may be left",
    unit="1",
    formula="max(fuel / share, toxic / 0.03)",
    inputs=(
        Input("fuel", "x/L", "1", "fuel held, over its lower limit"),
        Input("share", "share", "1", "share of the lower limit that may be left"),
        Input("toxic", "C/L", "1", "air beside the opened train, over AEGL-2 and IDLH; added up"),
    ),
    function=lambda fuel, share, toxic: np.maximum(fuel / share, toxic / SHARE),
    source=(
        "NFPA 69: 25 % of the lower limit (from memory); AEGL-2 of the US EPA for 10 minutes and "
        "IDLH of NIOSH, all the train's gas let out at once into the half sphere about a person, "
        "or what a tested hood lets out of it"
    ),
    validity="gas alone; what liquids, absorbents and beds hold is another question",
)
KIND = Kind.of(LEFT, "higher", "", {"reagents.*.composition.<fuel>": "up"})


def _compute(setup: Setup) -> Iterable[Measure]:
    gases = setup.once(Gases)
    last = gases.in_cell(setup.shape[0] - 1)
    # Vapour over a liquid that stays there is not flushed away: it stands over every solvent.
    liquids = {name for held in setup.liquids.values() for name in held}
    stays = all(fuel.name in liquids for fuel in gases.limits.fuels)
    fuel = gases.fuel(gases.old, gases.hot)
    fuel = np.where(gases.elsewhere, fuel, 0.0) if stays else fuel
    beside, holds = _beside(setup, gases)
    for place in setup.places:
        if place.is_end:
            continue
        i = place.index
        toxic = np.where(holds[i], beside, 0.0)
        done = LEFT(
            fuel=gases.step_quantity(fuel[i], 0.0, last, f"fuel left in {place.id}", "1"),
            share=Quantity.of(
                gases.lean_share, name="share that may be left", unit="1", source="ruleset"
            ),
            toxic=gases.step_quantity(toxic, 0.0, last, "air beside the opened train", "1"),
        )
        yield setup.measure(KIND, done, place.id)


def _beside(setup: Setup, gases: Gases) -> tuple[FloatArray, FloatArray]:
    """Air beside the opened train over what it may hold, and which items hold poison.

    (trials,) and (items, trials). All the train's gas at once; an item of unknown volume that
    holds poison leaves it unknown.
    """
    air = setup.air("into_hood").sum(axis=0)
    found = hood(setup, air, setup.air("spilled_hood").sum(axis=0))
    contains = np.isfinite(found.factor.value)
    stated = setup.number("ventilation.near_field_radius").value
    radius = np.where(np.isnan(stated), RADIUS, stated)
    total = np.zeros(setup.trials)
    holds = np.zeros((len(setup.places), setup.trials), dtype=bool)
    for row, substance in enumerate(setup.species):
        limit = _limit(setup, substance)
        if limit is None:
            continue
        room, hooded = np.zeros(setup.trials), np.zeros(setup.trials)
        for place in setup.places:
            held = gases.old[place.index, row]
            if place.is_end:
                continue
            holds[place.index] |= ~(held == 0)
            amount = np.where(held == 0, 0.0, held * place.volume.value)
            inside = contains & (place.model.in_ == "hood")
            hooded += np.where(inside, amount, 0.0)
            room += np.where(inside, 0.0, amount)
        factor = np.where(contains, found.factor.value, 0.0)
        breathed = room / (2 / 3 * np.pi * radius**3) + hooded / OPENED / TRACER * RATED * factor
        mild = not limit < MILD and substance.datum("lower_limit_air").state == "none"
        total = total + np.where(breathed == 0, 0.0, breathed / limit * (SHARE if mild else 1.0))
    return total, holds


def _limit(setup: Setup, substance: Substance) -> float | None:
    """What a failure of ten minutes may reach; NaN where nobody knows, None without a limit."""
    seconds = np.full(setup.trials, SHORTEST)
    found = failure_limit(substance, limits_of(setup, substance), seconds)
    return None if found is None else float(found.value.reshape(-1)[0])


LEFT_OVER = Computation(kinds=(KIND,), compute=_compute, limits=LIMITS, needs=(STILL,))
