"""How hot is the outside: insulated sources, and everything a hand may touch."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from review import Computation, FloatArray, Input, Measure, Method, Quantity, Setup
from review.physics.air import AIR_PRANDTL, air_conductivity, air_rayleigh
from review.physics.heat import (
    CONVECTION_SHARE,
    churchill_chu_horizontal_cylinder,
    radiation_coefficient,
    still_air,
)

from .sheet import HOTTER, figure, heated, item_temperature, kind, material_called

#: Conductivities of insulation are stated at 20 degC.
STATED_AT = 293.15

BISECTIONS = 60
CLASSES = ("uncoated_metal", "coated_metal", "ceramic_glass_stone", "plastic", "wood")
SHORT, LONG = "heat.burn_1_s", "heat.burn_1_min"


def insulation_flux(
    inner: ArrayLike,
    surface: ArrayLike,
    conductivity: ArrayLike,
    diameter: ArrayLike,
    thickness: ArrayLike,
) -> FloatArray:
    """Heat through a round insulation layer, per area of its outside, W/m2.

    q = k (Th^4 - Ts^4) / (4 * 293.15^3) / (r ln(r / (r - t))), r = d/2

    inner Th, surface Ts K; conductivity k W/(m K) at 20 degC; outer diameter d, thickness t m; any
    shapes that broadcast. The conductivity is taken to grow as T^3, as if all heat in the wool
    went by radiation: faster than any real wool, which is the hot side above 20 degC.
    Valid: temperatures from 20 degC, t below d/2, fibrous or porous insulation.

    >>> f"{insulation_flux(294.15, 293.15, 0.04, 2.0, 0.001):.1f}"
    '40.2'

    Source: [1] Fourier's law in a hollow cylinder; [2] Rosseland limit for the T^3.
    """
    hot, cold = np.asarray(inner, np.float64), np.asarray(surface, np.float64)
    outer, layer = np.asarray(diameter, np.float64) / 2, np.asarray(thickness, np.float64)
    integral = np.asarray(conductivity) * (hot**4 - cold**4) / (4 * STATED_AT**3)
    path = outer * np.log(outer / np.where(layer < outer, outer - layer, np.nan))
    return np.asarray(integral / path)


def insulated_surface(
    inner: ArrayLike,
    ambient: ArrayLike,
    conductivity: ArrayLike,
    diameter: ArrayLike,
    thickness: ArrayLike,
    emissivity: ArrayLike,
) -> FloatArray:
    """Outside temperature of an insulated cylinder, K.

    Solves insulation_flux(Ts) = still_air(Ts) (Ts - Ta) for Ts by 60 bisections between
    Ta and Th and returns the upper end; never below the ambient.

    inner Th, ambient Ta K; conductivity W/(m K) at 20 degC; outer diameter, thickness m;
    emissivity of the outside; any shapes that broadcast. Valid as the two functions it balances.

    >>> f"{insulated_surface(573.15, 293.15, 0.04, 0.2, 0.05, 0.9) - 273.15:.0f}"
    '70'

    Source: [1] energy balance at the surface.
    """
    th, ta, k, d, t, eps = np.broadcast_arrays(
        *(np.asarray(x, np.float64) for x in
          (inner, ambient, conductivity, diameter, thickness, emissivity))
    )  # fmt: skip
    low, high = ta.copy(), np.maximum(th, ta)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        loses = still_air(middle, ta, d, eps) * (middle - ta)
        hotter = insulation_flux(th, middle, k, d, t) > loses
        low, high = np.where(hotter, middle, low), np.where(hotter, high, middle)
    known = ~np.isnan(insulation_flux(th, ta, k, d, t) + eps)
    return np.where(known, high, np.nan)


FLUX = Method(
    id="heat.insulation_flux",
    title="Heat through the insulation",
    result="heat per area of the outside",
    unit="W/m2",
    formula="k * (Th**4 - Ts**4) / (4 * 293.15**3) / (d / 2 * log(d / (d - 2 * t)))",
    inputs=(
        Input("Th", "T_h", "K", "hot side"),
        Input("Ts", "T_s", "K", "outside, found by bisection"),
        Input("k", "k", "W/(m K)", "conductivity of the insulation at 20 degC"),
        Input("d", "d", "m", "outer diameter"),
        Input("t", "t", "m", "thickness of the insulation"),
    ),
    function=lambda Th, Ts, k, d, t: insulation_flux(Th, Ts, k, d, t),
    source="Fourier's law in a hollow cylinder, conductivity growing as T^3 (upper bound)",
    validity="fibrous or porous insulation above 20 degC that touches the hot side all round",
)
COEFFICIENT = Method(
    id="heat.outside_coefficient",
    title="Heat loss of the outside",
    result="coefficient",
    unit="W/(m2 K)",
    formula=(
        "0.8 * (0.60 + 0.387 * Ra**(1/6) / (1 + (0.559 / 0.683)**(9/16))**(8/27))**2 * c / d"
        " + e * 5.670374419e-8 * (Ts**2 + Ta**2) * (Ts + Ta)"
    ),
    inputs=(
        Input("Ts", "T_s", "K", "outside, found by bisection"),
        Input("Ta", "T_a", "K", "room"),
        Input("Ra", "Ra", "1", "Rayleigh number on the diameter"),
        Input("c", "lambda", "W/(m K)", "conductivity of air at the film temperature"),
        Input("d", "d", "m", "outer diameter"),
        Input("e", "eps", "1", "emissivity of the outside"),
    ),
    function=lambda Ts, Ta, Ra, c, d, e: (
        CONVECTION_SHARE * churchill_chu_horizontal_cylinder(Ra, AIR_PRANDTL) * c / d
        + radiation_coefficient(e, Ts, Ta)
    ),
    source="Churchill & Chu (1975) less its 20 % scatter; Stefan-Boltzmann law",
    validity="horizontal cylinder in still air near 1 atm, surroundings at room temperature",
)
OUTER = Method(
    id="heat.outer_surface",
    title="Temperature of the outside",
    result="outside temperature",
    unit="K",
    formula="Ta + q / h",
    inputs=(
        Input("Ta", "T_a", "K", "room"),
        Input("q", "q", "W/m2", "heat per area of the outside"),
        Input("h", "h", "W/(m2 K)", "heat loss of the outside"),
    ),
    function=lambda Ta, q, h: Ta + q / h,
    source="energy balance at the surface; bare: as hot as the inside, an upper bound",
    validity="steady; no draught, no sun",
)
OVER_BURN = Method(
    id="heat.hot_part_over_burn",
    title="Surface over the burn threshold for a touch of 1 s",
    result="above the threshold",
    unit="K",
    formula="T - T_burn",
    inputs=(
        Input("T", "T", "K", "temperature of the surface"),
        Input("T_burn", "T_b", "K", "burn threshold for its material and the time of contact"),
    ),
    function=lambda T, T_burn: T - T_burn,
    compares=lambda T, T_burn: (T, T_burn),
    compared_in=("K", "degC"),
    source="ISO 13732-1, burn thresholds, low end of each band (from memory)",
    validity="healthy adult skin; smooth surface; whatever is not known counts as bare metal",
)
TO_TOUCH = Method(
    id="heat.minutes_to_touch",
    title="Time from heat off until it may be taken hold of",
    result="time",
    unit="s",
    formula="tau * log(max((T - Ta) / (T_burn - Ta), 1))",
    inputs=(
        Input("tau", "tau", "s", "time constant of cooling, to 1/e"),
        Input("T", "T", "K", "hottest it was"),
        Input("Ta", "T_a", "K", "room"),
        Input("T_burn", "T_b", "K", "burn threshold of one minute for its material"),
    ),
    function=lambda tau, T, Ta, T_burn: tau * np.log(np.maximum((T - Ta) / (T_burn - Ta), 1.0)),
    source="lumped cooling; ISO 13732-1 for the threshold (from memory)",
    validity="one time constant; thick insulation cools from the outside and stays hot inside",
    valid=lambda tau, T, Ta, T_burn: T_burn > Ta,
)

OUTER_KIND = kind(
    OUTER,
    "higher",
    "degC",
    {**HOTTER, "heat.*.insulation_thickness": "down", "heat.*.outer_diameter": "up"},
)
HOT_KIND = kind(
    OVER_BURN,
    "higher",
    "K",
    {**HOTTER, "heat.*.insulation_thickness": "down", "heat.*.outer_diameter": "up"},
)
HANDLED_KIND = kind(
    OVER_BURN,
    "higher",
    "K",
    {
        **HOTTER,
        "flows.*.rate": "up",
        "train.*.heated_length": "up",
        "train.*.bath_temperature": "up",
        "train.*.temperature": "up",
    },
    "heat.handled_part_over_burn",
    "Surface over the burn threshold for a hold of 1 min",
)
GUARDED_KIND = kind(
    OVER_BURN,
    "higher",
    "K",
    {"heat.*.set_temperature": "up"},
    "heat.guarded_part_over_burn",
    "Surface behind a guard over the burn threshold for a touch of 1 s",
)
TOUCH_KIND = kind(TO_TOUCH, "higher", "min", {**HOTTER, "heat.*.cooling_time": "up"})


def _threshold(setup: Setup, contact: str, burn_class: str | None) -> Quantity:
    """Burn threshold of a surface; one nobody named counts as bare metal, the lowest."""
    return setup.limit(f"{contact}.{burn_class or CLASSES[0]}")


def outside(setup: Setup, name: str, inner: Quantity) -> tuple[Quantity, str, str]:
    """Outside of a heat source, its burn class, and why no insulation is credited ('' if it is)."""
    heat = setup.scenario.heat[name]
    casing = material_called(setup, heat.casing)
    burn_class = CLASSES[0] if casing is None else casing.burn_class
    wool = material_called(setup, heat.insulation)
    if wool is None or heat.insulation_thickness is None or heat.outer_diameter is None:
        why = "no insulation is credited: its material, thickness or outer diameter is not known"
        return inner, burn_class, why
    ambient = setup.number("ambient.temperature")
    k = figure(wool, "conductivity", "W/(m K)", wool.name)
    if casing is None:
        eps = Quantity.of(0.0, name="emissivity", unit="1", source="casing not named: no credit")
    else:
        eps = figure(casing, "emissivity", "1", casing.name)
    d, t = (setup.number(f"heat.{name}.{x}") for x in ("outer_diameter", "insulation_thickness"))
    found = insulated_surface(inner.value, ambient.value, k.value, d.value, t.value, eps.value)
    surface = Quantity.of(found, inner.status, name="outside", unit="K", source="bisection")
    film = (found + ambient.value) / 2
    rayleigh = Quantity.of(
        air_rayleigh(found, ambient.value, d.value), name="Rayleigh number", unit="1",
        source="air at the film temperature (U.S. Standard Atmosphere, 1976)",
    )  # fmt: skip
    air = Quantity.of(
        air_conductivity(film), name="conductivity of air", unit="W/(m K)",
        source="U.S. Standard Atmosphere, 1976",
    )  # fmt: skip
    q = FLUX(Th=inner, Ts=surface, k=k, d=d, t=t)
    h = COEFFICIENT(Ts=surface, Ta=ambient, Ra=rayleigh, c=air, d=d, e=eps)
    return OUTER(Ta=ambient, q=q, h=h), burn_class, ""


def _compute(setup: Setup) -> Iterable[Measure]:
    on_purpose = heated(setup)
    places = {place.id: place for place in setup.places}
    ambient = setup.number("ambient.temperature")
    for name, heat in setup.scenario.heat.items():
        place = places[heat.heats]
        inner = item_temperature(place)
        outer, burn_class, why = outside(setup, name, inner)
        yield setup.measure(OUTER_KIND, outer, place.id, name, why)
        short = _threshold(setup, SHORT, burn_class)
        around = GUARDED_KIND if place.model.guard else HOT_KIND
        yield setup.measure(around, OVER_BURN(T=outer, T_burn=short), place.id, name, why)
        own = None if place.material is None else place.material.burn_class
        wait = TO_TOUCH(
            tau=setup.number(f"heat.{name}.cooling_time"), T=inner, Ta=ambient,
            T_burn=_threshold(setup, LONG, own),
        )  # fmt: skip
        yield setup.measure(TOUCH_KIND, wait, place.id, name)
    handled = guarded = 0
    for place in setup.places:
        if place.is_end:
            continue
        hot = place.id in on_purpose or place.model.guard
        own = None if place.material is None else place.material.burn_class
        over = OVER_BURN(
            T=item_temperature(place), T_burn=_threshold(setup, SHORT if hot else LONG, own)
        )
        handled += not hot
        guarded += place.model.guard
        of_kind = GUARDED_KIND if place.model.guard else HOT_KIND if hot else HANDLED_KIND
        yield setup.measure(of_kind, over, place.id)
    if not handled:
        over = OVER_BURN(T=ambient, T_burn=_threshold(setup, LONG, None))
        yield setup.measure(HANDLED_KIND, over, "bench", note="no part is handled while hot")
    bare = on_purpose - {place.id for place in setup.places if place.model.guard}
    if on_purpose and not bare:
        over = OVER_BURN(T=ambient, T_burn=_threshold(setup, SHORT, None))
        yield setup.measure(HOT_KIND, over, "bench", note="every hot part is behind a guard")
    if not guarded:
        over = OVER_BURN(T=ambient, T_burn=_threshold(setup, SHORT, None))
        yield setup.measure(GUARDED_KIND, over, "bench", note="no part is behind a guard")


SURFACES = Computation(
    kinds=(OUTER_KIND, HOT_KIND, GUARDED_KIND, HANDLED_KIND, TOUCH_KIND),
    compute=_compute,
    limits=tuple(f"{contact}.{c}" for contact in (SHORT, LONG) for c in CLASSES),
)
