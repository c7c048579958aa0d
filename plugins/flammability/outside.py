"""Gas outside the train: at the outlet's mouth, in the hood's exhaust and in the room."""

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
    Setup,
)
from review.physics.mixtures import burgess_wheeler_lower, iso10156_ratio

from ..shared.dilute import CRACKED, CRACKS
from ..shared.fuels import TRACE, Limits, limits_of
from ..shared.nearby import UNMIXED, into_hood_or_outdoors, nothing_near
from . import directions
from .ratios import SHARE, TO_LOWER

IN_AIR = Method(
    id="flammability.outlet_in_air",
    title="Gas leaving the train, once it meets air",
    result="flammable content in air",
    unit="1",
    formula=(
        "where(sum(A) > 0, sum([a / t for a, t in zip(A, Tc)])"
        " / (sum(A) + sum([k * b for k, b in zip(K, B)])), 0)"
    ),
    inputs=(
        Input("A", "A", "mol/mol", "each fuel"),
        Input("Tc", "Tc", "mol/mol", "its highest content in nitrogen not flammable in air"),
        Input("B", "B", "mol/mol", "each inert"),
        Input("K", "K", "1", "its strength against nitrogen's"),
    ),
    function=lambda A, Tc, B, K: iso10156_ratio(
        np.array(np.broadcast_arrays(*A)),
        np.array(np.broadcast_arrays(*Tc)),
        np.array(np.broadcast_arrays(*B)),
        np.array(np.broadcast_arrays(*K)),
    ),
    source="ISO 10156 (2010/2017), classification of gas mixtures in air",
    validity="1 atm, at the temperature it leaves with; other components count as nothing; says "
    "nothing of poison",
)

LED = Method(
    id="flammability.outlet_led_away",
    title="Gas leaving the train in air, as far as it is not led away from all that lights it",
    result="flammable content in air",
    unit="1",
    formula="where(away > 0, min(ratio, 0.9), ratio)",
    inputs=(
        Input("ratio", "ratio", "1", "flammable content of the leaving gas in air"),
        Input("away", "away", "1", "1 where it is led away and nothing near lights it"),
    ),
    function=lambda ratio, away: np.where(
        np.isnan(ratio), np.nan, np.where(away > 0, np.minimum(ratio, 0.9), ratio)
    ),
    source="EN 1127-1: an outlet into a working hood or outdoors, no ignition source near (memory)",
    validity=(
        "as planned up to 40 times what burns in air or a quarter of a litre of fuel a minute, "
        "beyond that it is to be condensed or burnt; "
        "after a failure whatever leaves, and the air of hood and room is judged by itself"
    ),
)
#: As planned, gas richer than this is not to be led away: a litre makes as many that burn.
MOST_LED = 40.0
#: Fuel that may be let into a hood however rich it is, mol/s: 10 mL of a light solvent that dry up
#: in ten minutes, a quarter of a litre of vapour a minute (common practice, no source).
A_LITTLE = 1.7e-4

OUTLET_KIND = Kind.of(
    IN_AIR, "higher", "", directions.OUTLET, factor=1.5,
    title="Fuel in the leaving gas as a share of what burns in air",
)  # fmt: skip
LED_KIND = Kind.of(LED, "higher", moves=directions.OUTLET, factor=1.5)
AIR_KIND = Kind.of(
    TO_LOWER, "higher", "%", directions.AIR, id="flammability.air_to_lower_limit", factor=1.5,
    title="Fuel in the air as a share of its lower limit",
    validity="air well mixed; not beside the outlet, nor under a ceiling",
)  # fmt: skip


def _given(value: float | None, name: str, source: str) -> Quantity:
    return Quantity.of(np.nan if value is None else value, name=name, source=source)


