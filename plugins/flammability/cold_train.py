"""A small cold train in which a gas drives the air out, with nothing near to light it.

This is how a gas is made in a flask and collected over water or led through a wash bottle, and how
a detector or a column is filled with its gas: nobody purges it with inert gas, and for a minute the
train holds a mixture that burns. It is a condition and no refusal only as long as all of this is
shown: the fuel is made in the train by an equation that is stated, or comes from a cylinder and
goes outdoors or into a fume hood, and is none of group IIC or fills no more than an instrument's
line; no flow brings an oxidiser and nothing makes one there, all of the train is cold, small and
open, it leads outdoors, into a fume hood or into an aired room, and nothing within reach lights it.
What the glass would do if it lit all the same is why it is small.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Input, Kind, Method, Quantity, Setup, Substance

from ..shared.fuels import TRACE, Limits
from ..shared.nearby import in_use, into_hood_or_outdoors, joined, nothing_near
from .headspace import ENRICHED, MADE_TOO, PRESSED, SMALLER, cold

MOST_VOLUME = "flammability.cold_train_volume"
FIERCE_VOLUME = "flammability.cold_train_volume_fierce"
SCREENED_VOLUME = "flammability.cold_train_volume_screened"
#: Gas of a line to an instrument, m3. Ten millilitres of hydrogen and air in their ratio give 30 J
#: (242 kJ/mol of hydrogen, 0.30 of it, from memory); the volume is common practice, no source.
LINE_VOLUME = 1.0e-5
#: What keeps splinters of a flask off those who stand before it.
SCREENS = ("shield", "hood sash")
#: A sash no higher than this, m, hangs before the face of who stands there: the height at which a
#: fume hood is tested (EN 14175-3, from memory).
SASH = 0.5
#: Gases with a smaller maximum experimental safe gap, m, are of group IIC (IEC 60079-20-1): their
#: flames speed up in a tube and may detonate. A gas whose gap nobody knows counts as one.
FIERCE_GAP = 0.5e-3
#: Air changes of a room that carry off what a small train lets out, 1/s: one an hour (a judgement).
AIRED = 1.0 / 3600.0

SMALL = Method(
    id="flammability.cold_train_margin",
    title="Gas that drives the air out of a small cold train, to the flammable envelope",
    result="margin",
    unit="1",
    formula="where(here > 0, margin, inf)",
    inputs=(
        Input("margin", "margin", "1", "margin to the envelope"),
        Input("here", "here", "1", "1 where the train is small, cold, open, and nothing near"),
    ),
    function=lambda margin, here: np.where(here > 0, margin, np.inf),
    source=(
        "EN 1127-1: zones without an effective ignition source (from memory); gases made in school "
        "laboratories are collected without a purge (common practice, no source)"
    ),
    validity=(
        "made in the train by a stated equation, or from a cylinder into a hood and not of group "
        "IIC or at most 10 mL in all; all of it below half of the ignition temperature "
        "in degC; at most 1.5 bar, no more than air's oxygen and none fed; no catalyst, flame, "
        "spark or hot surface within 3 m; the jar that it is collected in apart"
    ),
)
SMALL_KIND = Kind.of(SMALL, "lower", offset=0.1)


def small_train(setup: Setup, limits: Limits) -> Quantity:
    """1 in trials where all of the train is small, cold, open and fed by what is made in it, with
    nothing near that lights it; 0 where not, NaN where nobody says what is near; and why not."""
    ignition = np.full(setup.trials, np.min(_or(limits.autoignition, -np.inf)))
    made, what = _made_here(setup, limits)
    fits, size = _fits(setup, limits)
    is_cold, hot = cold(setup, setup.once(in_use), ignition)
    away = _leads_out(setup)
    near, lights = nothing_near(setup, ignition)
    here = made & away & fits & is_cold
    told = [
        what, size, hot, lights,
        "" if away.any() else "it is shut, or leads into a room whose size and air nobody states",
    ]  # fmt: skip
    value = np.where(here, near, 0.0)
    source = lights if np.isnan(value).any() else "; ".join(t for t in told if t)
    return Quantity.of(
        value, name="small cold train, nothing near", unit="1",
        source=source or "scenario and balance of the train",
    )  # fmt: skip


def plain(limits: Limits, highest: FloatArray, pressure: FloatArray) -> NDArray[np.bool_]:
    """Where no gas that comes to an item, the `highest` of all (species, trials), holds more oxygen
    than air or another oxidiser, and its pressure (Pa absolute) is near the room's."""
    found = (highest[limits.oxygen] <= ENRICHED) & (pressure <= PRESSED)
    for i in limits.strangers:
        found &= highest[i] <= TRACE
    return np.asarray(found)


def _or(values: FloatArray, otherwise: float) -> FloatArray:
    return np.where(np.isnan(values), otherwise, values)


def _made_here(setup: Setup, limits: Limits) -> tuple[bool, str]:
    """Whether every fuel is made in the train by a stated equation, or is the vapour of a liquid
    held there, and neither flows nor reactions bring anything else that burns or oxidises."""
    scenario, reference = setup.scenario, setup.reference
    if any(item.suction is not None for item in scenario.train):
        return False, "a pump sucks on it and draws air in"
    made = {name for liquid in setup.liquids.values() for name in liquid}
    for name, flow in scenario.flows.items():
        reagent = scenario.reagents[flow.reagent]
        fed = [reference.substance(text) for text, share in reagent.composition.items() if share]
        if any(s.oxidiser is not False for s in fed):
            if _meets_fuel(setup, flow.into, limits):
                return False, f"{name} brings an oxidiser"
            continue
        if not any(s in limits.fuels for s in fed):
            continue
        if _from_cylinder(setup, flow.reagent, limits):
            made |= {s.name for s in fed}
            continue
        if reagent.held is None or reagent.held.as_ != "generator":
            return False, f"{name} is not made in the train: purge it with inert gas"
        if reagent.held.equation is None:
            return False, f"no equation is stated for {name}: what else it makes is not known"
        made |= {s.name for s in fed}
    made_too = _made_too(setup)
    if made_too:
        return False, f"{made_too} {MADE_TOO}"
    if any(setup.reactions.values()):
        return False, "a reaction is declared in it: purge it with inert gas"
    strange = [f.name for f in limits.fuels if f.name not in made]
    strange += [f.name for f in limits.fuels if f.pyrophoric is not False]
    return not strange, f"{', '.join(strange)} comes from elsewhere" if strange else ""


