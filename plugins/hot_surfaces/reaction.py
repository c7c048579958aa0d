"""Heat of declared reactions: how hot a bed gets if all of it converts and no heat is lost, and how
hot the wall about it, which shines that heat away."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from review import (
    Computation,
    FloatArray,
    Input,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
)
from review.physics.gas import R
from review.physics.heat import STEFAN_BOLTZMANN

from ..shared.residue import in_the_liquid
from .formation import combustion_enthalpy, reaction_enthalpy
from .sheet import HOTTER, LESS_LEFT, figure, item_temperature, kind


def adiabatic_rise(
    extents: Sequence[FloatArray], H: Sequence[FloatArray], c: FloatArray
) -> FloatArray:
    """Rise of temperature if all of it reacts and no heat is lost, K.

    sum(x max(-h, 0)) / c: reactions that take up heat cool nothing.
    extents mol per mole or per kg, H J/mol, c J/K per the same; all over trials.

    >>> float(adiabatic_rise([0.1, 0.2], [-400e3, 100e3], 40.0))
    1000.0

    Source: [1] energy balance without loss.
    """
    return np.asarray(sum(x * np.maximum(-h, 0.0) for x, h in zip(extents, H, strict=True)) / c)


ENTHALPY = Method(
    id="heat.reaction_enthalpy",
    title="Enthalpy of a declared reaction",
    result="enthalpy per mole of equation",
    unit="J/mol",
    formula="sum([n * h for n, h in zip(nu, H)]) + K",
    inputs=(
        Input("nu", "nu", "1", "coefficients, products positive"),
        Input("H", "H_c", "J/mol", "heats of combustion at 298 K"),
        Input("K", "K", "J/mol", "change from 298 K to the bed's temperature, gases only"),
    ),
    function=lambda nu, H, K: sum(n * h for n, h in zip(nu, H, strict=True)) + K,
    source="Hess's law; Kirchhoff's law with the heat capacities of the gases",
    validity="ideal gases, water as vapour; with solids the change with temperature is never a "
    "credit",
)
RISE = Method(
    id="heat.adiabatic_rise",
    title="Temperature rise if all of it reacts and no heat is lost",
    result="adiabatic rise",
    unit="K",
    formula="sum([x * max(-h, 0) for x, h in zip(extents, H)]) / c",
    inputs=(
        Input("extents", "xi", "mol/mol", "moles of equation per mole of gas, all converted"),
        Input("H", "H_r", "J/mol", "enthalpy of each reaction"),
        Input("c", "c", "J/(mol K)", "heat capacity of what leaves, per mole of gas that enters"),
    ),
    function=adiabatic_rise,
    source="energy balance of the gas alone; heat capacity at the start, so the rise is too high",
    validity="no equilibrium holds it back; bed and wall take no heat from gas that flows; not a "
    "moving hot front",
)  # fmt: skip
ADIABATIC = Method(
    id="heat.adiabatic_temperature",
    title="Bed if all of the gas reacts and no heat is lost",
    result="adiabatic temperature",
    unit="K",
    formula="T + rise",
    inputs=(
        Input("T", "T", "K", "hottest the item gets by its heater"),
        Input("rise", "dT", "K", "adiabatic rise"),
    ),
    function=lambda T, rise: T + rise,
    source="sum",
    validity=RISE.validity,
)


def shining_wall(
    bed: FloatArray, T: FloatArray, P: FloatArray, eps: FloatArray, A: FloatArray
) -> FloatArray:
    """Wall about a bed that reacts, K: no hotter than the bed, nor than where it shines all away.

    T_w = min(T_b, (T^4 + P / (eps sigma A))^(1/4))

    bed T_b K without loss; T K of what it shines at, the hottest of heater and room; P W set free;
    eps emissivity of the wall; A m2 of wall that takes it up. Any shapes that broadcast. With P
    infinite, or eps or A 0, it is as hot as the bed.

    >>> f"{shining_wall(3000.0, 900.0, 6.0, 0.8, 1e-3):.0f}"
    '942'

    Source: [1] Stefan-Boltzmann law, grey wall in an enclosure; convection counts for nothing.
    """
    shone = (T**4 + P / (eps * STEFAN_BOLTZMANN * A)) ** 0.25
    return np.where(eps * A == 0, bed, np.minimum(bed, shone))


WALL = Method(
    id="heat.reaction_wall",
    title="Wall about a bed that reacts",
    result="hottest wall",
    unit="K",
    formula="min(bed, (T**4 + P / (eps * 5.670374419e-8 * A)) ** 0.25)",
    inputs=(
        Input("bed", "T_b", "K", "adiabatic temperature of the bed"),
        Input("T", "T", "K", "hottest the item gets by its heater"),
        Input("P", "P", "W", "heat set free if all of it reacts"),
        Input("eps", "eps", "1", "emissivity of the wall"),
        Input("A", "A", "m2", "outside of the tube over one bore: a front is no shorter"),
    ),
    function=shining_wall,
    source="Stefan-Boltzmann law; common practice, no source, for the length of the front",
    validity="steady flow in a tube; the heat of one bore's length goes out through that length",
)
BED_MARGIN = Method(
    id="heat.reaction_margin",
    title="Wall about a bed that reacts below what the tube bears",
    result="margin",
    unit="K",
    formula="T_max - T",
    inputs=(
        Input("T_max", "T_max", "K", "highest temperature for continuous use"),
        Input("T", "T", "K", "hottest wall or bed"),
    ),
    function=lambda T_max, T: T_max - T,
    compares=lambda T_max, T: (T, T_max),
    compared_in=("K", "degC"),
    source="difference",
    validity=WALL.validity,
)
BED_KIND = kind(ADIABATIC, "higher", "degC", HOTTER)
MARGIN_KIND = kind(BED_MARGIN, "lower", "K", LESS_LEFT)
CATALYST_KIND = kind(
    BED_MARGIN,
    "lower",
    "K",
    {**LESS_LEFT, "catalysts.*.maximum_temperature": "up"},
    "heat.catalyst_margin",
    "Adiabatic bed below what the catalyst bears",
)


def amounts_of(terms: Iterable[Any]) -> dict[str, float]:
    """Coefficients of an equation by substance, solids by their formula."""
    out: dict[str, float] = {}
    for term in terms:
        name = f"{term.formula}(s)" if term.substance is None else term.substance.name
        out[name] = out.get(name, 0.0) + term.coefficient
    return out


def _heat_capacity(setup: Setup, temperature: FloatArray, order: int) -> FloatArray:
    """cp of every species at a temperature (order 0), or its integral from 298 K (order 1)."""
    t = np.clip(temperature, 250.0, 1500.0) / 1e3
    powers = np.arange(setup.heat_capacities.shape[1])[:, None]
    if order == 0:
        basis = t**powers
    else:
        basis = 1e3 * (t ** (powers + 1) - 0.29815 ** (powers + 1)) / (powers + 1)
    return np.asarray(R * (setup.heat_capacities @ basis))


def _converted(
    setup: Setup, place: Place, amounts: list[dict[str, float]]
) -> tuple[list[FloatArray], FloatArray]:
    """Moles of each equation per mole of gas, all of the limiting species spent, and what leaves.

    Of reactions that share a limiting species the one that gives off most heat takes all of it.
    """
    index = setup.rows
    moving = place.moving > 0
    gas = np.where(moving, place.composition("inlet"), place.composition("old")).copy()
    limiting = [setup.reference.substance(r.limiting).name for r in place.model.reactions]
    heats = [
        reaction_enthalpy(a, setup.reference) / -a[name]
        for a, name in zip(amounts, limiting, strict=True)
    ]
    extents = []
    for n, (amount, name) in enumerate(zip(amounts, limiting, strict=True)):
        rivals = [heats[k] for k, other in enumerate(limiting) if other == name]
        if heats[n] > min(rivals):
            extents.append(np.zeros(setup.trials))
            continue
        rows = {index[s]: nu for s, nu in amount.items() if s in index}
        extent = np.min([gas[i] / -nu for i, nu in rows.items() if nu < 0], axis=0)
        for i, nu in rows.items():
            gas[i] = np.maximum(gas[i] + nu * extent, 0.0)
        extents.append(extent)
    return extents, gas


#: No wall that is used takes up less than copper does, J/(kg K) (handbooks, from memory).
LEAST_CAPACITY = 380.0


def _wall_beside(setup: Setup, place: Place, hot: Quantity) -> FloatArray:
    """What the hot wall takes up per mole of gas that is shut in with it, J/(mol K); else 0.

    Gas at rest is used up once; what flows goes on and on, and earns no such credit.
    """
    parts = ("inner_diameter", "wall", "heated_length")
    bore, wall, zone = (np.nan_to_num(place.number(part).value) for part in parts)
    density = None if place.material is None else place.material.datum("density").value
    mass = (density or 0.0) * np.pi * (bore + wall) * wall * zone
    moles = place.pressure.value * place.volume.value / (R * hot.value)
    return np.nan_to_num(mass * LEAST_CAPACITY / np.where(moles <= 0, np.inf, moles))


def _bed(setup: Setup, place: Place, hot: Quantity) -> tuple[Quantity, FloatArray]:
    """Adiabatic temperature of the declared reactions at full conversion, K, and the heat that the
    gas which flows sets free, W; infinite where that is not known."""
    amounts = [amounts_of(terms) for terms in setup.reactions[place.id]]
    extents, leaving = _converted(setup, place, amounts)
    gained = _heat_capacity(setup, hot.value, 1)
    wet = bool(place.liquid) or any(at == place.id for _, at in setup.scenario.let_in)
    heats = []
    for amount in amounts:
        change = sum(
            (nu * gained[setup.rows[s]] for s, nu in amount.items()
             if s in setup.rows),
            np.zeros(setup.trials),
        )  # fmt: skip
        if any(name.endswith("(s)") for name in amount):
            # The solids' heat capacities are not known: what the gases alone would take back of
            # the heat is not credited.
            change = np.minimum(change, 0.0)
        heats.append(
            ENTHALPY(
                nu=[Quantity.of(nu, name=s, unit="1", source="equation")
                    for s, nu in amount.items()],
                H=[Quantity.of(combustion_enthalpy(s, setup.reference, dissolves=nu > 0 and wet),
                               name=s, unit="J/mol",
                               source="reference data, or heats of formation from memory")
                   for s, nu in amount.items()],
                K=setup.quantity(change, "change with temperature", "J/mol", "Kirchhoff's law"),
            )
        )  # fmt: skip
    capacity = (leaving * _heat_capacity(setup, hot.value, 0)).sum(axis=0)
    capacity = capacity + np.where(place.moving > 0, 0.0, _wall_beside(setup, place, hot))
    rise = RISE(
        extents=[setup.quantity(x, "converted", "mol/mol", "inlet gas, all converted")
                 for x in extents],
        H=heats,
        c=setup.quantity(capacity, "heat capacity", "J/(mol K)", "reference data"),
    )  # fmt: skip
    # What is converted may be fewer moles than what came in, or none: no more comes in than
    # leaves what stands before, and what is fed here.
    fed = place.flow.value / np.minimum(leaving.sum(axis=0), 1.0)
    fed = np.fmin(fed, _comes(setup, place))
    heat = adiabatic_rise(extents, [h.value for h in heats], np.ones(()))
    power = np.where(place.moving > 0, heat * fed, np.inf)
    return ADIABATIC(T=hot, rise=rise), np.nan_to_num(power, nan=np.inf, posinf=np.inf)


def _comes(setup: Setup, place: Place) -> FloatArray:
    """Gas that comes into an item at the most, mol/s; infinite where a pump may draw in more."""
    if any(item.suction is not None for item in setup.scenario.train):
        return np.full(setup.trials, np.inf)
    here = any(flow.into == place.id for flow in setup.scenario.flows.values())
    fed = place.delivered.value if here else np.zeros(setup.trials)
    comes = sum((setup.places[i].flow.value for i in place.upstream), fed)
    return np.where(comes > 0, comes, np.inf)


def _wall(setup: Setup, place: Place, hot: Quantity, bed: Quantity, power: FloatArray) -> Quantity:
    bore, wall = (place.number(part).value for part in ("inner_diameter", "wall"))
    shines = None if place.material is None else place.material.datum("emissivity").value
    return WALL(
        bed=bed,
        T=hot,
        P=setup.quantity(power, "heat set free", "W", "flow of gas and heat of reaction"),
        eps=setup.quantity(shines or 0.0, "emissivity", "1", "material data"),
        A=setup.quantity(
            np.nan_to_num(np.pi * (bore + 2 * wall) * bore), "wall of one bore", "m2", "scenario"
        ),
    )


def _compute(setup: Setup) -> Iterable[Measure]:
    beds: dict[str, Quantity] = {}
    for place in setup.places:
        if not place.model.reactions or in_the_liquid(setup, place):
            continue
        hot = item_temperature(place)
        bed, power = _bed(setup, place, hot)
        beds[place.id] = bed
        why = "" if np.isfinite(bed.value).all() else "the heat of a declared reaction is not known"
        yield setup.measure(BED_KIND, bed, place.id, note=why)
        tube = figure(place.material, "maximum_temperature", "K", place.id)
        margin = BED_MARGIN(T_max=tube, T=_wall(setup, place, hot, bed, power))
        yield setup.measure(MARGIN_KIND, margin, place.id, place.model.material or "", why)
    if not beds:
        why = "no reaction is declared but in a liquid, which is judged as such"
        none = Quantity.of(np.inf, name="margin", unit="K", source=why)
        yield setup.measure(MARGIN_KIND, none, "train", note=why)
    for name, catalyst in setup.scenario.catalysts.items():
        place = next(p for p in setup.places if p.id == catalyst.in_)
        hot = beds.get(place.id, item_temperature(place))
        limit = setup.number(f"catalysts.{name}.maximum_temperature")
        why = "" if catalyst.maximum_temperature else "maximum_temperature is not given"
        warm = ~(hot.value <= setup.number("ambient.temperature").value + COOL)
        if not place.model.reactions:  # at the room's temperature every catalyst lasts
            bears = np.where(np.isnan(limit.value) & ~warm, np.inf, limit.value)
            why = why if np.isnan(bears).any() else ""
            limit = limit.revised(bears, np.where(np.isinf(bears), 0, limit.status))
        yield setup.measure(CATALYST_KIND, BED_MARGIN(T_max=limit, T=hot), place.id, name, why)


#: A catalyst no warmer than this over the room, and without a declared reaction, is not tried, K.
COOL = 20.0

REACTIONS = Computation(kinds=(BED_KIND, MARGIN_KIND, CATALYST_KIND), compute=_compute)
