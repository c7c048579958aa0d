"""A liquid that reacts once its cooling is lost: how hot it gets if all of it reacts at once.

Counted from the heats of the reactions that the file declares, whole at the start of the step, with
no heat lost. Whether the reaction is quick enough for that nobody knows, so it is taken to be. A
solid that heats the water it dissolves in needs no declaring.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from review import Computation, FloatArray, Input, Measure, Method, Place, Quantity, Setup
from review.physics.liquids import heat_of_vaporisation

from ..shared.names import UNWEIGHED
from ..shared.stores import bottled
from .displacing import displacing
from .dissolving import KIND, MARGIN, OTHER, RISE, WATER, dissolving, limit
from .dissolving import POURED as POURED_SHARES
from .doubted import doubted, named
from .formation import DISSOLVED, combustion_enthalpy
from .reaction import amounts_of
from .sheet import item_temperature, kind

#: Heat of condensation of a product whose figures are not known, J/mol: no small molecule has more
#: (glycol 66 kJ/mol, from memory).
CONDENSES = 70e3
AMBIENT = 298.15
#: Shares of a bottle that may have been poured when it is at its hottest.
SHARES = np.array(POURED_SHARES)[:, None]
#: Heats of formation of liquids at 25 degC, kJ/mol (CRC Handbook of Chemistry and Physics, standard
#: thermodynamic properties, from memory): an ester forms from acid and alcohol with hardly any.
AS_LIQUID: Mapping[str, float] = {
    "water": -285.8, "methanol": -239.2, "ethanol": -277.6, "1-propanol": -302.6,
    "isopropanol": -318.1, "1-butanol": -327.3, "formic acid": -425.0, "acetic acid": -484.3,
    "methyl acetate": -445.9, "ethyl acetate": -479.3, "butyl acetate": -529.2,
    "acetone": -248.4,
}

#: Heat of an acid with a hydroxide, J per mole of water formed: gaseous hydrogen chloride with
#: solid sodium hydroxide give 178.9 kJ (CRC heats of formation, from memory), dissolved ones 57 kJ.
NEUTRALISED = 180e3
ACIDIC = frozenset(("organic acid", "non-oxidising mineral acid", "oxidising mineral acid"))
#: Heat of two classes that react, J per mole of either, where no heats of formation are known: the
#: upper end of what handbooks have (ethyl acetate with lye 55 kJ, benzaldehyde 65 kJ, strong acid
#: with ammonia 52 kJ, with an aliphatic amine 55 to 65 kJ, from memory).
BY_CLASS = (
    ("lye", "ester", 60e3), ("lye", "aldehyde", 70e3), ("lye", "phenol", 45e3),
    ("amine", "organic acid", 70e3), ("amine", "non-oxidising mineral acid", 70e3),
    ("ammonia", "organic acid", 60e3), ("ammonia", "non-oxidising mineral acid", 60e3),
    # Half of what the acid itself gives, which is diluted as well: 199 kJ with 2 NH3 in water.
    ("ammonia", "sulfuric acid", 100e3), ("amine", "sulfuric acid", 100e3),
)  # fmt: skip
#: Members of these give more than their class: an anhydride, what polymerises besides.
GIVES_MORE = frozenset(("heats with water", "polymerisable"))
#: An acid that is more concentrated than this may do more than be neutralised, by mass.
DILUTE = 0.3


def _condensing(setup: Setup, name: str) -> float:
    """Heat of vaporisation at 25 degC, J/mol; NaN for what is no liquid or has no figures."""
    try:
        one = setup.reference.substance(name)
    except LookupError:
        return 0.0  # a solid by its formula
    if one.phase_at_20C != "liquid":
        return 0.0
    boils, critical, pressure = (
        one.number(f) for f in ("boiling_point", "critical_temperature", "critical_pressure")
    )
    return float(heat_of_vaporisation(boils, critical, pressure, AMBIENT))


def enthalpy(setup: Setup, amounts: dict[str, float]) -> float:
    """Of a reaction between liquids, J per mole of equation; never too mild where figures lack.

    An acid that it makes dissolves in the water there; one that it takes is not dissolved before.
    """
    if all(name in AS_LIQUID for name in amounts):
        return sum(1e3 * nu * AS_LIQUID[name] for name, nu in amounts.items())
    total = 0.0
    for name, nu in amounts.items():
        wet = nu > 0 and name in DISSOLVED
        total += nu * combustion_enthalpy(name, setup.reference, dissolves=wet)
        own = 0.0 if wet else _condensing(setup, name)
        if np.isnan(own):
            own = CONDENSES if nu > 0 else 0.0
        total -= nu * own
    return total


def _neutralises(setup: Setup, place: Place, terms: Sequence[Any]) -> float:
    """Moles of water that an equation of an acid with a hydroxide forms, in what is mostly water
    and no oxidising acid of strength; else 0."""
    classes = []
    for term in terms:
        if term.coefficient < 0:
            try:
                one = setup.reference.substance(term.text)
            except LookupError:
                return 0.0
            if float(np.max(place.liquid.get(one.name, 0.0))) > DILUTE:
                return 0.0
            classes.append(set(one.classes or ()))
    water = sum(float(t.coefficient) for t in terms if t.coefficient > 0 and t.formula == "H2O")
    pair = len(classes) == 2 and any(
        a & ACIDIC and "lye" in b and not b & ACIDIC for a, b in (classes, classes[::-1])
    )
    products = sum(t.coefficient > 0 for t in terms)
    wet = float(np.min(place.liquid.get("water", 0.0))) >= 1 - DILUTE
    return water if pair and products == 2 and wet else 0.0


def _by_class(setup: Setup, terms: Sequence[Any]) -> float:
    """Enthalpy of an equation of two reactants by their classes, J per mole of it; NaN where no
    class has one."""
    takes = []
    for term in (t for t in terms if t.coefficient < 0):
        try:
            one = setup.reference.substance(term.text)
        except LookupError:
            return float("nan")
        takes.append((-term.coefficient, {one.name, *(one.classes or ())}))
    if any(classes & GIVES_MORE for _, classes in takes):
        return float("nan")
    most = max((float(n) for n, _ in takes), default=0.0)
    found = [
        heat for one, other, heat in BY_CLASS for a, b in (takes, takes[::-1])
        if one in a[1] and other in b[1]
    ] if len(takes) == 2 else []  # fmt: skip
    return -most * max(found, default=float("nan"))


def _extent(
    liquid: Mapping[str, FloatArray], setup: Setup, amounts: dict[str, float], apart: set[str]
) -> FloatArray:
    """Moles of an equation that a kilogram of the liquid can react by; what no bottle holds is fed
    in and counts as plenty."""
    takes = {name for name, nu in amounts.items() if nu < 0}
    found = [
        liquid[name] / setup.reference.substance(name).molar_mass / -amounts[name]
        for name in sorted(takes & liquid.keys())
    ]
    return np.min(found, axis=0) if found and takes & apart <= liquid.keys() else np.zeros((1, 1))


def _mixtures(setup: Setup, place: Place) -> tuple[list[dict[str, FloatArray]], set[str]]:
    """Mass fractions, (shares, trials), of what is held, and with more and more of each bottle that
    is poured in, all others in it or none; and what these bottles hold, where all is known."""
    held = {name: np.atleast_2d(share) for name, share in place.liquid.items()}
    poured = [_masses(setup, name) for name, at in setup.scenario.poured if at == place.id]
    own = _times(held, place.number("liquid_volume").value * _density_of(setup, place.liquid))
    found = [held]
    for n, one in enumerate(poured):
        for others in [[], poured[:n] + poured[n + 1 :]]:
            parts = [own, _times(one, SHARES), *others]
            names = dict.fromkeys(name for part in parts for name in part)
            mixed = {name: _sum(part[name] for part in parts if name in part) for name in names}
            whole = _sum(mixed.values())
            found.append({name: np.asarray(mass / whole) for name, mass in mixed.items()})
    if any(np.isnan(share).any() for liquid in found[1:] for share in liquid.values()):
        return [held], set()  # counted as if there were plenty of what is not known
    return found, {name for one in poured for name in one}


def _sum(arrays: Iterable[FloatArray]) -> FloatArray:
    return sum(arrays, np.zeros((1, 1)))


def _given(extent: FloatArray, heat: float) -> FloatArray:
    """Heat of an equation, J/kg; without end where something reacts and nobody knows its heat."""
    most = np.inf if np.isnan(heat) else max(-heat, 0.0)
    return np.where(extent == 0, 0.0, np.where(np.isnan(extent), np.inf, extent) * most)


def _times(liquid: Mapping[str, FloatArray], factor: FloatArray) -> dict[str, FloatArray]:
    return {name: np.atleast_2d(share * factor) for name, share in liquid.items()}


def _masses(setup: Setup, name: str) -> dict[str, FloatArray]:
    """Of the components of a bottle, kg; NaN where nobody says how much it holds."""
    reagent = setup.scenario.reagents[name]
    shares = setup.reference.by_mass(reagent.composition, reagent.basis)
    amount = bottled(setup, name, reagent.density or _density_of(setup, shares))
    return {part: np.atleast_2d(share * amount) for part, share in shares.items()}


def _density_of(setup: Setup, liquid: Mapping[str, Any]) -> float:
    """By the volumes of what it consists of; as water where no density is known."""
    volume = sum(
        float(np.max(share)) / (known if known > 0 else 1000.0)
        for share, known in (
            (share, setup.reference.substance(name).number("liquid_density"))
            for name, share in liquid.items()
        )
    )
    return 1.0 / volume if volume > 0 else 1000.0


def _worst(
    setup: Setup, place: Place, equations: Sequence[dict[str, float]], heats: Sequence[float]
) -> tuple[list[FloatArray], FloatArray, set[str]]:
    """Extents of the equations, mol/kg, and the share of water in the mixture that warms most; all
    that may be in it."""
    best: tuple[FloatArray, list[FloatArray], FloatArray] | None = None
    mixtures, apart = _mixtures(setup, place)
    for liquid in mixtures:
        wet = np.asarray(liquid.get("water", np.zeros((1, 1))))
        extents = [_extent(liquid, setup, each, apart) for each in equations]
        gives = _sum(_given(x, h) for x, h in zip(extents, heats, strict=True))
        warms = gives / (wet * WATER + (1 - wet) * OTHER)
        whole = [np.broadcast_to(x, (len(warms), setup.trials)) for x in (warms, wet, *extents)]
        row = np.argmax(whole[0], axis=0)[None]
        rise, share, *each = (np.take_along_axis(x, row, axis=0)[0] for x in whole)
        if best is None:
            best = rise, each, share
        else:
            more = ~(rise <= best[0])
            each = [np.where(more, x, y) for x, y in zip(each, best[1], strict=True)]
            best = np.where(more, rise, best[0]), each, np.where(more, share, best[2])
    assert best is not None
    return best[1], best[2], apart | place.liquid.keys()


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for measure in (*dissolving(setup), *displacing(setup)):
        found = True
        yield measure
    for place in setup.places:
        equations = [amounts_of(terms) for terms in setup.reactions.get(place.id, ())]
        if not place.liquid or not equations:
            continue
        heats = [enthalpy(setup, each) for each in equations]
        for n, terms in enumerate(setup.reactions.get(place.id, ())):
            water = _neutralises(setup, place, terms) if np.isnan(heats[n]) else 0.0
            heats[n] = -NEUTRALISED * water if water else heats[n]
            heats[n] = _by_class(setup, terms) if np.isnan(heats[n]) else heats[n]
        takes = [named(setup, terms) for terms in setup.reactions.get(place.id, ())]
        extents, wet, names = _worst(setup, place, takes, heats)
        if not any((x != 0).any() for x in extents):
            continue
        found = True
        rise = RISE(
            extents=[
                Quantity.of(x, name="reacts", unit="mol/kg", source="the liquid as stated")
                for x in extents
            ],
            H=[
                Quantity.of(
                    h, np.uint8(3 if np.isnan(h) else 0), unit="J/mol",
                    name=f"heat of the reaction declared in {place.id}",
                    source="reference data, or heats of formation from memory",
                )
                for h in heats
            ],
            c=Quantity.of(
                wet * WATER + (1 - wet) * OTHER, name="heat capacity", unit="J/(kg K)",
                source="water 4180, other liquids at least 1700 (from memory)",
            ),
        )  # fmt: skip
        most, before = limit(setup, names), item_temperature(place)
        if not any(
            setup.reference.substance(name).datum("decomposes_above").state == "known"
            for name in names
        ):  # in a bath hotter than that it boils already, at its boiling point and no hotter
            before = before.revised(np.minimum(before.value, most.value), before.status)
        margin = MARGIN(T_max=most, T=before, rise=rise)
        why = "heat of a declared reaction" if np.isnan(heats).any() else ""
        yield setup.measure(KIND, margin, place.id, note=why)
    if not found:
        why = "no reaction of a held liquid is declared, and nothing warms it as it dissolves"
        none = Quantity.of(np.inf, name="margin", unit="K", source=why)
        yield setup.measure(KIND, none, "train", note=why)


#: Heat that what is dissolved or decomposed gives per mole of gas it makes, J/mol: from heats of
#: formation in water at 25 degC (NBS tables, from memory), rounded up.
POURED: Mapping[str, float] = {
    "magnesium": 467e3, "zinc": 154e3, "iron": 90e3, "aluminium": 355e3, "sodium": 369e3,
    "potassium": 393e3, "lithium": 445e3, "calcium carbide": 128e3, "calcium hydride": 117e3,
    "sodium hydride": 128e3, "copper": 60e3, "manganese dioxide": 0.0, "hydrogen peroxide": 196e3,
}  # fmt: skip
#: Classes of what gives gas with acid and little heat: no more than an acid that is neutralised
#: (57 kJ/mol, from memory) for what is thinner, next to nothing for salts.
MILD: Mapping[str, float] = {
    "hydrogencarbonate": 20e3, "sulfide": 20e3, "thiosulfate": 0.0, "halide salt": 10e3,
    "nitrite": 57e3, "carbide": 130e3,
}  # fmt: skip
#: No metal gives more (calcium 543 kJ per mole of hydrogen, from memory).
WORST = 550e3
CHARGE = Method(
    id="heat.charge_margin",
    title="Charge of a generator poured together, below where its water boils",
    result="margin",
    unit="K",
    formula="T_max - (T + n * h / (m * c))",
    inputs=(
        Input("T_max", "T_max", "K", "water boils"),
        Input("T", "T", "K", "before"),
        Input("n", "n", "mol", "gas that all of it makes at once"),
        Input("h", "h", "J/mol", "heat per mole of gas"),
        Input("m", "m", "kg", "liquid that is warmed"),
        Input("c", "c", "J/(kg K)", "heat capacity of the liquid"),
    ),
    function=lambda T_max, T, n, h, m, c: T_max - (T + np.where(n == 0, 0.0, n * h / (m * c))),
    source=RISE.source,
    validity="nothing keeps the reagents apart; no heat is lost; an unknown reaction is the worst",
)
CHARGE_KIND = kind(
    CHARGE, "lower", "K", {"train.*.liquid_volume": "up", "ambient.temperature": "down"}
)
BOILS = 373.15
def _heat_of(setup: Setup, place: Place) -> float:
    """Heat per mole of gas of what a generator's equation uses up, J/mol."""
    found = []
    for term in (term for terms in place.made for term in terms if term.coefficient < 0):
        try:
            one = setup.reference.substance(term.text)
        except LookupError:
            continue
        mild = [heat for name, heat in MILD.items() if name in (one.classes or ())]
        found += [POURED[one.name]] if one.name in POURED else mild
    return max(found, default=WORST)


