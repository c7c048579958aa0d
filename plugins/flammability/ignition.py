"""Ignition by the hottest surface the gas touches.

Above its autoignition temperature fuel with oxidiser ignites whatever the envelope says, so the
surface counts wherever more than the allowed fuel meets more than the allowed oxygen, rich gas
included; what is so dilute that all of it burnt warms the gas by a few hundred kelvin at most burns
away without pressure. Below it shares of it in degrees Celsius count, as EN 1127-1 has them, and
only for what autoignition temperatures are measured on: gas no richer in oxygen than air, not much
above 1 bar, with a fuel that needs at least 100 degC.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup

from ..shared.fuels import TRACE, limits_of
from ..shared.lighting import FROM, LIT, lights_from, weak, wet_noble
from ..shared.names import AFTER_BURN_RISE
from ..shared.relief import relieved
from . import directions
from .headspace import ENRICHED, PRESSED
from .ratios import ALLOWANCE_KIND, NEAR_KIND, RISE_KIND
from .tame import TAME_ENERGY, tame

#: How the note of a measure begins that has no value.
LACKS = "not known: "
#: Up to this wall, K, and this pressure, Pa, what ignites from 200 degC on at 1 atm does not
#: ignite: with p as exp(E/(2 R T)) (Semenov, from memory) and 150 kJ/mol, 200 degC at 1 bar is
#: 149 degC at 10 bar.
COOL_WALL, COOL_PRESS, HARD_TO_LIGHT = 333.15, 1.1e6, 473.15

#: A surface this close to the ignition temperature, K, counts as one that ignites: published
#: values for one substance differ by more. And below this ignition temperature, K, a share of it in
#: degrees Celsius means nothing. Common practice, no source.
CLOSE, LOWEST = 25.0, 373.15

#: What burns away without pressure counts as that share of the ignition temperature that EN 1127-1
#: tolerates at most.
AFTER_BURN = 0.8


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


def nearness(
    share: FloatArray,
    near: FloatArray,
    rise: FloatArray,
    most: FloatArray,
    tame: FloatArray | float,
) -> FloatArray:
    """How near a hot surface comes to igniting the gas; 1 and more where it does.

    Below ignition the smaller of the surface's share and of twice the mixture's: 25 % of what burns
    at that temperature counts as half of the way, 40 % as 80 %. Past ignition the share counts,
    whatever the mixture beyond the allowance, but at most 80 % where all that can meet warms the
    gas by no more than `most`: it burns away without pressure; and where it is tame.

    share of `surface_share`; near, worst mixture to what burns; rise, most K; tame 1 or 0, see the
    module of that name; any shapes.

    >>> nearness(np.array([0.9, 0.9, 1.2, 1.2]), np.array([0.3, 0.6, 0.3, 2.0]),
    ...          np.array([900.0, 900.0, 900.0, 400.0]), np.array(500.0), 0.0)
    array([0.6, 0.9, 1.2, 0.8])

    Source: [1] judgements beside NFPA 69; see the method.
    """
    value = np.where(share < 1, np.fmin(share, 2 * near), share)
    value = np.where((rise <= most) | (tame > 0), np.fmin(value, AFTER_BURN), value)
    return np.where(np.isnan(share), np.nan, value)


SURFACE = Method(
    id="ignition.surface_to_autoignition",
    title="Nearness to ignition at the hottest surface",
    result="nearness to ignition",
    unit="1",
    formula=(
        "where(mixture > 1, min(where(where((T >= T_ign - 25) | (T_ign < 373.15),"
        " max((T - 273.15) / (T_ign - 273.15), 1), (T - 273.15) / (T_ign - 273.15)) < 1,"
        " min((T - 273.15) / (T_ign - 273.15), 2 * near),"
        " max((T - 273.15) / (T_ign - 273.15), 1)),"
        " where((rise <= most) | (tame > 0), 0.8, inf)), 0)"
    ),
    inputs=(
        Input("T", "T", "K", "hottest surface the gas touches"),
        Input("T_ign", "T_ign", "K", "lowest autoignition or light-off temperature here"),
        Input("mixture", "used", "1", "share of the allowed fuel or oxygen used, worst mixture"),
        Input("near", "near", "1", "worst mixture to what burns at this temperature"),
        Input("rise", "dT", "K", "most that what meets can warm the gas by burning"),
        Input("most", "dT_max", "K", "up to which it burns away without pressure"),
        Input("tame", "tame", "1", "1 where the item holds what little can burn in it"),
    ),
    function=lambda T, T_ign, mixture, near, rise, most, tame: nearness(
        surface_share(T, T_ign, mixture), near, rise, most, tame
    ),
    source=(
        "EN 1127-1, clause 6.4.2: share of the ignition temperature in degrees C (from memory); "
        "shares of the lower limit as NFPA 69 has them (from memory); dilute gas that burns away "
        "as EN 746-3 has it, which asks for no purge up to 5 % hydrogen (from memory)"
    ),
    # What lights by itself in air (0 K) has no temperature to be told.
    compares=lambda T, T_ign, mixture, near, rise, most, tame: (
        T, np.where(T_ign > 0, T_ign, np.nan)
    ),
    compared_in=("K", "degC"),
    validity=(
        "air or leaner in oxygen, to 1.5 bar; within 25 K of the ignition temperature, and where "
        "that is below 100 degC, as if it ignites; zero where no more than the allowance is mixed"
    ),
)

KIND = Kind.of(SURFACE, "higher", "%", directions.SURFACE, factor=1.2)


#: What `surface_share` and the after-burn give for gas that burns away without pressure.
LIT_LEAN = 0.8


def _lowest(
    setup: Setup, place: Place, rise: FloatArray, burns: NDArray[np.bool_], *, lit: bool = False
) -> Quantity:
    """Lowest ignition temperature of what can be in an item, over trials; `lit`: as if a catalyst
    of unknown light-off lit at any temperature.

    A bed that nobody calls a catalyst lights as one, except gas that burns with no amount of cold
    air (its rise is finite) or whose flame would be too weak to leave the bed.

    Where one of several is not known, or none holds for this gas, the lowest one that is known
    still says what ignites, and nothing else.
    """
    limits = limits_of(setup.species)
    lowest, guessed = np.full(setup.trials, np.inf), np.zeros(setup.trials, dtype=np.uint8)
    unknown = np.zeros(setup.trials, dtype=bool)
    highest, (bed, by) = setup.comes(place), lights_from(setup, place)
    strewn = wet_noble(setup, place)
    names: list[str] = []
    lacks: list[str] = []
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
        lacks += [f"autoignition temperature of {fuel.name}"] * bool(np.isnan(point))
        lowest = np.where(present, np.fmin(lowest, point), lowest)
        if by and (fuel.name in LIT or bed < FROM):
            names.append(f"over {by}")
            here = present & (bed < lowest) & ~np.isfinite(rise) & ~weak(setup, place, limits)
            guessed, lowest = np.where(here, np.uint8(1), guessed), np.where(here, bed, lowest)
        if strewn:
            names.append(f"over {strewn}")
            here = present & _strewn(setup, burns) & ~np.isfinite(rise)
            guessed, lowest = np.where(here, np.uint8(1), guessed), np.where(here, 0.0, lowest)
    for name, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ != place.id or catalyst.light_off == "none":
            continue
        names.append(f"light-off of {name}")
        if catalyst.light_off != "unknown":
            lowest = np.fmin(lowest, setup.number(f"catalysts.{name}.light_off").value)
        elif lit:
            lowest = np.zeros(setup.trials)
        else:
            unknown[:] = True
            lacks.append(f'light-off temperature of {name} ("light_off", such as 200 degC)')
    unknown |= ~(highest[limits.oxygen] <= ENRICHED) & np.isfinite(lowest)
    pressure = relieved(setup, place)[0].value
    cool = (place.hottest.value <= COOL_WALL) & (lowest >= HARD_TO_LIGHT) & (pressure <= COOL_PRESS)
    cool &= not any(catalyst.in_ == place.id for catalyst in setup.scenario.catalysts.values())
    unknown |= ~((pressure <= PRESSED) | cool) & np.isfinite(lowest)
    unknown &= ~((place.hottest.value >= lowest - CLOSE) | (lowest < LOWEST))
    found = setup.quantity(
        np.where(unknown, np.nan, lowest),
        f"ignition temperature ({', '.join(names)})", "K", "reference data",
    )  # fmt: skip
    if lacks or not np.isnan(pressure + highest[limits.oxygen])[unknown].all():
        # Not what the walk had to do without, but these, or too much oxygen or pressure for them.
        why = "the file or the data do not give it" if lacks else "reference data"
        found = replace(found, name=" and ".join(lacks) or found.name, source=why)
    return found.revised(found.value, guessed)


def _strewn(setup: Setup, burns: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Runs in no step of which a powder can be put in while nothing burns; whoever sees the inert
    gas fail does not put it in."""
    fails = np.array([overlay.case == "upset" for overlay in setup.runs.overlays])
    never = burns.reshape(setup.shape)[1:].all(axis=0) & ~fails
    return np.broadcast_to(never, setup.shape).reshape(-1)


