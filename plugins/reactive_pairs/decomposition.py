"""What decomposes without air: its temperature and its pressure against the caps in the data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

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
    Substance,
    UnknownName,
)

from ..shared.residue import boiled_dry, residue
from .present import Presence, present

#: Gas or liquid below this share does not carry its own decomposition: a share of 5 % of nitrous
#: oxide or acetylene heats the gas by some 100 K at most (82 and 227 kJ/mol over 5 % of a gas of
#: 35 J/(mol K), 120 and 320 K, with wall losses less).
LEAST = 0.05

#: Classes whose members may decompose by themselves (EPA-600/2-80-076 groups 8, 27, 30, 34, 102,
#: from memory); one of them without a cap is not known, and so not passed.
DECOMPOSING = frozenset(
    {"acetylene", "azide", "chlorate", "epoxide", "explosive", "hydrazine", "hydride gas",
     "hydrogen peroxide", "nitro compound", "organic peroxide"}
)  # fmt: skip

TEMPERATURE = Method(
    id="reactive.decomposition_temperature",
    title="Hottest surface above the temperature from which it decomposes",
    result="temperature above the cap (negative: below)",
    unit="K",
    formula="where(x > least, T - cap, -cap)",
    inputs=(
        Input("x", "x", "1", "most of it here"),
        Input("least", "least", "1", "share below which it does not carry its decomposition"),
        Input("T", "T", "K", "hottest surface here"),
        Input("cap", "cap", "K", "temperature up to which it may be heated"),
    ),
    function=lambda x, least, T, cap: np.where(x > least, T - cap, -cap),
    compares=lambda x, least, T, cap: (T, cap),
    compared_in=("K", "degC"),
    source="caps in the substance's file, lower over a catalyst or a metal oxide",
    validity="gas at rest or flowing; dust and scratches lower the temperature",
)
PRESSURE = Method(
    id="reactive.decomposition_pressure",
    title="Pressure over that up to which it may be used",
    result="share of the pressure cap",
    unit="1",
    formula="x * p / cap",
    inputs=(
        Input("x", "x", "1", "most of it here"),
        Input("p", "p", "Pa", "highest pressure that the supplies can reach here, absolute"),
        Input("cap", "cap", "Pa", "cap in the substance's file, absolute"),
    ),
    function=lambda x, p, cap: x * p / cap,
    compares=lambda x, p, cap: (x * p, cap),
    compared_in=("Pa", "bar"),
    source="caps in the substance's file (acetylene: 29 CFR 1910.102 and 1910.253)",
    validity="partial pressure; an inert gas beside it counts as nothing",
)


HOT_KIND = Kind.of(
    TEMPERATURE,
    "higher",
    "K",
    {"heat.*.set_temperature": "up"},
    title="Decomposes without air by heat",
)
PRESSED_KIND = Kind.of(
    PRESSURE,
    "higher",
    "1",
    {"reagents.*.held.regulator": "up"},
    title="Decomposes without air under pressure",
)


#: What stands for a gas that does not decompose or is too thin to: far below any cap.
COLD = -1000.0


def _compute(setup: Setup) -> Iterable[Measure]:
    for kind, value in ((HOT_KIND, COLD), (PRESSED_KIND, 0.0)):
        none = setup.quantity(value, "nothing else that decomposes", kind.unit, kind.source)
        yield setup.measure(kind, none, "set-up")
    for place in setup.places:
        here = list(present(setup, place))
        used_up = _used_up(setup, place)
        active = {one.member.name for one in here if one.phase in ("catalyst", "solid")} - used_up
        dissolved = _dissolved(place, here)
        found: dict[str, Presence] = {}
        for one in here:
            known = found.get(one.member.name)
            if not isinstance(one.member, Substance) or not _judged(one):
                continue
            if _made_into_gas(setup, place, one):
                continue
            amount = one.amount if known is None else np.maximum(known.amount, one.amount)
            found[one.member.name] = Presence(one.member, one.phase, amount)
        unsaid = _unsaid(setup, place.id)
        left, hot = residue(setup, place)
        over = boiled_dry(setup, place)
        for one in found.values():
            dry = (left.get(one.member.name, 0.0), hot)
            if one.phase == "liquid" and one.member.name not in left:
                dry = (place.liquid[one.member.name], over)
            touched = active - _harmless_to(one.member)
            touched -= dissolved if one.phase == "gas" else set()
            yield from _of(setup, place, one, bool(touched), unsaid, dry)
        yield from _solids(setup, place, used_up)


def _judged(one: Presence) -> bool:
    """Whether it is gas or liquid here, or a peroxide that is poured onto what lies here."""
    assert isinstance(one.member, Substance)
    poured = one.phase == "drawn" and bool(PEROXIDES & set(one.member.classes or ()))
    return poured or one.phase in ("gas", "liquid")


def _dissolved(place: Place, here: Iterable[Presence]) -> set[str]:
    """What is dissolved in water here and lies nowhere else: no hot surface that splits a gas."""
    if not place.liquid.get("water", 0.0) >= MOST_WATER:
        return set()
    return {one.member.name for one in here if one.phase == "liquid"} - set(place.solids)


#: Classes of salts that a generator's equation may use up in water: what they do is its reaction.
REACTED = frozenset({"nitrite", "hypochlorite"})


def _made_into_gas(setup: Setup, place: Place, one: Presence) -> bool:
    """Whether it is a salt, in at least half of water, that a generator's equation uses up here."""
    member = one.member
    assert isinstance(member, Substance)
    classes = set(member.classes or ())
    watery = place.liquid.get("water", 0.0) >= MOST_WATER and one.phase == "liquid"
    made = {member.name, member.formula} & _charged(setup, place)
    return watery and bool(made and classes & REACTED) and "explosive" not in classes


