"""A flame or spark within reach of the gas that leaves: how far the gas burns from an outlet.

The cloud that burns is never longer than a free jet of the gas would be. Whatever lights gas and
stands nearer ignites it as soon as it leaves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Scenario,
    Setup,
    vapour_pressure,
)
from review.physics.gas import R
from review.physics.liquids import driving_pressure, pool_evaporation, spill_area
from review.physics.mixtures import burning_length, cloud_radius

from ..shared.air import AIR_SPEED
from ..shared.dilute import CRACKS, Dilute
from ..shared.fuels import Limits, limits_of
from ..shared.nearby import UNMIXED, indirect
from .outside import OUTLET_KIND

#: Kinematic viscosity of air at 20 degC, m2/s.
AIR_VISCOSITY = 1.5e-5
#: What is spilled runs out to a millimetre, in air of so many m/s (a judgement); a liquid whose
#: amount nobody states counts as a litre. What dissolves badly in the rest has up to so many times
#: the pressure of Raoult's law (acetone in water 7, from memory).
SPILL_DEPTH, INDOORS, LITRE, READILY = 1e-3, 0.5, 1e-3, 10.0
#: Draughts carry what burns at least so far, m, however little it is (a judgement).
LEAST = 0.15

EXTENT = Method(
    id="ignition.cloud_to_flame",
    title="Reach of the gas that leaves, over the distance of a flame or spark",
    result="reach over distance",
    unit="1",
    formula="where(leaves > 1, L / d, 0)",
    inputs=(
        Input("leaves", "r", "1", "flammable content of the leaving gas in air; to 1 it burns not"),
        Input("L", "L", "m", "length up to which its jet burns"),
        Input("d", "d", "m", "distance of the nearest flame or spark; 0 where nobody states it"),
    ),
    function=lambda leaves, L, d: _over(leaves, L, d),
    source=(
        "free jets: laminar, Schlichting, Boundary-Layer Theory; turbulent, Chen and Rodi 1980, "
        "x = 5.4 D sqrt(rho_gas/rho_air)/Y; the shorter of both (from memory)"
    ),
    validity=(
        "still air, 20 degC; not heavy vapour that runs along a bench, nor light gas that collects "
        "under a ceiling; a factor of 2"
    ),
)
KIND = Kind.of(
    EXTENT, "higher",
    moves={"ignition_sources.*.distance": "down", "heat.*.distance": "down"}, factor=2.0,
)  # fmt: skip


def _over(leaves: FloatArray, length: FloatArray, distance: FloatArray) -> FloatArray:
    ratio = np.where(distance > 0, length / distance, np.inf)
    value = np.where(leaves <= 1, 0.0, ratio)
    return np.where(np.isnan(leaves + length + distance), np.nan, value)


LIT = Method(
    id="ignition.lit_leak",
    title="Flame at a joint that opens, or over a spill, where a flame or spark lights it",
    result="length that burns",
    unit="m",
    formula="where(2 * max(L, r) >= d, max(L, r), 0)",
    inputs=(
        Input("L", "L", "m", "length up to which the jet of an opened joint burns"),
        Input("r", "r", "m", "radius in which what is spilled burns"),
        Input("d", "d", "m", "distance of the nearest flame or spark; 0 where nobody states it"),
    ),
    function=lambda L, r, d: _lit(np.maximum(L, r), d),
    source=f"{EXTENT.source}; spills: near field of Nicas (1996), ten times for poor mixing",
    validity=f"{EXTENT.validity}; a single joint or vessel",
)
LIT_KIND = Kind.of(LIT, "higher", factor=2.0)


def _lit(reach: FloatArray, distance: FloatArray) -> FloatArray:
    """Length that burns where it reaches a flame within its factor of 2; NaN where not known."""
    value = np.where(~(2 * reach < distance), reach, 0.0)
    return np.where(np.isnan(reach + distance), np.nan, value)


def _distance(
    setup: Setup, air: str | None, *, heaters: bool = False
) -> tuple[FloatArray, str]:
    """Of the nearest flame, spark or hot surface that can meet what gets into this air (hood,
    room; None: not said), m; infinite where there is none. One whose distance nobody states counts
    as near where it stands there, or may. With `heaters` electric ones too; a whiff from a joint is
    not held to reach them.
    """
    nearest, which = np.full(setup.trials, np.inf), ""
    scenario = setup.scenario
    sources: list[tuple[str, str, str, str | None, float | None]] = [
        (name, source.kind, f"ignition_sources.{name}.distance", source.in_, source.distance)
        for name, source in scenario.ignition_sources.items()
    ]
    stands = {item.id: item.in_ for item in scenario.train}
    sources += [
        (name, heat.kind, f"heat.{name}.distance",
         stands.get(heat.heats) or _heater_stands(scenario, name), heat.distance)
        for name, heat in scenario.heat.items()
        if heat.energy == "flame" or (heaters and _glows(setup, name))
    ]  # fmt: skip
    for name, kind, path, stands_in, stated in sources:
        apart = None not in (stands_in, air) or "outdoors" in (stands_in, air)
        if stated is None and stands_in != air and apart:
            continue
        far = np.zeros(setup.trials) if stated is None else setup.number(path).value
        if (far < nearest).any():
            which = f'the nearest is "{name}" ({kind}), as stated'
            if stated is None:
                which = f'write how far "{name}" stands from it, such as "distance: 500 mm"'
        nearest = np.minimum(nearest, far)
    return nearest, which


def _heater_stands(scenario: Scenario, name: str) -> str | None:
    """Where a heater stands of whose item the file does not say: a furnace beside a hood that is
    said to have none inside, all else where it may."""
    heat = scenario.heat[name]
    hood = None if scenario.ventilation is None else scenario.ventilation.hood
    beside = hood is not None and hood.heat_inside == "no"
    return "room" if heat.energy == "electric" and heat.draughty and beside else None


#: What may stand anywhere in a room of which the file says nothing.
UNSAID = "ignition_sources are not stated (none in the room, or each with its distance)"


def _unsaid(setup: Setup, air: str | None) -> bool:
    """Whether the file says nothing of what may light gas in the room: then it may stand near.

    What stands in a hood is said of the hood (`heat_inside`).
    """
    stated = bool(setup.scenario.ignition_sources) or setup.scenario.nothing_ignites
    return air == "room" and not stated


def _glows(setup: Setup, name: str) -> bool:
    """Whether an electric heater may light what burns here: bare wires, or too hot a mantle."""
    if setup.scenario.heat[name].energy != "electric":
        return False
    points = np.nan_to_num(limits_of(setup.species).autoignition, nan=0.0)
    least = np.full(setup.trials, np.min(points, initial=np.inf))
    return not (indirect(setup, name, least) > 0).all()


def _length(setup: Setup, place: Place, limits: Limits, point: str = "outlet") -> FloatArray:
    mix = place.composition(point)
    fuel = mix[list(limits.rows)]
    share = np.where(fuel <= 0, 0.0, fuel / limits.lower[:, None]).sum(axis=0)
    volume = place.flow.value * R * 293.15 / setup.number("ambient.pressure").value
    mass = 1e3 * np.array([s.molar_mass for s in setup.species]) @ mix
    bore = place.number("inner_diameter").value
    bore = np.where(np.isnan(bore), np.inf, bore)  # the laminar jet alone, which is longer
    return np.maximum(burning_length(volume, share, mass, bore, AIR_VISCOSITY), LEAST)


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    for leaving in setup.measures(OUTLET_KIND.id):
        (place,) = [p for p in setup.places if p.id == leaving.at]
        nearest, which = _distance(setup, place.model.to, heaters=True)
        leaves = Quantity.of(
            leaving.value.reshape(-1), leaving.status.reshape(-1),
            name="flammable content in air", source=OUTLET_KIND.id,
        )  # fmt: skip
        length = Quantity.of(
            np.where(np.isinf(nearest), 0.0, _length(setup, place, limits)),
            np.where(np.isinf(nearest), np.uint8(0), np.uint8(1)),
            name="length of the jet that burns", unit="m", source="free jet",
        )  # fmt: skip
        distance = Quantity.of(
            np.where(np.isinf(nearest), 1e9, nearest), name="distance", unit="m",
            source=which or "no flame or spark is stated",
        )  # fmt: skip
        yield setup.measure(KIND, EXTENT(leaves=leaves, L=length, d=distance), place.id, note=which)
        if _unsaid(setup, place.model.to):
            near = np.where(leaves.value <= 1, 0.0, np.nan)
            lost = Quantity.of(near, name="reach over distance", unit="1", source=UNSAID)
            yield setup.measure(KIND, lost, place.id, "what else may light it", note=UNSAID)
    yield from _leaks(setup, limits)


def _leaks(setup: Setup, limits: Limits) -> Iterable[Measure]:
    """Joints that have opened and liquids that are spilled, beside a flame or spark."""
    found, thin = False, Dilute.of(setup.species, limits)
    for place in setup.places:
        relief, stands = place.model.relief, place.model.in_
        nearest, which = _distance(setup, stands)
        if relief is not None and relief.to not in (None, stands):
            blown, beside = _distance(setup, relief.to)
            nearest, which = np.minimum(nearest, blown), which or beside
        if _unsaid(setup, place.model.to):
            nearest, which = np.zeros(setup.trials), which or UNSAID
        bottle = np.zeros(setup.trials)
        for reagent in setup.scenario.out_of_bottles:
            if place.id in {item.id for item in setup.scenario.filled_from(reagent)}:
                bottle = np.maximum(bottle, _bottle(setup, reagent, limits))
        if (bottle != 0).any():
            apart, near = _distance(setup, "room")
            nearest = np.where(bottle != 0, np.minimum(nearest, apart), nearest)
            which = which or near
        if place.is_end or not limits.fuels or np.isinf(nearest).all():
            continue
        found = True
        inward, spilled = (
            np.nan_to_num(place.number(name).value) > 0 for name in ("open_inward", "spilled")
        )
        opened = (place.outward > 0) | _relieving(place)
        jet, pool = _jet(setup, place, limits, thin), _own_pool(setup, place, limits)
        parts = {
            "L": setup.quantity(np.where(opened, jet, 0.0), "jet of the joint", "m", "free jet"),
            "r": setup.quantity(
                np.where(spilled | (opened & inward), np.maximum(pool, bottle), bottle),
                "cloud of the spill", "m", "near field",
            ),
            "d": setup.quantity(np.where(np.isinf(nearest), 1e9, nearest), "distance", "m", which),
        }  # fmt: skip
        yield setup.measure(LIT_KIND, LIT(**parts), place.id, note=which)
    if not found:
        none = setup.quantity(0.0, "length", "m", "no flame or spark is near what burns")
        yield setup.measure(LIT_KIND, none, "train", note="no flame or spark is near what burns")


def _bottle(setup: Setup, reagent: str, limits: Limits) -> FloatArray:
    """Radius in which vapour burns over a dropped bottle, m; 0 where it is not dropped."""
    volume = setup.number(f"reagents.{reagent}.dropped").value
    room = setup.number("ambient.temperature").value
    pool = _pool(setup, setup.bottled[reagent], volume, room, limits)
    return np.where(volume == 0, 0.0, pool)


def _relieving(place: Place) -> NDArray[np.bool_]:
    """Where gas that flows blows out of an item's relief, and is not led outdoors."""
    relief = place.model.relief
    if relief is None or relief.to == "outdoors":
        return np.zeros(place.pressure.value.shape, dtype=bool)
    opens = place.number("relief.opens_at").value * (1 - 1e-9)
    return np.asarray(~(place.pressure.value < opens))