def _outlets(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    inerts = [i for i in range(len(setup.species)) if i not in limits.rows and i != limits.oxygen]
    if not limits.fuels:
        return
    for place in setup.places:
        if not place.is_end:
            continue
        mix = _richer(place, limits)
        fuels = [
            setup.quantity(mix[r], f"{f.name} leaving", "mol/mol", "balance of the train")
            for r, f in zip(limits.rows, limits.fuels, strict=True)
        ]
        thresholds = [_threshold(setup, place, limits, n) for n in range(len(limits.fuels))]
        # A fuel that does not leave needs no threshold in that trial.
        thresholds = [
            Quantity.of(
                np.where(q.value == 0, 1.0, t.value),
                np.where(q.value == 0, np.uint8(0), t.status),
                name=t.name,
                source=t.source,
            )  # fmt: skip
            for t, q in zip(thresholds, fuels, strict=True)
        ]
        others = [
            setup.quantity(mix[i], f"{setup.species[i].name} leaving", "mol/mol", "balance")
            for i in inerts
        ]
        strengths = [
            _strength(setup.species[i].datum("iso10156_k").value, setup.species[i].name)
            for i in inerts
        ]
        ratio = IN_AIR(A=fuels, Tc=thresholds, B=others, K=strengths)
        nothing = np.sum([q.value for q in fuels], axis=0) <= 0
        # An estimated threshold is cautious: it counts as one only where it says "does not burn".
        sure = nothing | (ratio.value > 1)
        done = ratio.revised(
            np.where(nothing, 0.0, ratio.value), np.where(sure, setup.engine_status, ratio.status)
        )
        yield setup.measure(OUTLET_KIND, done, place.id)
        away, why = _led_away(setup, place, limits, mix, done.value)
        led = LED(ratio=done, away=away)
        status = np.where(away.value > 0, np.uint8(0), done.status)
        yield setup.measure(LED_KIND, led.revised(led.value, status), place.id, note=why)


def _led_away(
    setup: Setup, place: Place, limits: Limits, mix: FloatArray, ratio: FloatArray
) -> tuple[Quantity, str]:
    """1 where an outlet leads into a fume hood or outdoors and nothing near lights what leaves."""
    leaves = ~(mix[list(limits.rows)] <= TRACE)
    points = np.where(np.isnan(limits.autoignition), -np.inf, limits.autoignition)[:, None]
    near, why = nothing_near(setup, np.where(leaves, points, np.inf).min(axis=0))
    fuel = mix[list(limits.rows)].sum(axis=0) * place.flow.value
    little = (ratio <= MOST_LED) | (fuel <= A_LITTLE)
    away = (near > 0) & into_hood_or_outdoors(setup, place) & (setup.failed | little)
    return Quantity.of(
        away.astype(float), name="led away, nothing near lights it", unit="1", source="scenario"
    ), why  # fmt: skip


def _threshold(setup: Setup, place: Place, limits: Limits, n: int) -> Quantity:
    """Highest content of a fuel in nitrogen that is not flammable in air.

    The standard's figures hold at room temperature: for gas that leaves hot they fall as the lower
    limit does, and ammonia that has passed a hot item counts as the hydrogen it may have become.

    Where ISO 10156 lists none it follows from the limits: a gas with fuel content A, diluted to
    1 - LOC/0.2095 with air, holds A (1 - LOC/0.2095) fuel when its oxygen is just enough, so
    A = L / (1 - LOC/0.2095). An estimate; 5.0 % for hydrogen against 5.5 % in the standard.
    """
    fuel = limits.fuels[n]
    fall = burgess_wheeler_lower(1.0, place.gas_in.value, limits.slope[n])
    listed = fuel.datum("iso10156_tci").value
    if listed is not None:
        value, status, source = listed * fall, 0, "ISO 10156, when hot as the lower limit"
        if fuel.name == "ammonia":
            hottest = np.max([setup.places[i].hottest.value for i in place.before], axis=0)
            value = np.where(~(hottest <= CRACKS), CRACKED * fall, value)
    else:
        enough = 0.0 if limits.alone[n] else limits.loc[n] / 0.2095
        value, status = limits.lower[n] * fall / (1 - enough), 1
        source = "lower limit over the air left at limiting oxygen"
    return Quantity.of(
        value, np.uint8(status), name=f"Tci of {fuel.name}", unit="mol/mol", source=source
    )


def _richer(place: Place, limits: Limits) -> FloatArray:
    """The gas leaving at the start of the step, warm, or at its end: what holds most fuel."""
    rows, richest = list(limits.rows), place.composition("outlet")
    for time in ("outlet_middle", "outlet_end"):
        gas = place.composition(time)
        fuel = gas[rows].sum(axis=0)
        leaner = (fuel <= richest[rows].sum(axis=0)) | np.isnan(richest[rows].sum(axis=0))
        richest = np.where(leaner, richest, gas)
    return richest


def _strength(value: float | None, name: str) -> Quantity:
    """Inerting strength; water vapour as nitrogen, and nothing for a gas without a figure."""
    if name == "water":
        return _given(1.0, "K of water vapour", "taken as nitrogen's")
    return _given(0.0 if value is None else value, f"K of {name}", "ISO 10156; 0 if not listed")


#: What says how much air a hood draws, and how it is told that the file does not.
DRAWS = ("opening_width", "opening_height", "face_velocity")
UNDRAWN = "opening_width, opening_height or face_velocity of the hood"


def _air(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    drawn = all(setup.states(f"ventilation.hood.{key}") for key in DRAWS)
    stated = setup.states("ventilation.mixing_factor")
    for where in ("hood", "room"):
        mix = setup.air(where)
        # The engine takes a room whose mixing nobody stated as mixed; it may be ten times worse.
        uneven = UNMIXED if where == "room" and not stated else 1.0
        source = "room balance" if uneven == 1 else "room balance, ten times for poor mixing"
        undrawn = where == "hood" and not drawn
        shares = []
        for row, fuel in zip(limits.rows, limits.fuels, strict=True):
            x = setup.quantity(
                np.minimum(uneven * mix[row], 1.0),
                UNDRAWN if undrawn else f"{fuel.name} in the {where}", "mol/mol",
                "under ventilation" if undrawn else source,
            )  # fmt: skip
            low = _given(fuel.datum("lower_limit_air").value, f"lower limit of {fuel.name}", "data")
            share = SHARE(x=x, L=low)
            none = mix[row] == 0
            shares.append(
                share.revised(
                    np.where(none, 0.0, share.value), np.where(none, np.uint8(0), share.status)
                )
            )
        if shares:
            yield setup.measure(AIR_KIND, TO_LOWER(shares=shares), where)


OUTSIDE_AIR = Computation(kinds=(AIR_KIND,), compute=_air)
OUTLETS = Computation(kinds=(OUTLET_KIND, LED_KIND), compute=_outlets)
