"""A flame or spark within reach of the gas that leaves: how far the gas burns from an outlet.

The cloud that burns is never longer than a free jet of the gas would be. Whatever lights gas and
stands nearer ignites it as soon as it leaves.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.gas import R
from review.physics.mixtures import burning_length

from .limits import Limits, limits_of
from .outside import OUTLET_KIND

#: Kinematic viscosity of air at 20 degC, m2/s.
AIR_VISCOSITY = 1.5e-5
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
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(distance > 0, length / distance, np.inf)
    value = np.where(leaves <= 1, 0.0, ratio)
    return np.where(np.isnan(leaves + length + distance), np.nan, value)


def _distance(setup: Setup, place: Place) -> tuple[FloatArray, str]:
    """Of the nearest flame or spark that can meet what leaves here, m; infinite where there is
    none. One whose distance nobody states counts as near where it stands in the same air."""
    nearest, which = np.full(setup.trials, np.inf), ""
    scenario = setup.scenario
    sources: list[tuple[str, str, str, str, float | None]] = [
        (name, source.kind, f"ignition_sources.{name}.distance", source.in_, source.distance)
        for name, source in scenario.ignition_sources.items()
        if source.kind != "hot surface"
    ]
    stands = {item.id: item.in_ or "room" for item in scenario.train}
    sources += [
        (name, heat.kind, f"heat.{name}.distance", stands.get(heat.heats, "room"), heat.distance)
        for name, heat in scenario.heat.items()
        if heat.energy == "flame"
    ]
    for name, kind, path, stands_in, stated in sources:
        if stated is None and stands_in != place.model.to:
            continue
        far = np.zeros(setup.trials) if stated is None else setup.number(path).value
        if (far < nearest).any():
            which = f"{name} ({kind}), {'distance not stated' if stated is None else 'as stated'}"
        nearest = np.minimum(nearest, far)
    return nearest, which


def _length(setup: Setup, place: Place, limits: Limits) -> FloatArray:
    mix = place.composition("outlet")
    fuel = mix[list(limits.rows)]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(fuel <= 0, 0.0, fuel / limits.lower[:, None]).sum(axis=0)
    volume = place.flow.value * R * 293.15 / setup.number("ambient.pressure").value
    mass = np.array([s.molar_mass for s in setup.species]) @ mix
    bore = place.number("inner_diameter").value
    bore = np.where(np.isnan(bore), np.inf, bore)  # the laminar jet alone, which is longer
    return np.maximum(burning_length(volume, share, mass, bore, AIR_VISCOSITY), LEAST)


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    for leaving in setup.measures(OUTLET_KIND.id):
        (place,) = [p for p in setup.places if p.id == leaving.at]
        nearest, which = _distance(setup, place)
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


FLAMES = Computation(kinds=(KIND,), compute=_compute, needs=(OUTLET_KIND.id,))
