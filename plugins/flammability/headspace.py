"""Vapour over a liquid that burns, with air, where nothing can light it.

This is how every solvent stands in its bottle and boils in its flask, so there it is a condition
and no refusal: as long as the fuel is nothing but the vapour of a liquid that the train holds, all
of it stays far below its ignition temperature, nothing within reach lights it, the air is plain
air and is not fed together with it, and the train is closed or ends in a working hood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup

from ..shared.fuels import TRACE, Limits
from ..shared.names import STILL as STILL_ID
from ..shared.nearby import COOLS, ZERO, idle, indirect, led_away, nothing_near
from ..shared.relief import relieved
from ..shared.residue import in_the_liquid
from . import directions

#: Share of the autoignition temperature, degC, that no surface there may reach.
COLD_SHARE = 0.5
#: Oxygen and pressure (Pa absolute) above which published ignition temperatures do not hold; common
#: practice, no source: they are measured in air at 1 atm and fall with both. Synthetic air has
#: 21 %, however its sum is rounded.
ENRICHED, PRESSED = 0.21 + 1e-9, 1.5e5

_HERE = Input("here", "here", "1", "1 where it is vapour over a cold liquid, nothing near")
_OWN = Input("own", "own", "1", "1 where vapour over a cold liquid or a small cold train is judged")
ELSEWHERE = Method(
    id="flammability.margin_elsewhere",
    title="Signed margin to the flammable envelope, what has a rule of its own left to that",
    result="margin",
    unit="1",
    formula="where(own > 0, inf, margin)",
    inputs=(Input("margin", "margin", "1", "margin to the envelope"), _OWN),
    function=lambda margin, own: _unless(margin, own, np.inf, margin < 0.2),
    source="EN 1127-1: zones without an effective ignition source (from memory)",
    validity="not known where nobody says what may light the gas",
)
HEADSPACE = Method(
    id="flammability.headspace_margin",
    title="Vapour over a cold liquid, to the flammable envelope",
    result="margin",
    unit="1",
    formula="where(here > 0, margin, inf)",
    inputs=(Input("margin", "margin", "1", "margin to the envelope"), _HERE),
    function=lambda margin, here: np.where(here > 0, margin, np.inf),
    source="EN 1127-1: zones without an effective ignition source (from memory)",
    validity=(
        "closed, led into a working hood or too lean to burn; at most half of its autoignition "
        "temperature in degC; "
        "no catalyst, flame, spark or hot surface within 3 m; no more than air's oxygen, not fed in"
    ),
)
BEYOND = Method(
    id="flammability.allowance_elsewhere",
    title="Share of the allowance, what has a rule of its own left to that",
    result="share of the allowance",
    unit="1",
    formula="where(own > 0, 0, used)",
    inputs=(Input("used", "used", "1", "share of the allowance used"), _OWN),
    function=lambda used, own: np.where(own > 0, 0.0, used),
    source="NFPA 69 (from memory) is on purging; a solvent's own vapour is not purged away",
    validity="as flammability.headspace_margin and flammability.cold_train_margin",
)
STILL = Method(
    id=STILL_ID,
    title="Whether what burns here is cold, nothing near to light it, and has a rule of its own",
    result="so (1), not so (0)",
    unit="1",
    formula="own",
    inputs=(_OWN,),
    function=lambda own: own,
    source=HEADSPACE.source,
    validity="as flammability.headspace_margin and flammability.cold_train_margin",
)
STILL_KIND = Kind.of(STILL, "lower")
ELSEWHERE_KIND = Kind.of(ELSEWHERE, "lower", moves=directions.MARGIN, offset=0.1)
HEADSPACE_KIND = Kind.of(HEADSPACE, "lower", offset=0.1)
BEYOND_KIND = Kind.of(BEYOND, "higher", moves=directions.ALLOWANCE, factor=1.5)


def _unless(
    value: FloatArray, own: FloatArray, otherwise: float, matters: NDArray[np.bool_]
) -> FloatArray:
    """Where nobody can say whether it is still, the value counts only if it does no harm."""
    unknown = np.isnan(own) & matters
    return np.where(own > 0, otherwise, np.where(unknown, np.nan, value))


#: Margin to the envelope from which on nothing that may light it matters: that which is acceptable
#: and by how much an estimate may lie on the milder side of the truth.
LEAN = 0.3
#: Gas of a suction flask, an empty bottle and a hose between them and the jet, m3 (common practice,
#: no source).
FILTERED_VOLUME = 1.0e-3


#: How a rule says that an equation makes a gas of which no flow says where it goes.
MADE_TOO = "is made too: give it a flow of its own, into where it leaves"

#: How a rule says that nothing else than a flame, spark or hot surface keeps it from holding.
MAY_LIGHT = "may light it"
#: How a rule says that nothing else than its size keeps a train from being a small one.
SMALLER = "smaller vessels would do"
#: The same of a heater's hottest, and of the end of the train.
TOO_HOT, TO_THE_ROOM = "half of what ignites it in degC", "it is open to the room"
#: What is told as a cure where nothing else is lacking.
NEARLY = (MAY_LIGHT, SMALLER, TOO_HOT, TO_THE_ROOM)


class Rule(NamedTuple):
    """A rule of its own for the margin: its kind, its method and where (1) it holds."""

    kind: Kind
    method: Method
    here: Quantity


def apart(
    setup: Setup, place: Place, rules: Sequence[Rule], margin: Quantity, allowance: Quantity
) -> Iterable[Measure]:
    """Margin and allowance of an item where they have no rule of their own, and where they have:
    the first of the rules that holds counts."""
    values = [rule.here.value for rule in rules]
    either = np.any([v > 0 for v in values], axis=0)
    # What is far too lean to burn is so whatever may light it.
    lean = (margin.value >= LEAN) & (allowance.value <= 1.0)
    unknown = np.isnan(values).any(axis=0) & ~lean
    unsaid = [rule for rule in rules if (np.isnan(rule.here.value) & ~lean).any()]
    why = dict.fromkeys(rule.here.source for rule in unsaid or rules)
    own = Quantity.of(
        np.where(either, 1.0, np.where(unknown, np.nan, 0.0)), unit="1",
        name="what may light it" if unsaid else "has a rule of its own",
        source=", or else: ".join(why),
    )  # fmt: skip
    note = "" if either.all() else own.source
    parts = [part for rule in rules for part in rule.here.source.split("; ")]
    hints = [part for part in parts if MADE_TOO in part or COOLS in part]
    for rule in rules:
        lacking = rule.here.source.split("; ")
        if all(any(said in part for said in NEARLY) for part in lacking):
            hints.append(" and ".join(lacking))
    hint = next(iter(hints), "") if note else ""
    yield setup.measure(STILL_KIND, own, place.id, note=note)
    measures = [
        (ELSEWHERE_KIND, ELSEWHERE(margin=margin, own=own), ~either, margin),
        (BEYOND_KIND, BEYOND(used=allowance, own=own), ~either, allowance),
    ]
    left = np.ones(setup.trials, dtype=bool)
    for kind, method, quantity in rules:
        here = left & (quantity.value > 0)
        left &= ~here
        if here.any():
            counts = quantity.revised(here.astype(float), np.uint8(0))
            measures.append((kind, method(margin=margin, here=counts), here, margin))
    for kind, found, counts, of in measures:
        done = found.revised(found.value, np.where(counts, of.status, np.uint8(0)))
        done = done.comparing(of.compared)
        # Where the margin itself is missing, it says by itself what it lacks.
        lost = bool(np.isnan(of.value[counts]).any())
        said = hint if kind is ELSEWHERE_KIND else note
        yield setup.measure(kind, done, place.id, note="" if lost else said)


def nowhere(setup: Setup, kind: Kind, why: str) -> Measure:
    """What is said where a rule of its own holds nowhere."""
    none = setup.quantity(np.inf, "margin", "1", why)
    return setup.measure(kind, none, "train", note=why)


def cold_vapour(
    setup: Setup, place: Place, limits: Limits, highest: FloatArray, margin: FloatArray
) -> Quantity:
    """1 in trials where what burns in an item is vapour over a cold liquid, 0 where it is not, NaN
    where the file does not say what may light it; and why not.

    `highest` (species, trials) of all gases that come here. What is open to the room counts
    only where its vapour is too lean to burn: `margin` (trials,) to the envelope above zero.
    """
    present = ~(highest[list(limits.rows)] <= TRACE)
    points = np.where(np.isnan(limits.autoignition), -np.inf, limits.autoignition)[:, None]
    ignition = np.where(present, points, np.inf).min(axis=0)
    follow = [p for p in setup.places if place.index in p.before]
    is_cold, why = cold(setup, follow, ignition)
    allowed = _own_vapour(setup, place, limits)
    bad = np.array([not own for own in allowed], dtype=bool)[:, None] & present
    own = ~bad.any(axis=0) & present.any(axis=0)
    plain = (highest[limits.oxygen] <= ENRICHED) & (relieved(setup, place)[0].value <= PRESSED)
    for i in limits.strangers:
        plain &= highest[i] <= TRACE
    away = led_away(setup) | (margin > 0)
    still = np.where(own & plain & away & is_cold, 1.0, 0.0)
    near, what = nothing_near(setup, ignition)
    told = [
        "" if own.any() else "fuel comes from elsewhere than a liquid held here, or air is fed in",
        "" if plain.any() else "there is more oxygen than in air, another oxidiser or pressure",
        "" if away.any() else f"{TO_THE_ROOM}: lead it into a fume hood",
        why, what,
    ]  # fmt: skip
    value = np.where(still > 0, near, 0.0)
    source = what if np.isnan(value).any() else "; ".join(t for t in told if t)
    return Quantity.of(
        value, name="vapour over a cold liquid, nothing near",
        source=source or "scenario and balance of the train",
    )  # fmt: skip


def _own_vapour(setup: Setup, place: Place, limits: Limits) -> list[bool]:
    """Of each fuel, whether it can only be the vapour of a liquid that the train holds.

    Not what a flow brings or a reaction makes, but a liquid that one in a liquid makes; nor what
    burns without air or by itself, nor anything where a flow brings oxygen into the liquid or
    upstream of it, but for the room air that a water jet draws through a filter.
    """
    scenario, reference = setup.scenario, setup.reference
    held = {name for liquid in setup.liquids.values() for name in liquid}
    brought: set[str] = set()
    before = {setup.places[i].id for i in place.before}
    for flow in scenario.flows.values():
        composition = scenario.reagents[flow.reagent].composition
        fed = [reference.substance(text) for text, share in composition.items() if share > 0]
        if flow.into in before and any(s.oxidiser for s in fed):
            if _drawn_by_water(setup, flow.reagent):
                continue
            return [False] * len(limits.fuels)
        brought |= {s.name for s in fed}
    for at in setup.places:
        wet = in_the_liquid(setup, at)
        for term in (term for terms in setup.reactions.get(at.id, ()) for term in terms):
            if term.substance and term.coefficient > 0:  # an ester is a liquid as its alcohol is
                own = wet and term.substance.phase_at_20C == "liquid"
                (held if own else brought).add(term.substance.name)
    return [
        fuel.name in held
        and fuel.name not in brought
        and fuel.burns_without_oxygen is False
        and fuel.pyrophoric is False
        for fuel in limits.fuels
    ]


def _drawn_by_water(setup: Setup, name: str) -> bool:
    """Whether a reagent is room air that a water jet draws through a train of at most a litre.

    The jet has nothing that sparks or gets hot, and what it draws is thinner than air.
    """
    held = setup.scenario.reagents[name].held
    pumps = [item.suction for item in setup.scenario.train if item.suction is not None]
    held_gas = np.sum([p.volume.value for p in setup.places if not p.is_end], axis=0)
    small = (held_gas <= FILTERED_VOLUME).all()
    jets = bool(pumps) and all(pump.drive == "water" for pump in pumps)
    return held is not None and held.as_ == "room air" and jets and bool(small)


def cold(
    setup: Setup, places: Sequence[Place], ignition: FloatArray
) -> tuple[NDArray[np.bool_], str]:
    """Whether these items stay below half of the ignition temperature, degC.

    A heater counts at its hottest, through a liquid that is left as hot as that boils.
    """
    most = ZERO + COLD_SHARE * (ignition - ZERO)
    found = np.all([p.hottest.value <= most for p in places], axis=0)
    for name, heat in setup.scenario.heat.items():
        item = next((p for p in places if p.id == heat.heats), None)
        if item is None:
            continue
        hottest = setup.number(f"heat.{name}.hottest").value
        if heat.kind == "cooling bath":
            hottest = setup.number("ambient.temperature").value
        wetted = np.where(np.isnan(hottest), np.nan, np.minimum(hottest, _boils(setup, item)))
        hottest = np.where(indirect(setup, name, ignition) > 0, wetted, hottest)
        hottest = np.where(idle(setup, name, ignition), item.hottest.value, hottest)
        found &= hottest <= most
    lowest = (np.nanmin(most) if np.isfinite(most).any() else np.nan) - ZERO
    limit = "" if np.isnan(lowest) else f"{np.floor(lowest):.0f} degC, "
    return found, "" if found.all() else f"it may get hotter than {limit}{TOO_HOT}"


def _boils(setup: Setup, item: Place) -> float:
    """Boiling point of the least volatile component of what an item holds, K; else infinite."""
    names = setup.liquids.get(item.id, {})
    points = [setup.reference.substance(name).number("boiling_point") for name in names]
    return max((p for p in points if not np.isnan(p)), default=np.inf)
