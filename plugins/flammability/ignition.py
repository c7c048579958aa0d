"""Ignition by the hottest surface the gas touches.

Above its autoignition temperature fuel with oxidiser ignites whatever the envelope says, so the
surface counts wherever more than the allowed fuel meets more than the allowed oxygen, rich gas
included. Below it shares of it in degrees Celsius count, as EN 1127-1 has them, and only for what
autoignition temperatures are measured on: gas no richer in oxygen than air, not much above 1 bar,
with a fuel that needs at least 100 degC.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup

from ..pressure_buildup.relief import relieved
from . import directions
from .limits import TRACE, limits_of
from .ratios import ALLOWANCE_KIND

#: Oxygen content and pressure (Pa absolute) above which published autoignition temperatures do not
#: hold; common practice, no source: they are measured in air at 1 atm and fall with both.
ENRICHED, PRESSED = 0.21, 1.5e5

#: A surface this close to the ignition temperature, K, counts as one that ignites: published
#: values for one substance differ by more. And below this ignition temperature, K, a share of it in
#: degrees Celsius means nothing. Common practice, no source.
CLOSE, LOWEST = 25.0, 373.15


def surface_share(surface: FloatArray, ignition: FloatArray, mixture: FloatArray) -> FloatArray:
    """Surface over ignition temperature in degrees Celsius; 1 or more where it ignites.

    Share of the ignition temperature, raised to 1 within 25 K of it and wherever that lies below
    100 degC; 0 where no more than the allowance is mixed.

    surface, ignition K; mixture share of the allowance used, 1; any shapes that broadcast.

    >>> surface_share(np.array([573.15, 763.15, 283.15]), np.array([773.15, 773.15, 303.15]), 2.0)
    array([0.6, 1. , 1. ])

    Source: [1] EN 1127-1, clause 6.4.2 (from memory).
    """
    share = (surface - 273.15) / (ignition - 273.15)
    ignites = (surface >= ignition - CLOSE) | (ignition < LOWEST)
    share = np.where(ignites, np.maximum(np.where(ignition > 273.15, share, 1.0), 1.0), share)
    value = np.where(mixture <= 1, 0.0, share)
    return np.where(np.isnan(mixture + surface), np.nan, value)


SURFACE = Method(
    id="ignition.surface_to_autoignition",
    title="Hottest surface over autoignition, in degrees Celsius",
    result="surface to ignition temperature",
    unit="1",
    formula=(
        "where(mixture > 1, where((T >= T_ign - 25) | (T_ign < 373.15),"
        " max((T - 273.15) / (T_ign - 273.15), 1), (T - 273.15) / (T_ign - 273.15)), 0)"
    ),
    inputs=(
        Input("T", "T", "K", "hottest surface the gas touches"),
        Input("T_ign", "T_ign", "K", "lowest autoignition or light-off temperature here"),
        Input("mixture", "used", "1", "share of the allowed fuel or oxygen used, worst mixture"),
    ),
    function=lambda T, T_ign, mixture: surface_share(T, T_ign, mixture),
    source="EN 1127-1, clause 6.4.2: share of the ignition temperature in degrees C (from memory)",
    validity=(
        "air or leaner in oxygen, to 1.5 bar; within 25 K of the ignition temperature, and where "
        "that is below 100 degC, as if it ignites; zero where no more than the allowance is mixed"
    ),
)

KIND = Kind.of(
    SURFACE,
    "higher",
    "%",
    directions.SURFACE,
    title="Hottest surface as a share of the autoignition or light-off temperature",
    factor=1.2,
)


def _lowest(setup: Setup, place: Place) -> Quantity:
    """Lowest ignition temperature of what can be in an item, over trials.

    Where one of several is not known, or none holds for this gas, the lowest one that is known
    still says what ignites, and nothing else.
    """
    limits = limits_of(setup.species)
    lowest, guessed = np.full(setup.trials, np.inf), np.zeros(setup.trials, dtype=np.uint8)
    unknown = np.zeros(setup.trials, dtype=bool)
    ends = [end for _, start, stop in setup.segments(place) for end in (start, stop)]
    highest = np.max([*ends, *setup.passing(place)], axis=0)
    names = []
    for row, fuel, point in zip(limits.rows, limits.fuels, limits.autoignition, strict=True):
        present = ~(highest[row] <= TRACE)
        if not present.any():
            continue
        names.append(fuel.name)
        # In air it burns whatever the surface: any temperature is above this one.
        point = 0.0 if fuel.pyrophoric else point
        if fuel.datum("autoignition").how == "estimated":
            guessed = np.where(present, np.uint8(1), guessed)
        unknown |= present & np.isnan(point)
        lowest = np.where(present, np.fmin(lowest, point), lowest)
    for name, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ != place.id or catalyst.light_off == "none":
            continue
        names.append(f"light-off of {name}")
        if catalyst.light_off == "unknown":
            unknown[:] = True
        else:
            lowest = np.fmin(lowest, setup.number(f"catalysts.{name}.light_off").value)
    unknown |= ~(highest[limits.oxygen] <= ENRICHED) & np.isfinite(lowest)
    unknown |= ~(relieved(setup, place)[0].value <= PRESSED) & np.isfinite(lowest)
    unknown &= ~((place.hottest.value >= lowest - CLOSE) | (lowest < LOWEST))
    return Quantity.of(
        np.where(unknown, np.nan, lowest), guessed,
        name=f"ignition temperature ({', '.join(names)})", unit="K", source="reference data",
    )  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    used = {m.at: m for m in setup.measures(ALLOWANCE_KIND.id)}
    for place in setup.places:
        measure = used.get(place.id)
        if measure is None:
            continue
        share = measure.value.reshape(-1)
        mixture = Quantity.of(
            share, measure.status.reshape(-1), name="share of the allowance used", unit="1",
            source=ALLOWANCE_KIND.id,
        )  # fmt: skip
        ratio = SURFACE(T=place.hottest, T_ign=_lowest(setup, place), mixture=mixture)
        idle = share <= 1
        value = np.where(idle, 0.0, ratio.value)
        status = np.where(idle, setup.engine_status, ratio.status)
        done = ratio.revised(value, status)
        yield setup.measure(KIND, done, place.id)


IGNITION = Computation(kinds=(KIND,), compute=_compute, needs=(ALLOWANCE_KIND.id,))