def _charges(setup: Setup) -> Iterable[Measure]:
    once, found, seen = setup.stacked("once"), False, set[str]()
    for n, (name, flow) in enumerate(setup.scenario.flows.items()):
        held = setup.scenario.reagents[flow.reagent].held
        if held is None or held.as_ != "generator":
            continue
        place = next(p for p in setup.places if p.id == flow.into)
        apart = held.limited_by is not None
        water = float(np.min(place.liquid.get("water", 0.0))) if place.liquid else 1.0
        margin = CHARGE(
            T_max=setup.quantity(BOILS, "water boils", "K", "at 1 atm"),
            T=setup.number("ambient.temperature"),
            n=Quantity.of(np.zeros(setup.trials) if apart else once[n], name="gas made at once",
                unit="mol", source="amounts in the file by the equation"),
            h=setup.quantity(_heat_of(setup, place), "heat", "J/mol", "NBS tables"),
            m=Quantity.of(_liquid(setup, place), name="liquid", unit="kg", source="the file"),
            c=setup.quantity(water * WATER + (1 - water) * OTHER, "heat capacity", "J/(kg K)",
                "water 4180, other liquids at least 1700 (from memory)"),
        )  # fmt: skip
        found, of = True, flow.reagent if place.id in seen else ""
        seen.add(place.id)
        why = doubted(setup, place, name, once[n])
        if why:
            lost = Quantity.missing("charge kept apart", "K", why=why)
            yield setup.measure(CHARGE_KIND, lost, place.id, of)
            continue
        nothing = apart | (once[n] == 0)  # then no liquid is needed to take up its heat
        status = np.where(nothing, np.uint8(0), margin.status)
        margin = margin.revised(np.where(nothing, np.inf, margin.value), status)
        lost = np.isnan(margin.value) & np.isnan(once[n])
        yield setup.measure(CHARGE_KIND, margin, place.id, of, note=UNWEIGHED if lost.any() else "")
    if not found:
        why = "nothing is made in a generator"
        yield setup.measure(CHARGE_KIND, setup.quantity(np.inf, why, "K", why), "train", note=why)


def _liquid(setup: Setup, place: Place) -> FloatArray:
    """Liquid that takes up the heat, kg, as light as water: what is held, else what is at hand."""
    held = place.number("liquid_volume").value
    volumes = [
        setup.number(f"reagents.{name}.amount").value
        for name, reagent in setup.scenario.reagents.items()
        if reagent.state == "liquid" and reagent.amount and reagent.amount.by == "volume"
    ]
    most = np.min(volumes, axis=0) if volumes else np.full(setup.trials, np.nan)
    return 1000.0 * np.where(np.isnan(held), most, held)


RUNAWAY = Computation(kinds=(KIND,), compute=_compute)
CHARGED = Computation(kinds=(CHARGE_KIND,), compute=_charges)
