"""Liquid that collects, a distillate or what is let into a vessel, against the room for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from review import Computation, FloatArray, Input, Measure, Method, Place, Quantity, Setup

from ..shared.residue import boiled_volume
from .sheet import kind

COLLECTED = Method(
    id="heat.collected",
    title="Liquid that collects, against the room for it",
    result="share of the room",
    unit="1",
    formula="V / G",
    inputs=(
        Input("V", "V", "m3", "all that the heater boils off or the flow brings"),
        Input("G", "G", "m3", "gas volume before any comes"),
    ),
    function=lambda V, G: V / G,
    compares=lambda V, G: (V, G),
    compared_in=("m3", "mL"),
    source="what does not fit runs over",
    validity="a heater of unstated power boils off all; nothing is drained or changed meanwhile",
)
#: What condenses in one runs back to where it boiled: nothing collects behind it.
RUNS_BACK = "reflux condenser"
#: These stand over their vessel too, if no more than a drying tube is behind them.
STANDS = (RUNS_BACK, "dimroth condenser", "allihn condenser", "coil condenser")
KIND = kind(COLLECTED, "higher", "%", {"train.*.gas_volume": "down", "flows.*.at_most": "up"})


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for place, volume, why in (*_receivers(setup), *_fed(setup)):
        found = True
        share = COLLECTED(V=Quantity.of(volume, name=why, unit="m3", source=why), G=place.volume)
        none = volume == 0
        share = share.revised(
            np.where(none, 0.0, share.value), np.where(none, np.uint8(0), share.status)
        )
        yield setup.measure(KIND, share, place.id)
    if not found:
        why = "no liquid collects"
        yield setup.measure(KIND, setup.quantity(0.0, why, "1", why), "train", note=why)


def _receivers(setup: Setup) -> Iterator[tuple[Place, FloatArray, str]]:
    """The first vessel behind each condenser, with all that boils before it."""
    for cooler in setup.places:
        if cooler.model.coolant_temperature is None or cooler.model.kind.lower() == RUNS_BACK:
            continue
        boils = sum((boiled_volume(setup, setup.places[i]) for i in cooler.before
                     if setup.places[i].liquid), np.zeros(setup.trials))  # fmt: skip
        after = list(cooler.downstream)
        while after:
            place = setup.places[after.pop()]
            if place.is_end:
                continue
            stands = place.kind.id == "column" and cooler.model.kind.lower() in STANDS
            if place.kind.id == "line" or stands or place.model.coolant_temperature is not None:
                after += place.downstream
            else:
                yield place, boils, f"what condenses in {cooler.id}"


def _fed(setup: Setup) -> Iterator[tuple[Place, FloatArray, str]]:
    """Vessels that hold a liquid, are not heated, and into which a liquid flows."""
    heated = {heat.heats for heat in setup.scenario.heat.values()}
    for place in setup.places:
        volume, names = np.zeros(setup.trials), []
        for name, flow in setup.scenario.flows.items():
            reagent = setup.scenario.reagents[flow.reagent]
            if flow.into == place.id and reagent.state == "liquid" and flow.rate.by == "volume":
                names.append(name)
                volume = volume + _brought(setup, name)
        if names and place.liquid and place.id not in heated:
            yield place, volume, f"what {' and '.join(names)} brings"


def _brought(setup: Setup, name: str) -> FloatArray:
    """The most that a flow of a liquid brings, m3: all there is, or as long as it is on."""
    flow = setup.scenario.flows[name]
    rate = np.fmax(setup.number(f"flows.{name}.rate").value,
                   setup.number(f"flows.{name}.at_most").value)  # fmt: skip
    on, total = False, 0.0
    for step in setup.scenario.procedure:
        rate = np.fmax(rate, setup.number(f"procedure.{step.step}.flows.{name}").value)
        said = step.flows.get(name)
        on = on if said is None else said != "off"
        total += step.duration if on else 0.0
    brought = rate * (total if setup.scenario.procedure else np.inf)
    amount = setup.scenario.reagents[flow.reagent].amount
    if amount is not None and amount.by == "volume":
        brought = np.fmin(brought, setup.number(f"reagents.{flow.reagent}.amount").value)
    return brought


COLLECTING = Computation(kinds=(KIND,), compute=_compute)