def _jet(setup: Setup, place: Place, limits: Limits, thin: Dilute) -> FloatArray:
    """Length up to which all gas that passes an item would burn at its joint, before or behind."""
    hot = place.gas_in.value
    cracked = ~(place.hottest.value <= CRACKS)
    out = np.zeros(setup.trials)
    for point in ("inlet", "outlet"):
        burns = ~(thin.share(place.composition(point), hot, cracked) <= 1)
        out = np.maximum(out, np.where(burns, _length(setup, place, limits, point), 0.0))
    return np.where(place.flow.value == 0, 0.0, out)


def _own_pool(setup: Setup, place: Place, limits: Limits) -> FloatArray:
    """Radius in which the vapour of all the liquid of an item burns once it is spilled, m, as hot
    as it is."""
    hot = np.fmax(place.hottest.value, setup.number("ambient.temperature").value)
    stated = place.number("liquid_volume").value
    volume = np.where(np.isnan(stated), LITRE, stated)
    return _pool(setup, setup.liquids.get(place.id, {}), volume, hot, limits)


def _pool(
    setup: Setup, moles: Mapping[str, float], volume: FloatArray, hot: FloatArray, limits: Limits
) -> FloatArray:
    """Radius in which the vapour of so much liquid burns, m.

    A millimetre deep; of a mixture each part as if it boiled off ten times as readily as by
    Raoult's law, since what dissolves badly does.
    """
    p, room = setup.number("ambient.pressure").value, setup.number("ambient.temperature").value
    area = spill_area(volume, SPILL_DEPTH)
    over = np.zeros(setup.trials)
    for fuel, low in zip(limits.fuels, limits.lower, strict=True):
        if moles.get(fuel.name, 0.0) <= 0:
            continue
        own, _ = vapour_pressure(fuel, hot)
        own = np.where(np.isnan(own) & (hot < fuel.number("flash_point")), 0.0, own)
        drive = driving_pressure(min(1.0, READILY * moles[fuel.name]) * own, p)
        rate = pool_evaporation(INDOORS, fuel.molar_mass, area, drive, hot)
        over = over + np.where(rate == 0, 0.0, rate * R * room / p / low)
    speed = setup.number("ventilation.air_speed").value
    return cloud_radius(UNMIXED * over, np.where(np.isnan(speed), AIR_SPEED, speed))


FLAMES = Computation(kinds=(KIND, LIT_KIND), compute=_compute, needs=(OUTLET_KIND.id,))
