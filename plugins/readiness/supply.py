"""Is there enough gas in each cylinder, and not far too much in the charge of a generator."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.gas import R

from ..shared.names import UNWEIGHED

DRAWN = Method(
    id="readiness.gas_drawn",
    title="Gas that the steps draw as a share of what the cylinder holds",
    result="share drawn",
    unit="1",
    formula="drawn * R * T / ((p - p_r) * V)",
    inputs=(
        Input("drawn", "n", "mol", "drawn by the end of the step; of the plan in all steps"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("T", "T", "K", "temperature of the room"),
        Input("p", "p", "Pa", "pressure in the cylinder"),
        Input("p_r", "p_r", "Pa", "pressure the regulator is set to, below which it gives less"),
        Input("V", "V", "m3", "volume of the cylinder"),
    ),
    function=lambda drawn, R, T, p, p_r, V: drawn * R * T / ((p - p_r) * V),
    compares=lambda drawn, R, T, p, p_r, V: (drawn, (p - p_r) * V / (R * T)),
    compared_in=("mol", ""),
    source="ideal gas",
    validity="never too little for a liquefied gas; permanent gases hold up to 10 % more or less",
)
KIND = Kind.of(
    DRAWN, "higher", "%",
    {"flows.*.rate": "up", "reagents.*.held.pressure": "down", "reagents.*.held.volume": "down"},
)  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    cells, runs = setup.shape
    fed = setup.stacked("fed").reshape(-1, cells, runs)
    each = np.array(
        [np.zeros(runs), *(setup.duration(cell) for cell in range(1, cells))]
    )  # the stated plan is no step
    flows = setup.scenario.flows
    for name, reagent in setup.scenario.reagents.items():
        drawn_by = [n for n, flow in enumerate(flows.values()) if flow.reagent == name]
        held = reagent.held
        if reagent.state != "gas" or held is None or held.as_ != "cylinder":
            continue
        rate = fed[drawn_by].sum(axis=0) + _burnt(setup, name)
        moles = np.where(rate == 0, 0.0, rate * each)
        sums = np.cumsum(moles, axis=0)  # up to the end of each step; of the plan all of them
        total = np.concatenate([sums[-1:], sums[1:]]).reshape(-1)
        path = f"reagents.{name}.held"
        done = DRAWN(
            drawn=setup.quantity(total, f"{name} drawn", "mol", "balance of the train"),
            R=setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact"),
            T=setup.number("ambient.temperature"),
            p=setup.number(f"{path}.pressure"),
            p_r=_set(setup, path),
            V=setup.number(f"{path}.volume"),
        )
        over = ~(done.value >= 0) & ~np.isnan(done.value)  # set above what is left in it
        yield setup.measure(
            KIND, done.revised(np.where(over, np.inf, done.value), done.status), f"supply of {name}"
        )


def _burnt(setup: Setup, reagent: str) -> FloatArray:
    """What the burners that are on take of a gas in each cell, mol/s, (cells, runs)."""
    total = np.zeros(setup.shape)
    fed = {flow.reagent for flow in setup.scenario.flows.values()}
    for name, heat in setup.scenario.heat.items():
        if heat.fuel is None and heat.energy == "flame" and reagent not in fed:
            total += np.nan  # it may be what this one burns: nobody says
        if heat.fuel != reagent:
            continue
        rate = setup.number(f"heat.{name}.fuel_rate").value.reshape(setup.shape)
        if heat.fuel_rate is None or heat.fuel_rate.by == "volume":
            rate = rate * 101325.0 / (R * 293.15)
        elif heat.fuel_rate.by == "mass":
            shares = setup.scenario.reagents[reagent].composition
            known = {text: setup.reference.substance(text) for text in shares}
            rate = rate / sum(shares[text] * s.molar_mass for text, s in known.items())
        for cell, step in enumerate(setup.scenario.procedure, 1):
            settings = f"settings.{step.step}.heat.{name}"
            others = [f"{settings}.as.{other.step}" for other in setup.scenario.procedure]
            on = np.zeros(setup.shape[1])
            for path in (f"{settings}.on", *others):
                set_ = setup.number(path).value.reshape(setup.shape)[cell]
                on = np.fmax(on, set_)
            total[cell] += np.where(on > 0, rate[cell], 0.0)
    return total


def _set(setup: Setup, path: str) -> Quantity:
    """Pressure the regulator is set to; the room's where none is stated."""
    found = setup.number(f"{path}.regulator")
    return setup.number("ambient.pressure") if np.isnan(found.value).all() else found


#: The limit up to which a charge counts as bounded by what the file says limits it.
LIMITED = "readiness.charge_limited"
CHARGE_KIND = Kind(
    id="readiness.charge",
    title="How long a generator's charge goes on at the most it is said to give",
    worse="higher",
    unit="s",
    display="min",
    method="readiness.charge",
    source="amounts in the file by its equation, over at_most of the flow",
    validity="0 of what takes heat or current to react, or yeast; missing where nobody says how "
    "much there is; no longer than the ruleset's figure where the file says what limits it",
    moves={"flows.*.at_most": "down"},
)


def _charges(setup: Setup) -> Iterable[Measure]:
    lasts = setup.stacked("lasts")
    for n, (name, flow) in enumerate(setup.scenario.flows.items()):
        held = setup.scenario.reagents[flow.reagent].held
        if held is None or held.as_ != "generator":
            continue
        value = lasts[n]
        if held.limited_by is not None:
            value = np.fmin(value, setup.limit(LIMITED).value)
        if held.limited_by == "fermentation" and _carbon_dioxide(setup, flow.reagent):
            value = np.zeros(setup.trials)  # yeast cannot be hurried, whatever it still has
        source = (
            UNWEIGHED if flow.at_most is not None
            else "at_most, which the file does not state"
        )
        found = Quantity.of(value, name=CHARGE_KIND.title, unit="s", source=source)
        yield setup.measure(CHARGE_KIND, found, name)


def _carbon_dioxide(setup: Setup, name: str) -> bool:
    shares = setup.scenario.reagents[name].composition
    return {setup.reference.substance(text).name for text in shares} == {"carbon dioxide"}


SUPPLY = Computation(kinds=(KIND,), compute=_compute)
CHARGE = Computation(kinds=(CHARGE_KIND,), compute=_charges, limits=(LIMITED,))
