"""Each material that gas or liquid touches against each substance in them, as a rating.

Walls, seals and packings are touched. Trade knowledge may lower a rating and never gives
`resistant`; a pair that nobody has rated is missing, not resistant.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

import numpy as np

from review import (
    Computation,
    Input,
    Kind,
    Material,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
    Substance,
    UnknownName,
)

LABELS = ("resistant", "limited", "not suitable")

#: Below this mole fraction a substance is not counted as touching a material. Slow attack by
#: traces over months is beyond a pre-run review.
TRACE = 1e-5

#: A table made at room temperature is read up to here (common practice, no source); above it, and
#: above any other limit that the table states, the rating is outside its range.
ROOM_TABLE = 303.15

RATING = Method(
    id="corrosion.rating",
    title="Resistance of a material to a substance",
    result="rating (0 resistant, 1 limited, 2 not suitable)",
    unit="1",
    formula="where((x > trace) * (T > T_slow) > 0, rating, 0)",
    inputs=(
        Input("x", "x", "mol/mol", "most of it in the gas here, or mass fraction in the liquid"),
        Input("trace", "trace", "mol/mol", "content below which it is not counted"),
        Input("rating", "rating", "1", "rating of the pair"),
        Input("T", "T", "K", "hottest temperature here"),
        Input("T_max", "T_max", "K", "temperature up to which the rating holds"),
        Input("T_slow", "T_slow", "K", "temperature up to which attack is too slow to matter"),
    ),
    function=lambda x, trace, rating, T, T_max, T_slow: np.where(
        (x > trace) & ~(T_slow >= T), rating, 0.0
    ),
    valid=lambda x, trace, rating, T, T_max, T_slow: (x <= trace) | ~(T_max < T),
    source="resistance tables, each named in the material's own file",
    validity="up to the temperature that the table states; gas, not its condensate under stress",
)
KIND = Kind(
    id=RATING.id,
    title="Material against what it touches",
    worse="higher",
    unit="1",
    display="",
    method=RATING.id,
    source=RATING.source,
    validity=RATING.validity,
    labels=LABELS,
    moves={"reagents.*.composition.*": "up"},
)


#: Least mass fraction in a liquid that is counted.
IN_LIQUID = 1e-3


def _touched(setup: Setup, place: Place) -> list[tuple[Material, Quantity]]:
    """The materials touched at an item with their temperature: lining before wall, packing, seals.

    A seal is as hot as the ends of the item, not its middle.
    """
    model, hot = place.model, place.hottest
    packing = None if model.packing is None else model.packing.material
    named = [(model.lining or model.material, hot), (packing, hot)]
    named += [(name, place.ends) for name, _ in place.seals]
    found: dict[str, tuple[Material, Quantity]] = {}
    for name, temperature in named:
        with suppress(UnknownName):  # a packing may be a substance, which others judge
            if name is not None:
                material = setup.reference.material(name)
                found.setdefault(material.name, (material, temperature))
    return list(found.values())


def _pair(
    setup: Setup, place: Place, material: Material, substance: Substance, temperature: Quantity
) -> Quantity:
    row = setup.resolved.index.get(substance.name)
    dissolved = place.liquid.get(substance.name, 0.0)
    points = [np.full(setup.trials, 0.0 if dissolved < IN_LIQUID else dissolved)]
    if row is not None:
        points += [place.composition(p)[row] for p in ("old", "inlet", "outlet", "outlet_end")]
    content = setup.quantity(
        np.max(points, axis=0), f"{substance.name} at {place.id}", "mol/mol", "balance of the train"
    )
    rating = material.rating(substance, in_water=dissolved >= IN_LIQUID and "water" in place.liquid)
    slow = 0.0 if rating is None or rating.resistant_to is None else rating.resistant_to
    if rating is None:
        known = Quantity.missing(
            f"{material.name} against {substance.name}", why="no rating in the material's file"
        )
        limit = np.inf
    else:
        known = Quantity.of(
            rating.at(np.where(temperature.value <= ROOM_TABLE, 0.0, temperature.value)),
            name=f"{material.name} against {substance.name}",
            source=f"{rating.source} ({rating.how})",
        )
        limit = max(rating.last, ROOM_TABLE)
    result = RATING(
        x=content,
        trace=Quantity.of(TRACE, name="trace", source="stated"),
        rating=known,
        T=temperature,
        T_max=Quantity.of(limit, name="limit of the table", unit="K", source="material's file"),
        T_slow=Quantity.of(slow, name="slow up to", unit="K", source="material's file"),
    )
    absent = content.value <= TRACE
    return result.revised(np.where(absent, 0.0, result.value),
        np.where(absent, setup.engine_status, result.status))  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    for place in setup.places:
        if place.is_end:
            continue
        materials = _touched(setup, place)
        held = (setup.reference.substance(name) for name in place.liquid)
        touching = tuple({s.name: s for s in (*setup.species, *held)}.values())
        if not materials:
            lost = Quantity.of(np.full(setup.trials, np.nan), name="rating")
            yield setup.measure(KIND, lost, place.id, note="the scenario names no material here")
        for material, temperature in materials:
            for substance in touching:
                of = f"{material.name} and {substance.name}"
                yield setup.measure(
                    KIND, _pair(setup, place, material, substance, temperature), place.id, of
                )


WETTED = Computation(kinds=(KIND,), compute=_compute)
