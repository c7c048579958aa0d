"""The oil of a bath against its own flash point: past it, any flame or wire lights it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Measure, Method, Quantity, Setup

from .sheet import HOTTEST, LESS_LEFT, item_temperature, kind

#: A bath of which nobody says what is in it counts as the oil that lights first: ethylene glycol,
#: at 111 degC (its data file).
LEAST = 384.15
BATH = "oil bath"

MARGIN = Method(
    id="heat.bath_to_flash_point",
    title="Oil of a bath below its flash point",
    result="margin to the flash point",
    unit="K",
    formula="T_flash - T",
    inputs=(
        Input("T_flash", "T_f", "K", "flash point of what the bath is filled with"),
        Input("T", "T", "K", "hottest that bath or item gets"),
    ),
    function=lambda T_flash, T: T_flash - T,
    compares=lambda T_flash, T: (T, T_flash),
    compared_in=("K", "degC"),
    source="difference; flash points named with each substance",
    validity="fresh oil; used oil lights earlier. Its fire point lies above the flash point",
)
KIND = kind(MARGIN, "lower", "K", LESS_LEFT)


def _flash(setup: Setup, name: str | None) -> tuple[Quantity, str]:
    """Flash point of what a bath holds, K; with the reason where it is not known."""
    if name is None:
        return Quantity.of(
            LEAST, name="flash point of any bath oil", unit="K", source="benchgate, the lowest"
        ), "what the bath is filled with is not stated (liquid)"
    try:
        oil = setup.reference.substance(name)
    except LookupError as unknown:
        return Quantity.missing("flash point", "K", why=str(unknown)), str(unknown)
    datum = oil.datum("flash_point")
    if datum.state == "none":
        return Quantity.of(np.inf, name="flash point", unit="K", source=datum.source), ""
    return Quantity.of_datum(datum, f"flash point of {oil.name}"), ""


def _hottest(setup: Setup, name: str, item: Quantity) -> Quantity:
    """The hottest a bath is set to in any step, or can get where it runs to its hottest, K: what
    boils in it keeps the item cooler, not the oil."""
    number = setup.number
    stated = [number(f"heat.{name}.set_temperature").value]
    stated += [number(f"procedure.{s.step}.heat.{name}").value for s in setup.scenario.procedure]
    most = number(f"heat.{name}.hottest").value
    set_to = np.fmax.reduce(np.broadcast_arrays(*stated))
    runs = np.isnan(set_to) | (number(f"heat.{name}.at_hottest").value > 0)
    value = np.where(number(f"heat.{name}.delivered").value > 0, np.where(runs, most, set_to), 0.0)
    bath = setup.quantity(value, f"{name} at its hottest", "K", "scenario")
    return HOTTEST(temperatures=[item, bath])


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for name, heat in setup.scenario.heat.items():
        if heat.kind != BATH:
            continue
        found = True
        (place,) = [p for p in setup.places if p.id == heat.heats]
        hot = _hottest(setup, name, item_temperature(place))
        flash, why = _flash(setup, heat.liquid)
        yield setup.measure(KIND, MARGIN(T_flash=flash, T=hot), name, heat.liquid or "", why)
    if not found:
        why = "no oil bath is stated"
        none = Quantity.of(np.inf, name="margin", unit="K", source=why)
        yield setup.measure(KIND, none, "train", note=why)


BATHS = Computation(kinds=(KIND,), compute=_compute)
