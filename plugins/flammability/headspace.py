"""Vapour over a liquid that burns, with air, where nothing can light it.

This is how every solvent stands in its bottle and boils in its flask, so there it is a condition
and no refusal: as long as the fuel is nothing but the vapour of a liquid that the train holds, all
of it stays far below its ignition temperature, nothing within reach lights it, the air is plain
air and is not fed together with it, and the train is closed or ends in a working hood.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup

from ..pressure_buildup.relief import relieved
from . import directions
from .limits import TRACE, Limits
from .nearby import ZERO, indirect, led_away, nothing_near

#: Share of the autoignition temperature, degC, that no surface there may reach.
COLD_SHARE = 0.5
#: Oxygen and pressure (Pa absolute) above which published ignition temperatures do not hold.
ENRICHED, PRESSED = 0.21, 1.5e5

_STILL = Input("still", "still", "1", "1 where it is vapour over a cold liquid, nothing near")
ELSEWHERE = Method(
    id="flammability.margin_elsewhere",
    title="Signed margin to the flammable envelope, vapour over cold liquids left to its own rule",
    result="margin",
    unit="1",
    formula="where(still > 0, inf, margin)",
    inputs=(Input("margin", "margin", "1", "margin to the envelope"), _STILL),
    function=lambda margin, still: _unless(margin, still, np.inf, margin < 0.2),
    source="EN 1127-1: zones without an effective ignition source (from memory)",
    validity="not known where nobody says what may light the gas",
)
HEADSPACE = Method(
    id="flammability.headspace_margin",
    title="Vapour over a cold liquid, to the flammable envelope",
    result="margin",
    unit="1",
    formula="where(still > 0, margin, inf)",
    inputs=(Input("margin", "margin", "1", "margin to the envelope"), _STILL),
    function=lambda margin, still: np.where(still > 0, margin, np.inf),
    source="EN 1127-1: zones without an effective ignition source (from memory)",
    validity=(
        "closed or led into a working hood; at most half of its autoignition temperature in degC; "
        "no catalyst, flame, spark or hot surface within 3 m; no more than air's oxygen, not fed in"
    ),
)
BEYOND = Method(
    id="flammability.allowance_elsewhere",
    title="Share of the allowance, vapour over cold liquids left to its own rule",
    result="share of the allowance",
    unit="1",
    formula="where(still > 0, 0, used)",
    inputs=(Input("used", "used", "1", "share of the allowance used"), _STILL),
    function=lambda used, still: np.where(still > 0, 0.0, used),
    source="NFPA 69 (from memory) is on purging; a solvent's own vapour is not purged away",
    validity="as flammability.headspace_margin",
)
STILL = Method(
    id="flammability.cold_vapour",
    title="Whether what burns here is vapour over a cold liquid, with nothing near to light it",
    result="so (1), not so (0)",
    unit="1",
    formula="still",
    inputs=(_STILL,),
    function=lambda still: still,
    source=HEADSPACE.source,
    validity=HEADSPACE.validity,
)
STILL_KIND = Kind.of(STILL, "lower")
ELSEWHERE_KIND = Kind.of(ELSEWHERE, "lower", moves=directions.MARGIN, offset=0.1)
HEADSPACE_KIND = Kind.of(HEADSPACE, "lower", offset=0.1)
BEYOND_KIND = Kind.of(BEYOND, "higher", moves=directions.ALLOWANCE, factor=1.5)


def _unless(
    value: FloatArray, still: FloatArray, otherwise: float, matters: NDArray[np.bool_]
) -> FloatArray:
    """Where nobody can say whether it is still, the value counts only if it does no harm."""
    unknown = np.isnan(still) & matters
    return np.where(still > 0, otherwise, np.where(unknown, np.nan, value))


def apart(
    setup: Setup, place: Place, still: Quantity, margin: Quantity, allowance: Quantity
) -> Iterable[Measure]:
    """Margin and allowance of an item: those of vapour over a cold liquid, and all others."""
    here = still.value > 0
    note = "" if here.all() else still.source
    yield setup.measure(STILL_KIND, still, place.id, note=note)
    measures = [
        (ELSEWHERE_KIND, ELSEWHERE(margin=margin, still=still), ~here, margin),
        (BEYOND_KIND, BEYOND(used=allowance, still=still), ~here, allowance),
    ]
    if here.any():
        measures.append((HEADSPACE_KIND, HEADSPACE(margin=margin, still=still), here, margin))
    for kind, found, counts, of in measures:
        done = found.revised(found.value, np.where(counts, of.status, np.uint8(0)))
        done = done.comparing(of.compared)
        yield setup.measure(kind, done, place.id, note=note)


def nowhere(setup: Setup) -> Measure:
    """What is said where no vapour of that kind stands anywhere."""
    why = "no liquid that burns stands cold, led into a hood, with nothing near to light it"
    none = setup.quantity(np.inf, "margin", "1", why)
    return setup.measure(HEADSPACE_KIND, none, "train", note=why)


def cold_vapour(setup: Setup, place: Place, limits: Limits, ends: FloatArray) -> Quantity:
    """1 in trials where what burns in an item is vapour over a cold liquid, 0 where it is not, NaN
    where the file does not say what may light it; and why not.

    `ends` (..., species, trials) are all gases that come here.
    """
    highest = ends.reshape(-1, *ends.shape[-2:]).max(axis=0)
    present = ~(highest[list(limits.rows)] <= TRACE)
    points = np.where(np.isnan(limits.autoignition), -np.inf, limits.autoignition)[:, None]
    ignition = np.where(present, points, np.inf).min(axis=0)
    cold, why = _cold(setup, place, ignition)
    allowed = _own_vapour(setup, place, limits)
    bad = np.array([not own for own in allowed], dtype=bool)[:, None] & present
    own = ~bad.any(axis=0) & present.any(axis=0)
    plain = (highest[limits.oxygen] <= ENRICHED) & (relieved(setup, place)[0].value <= PRESSED)
    for i in limits.strangers:
        plain &= highest[i] <= TRACE
    away = led_away(setup)
    still = np.where(own & plain & away & cold, 1.0, 0.0)
    near, what = nothing_near(setup, ignition)
    told = [
        "" if own.any() else "fuel comes from elsewhere than a liquid held here, or air is fed in",
        "" if plain.any() else "there is more oxygen than in air, another oxidiser or pressure",
        "" if away else "it is open to the room: lead it into a fume hood",
        why, what,
    ]  # fmt: skip
    return Quantity.of(
        np.where(still > 0, near, 0.0), name="vapour over a cold liquid, nothing near",
        source="; ".join(t for t in told if t) or "scenario and balance of the train",
    )  # fmt: skip


def _own_vapour(setup: Setup, place: Place, limits: Limits) -> list[bool]:
    """Of each fuel, whether it can only be the vapour of a liquid that the train holds.

    Not what a flow brings or a reaction makes, nor what burns without air or by itself, nor
    anything where a flow brings oxygen into the liquid or upstream of it.
    """
    scenario, reference = setup.scenario, setup.reference
    held = {name for liquid in setup.resolved.liquids.values() for name in liquid}
    brought: set[str] = set()
    before = {setup.places[i].id for i in place.before}
    for flow in scenario.flows.values():
        composition = scenario.reagents[flow.reagent].composition
        fed = [reference.substance(text) for text, share in composition.items() if share > 0]
        if flow.into in before and any(s.oxidiser for s in fed):
            return [False] * len(limits.fuels)
        brought |= {s.name for s in fed}
    for terms in setup.resolved.reactions.values():
        for reaction in terms:
            brought |= {t.substance.name for t in reaction if t.substance and t.coefficient > 0}
    return [
        fuel.name in held
        and fuel.name not in brought
        and fuel.burns_without_oxygen is False
        and fuel.pyrophoric is False
        for fuel in limits.fuels
    ]


def _cold(setup: Setup, place: Place, ignition: FloatArray) -> tuple[NDArray[np.bool_], str]:
    """Whether the item and all downstream stay below half of the ignition temperature, degC.

    A heater counts at its hottest, through a liquid that is left as hot as that boils.
    """
    most = ZERO + COLD_SHARE * (ignition - ZERO)
    follow = [p for p in setup.places if place.index in p.before]
    cold = np.all([p.hottest.value <= most for p in follow], axis=0)
    for name, heat in setup.scenario.heat.items():
        item = next((p for p in follow if p.id == heat.heats), None)
        if item is None:
            continue
        hottest = setup.number(f"heat.{name}.hottest").value
        if heat.kind == "cooling bath":
            hottest = setup.number("ambient.temperature").value
        wetted = np.where(np.isnan(hottest), np.nan, np.minimum(hottest, _boils(setup, item)))
        hottest = np.where(indirect(setup, name, ignition) > 0, wetted, hottest)
        cold &= hottest <= most
    return cold, "" if cold.any() else "it may get hotter than half of what ignites it, in degC"


def _boils(setup: Setup, item: Place) -> float:
    """Boiling point of the least volatile component of what an item holds, K; else infinite."""
    names = setup.resolved.liquids.get(item.id, {})
    points = [setup.reference.substance(name).number("boiling_point") for name in names]
    return max((p for p in points if not np.isnan(p)), default=np.inf)
