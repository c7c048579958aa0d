"""Air that comes in through the walls of hoses: oxygen into hot fuel, moisture where it harms."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.gas import R
from review.physics.permeation import let_in

LET_IN = Method(
    id="permeation.let_in",
    title="What comes in through hoses, over what may",
    result="share of what may come in",
    unit="1",
    formula="x / most",
    inputs=(
        Input("x", "x", "mol/mol", "comes in through the walls of all hoses before here"),
        Input("most", "x_max", "mol/mol", "as much as may"),
    ),
    function=lambda x, most: x / most,
    compares=lambda x, most: (x, most),
    compared_in=("mol/mol", "%"),
    source=(
        "mass balance with the permeability of the polymer; 2 % oxygen: NFPA 69, 40 % of the 5 % "
        "that hydrogen needs (from memory); 1 % of water: a judgement, no source"
    ),
    validity="a polymer's figure holds within a factor of 3; none of it used up on the way",
)
KIND = Kind.of(LET_IN, "higher", "%", {"train.*.wall": "down", "train.*.length": "up"}, factor=3.0)
#: What may come in, mol/mol.
OXYGEN, WATER = 0.02, 0.01
#: Surfaces are hot from here on over a catalyst, else from so far below autoignition, K
#: (judgements, no source).
HOT, BELOW = 373.15, 100.0
#: Half saturated at 25 degC is 1.6 kPa of water (Wagner and Pruss 1993, rounded up).
MOISTURE = 1.6e3
#: Below this share of what hates moisture there is little to spoil (a judgement, no source).
LITTLE = 0.01
#: Share of oxygen in air.
AIR = 0.2095
#: Classes of what moisture turns into acid or fire.
DRY = frozenset(
    {"water-reactive", "heats with water", "acid chloride", "alkali metal", "metal hydride"}
)


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    hoses = {p.index: p for p in setup.places if not (p.permeance("other").value <= 0).all()}
    for place in setup.places if hoses else ():
        before = [hoses[i] for i in place.before if i in hoses]
        if not before or place.is_end:
            continue
        for gas, pressure, most, matters in _wanted(setup, place):
            comes = _comes(setup, place, before, gas, pressure)
            counts = np.where(matters, comes.value, 0.0)
            comes = comes.revised(counts, np.where(matters, comes.status, np.uint8(0)))
            share = LET_IN(x=comes, most=Quantity.of(most, name="may come in", source="stated"))
            found = True
            yield setup.measure(KIND, share, place.id, gas)
    if not found:
        none = setup.quantity(0.0, "share", "1", "no hose of a polymer before what air harms")
        yield setup.measure(KIND, none, "train")


def _wanted(
    setup: Setup, place: Place
) -> Iterator[tuple[str, FloatArray, float, NDArray[np.bool_]]]:
    """Oxygen and water: partial pressure in the room, as much as may come in, where it matters."""
    held = np.max([place.composition(p) for p in ("old", "inlet")], axis=0)
    fuel, lights = np.zeros(setup.trials), np.full(setup.trials, np.inf)
    catalysed = any(catalyst.in_ == place.id for catalyst in setup.scenario.catalysts.values())
    for substance, amount in zip(setup.species, held, strict=True):
        if substance.combustible is not False:
            # What stays below it in nitrogen burns with no amount of air.
            never, lean = (substance.datum(n).value for n in ("iso10156_tci", "lower_limit_air"))
            limit = never or lean
            lower = np.minimum(lights, substance.datum("autoignition").value or 0.0)
            lights = np.where(amount <= LITTLE, lights, lower)
            fuel = fuel + np.where(amount <= 0, 0.0, amount / (limit or 1e-3))
    room = setup.number("ambient.pressure").value
    hot = np.full(setup.trials, HOT) if catalysed else np.maximum(HOT, lights - BELOW)
    if any(substance.combustible is not False for substance in setup.species):
        yield "oxygen", AIR * room, OXYGEN, ~(fuel < 1) & ~(place.hottest.value < hot)
    dry = [i for i, s in enumerate(setup.species) if DRY & set(s.classes or ())]
    if not dry:
        return
    wet = held[dry].sum(axis=0)
    water = setup.rows.get("water")
    damp = np.zeros(setup.trials) if water is None else held[water]
    # Where the gas is as moist as that by itself, the hose adds nothing new. What stands in a hose
    # when the run is over gets moist in any case.
    yield (
        "water",
        np.full(setup.trials, MOISTURE),
        WATER,
        ~(wet <= LITTLE) & ~(damp >= WATER) & (place.moving > 0),
    )


def _comes(
    setup: Setup, place: Place, before: list[Place], gas: str, outside: FloatArray
) -> Quantity:
    """Mole fraction that comes in: all hoses into gas that flows, the worst where it stands."""
    walls = [hose.permeance(gas) for hose in before]
    pressure = place.pressure.value
    lasts = [setup.duration(cell) for cell in range(setup.shape[0])]
    lasts[-1] = np.fmin(lasts[-1], COOLING)
    times = np.concatenate(lasts)
    time = np.where(np.isnan(times), WORKING_DAY, times)

    def share(wall: FloatArray, flow: FloatArray, held: FloatArray) -> FloatArray:
        return let_in(wall, outside, flow, held, time, pressure)

    flow = place.flow.value * place.moving
    still = [
        share(wall.value, np.zeros(setup.trials),
              hose.pressure.value * hose.volume.value / (R * hose.coldest.value))
        for hose, wall in zip(before, walls, strict=True)
    ]  # fmt: skip
    moving = share(np.sum([wall.value for wall in walls], axis=0), flow, np.ones(setup.trials))
    found = np.where(place.moving > 0, moving, np.max(still, axis=0))
    status = np.max([place.pressure.status, *(wall.status for wall in walls)], axis=0)
    return Quantity.of(
        found, np.where(np.isnan(found), np.uint8(3), status), name=f"{gas} through hoses",
        unit="mol/mol", source="permeability of the hoses",
    )  # fmt: skip


#: How long a step lasts where nobody says, and how long what is left alone stays hot, s.
WORKING_DAY, COOLING = 8 * 3600.0, 3600.0

HOSES = Computation(kinds=(KIND,), compute=_compute)
