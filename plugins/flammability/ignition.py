"""Ignition by the hottest surface the gas touches.

Above its autoignition temperature fuel with oxidiser ignites whatever the envelope says, so the
surface counts wherever more than the allowed fuel meets more than the allowed oxygen, rich gas
included.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup

from . import directions
from .envelope import ALLOWANCE_KIND
from .limits import TRACE, limits_of

#: Oxygen content above which published autoignition temperatures do not hold: the oxidising limit
#: of ISO 10156 as cited in ADR 2.2.2.1.5.
ENRICHED = 0.235

SURFACE = Method(
    id="ignition.surface_to_autoignition",
    title="Hottest surface over autoignition, in degrees Celsius",
    result="surface to ignition temperature",
    unit="1",
    formula="where(mixture > 1, (T - 273.15) / (T_ign - 273.15), 0)",
    inputs=(
        Input("T", "T", "K", "hottest surface the gas touches"),
        Input("T_ign", "T_ign", "K", "lowest autoignition or light-off temperature here"),
        Input("mixture", "used", "1", "share of the allowed fuel or oxygen used, worst mixture"),
    ),
    function=lambda T, T_ign, mixture: np.where(
        np.isnan(mixture),
        np.nan,
        np.where(mixture > 1, (T - 273.15) / (T_ign - 273.15), 0.0),
    ),
    source="EN 1127-1, clause 6.4.2: share of the ignition temperature in degrees C (from memory)",
    validity="air or leaner in oxygen; zero where no more than the allowance is mixed",
)

KIND = Kind(
    id=SURFACE.id,
    factor=1.2,
    title="Hottest surface as a share of the autoignition temperature",
    worse="higher",
    unit="1",
    display="%",
    method=SURFACE.id,
    source=SURFACE.source,
    validity=SURFACE.validity,
    moves=directions.SURFACE,
)


def _lowest(setup: Setup, place: Place) -> tuple[FloatArray, str]:
    """Lowest ignition temperature of what can be in an item, over trials, and whose it is."""
    limits = limits_of(setup.species)
    lowest = np.full(setup.trials, np.inf)
    ends = [end for _, start, stop in setup.segments(place) for end in (start, stop)]
    highest = np.max([*ends, *setup.passing(place)], axis=0)
    names = []
    for row, fuel, point in zip(limits.rows, limits.fuels, limits.autoignition, strict=True):
        present = highest[row] > TRACE
        if present.any():
            names.append(fuel.name)
        # In air it burns whatever the surface: any temperature is above this one.
        point = 273.16 if fuel.pyrophoric else point
        lowest = np.where(present, np.minimum(lowest, point), lowest)
    for name, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ != place.id or catalyst.light_off == "none":
            continue
        names.append(f"light-off of {name}")
        if catalyst.light_off == "unknown":
            lowest = np.full(setup.trials, np.nan)
        else:
            lowest = np.minimum(lowest, setup.number(f"catalysts.{name}.light_off").value)
    oxygen = highest[limits.oxygen]
    rich_oxygen = (oxygen > ENRICHED) & np.isfinite(lowest)
    return np.where(rich_oxygen, np.nan, lowest), ", ".join(names)


def _compute(setup: Setup) -> Iterable[Measure]:
    used = {m.at: m for m in setup.measures(ALLOWANCE_KIND.id)}
    for place in setup.places:
        measure = used.get(place.id)
        if measure is None:
            continue
        lowest, whose = _lowest(setup, place)
        share = measure.value.reshape(-1)
        mixture = Quantity.of(
            share, measure.status.reshape(-1), name="share of the allowance used", unit="1",
            source=ALLOWANCE_KIND.id,
        )  # fmt: skip
        ignition = Quantity.of(
            lowest, name=f"ignition temperature ({whose})", unit="K", source="reference data"
        )
        ratio = SURFACE(T=place.hottest, T_ign=ignition, mixture=mixture)
        idle = share <= 1
        value = np.where(idle, 0.0, ratio.value)
        status = np.where(idle, setup.engine_status, ratio.status)
        done = ratio.revised(value, status)
        yield setup.measure(KIND, done, place.id)


IGNITION = Computation(kinds=(KIND,), compute=_compute, needs=(ALLOWANCE_KIND.id,))