def _unsaid(setup: Setup, item: str) -> bool:
    """Whether a generator here does not say by which equation it makes its gas."""
    into = [flow.reagent for flow in setup.scenario.flows.values() if flow.into == item]
    held = [setup.scenario.reagents[name].held for name in into]
    return any(one and one.as_ == "generator" and one.equation is None for one in held)


def _harmless_to(member: object) -> set[str]:
    """What is no catalyst of a substance's decomposition: itself, but for what explodes."""
    assert isinstance(member, Substance)
    return set() if "explosive" in (member.classes or ()) else {member.name}


#: Status of what is not known.
MISSING = 3

#: Classes whose members decompose in water too.
IN_WATER_TOO = frozenset({"hydrogen peroxide", "hypochlorite", "nitrite", "organic peroxide"})
#: Those of them that a solid splits as soon as they are poured onto it.
PEROXIDES = frozenset({"hydrogen peroxide", "organic peroxide"})
#: Share of water from which a solution does not get dry or hot enough before it boils.
MOST_WATER, BOILS = 0.5, 373.15


def _tamed(place: Place, one: Presence, unsaid: bool) -> NDArray[np.bool_]:
    """Whether it is dissolved in so much water that it cannot decompose before the water boils."""
    assert isinstance(one.member, Substance)
    none = np.zeros(place.hottest.value.shape, dtype=bool)
    watery = place.liquid.get("water", 0.0) >= MOST_WATER and one.phase == "liquid"
    if unsaid or not watery or one.member.classes is None or IN_WATER_TOO & set(one.member.classes):
        return none
    return none | (place.hottest.value < BOILS)


#: Heat that a liquid gives off as it decomposes to what it is here for, J/mol: hydrogen peroxide to
#: water and oxygen, 285.8 less 187.8 kJ/mol (heats of formation, CRC Handbook, from memory).
DECOMPOSITION_HEAT = {"hydrogen peroxide": 98.0e3}
#: Where the water that it is dissolved in boils, K.
BOILS = 373.15
#: Heat capacity of its solutions, the low end, J/(kg K) (30 % peroxide 3600, from memory).
SOLUTION_CAPACITY = 3500.0


def _meant(place: Place, one: Presence) -> bool:
    """Whether it is a liquid that an equation decomposes here by itself."""
    return one.phase in ("liquid", "drawn") and any(
        {t.formula for t in terms if t.coefficient < 0} == {getattr(one.member, "formula", "")}
        for terms in place.equations
    )


def _on_purpose(place: Place, one: Presence, unsaid: bool) -> Quantity:
    """Hottest it gets, K, its own heat included where it is decomposed here on purpose.

    T + w H / (M c), as if all of it went at once; not known where nobody knows its heat. A
    generator that does not say what it does (`unsaid`) may decompose it.
    """
    member = one.member
    assert isinstance(member, Substance)
    if one.phase == "gas" or not (unsaid or _meant(place, one)):
        return place.hottest
    heat = DECOMPOSITION_HEAT.get(member.name, np.nan)
    share = one.amount if one.phase == "drawn" else place.liquid[member.name]
    rise = share * heat / (member.molar_mass * SOLUTION_CAPACITY)
    return place.hottest.revised(place.hottest.value + rise, place.hottest.status)


def _solids(setup: Setup, place: Place, used_up: set[str]) -> Iterable[Measure]:
    """Solids that lie here, packed or in a boat, against the temperature they decompose from.

    What a generator is charged with is meant to decompose, but for what explodes.
    """
    lying = dict(place.solids)
    for text in (text for text, part in place.parts if part == "packing"):
        with suppress(UnknownName):
            lying[setup.reference.substance(text).name] = 1.0
    for name, share in lying.items():
        solid = setup.reference.substance(name)
        classes, datum = set(solid.classes or ()), solid.datum("decomposes_above")
        meant = name in used_up and "explosive" not in classes
        listed = datum.state == "known" or (datum.state == "unknown" and classes & DECOMPOSING)
        if meant or not listed or share <= LEAST:
            continue
        cap = Quantity.of(
            np.nan if datum.value is None else datum.value,
            name=f"decomposes above of {name}", unit="K", source=datum.source,
        )  # fmt: skip
        hot = TEMPERATURE(
            x=setup.quantity(share, f"{name} at {place.id}", "1", "solid reagent"),
            least=Quantity.of(LEAST, name="least share", source="stated"),
            T=place.hottest, cap=cap,
        )  # fmt: skip
        yield setup.measure(HOT_KIND, hot, place.id, name)


