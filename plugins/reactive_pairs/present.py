"""What is present in one item over all trials: gases, liquids, solids, and what is drawn in.

Amounts are mole fractions of a gas, mass fractions in a liquid, and 1 for a solid. An amount that
nobody knows is NaN and counts as enough.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from review import FloatArray, Place, Setup

from ..shared.pushed import pushed_out
from ..shared.residue import boiled_dry, residue
from .solids import Member, find, made, reacting, reduced, stock

if TYPE_CHECKING:
    from review.scenario.models import Reagent

#: What a phase of the table includes besides itself. Liquid that is drawn back is a liquid where
#: it arrives, and what an absorbent has taken up is in that liquid.
INCLUDES: Mapping[str, tuple[str, ...]] = {
    "solid": ("wall", "catalyst", "seal"),
    "liquid": ("drawn", "taken up", "carried", "dissolved"),
    "condensed": (
        "liquid", "drawn", "carried", "taken up", "dissolved", "solid", "wall", "catalyst", "seal",
    ),
}
#: Water of room air that nobody dries: only pairs that ask for it speak of it.
MOISTURE = "moisture"
#: Water that a hot bath holds around glass, which may break in it.
BATH = "bath"
WATER_BATHS = ("water bath", "steam bath")
#: What dries air that is led over it (`DRY_BEDS`) or through it (sulfuric acid from 80 %).
DRY_BEDS = frozenset(
    {"silica gel", "molecular sieve", "calcium chloride", "magnesium sulfate", "calcium oxide",
     "phosphorus pentoxide", "alumina", "soda lime"}
)  # fmt: skip
DRYING_ACID = 0.8


#: Pumps whose oil the gas goes through, by what the file calls them.
OILED = re.compile(r"\boil|\bvane", re.IGNORECASE)


@dataclass(frozen=True)
class Presence:
    """One member in one item: gas, liquid, solid, wall, seal, catalyst, reduced (a solid without
    its oxide), dissolved (a solid that may be), drawn, taken up, carried over as droplets from the
    bottle beside, moisture of the room, or the water of a bath.

    `amount` has shape (trials,). A seal is as hot as the ends of the item, not its middle; what is
    left of a solution that boils dry has a temperature of its own.
    """

    member: Member
    phase: str
    amount: FloatArray
    hot: FloatArray | None = None
    of: str = ""
    """The bottle that it is drawn from."""
    by_itself: bool = False
    """Whether a flow or a suck-back brings it, and nobody pours it."""
    weak: FloatArray | None = None
    """Of what is taken up: its mass fraction, where it is in plenty of cool water; else 1."""

    def may_be(self, phase: str) -> bool:
        """Whether a pair that asks for this phase speaks of it."""
        if self.phase == MOISTURE:
            return phase == MOISTURE
        if self.phase == BATH:
            return phase in ("any", "liquid")
        return phase in ("any", self.phase) or self.phase in INCLUDES.get(phase, ())


def present(setup: Setup, place: Place) -> Iterator[Presence]:
    """Everything that can be in an item in some trial; what is poured is in the vessel itself."""
    if place.id in setup.scenario.bottles:
        return
    yield from _gases(setup, place)
    ones = np.ones(setup.trials)
    for name, share in place.liquid.items():
        component = setup.reference.substance(name)
        yield Presence(component, "liquid", share * ones)
        if component.phase_at_20C == "solid":  # dissolved or lying in it: nobody says which
            yield Presence(component, "catalyst", share * ones)
    for text in place.model.absorbs:
        substance = setup.reference.substance(text)
        if substance.name in setup.rows:
            taken = place.used(substance).value
            there = np.where(~(taken <= 0), 1.0, 0.0)
            weak = np.fmin(there, _in_water(setup, place, text, taken))
            yield Presence(substance, "taken up", there, weak=weak)
    for name, share in place.solids.items():
        # Gas passes over it as over a packing, and whatever it is mixed with touches it.
        yield Presence(setup.reference.substance(name), "catalyst", share * ones)
    yield from _dissolving(setup, place)
    for member, phase in _solids(setup, place):
        yield Presence(member, phase, ones)
    for text in reacting(setup, place):
        if (solid := find(setup, text)) is not None:
            yield Presence(solid, "solid", made(setup, place, text))
    if OILED.search(place.model.kind):
        yield Presence(setup.reference.substance("paraffin oil"), "seal", ones)
    yield from _reduced(setup, place)
    yield from _drawn(setup, place)
    yield from _fed(setup, place)
    yield from _poured(setup, place)
    yield from _dripped(setup, place)
    yield from _carried(setup, place)
    stands_in = [h.kind in WATER_BATHS for h in setup.scenario.heat.values() if h.heats == place.id]
    if any(stands_in) and (place.material is None or place.material.kind in ("glass", "ceramic")):
        yield Presence(setup.reference.substance("water"), BATH, ones)
    dried, hot = residue(setup, place)
    for name, share in dried.items():
        yield Presence(setup.reference.substance(name), "catalyst", share * ones, hot)
    if _moist(setup, place):
        yield Presence(setup.reference.substance("water"), MOISTURE, ones)


def unknown_solids(setup: Setup, place: Place) -> Iterator[str]:
    """Names of solids here that the data do not know.

    Of what a generator makes only what is put in: what stays behind is known by what it is made of.
    """
    made_of = [name for name, part in place.parts if part != "wall"]
    declared = setup.reactions.get(place.id, ())
    for terms in place.equations:
        for term in terms:
            if term.substance is None and (term.coefficient < 0 or terms in declared):
                made_of.append(term.text)
    yield from (text for text in dict.fromkeys(made_of) if find(setup, text) is None)


def _gases(setup: Setup, place: Place) -> Iterator[Presence]:
    """The most of each gas along all lines that the gas of the item passes."""
    comes = np.maximum(setup.comes(place), pushed_out(setup, place))
    for substance, amount in zip(setup.species, comes, strict=True):
        if not (amount <= 0).all():
            yield Presence(substance, "gas", amount)


#: What a part of an item is called in the table of pairs.
PHASES = {"wall": "wall", "packing": "catalyst", "seal": "seal"}


def _solids(setup: Setup, place: Place) -> Iterator[tuple[Member, str]]:
    for text, part in place.parts:
        member = find(setup, text)
        if member is not None:
            yield member, PHASES[part]


#: From which share of water, by mass, and up to which temperature, K, what is taken up stays spread
#: in it, and which part of the capacity may be used (common practice, no source).
WATERY, COOL, UNSPENT = 0.695, 323.15, 0.95


def _in_water(setup: Setup, place: Place, text: str, taken: FloatArray) -> FloatArray:
    """Mass fraction of a gas in the water that has taken it up, never too low: all that came is in
    it. It counts as 1 where that is not known, the water is warm or its absorbent is spent."""
    if not float(np.min(place.liquid.get("water", 0.0))) >= WATERY:
        return np.ones(setup.trials)
    efficiency = place.number(f"absorbs.{text}.efficiency").value
    capacity = place.number(f"absorbs.{text}.capacity").value
    mass = taken / efficiency * setup.reference.substance(text).molar_mass
    share = mass / (mass + place.number("liquid_volume").value * LIGHT)
    spread = (taken <= UNSPENT * capacity) & (place.hottest.value <= COOL) & (share <= 1)
    return np.where(spread, share, 1.0)


#: What solids may dissolve in, the mass fraction of it from which on they may, and the least
#: density of such a liquid, kg/m3.
DISSOLVING = ("water", "methanol", "ethanol", "ethylene glycol", "glycerol")
ENOUGH, LIGHT = 0.1, 780.0


def _dissolving(setup: Setup, place: Place) -> Iterator[Presence]:
    """Solids that lie in a liquid in which they may dissolve: nobody says whether they do."""
    if sum(place.liquid.get(name, 0.0) for name in DISSOLVING) < ENOUGH:
        return
    liquid = place.number("liquid_volume").value * LIGHT
    for name in place.solids:
        mass = stock(setup, name)
        share = mass / (mass + liquid) if mass < np.inf else np.ones(setup.trials)
        yield Presence(setup.reference.substance(name), "dissolved", share * np.ones(setup.trials))


def _reduced(setup: Setup, place: Place) -> Iterator[Presence]:
    """What lies here of metals that gas has freed of their oxide before, or laden with hydrogen."""
    bare, loaded = reduced(setup, place), reduced(setup, place, 0.0)
    if loaded.any():
        lie = [text for text, part in place.parts if part == "packing"]
        there = dict.fromkeys((*lie, *place.solids), bare)
        for text in reacting(setup, place):
            there.setdefault(text, np.minimum(bare, made(setup, place, text)))
        for text, amount in there.items():
            if (metal := find(setup, text)) is not None:
                noble = "noble metal catalyst" in (metal.classes or ())  # takes hydrogen up cold
                yield Presence(metal, "reduced", loaded if noble else amount)


def _drawn(setup: Setup, place: Place) -> Iterator[Presence]:
    """Liquid of bottles downstream that is drawn back as far as here.

    It arrives where its volume exceeds the gas volume of the items between, by the shortest way.
    """
    for other in setup.places:
        if other.index == place.index or place.index not in other.before or not other.liquid:
            continue
        # No more than there is, whatever else of the suck-back is not known.
        drawn = np.fmin(other.liquid_drawn.value, other.number("liquid_volume").value)
        if (drawn <= 0).all():
            continue
        arrives = ~(drawn <= _between(setup, place.index, other.index))
        for name, share in other.liquid.items():
            amount = np.where(arrives & ~(drawn <= 0), share, 0.0)
            back = setup.reference.substance(name)
            yield Presence(back, "drawn", amount, of=other.id, by_itself=True)


def _fed(setup: Setup, place: Place) -> Iterator[Presence]:
    """Liquid that a flow lets into here."""
    for flow in setup.scenario.flows.values():
        reagent = setup.scenario.reagents[flow.reagent]
        if flow.into == place.id and reagent.state == "liquid":
            yield from (replace(one, by_itself=True) for one in _by_mass(setup, reagent))


def _by_mass(setup: Setup, reagent: Reagent, of: str = "") -> Iterator[Presence]:
    """The components of a liquid by mass."""
    for name, share in setup.reference.by_mass(reagent.composition, reagent.basis).items():
        substance = setup.reference.substance(name)
        yield Presence(substance, "drawn", np.full(setup.trials, share), of=of)


#: Mass fraction of water from which on more of it does nothing new: 60 % sulfuric acid; but it
#: flashes in what is hotter than so many kelvins, as in the table, which nothing with so much water
#: gets (30 % sodium hydroxide boils at 390 K, from memory) as long as not too much of it boils off.
WET, FLASHES, BOILS_BELOW = 0.4, 393.15, 0.69


def _poured(setup: Setup, place: Place) -> Iterator[Presence]:
    """What a bottle holds that is poured here; not what is in there already, as an ingredient
    is."""
    for name, at in setup.scenario.let_in:
        if at == place.id:
            poured = list(_by_mass(setup, setup.scenario.reagents[name], name))
            if not _known(setup, place, {one.member.name for one in poured}):
                yield from poured


def _known(setup: Setup, place: Place, names: set[str]) -> bool:
    """Whether what holds these does nothing new in the liquid there."""
    if names == {"water"} and place.kind.id == "vessel":  # a wash bottle is filled, not stirred
        water = place.liquid.get("water", 0.0)
        # so much of the liquid has to stay that the share of water is still as high
        left = min(1.0, (1.0 - water) / (1.0 - BOILS_BELOW))
        stays = water >= BOILS_BELOW and bool((boiled_dry(setup, place, left) <= FLASHES).all())
        cool = stays or bool((place.hottest.value <= FLASHES).all())
        return cool and water > WET
    return names <= place.liquid.keys() | {"water"}


#: What stands over a vessel to let its own liquid run into it, where no item is behind it.
TAPPED = ("burette", "dropping funnel", "separating funnel", "separatory funnel", "syringe")


def _tapped(setup: Setup, place: Place) -> bool:
    after = all(setup.places[n].is_end for n in place.downstream)
    return place.model.kind.casefold() in TAPPED and after


def _dripped(setup: Setup, place: Place) -> Iterator[Presence]:
    """What a burette beside can let run onto what a vessel holds."""
    holds = place.liquid or place.solids or place.unplaced
    if place.kind.id != "vessel" or not holds or _tapped(setup, place):
        return
    for other in setup.places:
        if _tapped(setup, other) and not _known(setup, place, set(other.liquid)):
            for name, share in other.liquid.items():
                component = setup.reference.substance(name)
                yield Presence(component, "drawn", np.full(setup.trials, share), of=other.id)


def _carried(setup: Setup, place: Place) -> Iterator[Presence]:
    """Droplets and splashes of the bottles beside, with nothing but hoses between.

    A bottle that bubbles spits forward, and is pushed or drawn back; an empty one between holds it.
    """
    if not place.liquid:
        return
    for other in setup.places:
        if other.liquid and place.index != other.index and _beside(setup, place, other):
            for name, share in other.liquid.items():
                component = setup.reference.substance(name)
                yield Presence(component, "carried", np.full(setup.trials, share))


def _beside(setup: Setup, one: Place, other: Place) -> bool:
    """Whether only tubes and hoses lie between two items, whichever comes first."""
    first, last = (one, other) if one.index in other.before else (other, one)
    upstream = list(last.upstream)
    seen: set[int] = set()
    while upstream:
        middle = upstream.pop()
        if middle == first.index:
            return True
        if middle not in seen and setup.places[middle].model.kind == "line":
            seen.add(middle)
            upstream += setup.places[middle].upstream
    return False


def _moist(setup: Setup, place: Place) -> bool:
    """Whether air of the room, which nothing dries, stands in an item or is drawn through it."""
    fed = {flow.into: flow for flow in setup.scenario.flows.values()}
    before = [setup.places[i] for i in place.before]
    flows = [fed[each.id] for each in (place, *before) if each.id in fed]
    gases = [f for f in flows if setup.scenario.reagents[f.reagent].state == "gas"]
    if not gases:  # a vessel with a way out, through which nothing flows
        planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
        return not (place.leaves.reshape(setup.shape)[:, planned] <= 0).all()
    held = [setup.scenario.reagents[flow.reagent].held for flow in gases]
    from_room = any(one is not None and one.as_ == "room air" for one in held)
    return from_room and not any(_dries(setup, each) for each in before if each is not place)


def _dries(setup: Setup, place: Place) -> bool:
    packed = {text for text, part in place.parts if part == "packing"}
    names = {found.name for text in packed if (found := find(setup, text)) is not None}
    return bool(DRY_BEDS & names) or place.liquid.get("sulfuric acid", 0.0) >= DRYING_ACID


def _between(setup: Setup, first: int, last: int) -> FloatArray:
    """Least gas volume between two items along any way, both left out, m3; unknown counts as 0."""
    far = np.full(setup.trials, np.inf)
    if first in setup.places[last].upstream:
        return np.zeros(setup.trials)
    for middle in setup.places[last].upstream:
        if first in setup.places[middle].before:
            volume = np.nan_to_num(setup.places[middle].volume.value, nan=0.0)
            far = np.minimum(far, volume + _between(setup, first, middle))
    return far
