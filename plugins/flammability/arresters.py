"""Flame arresters that people build: packed wool, beads, mesh, capillaries, sintered discs.

One counts where its channels are half as wide as what quenches the flame, at the pressure and
temperature it stands at, long enough, and close enough to where the flame can come from. What is
not stated earns no credit, and the note says what is missing. It stops a slow flame that runs back
from its outlet; neither a detonation nor a flame that settles on it while gas flows.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

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
from review.physics.burning import bead_channel, quenching_at, run_up, wool_channel

from ..shared.fuels import TRACE, Limits, limits_of
from .cold_train import fierce
from .headspace import ENRICHED

#: Share of the quenching distance that a channel may have (a judgement: published distances of one
#: gas differ by a quarter, and home-made packing is not even).
SHARE = 0.5
#: Least length of the element, in channels and in m (common practice, no source).
LENGTH, LEAST_LENGTH = 20.0, 0.01
#: Scope of ISO 16852: pressure before it, Pa absolute, and temperature, K (from memory).
PRESSURE, TEMPERATURE = (0.8e5, 1.6e5), (253.15, 423.15)
#: Elements of such materials burn themselves.
BURNS = ("polymer", "wood")
GAPS = ("quenching_distance", "maximum_experimental_safe_gap")
LABELS = ("counts", "does not count", "burns itself")

COUNTS = Method(
    id="ignition.arrester",
    title="Whether an arrester stops a flame that runs back from its outlet",
    result="0 counts, 1 does not count, 2 burns itself",
    unit="1",
    formula=(
        "where(itself > 0, 2, where((channel <= 0.5 * quenches) * (run <= most) * (scope > 0) > 0,"
        " 0, 1))"
    ),
    inputs=(
        Input("channel", "channel", "m", "widest channel of the element; infinite if not stated"),
        Input("quenches", "d_q", "m", "smaller of quenching distance and gap, hot and pressed"),
        Input("run", "run", "m", "pipe between it and the open end"),
        Input("most", "run_max", "m", "length in which the flame stays slow"),
        Input("scope", "scope", "1", "1 where the element is long enough and in scope"),
        Input("itself", "itself", "1", "1 where the element burns in what it meets"),
    ),
    function=lambda channel, quenches, run, most, scope, itself: np.where(
        itself > 0,
        2.0,
        np.where((channel <= SHARE * quenches) & (run <= most) & (scope > 0), 0.0, 1.0),
    ),
    source=(
        "quenching distances of NACA Report 1300, safe gaps of IEC 60079-20-1, scope and run-up of "
        "ISO 16852 (from memory)"
    ),
    validity="slow flames from its outlet; not detonations, nor a flame that burns on it",
)
KIND = Kind.of(COUNTS, "higher", labels=LABELS)


def _channel(place: Place) -> tuple[FloatArray, str]:
    """Widest channel of an element, m; infinite with the reason where nobody states it."""
    packing, lost = place.model.packing, np.full(1, np.inf)
    stated = [place.number(name).value for name in ("channel_diameter", "mesh_opening")]
    if not np.isnan(stated).all():
        return np.nanmax(stated, axis=0), ""
    if packing is None:
        return lost, "no packing and no channel_diameter is stated"
    if packing.particle_diameter is not None:
        return bead_channel(place.number("packing.particle_diameter").value), ""
    if packing.fibre_diameter is None:
        return lost, "neither fibre_diameter nor particle_diameter is stated"
    if packing.voidage is None:
        return lost, "the voidage of the wool is not stated: weigh it and measure its volume"
    fibre = place.number("packing.fibre_diameter").value
    return wool_channel(fibre, place.number("packing.voidage").value), ""


def _figure(fuel: Substance, name: str) -> float:
    value = fuel.datum(name).value
    return np.nan if value is None else float(value)


def quenches_at(setup: Setup, place: Place, limits: Limits) -> tuple[FloatArray, str]:
    """What quenches every flame here, m; NaN with the name of a fuel whose figures are missing."""
    least, lost = np.full(setup.trials, np.inf), ""
    points = [place.composition(p) for p in ("old", "inlet", "outlet", "outlet_end")]
    most = np.max(points, axis=0)
    for row, fuel in zip(limits.rows, limits.fuels, strict=True):
        data = [_figure(fuel, name) for name in GAPS]
        known = min(data) if not np.isnan(data).any() else np.nan
        there = ~(most[row] <= TRACE)
        if np.isnan(known) and there.any():
            lost = f"quenching distance or safe gap of {fuel.name} is not known"
        least = np.where(there, np.minimum(least, known), least)
    hot = np.maximum(place.hottest.value, place.gas_in.value)
    return quenching_at(least, hot, place.pressure.value), lost


def _run(setup: Setup, place: Place, limits: Limits) -> tuple[FloatArray, FloatArray, str]:
    """Pipe behind an arrester up to the open ends, and how much of it keeps a flame slow, m."""
    long, bore = np.zeros(setup.trials), np.full(setup.trials, np.inf)
    for other in setup.places:
        if place.index not in other.before or other.index == place.index:
            continue
        if other.is_end:
            continue
        length = other.number("length").value
        if other.kind.id != "line" or np.isnan(length + other.number("inner_diameter").value).any():
            return long + np.inf, run_up(place.number("inner_diameter").value, fierce(limits)), (
                f"{other.id} stands between it and the open end, in which a flame speeds up"
            )  # fmt: skip
        long = long + length
        bore = np.minimum(bore, other.number("inner_diameter").value)
    bore = np.where(np.isinf(bore), place.number("inner_diameter").value, bore)
    return long, run_up(bore, fierce(limits)), ""


def _in_scope(place: Place, channel: FloatArray) -> tuple[FloatArray, str]:
    packing = place.model.packing
    path = "length" if packing is None else "packing.length"
    length = place.number(path).value
    fits = (length >= LENGTH * channel) & (length >= LEAST_LENGTH)
    p, t = place.pressure.value, place.hottest.value
    fits &= (p >= PRESSURE[0]) & (p <= PRESSURE[1])
    fits &= (t >= TEMPERATURE[0]) & (t <= TEMPERATURE[1])
    why = "the element is too short, or hotter or under more pressure than ISO 16852 covers"
    return fits.astype(float), "" if fits.all() else why


def _element(setup: Setup, place: Place, limits: Limits) -> tuple[FloatArray, bool, str]:
    """1 where the element itself burns: of a polymer or wood, or thin metal in more oxygen than
    air has; whether its material is known; and why not."""
    packing = place.model.packing
    name = packing.material if packing is not None else place.model.material
    try:
        kind = setup.reference.material(name or "").kind
    except UnknownName:
        return np.zeros(setup.trials), False, "nobody says what its element is made of"
    rich = ~(place.composition("inlet")[limits.oxygen] <= ENRICHED)
    thin = kind == "metal" and packing is not None and packing.fibre_diameter is not None
    return np.where((kind in BURNS) | (rich & thin), 1.0, 0.0), True, ""


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    arresters = [place for place in setup.places if place.kind.id == "arrester"]
    if limits.fuels:
        for place in arresters:
            yield _measure(setup, place, limits)
    if not (limits.fuels and arresters):
        none = setup.quantity(0.0, "no arrester", "1", "no arrester stands in gas that burns")
        yield setup.measure(KIND, none, "train", note="no arrester stands in gas that burns")


def _measure(setup: Setup, place: Place, limits: Limits) -> Measure:
    channel, open_ = _channel(place)
    quenches, lost = quenches_at(setup, place, limits)
    run, most, far = _run(setup, place, limits)
    scope, out = _in_scope(place, channel)
    itself, named, unnamed = _element(setup, place, limits)

    def said(value: FloatArray, name: str, unknown: float) -> Quantity:
        """What is not known earns no credit."""
        known = np.where(np.isnan(value), unknown, value)
        return setup.quantity(known, name, "m", "scenario, data")

    found = COUNTS(
        channel=said(channel, "channel", np.inf), quenches=said(quenches, "what quenches", 0.0),
        run=said(run, "pipe behind it", np.inf), most=said(most, "run-up", 0.0),
        scope=said(scope * named, "in scope", 0.0), itself=said(itself, "burns itself", 1.0),
    )  # fmt: skip
    wide = "" if (found.value == 0).all() else "its channels are wider than half of what quenches"
    note = next((why for why in (unnamed, lost, open_, far, out) if why), wide)
    return setup.measure(KIND, found, place.id, note=note)


ARRESTERS = Computation(kinds=(KIND,), compute=_compute)