def _mixed(setup: Setup, kind: Kind, at: str) -> Quantity | None:
    """What another kind says of a place, with what it lacks as its name where it has no value."""
    for m in setup.measures(kind.id):
        if m.at == at:
            lacks = m.note.removeprefix(LACKS).split("; ")[0] if np.isnan(m.value).any() else ""
            lacks = lacks.partition(" (")[0]
            return Quantity.of(
                m.value.reshape(-1), m.status.reshape(-1), unit=kind.unit,
                name=lacks or kind.title.lower(), source=lacks or kind.id,
            )  # fmt: skip
    return None


def _measured(setup: Setup) -> bool:
    """Whether every flow has an instrument; without one nobody knows how lean the gas is."""
    flows = setup.scenario.flows.values()
    return all(f.instrument is not None and f.instrument.kind != "none" for f in flows)


def _compute(setup: Setup) -> Iterable[Measure]:
    measured = _measured(setup)
    for place in setup.places:
        mixture = _mixed(setup, ALLOWANCE_KIND, place.id)
        near, rise = _mixed(setup, NEAR_KIND, place.id), _mixed(setup, RISE_KIND, place.id)
        if mixture is None or near is None or rise is None:
            continue
        # What is not known of them, or holds for no such gas, earns nothing.
        near = _plain(near, np.isnan(near.value) | (not measured))
        rise = _plain(rise, np.isnan(rise.value))
        quiet = setup.quantity(tame(setup, place, rise.value), "tame", "1", "explosion bound")
        lit, ratio = (
            SURFACE(
                T=place.hottest,
                T_ign=_lowest(setup, place, rise.value, ~(mixture.value <= 1), lit=lit),
                mixture=mixture, near=near,
                rise=rise, most=setup.limit(AFTER_BURN_RISE),
                tame=quiet.revised(quiet.value, np.uint8(0)),
            )
            for lit in (True, False)
        )  # fmt: skip
        # Gas so lean that it does no harm even if it is lit needs nobody's word on when it is.
        mild = np.isnan(ratio.value) & (lit.value <= LIT_LEAN)
        ratio = ratio.revised(np.where(mild, lit.value, ratio.value),
            np.where(mild, lit.status, ratio.status))  # fmt: skip
        idle = mixture.value <= 1
        value = np.where(idle, 0.0, ratio.value)
        status = np.where(idle, mixture.status, ratio.status)
        done = ratio.revised(value, status)
        yield setup.measure(KIND, done, place.id)


def _plain(quantity: Quantity, lost: NDArray[np.bool_]) -> Quantity:
    return quantity.revised(np.where(lost, np.inf, quantity.value),
        np.where(lost, np.uint8(0), quantity.status))  # fmt: skip


IGNITION = Computation(
    kinds=(KIND,),
    compute=_compute,
    needs=(ALLOWANCE_KIND.id, NEAR_KIND.id, RISE_KIND.id),
    limits=(AFTER_BURN_RISE, TAME_ENERGY),
)
