"""Held liquids that are warmed: against their flash point and their boiling point."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
    Substance,
)

from ..shared.nearby import indirect
from ..shared.residue import boiled_dry
from .frothing import froths, poured_in
from .sheet import LESS_LEFT, heated, item_temperature, kind

FLASH = Method(
    id="heat.liquid_to_flash_point",
    title="Liquid below its flash point",
    result="margin to the flash point",
    unit="K",
    formula="T_flash - T",
    inputs=(
        Input("T_flash", "T_f", "K", "flash point, lowest published"),
        Input("T", "T", "K", "hottest the liquid gets"),
    ),
    function=lambda T_flash, T: T_flash - T,
    compares=lambda T_flash, T: (T, T_flash),
    compared_in=("K", "degC"),
    source="difference; flash points named with each substance",
    validity="each component as if neat: dilution with water only raises the flash point",
)
BOILING = Method(
    id="heat.liquid_to_boiling_point",
    title="Liquid below its boiling point",
    result="margin to the boiling point",
    unit="K",
    formula="T_boil - T",
    inputs=(
        Input("T_boil", "T_b", "K", "normal boiling point of the lowest-boiling liquid"),
        Input("T", "T", "K", "hottest the liquid gets"),
    ),
    function=lambda T_boil, T: T_boil - T,
    compares=lambda T_boil, T: (T, T_boil),
    compared_in=("K", "degC"),
    source="difference; boiling points named with each substance",
    validity="1 atm; no azeotrope that boils lower; dissolved gases come off before",
)
FILLED = Method(
    id="heat.fill_level",
    title="How full a vessel is in which a liquid boils or froths up",
    result="share of what it may hold",
    unit="1",
    formula="where(boils > 0, V / (V + G) / most, 0)",
    inputs=(
        Input("boils", "boils", "1", "1 where it gets within 5 K of boiling, or froths up"),
        Input("V", "V", "m3", "liquid in it"),
        Input("G", "G", "m3", "gas volume above it"),
        Input("most", "f", "1", "share that may be liquid"),
    ),
    function=lambda boils, V, G, most: np.where(boils > 0, V / (V + G) / most, 0.0),
    compares=lambda boils, V, G, most: (V, (V + G) * most),
    compared_in=("m3", "mL"),
    source="a flask half full, a plain beaker two thirds, boils over (common practice, no source)",
    validity="what froths up: acid on carbonate; liquid that is fed in is not counted",
)
#: Share that may be liquid where it boils: of a flask with a neck, of a vessel of one piece.
HALF, TWO_THIRDS = 0.5, 2 / 3
#: Within so many kelvins of its boiling point a liquid boils.
NEARLY = 5.0
FILLED_KIND = kind(
    FILLED, "higher", "", {"train.*.liquid_volume": "up", "train.*.gas_volume": "down"}
)
FLASH_KIND = kind(FLASH, "lower", "K", {**LESS_LEFT, "train.*.bath_temperature": "down"})
OPEN_KIND = kind(
    FLASH,
    "lower",
    "K",
    {**LESS_LEFT, "train.*.bath_temperature": "down"},
    "heat.liquid_over_ignition_source",
    "Liquid near a flame or hot plate below its flash point",
)
BOILING_KIND = kind(BOILING, "lower", "K", {**LESS_LEFT, "train.*.bath_temperature": "down"})


#: Share from which a solid is what melts, and not dissolved in another.
MELTS = 0.5


def _components(setup: Setup, place: Place, hot: FloatArray) -> list[Substance]:
    """What the held liquid consists of: solids where they melt, not those dissolved in it."""
    shares = setup.liquids.get(place.id, {})
    found = [setup.reference.substance(name) for name in shares]
    return [s for s in found if s.phase_at_20C != "solid" or _melts(s, shares[s.name], hot)]


def _melts(solid: Substance, share: float, hot: FloatArray) -> bool:
    """Whether a solid with a flash point gets as hot as it melts."""
    burns = solid.datum("flash_point").state == "known" and share >= MELTS
    return burns and not bool((hot < solid.number("melting_point")).all())


def _point(substance: Substance, name: str) -> Quantity:
    words, datum = f"{name.replace('_', ' ')} of {substance.name}", substance.datum(name)
    if datum.state == "none":  # an oil, which has no boiling point: it smokes and burns first
        return Quantity.of(np.inf, name=words, unit="K", source=datum.source)
    return Quantity.of_datum(datum, words)


def _indirect(setup: Setup, place: Place, substance: Substance) -> bool:
    """Whether all that heats an item lights nothing by itself: far below the ignition temperature.

    Where nothing heats it but the gas that comes to it, so is that.
    """
    point = np.full(setup.trials, substance.number("autoignition"))
    return all(
        bool((indirect(setup, name, point) > 0).all())
        for name, heat in setup.scenario.heat.items()
        if heat.heats == place.id and heat.kind != "cooling bath"
    )


def _compute(setup: Setup) -> Iterable[Measure]:
    found: set[str] = set()
    for place in setup.places:
        # Gas from a heated item warms a liquid too, whether or not a bath is stated.
        upstream = {setup.places[i].id for i in place.before}
        warmed = bool(upstream & heated(setup)) or place.model.bath_temperature is not None
        hot = item_temperature(place)
        components = _components(setup, place, hot.value)
        share = froths(setup, place)
        if not warmed or not components:
            if (share < 1).any():
                found.add(FILLED_KIND.id)
                yield setup.measure(FILLED_KIND, _filled(setup, place, share < 1, share), place.id)
            continue
        for substance in components:
            if substance.datum("flash_point").state == "none":
                continue  # where it burns all the same, its vapour is judged as a gas
            if substance.phase_at_20C == "gas":
                continue  # dissolved gas: the gas checks have it
            flash = FLASH_KIND if _indirect(setup, place, substance) else OPEN_KIND
            found.add(flash.id)
            left = _left_over(setup, place, hot, components)
            margin = FLASH(T_flash=_point(substance, "flash_point"), T=_boiling(left, components))
            yield setup.measure(flash, margin, place.id, substance.name)
        liquids = [s for s in components if s.phase_at_20C != "gas"]
        nearest = np.full(setup.trials, np.inf)
        for substance in liquids:
            found.add(BOILING_KIND.id)
            margin = BOILING(T_boil=_point(substance, "boiling_point"), T=hot)
            nearest = np.minimum(nearest, margin.value)
            yield setup.measure(BOILING_KIND, margin, place.id, substance.name)
        if liquids:
            found.add(FILLED_KIND.id)
            filled = _filled(setup, place, ~(nearest > NEARLY), share)
            yield setup.measure(FILLED_KIND, filled, place.id)
    for each in (FLASH_KIND, OPEN_KIND, BOILING_KIND, FILLED_KIND):
        if each.id not in found:
            why = "no such liquid is warmed"
            least = 0.0 if each is FILLED_KIND else np.inf
            none = Quantity.of(least, name="margin", unit=each.unit, source=why)
            yield setup.measure(each, none, "train", note=why)


#: What boils so much higher than the rest, K, or does not boil at all, is left when that has gone.
HEAVIER = 50.0


def _left_over(setup: Setup, place: Place, hot: Quantity, components: list[Substance]) -> Quantity:
    """How hot the liquid gets, or what is left of it once all that boils lower has boiled away."""
    points = {s.name: float(np.max(_point(s, "boiling_point").value)) for s in components}
    lowest = min((x for x in points.values() if not np.isnan(x)), default=np.inf)
    heavy = [name for name, point in points.items() if not point <= lowest + HEAVIER]
    if len(heavy) in (0, len(points)):
        return hot
    share = sum(place.liquid[name] for name in heavy)
    return hot.revised(np.fmax(hot.value, boiled_dry(setup, place, share)), hot.status)


#: What is dissolved raises a boiling point by no more, K: brine, saturated, boils at 108 degC.
RAISED = 10.0


def _boiling(hot: Quantity, components: list[Substance]) -> Quantity:
    """How hot a liquid gets under what heats it: what boils stays as hot as the last part of it.

    Not capped where no boiling point is known. Shut in it gets hotter; that is judged as pressure,
    and what is left dry as such.
    """
    points = [_point(s, "boiling_point").value for s in components if s.phase_at_20C != "gas"]
    last = np.max(np.broadcast_arrays(*points), axis=0) + RAISED if points else np.inf
    cooler = hot.value > last
    return hot.revised(np.where(cooler, last, hot.value), hot.status)


def _filled(
    setup: Setup, place: Place, boiling: NDArray[np.bool_], share: FloatArray
) -> Quantity:
    """How full an item is where its liquid boils, or froths up, which may then be only a share."""
    foams = share < 1
    plain = (
        place.model.joint is not None and setup.reference.joint(place.model.joint).name == "none"
    )
    boils = np.where(boiling | foams, 1.0, 0.0)
    held, over = place.number("liquid_volume"), place.volume
    more = np.where(foams, poured_in(setup, place), 0.0)
    if (more != 0).any():  # what is poured stands in it too
        full = (held.value if place.liquid else np.nan_to_num(held.value)) + more
        held = setup.quantity(full, "liquid with what is poured", "m3", "the file")
        over = setup.quantity(np.maximum(over.value - more, 0.0), "gas over it", "m3", "the file")
    filled = FILLED(
        boils=Quantity.of(boils, name="boils", unit="1", source="boiling points"),
        V=held,
        G=over,
        most=Quantity.of(
            np.where(foams, share, TWO_THIRDS if plain else HALF), name="share that may be liquid",
            unit="1", source=FILLED.source,
        ),
    )  # fmt: skip
    still = boils == 0
    return filled.revised(
        np.where(still, 0.0, filled.value), np.where(still, np.uint8(0), filled.status)
    )


LIQUIDS = Computation(kinds=(FLASH_KIND, OPEN_KIND, BOILING_KIND, FILLED_KIND), compute=_compute)