def _from_cylinder(setup: Setup, name: str, limits: Limits) -> bool:
    """Whether a reagent comes from a cylinder, no fuel is of group IIC or there is but a line full
    of it, and all of it is led away: a cylinder does not end by itself, as a flask's charge does.
    """
    held = setup.scenario.reagents[name].held
    places = setup.once(in_use)
    ends = [place for place in places if place.is_end]
    filled = np.sum([place.volume.value for place in places if not place.is_end], axis=0)
    return (
        held is not None
        and held.as_ == "cylinder"
        and (not fierce(limits) or bool((filled <= LINE_VOLUME).all()))
        and all(into_hood_or_outdoors(setup, place) for place in ends)
    )


def _meets_fuel(setup: Setup, into: str, limits: Limits) -> bool:
    """Whether what is let in at an item can meet a fuel: one that is fed or held anywhere on the
    gas ways that join with it."""
    meets = joined(setup, {into})
    fuels = {fuel.name for fuel in limits.fuels}
    for flow in setup.scenario.flows.values():
        composition = setup.scenario.reagents[flow.reagent].composition
        fed = {setup.reference.substance(text).name for text, x in composition.items() if x}
        if flow.into in meets and fed & fuels:
            return True
    return any(set(p.liquid) & fuels for p in setup.places if p.id in meets)


def _made_too(setup: Setup) -> str:
    """Name of a gas that an equation makes and that burns or oxidises, and that no flow brings."""
    brought = {
        setup.reference.substance(text).name
        for flow in setup.scenario.flows.values()
        for text, share in setup.scenario.reagents[flow.reagent].composition.items()
        if share
    }
    for place in setup.places:
        for terms in place.equations:
            for term in terms:
                s = term.substance
                if s is not None and term.coefficient > 0 and _acts(s) and s.name not in brought:
                    return s.name
    return ""


def _acts(substance: Substance) -> bool:
    """Whether it is a gas that burns, may burn or oxidises."""
    gas = substance.phase_at_20C == "gas"
    return gas and (substance.combustible is not False or substance.oxidiser is not False)


def _fits(setup: Setup, limits: Limits) -> tuple[NDArray[np.bool_], str]:
    """Whether the gas of the whole train is no more than glass on a bench is to hold of it."""
    iic = fierce(limits)
    small = SCREENED_VOLUME if _screened(setup) else FIERCE_VOLUME
    most = setup.limit(small if iic else MOST_VOLUME).value
    gaping = setup.scenario.gaping
    shut_in = [
        place.volume.value
        for place in setup.once(in_use)
        if not place.is_end and (place.kind.id != "wash bottle" or place.id not in gaping)
    ]  # over an open trough nothing is shut in: gas rises from its water into the air
    held = np.sum(shut_in, axis=0)
    fits = held <= most * (1 + 1e-9)  # a litre is not a round number of cubic metres
    why = f"more gas than {1e3 * most[0]:.3g} L" + (" of a gas of group IIC" if iic else "")
    why += f" in all: {SMALLER}"
    why += ", or a shield before it" if iic and not _screened(setup) else ""
    return fits, "" if fits.all() else why


def _screened(setup: Setup) -> bool:
    """Whether something stands between the train and those before it: a screen, or the sash of the
    fume hood in which all of it stands."""
    if any(s.kind in SCREENS for s in setup.scenario.safeguards):
        return True
    ventilation = setup.scenario.ventilation
    hood = None if ventilation is None else ventilation.hood
    if hood is None or not hood.is_fume_hood or hood.opening_height is None:
        return False
    inside = all(p.model.in_ == "hood" for p in setup.once(in_use) if not p.is_end)
    return inside and hood.opening_height <= SASH * (1 + 1e-9)


def fierce(limits: Limits) -> bool:
    """Whether one of the fuels is of group IIC, or may be: nobody knows its safe gap."""
    gaps = np.array([_gap(fuel) for fuel in limits.fuels])
    return bool((~(gaps >= FIERCE_GAP)).any())


def _gap(fuel: Substance) -> float:
    value = fuel.datum("maximum_experimental_safe_gap").value
    return np.nan if value is None else float(value)


def _leads_out(setup: Setup) -> NDArray[np.bool_]:
    """Whether every item has an open way, outdoors, into a fume hood or into an aired room.

    What blocks it is a failure, and what that comes to the pressure tells.
    """
    places = setup.once(in_use)
    ends = [place for place in places if place.is_end]
    aired = setup.number("ventilation.room_volume").value > 0
    aired &= setup.number("ventilation.air_changes").value >= AIRED
    found = np.all([p.leaves > 0 for p in places], axis=0) | setup.failed
    for place in ends:
        into_room = aired & (place.model.to == "room")
        found &= into_room | into_hood_or_outdoors(setup, place)
    return np.asarray(found & bool(ends) & all(p.model.open for p in ends))