def _charged(setup: Setup, place: Place) -> set[str]:
    """What the equation of a generator here uses up, by name and formula."""
    declared = setup.reactions.get(place.id, ())
    return {
        text
        for terms in place.equations
        if terms not in declared
        for term in terms
        if term.coefficient < 0
        for text in (term.text, term.formula)
    }


def _used_up(setup: Setup, place: Place) -> set[str]:
    """Solids that a generator here is charged with, and lime or alkali that its reaction leaves:
    they make the gas and are no catalyst."""
    declared = setup.reactions.get(place.id, ())
    charged = _charged(setup, place)
    solids = [setup.reference.substance(name) for name in place.solids]
    return {one.name for one in solids if {one.name, one.formula} & charged} | _alkali_left(
        setup, place, declared
    )


def _alkali_left(setup: Setup, place: Place, declared: Sequence[object]) -> set[str]:
    """Lime and alkali that a generator's reaction leaves, by their class."""
    left = {
        term.formula
        for terms in place.equations
        if terms not in declared
        for term in terms
        if term.coefficient > 0 and term.substance is None
    }
    found = set()
    for formula in left:
        with suppress(UnknownName):
            one = setup.reference.substance(formula)
            found |= {one.name} if one.classes and set(one.classes) <= {"caustic", "lye"} else set()
    return found


def _may_decompose(substance: Substance) -> bool:
    """Whether a substance without a cap may be one that needs one: by its class, or by no class."""
    classes = substance.classes
    return (
        substance.burns_without_oxygen is not False
        or classes is None
        or bool(DECOMPOSING & set(classes))
    )


def _of(
    setup: Setup,
    place: Place,
    one: Presence,
    active: bool,
    unsaid: bool,
    dry: tuple[float, FloatArray],
) -> Iterable[Measure]:
    member = one.member
    assert isinstance(member, Substance)
    state = member.datum("decomposes_above").state
    if state == "none" or (state == "unknown" and not _may_decompose(member)):
        return
    known = setup.quantity(one.amount, f"{member.name} at {place.id}", "1", "balance of the train")
    for name, kind, method in (
        ("decomposes_above_catalyst" if active else "decomposes_above", HOT_KIND, TEMPERATURE),
        ("decomposition_pressure", PRESSED_KIND, PRESSURE),
    ):
        datum = member.datum(name)
        if datum.state == "none" or (one.phase != "gas" and method is PRESSURE):
            continue
        cap = Quantity.of(
            np.nan if datum.value is None else datum.value,
            name=f"{name.replace('_', ' ')} of {member.name}",
            unit=datum.unit,
            source=datum.source,
        )
        if method is TEMPERATURE and _meant(place, one) and member.name in DECOMPOSITION_HEAT:
            # All of its heat is counted already: what is left to fear is that it boils over.
            cap = Quantity.of(BOILS, name="its water boils", unit="K", source="at 1 atm")
        if method is TEMPERATURE:
            found = TEMPERATURE(
                x=known, least=Quantity.of(LEAST, name="least share", source="stated"),
                T=_on_purpose(place, one, unsaid), cap=cap,
            )  # fmt: skip
        else:
            found = PRESSURE(x=known, p=_highest(setup, place), cap=cap)
        absent = (one.amount <= LEAST) | _tamed(place, one, unsaid)
        value = np.where(absent, 0.0 if method is PRESSURE else COLD, found.value)
        status = np.where(absent, setup.engine_status, found.status)
        if method is TEMPERATURE and dry[0] > LEAST:
            value = np.maximum(value, np.where(dry[1] <= 0, COLD, dry[1] - cap.value))  # NaN stays
            status = np.where(np.isnan(value), np.uint8(MISSING), status)
        yield setup.measure(kind, found.revised(value, status), place.id, member.name)


#: No joint holds more than this many times what its table says: a judgement, no source.
MOST_HELD = 5.0


def _highest(setup: Setup, place: Place) -> Quantity:
    """Highest pressure that can be reached, Pa: the supply's, else what the joints on its way hold.

    Gas made in a flask has no regulator; a plug downstream raises the pressure until the weakest
    joint that the gas has come past comes apart, and a plug before here lets none come.
    """
    tables = (setup.reference.joint(setup.places[i].model.joint or "none") for i in place.before)
    held = [table.rating.value for table in tables if table.rating.value is not None]
    if not held:
        return place.supply
    most = setup.number("ambient.pressure").value + MOST_HELD * min(held)
    return setup.quantity(
        np.where(np.isnan(place.supply.value), most, place.supply.value),
        f"highest pressure at {place.id}", "Pa", "supply, else the weakest joint on the way",
    )  # fmt: skip


DECOMPOSITION = Computation(kinds=(HOT_KIND, PRESSED_KIND), compute=_compute)
