"""Each material that gas or liquid touches against each substance in them, as a rating.

Walls, seals and packings are touched. Trade knowledge may lower a rating and never gives
`resistant`; a pair that nobody has rated is missing, not resistant. What is dissolved in water is
rated at its strength, and gas as the neat substance, unless it is no richer than the vapour over
such a solution: then it does no more than the solution itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from typing import NamedTuple

import numpy as np

from review import (
    Computation,
    FloatArray,
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

from ..shared.pushed import pushed_out
from .condensing import condensing

LABELS = ("resistant", "limited", "not suitable")

#: Below this mole fraction a substance is not counted as touching a material. Slow attack by
#: traces over months is beyond a pre-run review.
TRACE = 1e-5

#: Oxygen up to so much is air (29 CFR 1910.146: enriched above 23.5 %), in which rubber, plastics
#: and wood are used; what they bear of heat is judged elsewhere. Hot metal wastes in air too.
OF_AIR, LAST_IN_AIR = 0.235, ("polymer", "wood")

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
KIND = Kind.of(
    RATING,
    "higher",
    title="Material against what it touches",
    labels=LABELS,
    moves={"reagents.*.composition.*": "up"},
)

BED = Method(
    id="corrosion.bed",
    title="Resistance of a catalyst to what it is there to convert",
    result="rating (0 resistant, 1 limited, 2 not suitable)",
    unit="1",
    formula="min(rating, 1)",
    inputs=(Input("rating", "rating", "1", "rating of the material as a wall"),),
    function=lambda rating: np.minimum(rating, 1.0),
    source=(
        "a bed holds no pressure and is replaced; ammonia is cracked over nickel at 850 degC in "
        "commercial crackers (gasgeneratorplant.com, ammonia cracking unit), which as a wall is "
        "not suitable for it"
    ),
    validity="a catalyst in an item whose declared reaction takes up or makes the substance",
)

#: So long gas may touch a polymer of limited resistance in a run, s: tables rest on 22 h to 7 days
#: in the liquid (ISO 1817, from memory; the hour is common practice, no source).
BRIEF = 3600.0
POLYMER = "polymer"
#: Gas at rest in so much room is too little to attack a wall, m3 (a judgement, no source).
LITTLE = 1e-4

#: Statuses up to this one are numbers that hold; above it nothing is known.
ESTIMATED = 1

#: Least mass fraction in a liquid that is counted.
IN_LIQUID = 1e-3

#: Gas is its solution's own vapour up to this excess over the balance: rounding.
ROUNDING = 1.001


class Touched(NamedTuple):
    """A material that is touched, how hot it is, and whether it is no more than a bed."""

    material: Material
    temperature: Quantity
    bed: bool


def _touched(setup: Setup, place: Place) -> list[Touched]:
    """The materials touched at an item: lining before wall, packing, seals.

    A seal is as hot as the ends of the item, not its middle. What a declared equation uses up is
    no part: it is there to be attacked.
    """
    found: dict[str, Touched] = {}
    terms = (term for equation in (*place.made, *place.equations) for term in equation)
    used_up = {name for t in terms if t.coefficient < 0 for name in (t.text, t.formula)}
    for name, part in place.parts:
        with suppress(UnknownName):
            one = setup.reference.substance(name)
            if part == "packing" and used_up & {one.name, one.formula}:
                continue
        with suppress(UnknownName):  # a packing may be a substance, which others judge
            material = setup.reference.material(name)
            temperature = place.ends if part == "seal" else place.hottest
            known = found.setdefault(
                material.name, Touched(material, temperature, part == "packing")
            )
            found[material.name] = known._replace(bed=known.bed and part == "packing")
    return list(found.values())


def _converts(setup: Setup, place: Place) -> set[str]:
    """What the declared reactions of an item with a catalyst take up or make."""
    if not any(c.in_ == place.id for c in setup.scenario.catalysts.values()):
        return set()
    declared = setup.reactions.get(place.id, ())
    return {term.substance.name for terms in declared for term in terms if term.substance}


def _strength(place: Place, substance: Substance) -> float | None:
    """Mass fraction of a substance in water here, other components left out; None: not in water."""
    share, water = (place.liquid.get(name, 0.0) for name in (substance.name, "water"))
    if share < IN_LIQUID or water <= 0 or substance.name == "water":
        return None
    return share / (share + water)


def _vapour_of(setup: Setup, place: Place, substance: Substance) -> tuple[FloatArray, float]:
    """The most of its vapour over any solution in water here or upstream, and its strength.

    Where nothing here is colder than the solution may be: condensed, its vapour could be stronger.
    """
    row = setup.rows[substance.name]
    most, strongest = np.zeros(setup.trials), 0.0
    for i in place.before:
        other = setup.places[i]
        strength = _strength(other, substance)
        if strength is None:
            continue
        warmer = ~(other.hottest.value - 1.0 <= place.coldest.value)
        over = np.nan_to_num(other.composition("over_liquid")[row])
        most = np.maximum(most, np.where(warmer & (i != place.index), 0.0, over))
        strongest = max(strongest, strength)
    return most, strongest


def _exposures(
    setup: Setup, place: Place, substance: Substance, pushed: FloatArray
) -> list[tuple[FloatArray, float | None]]:
    """What of it is here: content over trials with its strength in water, None as neat or gas.

    pushed: what warmed liquids upstream push here, (species, trials).
    """
    strength = _strength(place, substance)
    dissolved = place.liquid.get(substance.name, 0.0)
    share = 0.0 if dissolved < IN_LIQUID else dissolved
    found = [(np.full(setup.trials, share), strength)]
    row = setup.rows.get(substance.name)
    if row is None:
        return found
    points = ("old", "inlet", "outlet", "outlet_end")
    # What comes from a neighbour into a leg that stands idle as planned; a failure is soon over.
    idle = ~((1 - place.moving) * place.exposed <= 0) & ~setup.failed
    comes = np.where(idle, place.composition("drawn_from")[row], 0.0)
    gas = np.max([*(place.composition(p)[row] for p in points), comes, pushed[row]], axis=0)
    most, over = _vapour_of(setup, place, substance)
    own = gas <= ROUNDING * most
    if over and own.any():
        found.append((np.where(own, gas, 0.0), over))
    found.append((np.where(own, 0.0, gas), None))
    there = [each for each in found if not (each[0] <= TRACE).all()]
    return there or found[:1]


def _rated(
    setup: Setup,
    place: Place,
    touching: Touched,
    substance: Substance,
    exposure: tuple[FloatArray, float | None],
) -> Quantity:
    """The rating where so much of it is there, neat or dissolved in water at a strength."""
    (material, temperature, _), (content, strength) = touching, exposure
    amount = setup.quantity(
        content, f"{substance.name} at {place.id}", "mol/mol", "balance of the train"
    )
    rating = material.rating(substance, strength)
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
    lasts = substance.name == "oxygen" and material.kind in LAST_IN_AIR
    trace = OF_AIR if lasts else TRACE
    result = RATING(
        x=amount,
        trace=Quantity.of(trace, name="trace", source="stated"),
        rating=known,
        T=temperature,
        T_max=Quantity.of(limit, name="limit of the table", unit="K", source="material's file"),
        T_slow=Quantity.of(slow, name="slow up to", unit="K", source="material's file"),
    )
    absent = content <= trace
    return result.revised(np.where(absent, 0.0, result.value),
        np.where(absent, setup.engine_status, result.status))  # fmt: skip


def _briefly(
    setup: Setup, place: Place, material: Material, substance: Substance, rated: Quantity
) -> Quantity:
    """A polymer of limited resistance counts as resistant to gas that it meets for an hour.

    Its tables are made by immersion for days, and a little gas at rest does nothing. One that an
    organic vapour only swells counts as of limited resistance to it for an hour of a failure.
    """
    limited = rated.value == 1
    swollen = (rated.value == 2) & setup.failed & _swells(substance)
    if material.kind != POLYMER or not (limited | swollen).any():
        return rated
    cells, runs = setup.shape
    # What nobody knows counts.
    rests = (place.moving <= 0) & (place.volume.value <= LITTLE)
    attacked = ~((rated.value < 1) | rests).reshape(cells, runs)
    total = np.zeros(runs)
    for cell in range(1, cells - 1):  # what stays there afterwards is no run
        lasts = np.nan_to_num(setup.duration(cell), nan=np.inf)
        total = total + np.where(attacked[cell], lasts, 0.0)
    brief = (limited | swollen) & np.tile(total <= BRIEF, cells)
    return rated.revised(np.where(brief, rated.value - 1, rated.value), rated.status)


def _swells(substance: Substance) -> bool:
    """Whether it is an organic vapour that swells a polymer and does not eat it."""
    organic = substance.combustible is True and substance.phase_at_20C == "liquid"
    return organic and substance.skin_corrosion == "none" and substance.oxidiser is False


def _worst(found: list[Quantity]) -> Quantity:
    """The worst rating in each trial; `not suitable` stands whatever else is not known."""
    worst = found[0]
    for other in found[1:]:
        graver = _rank(worst) < _rank(other)  # a rank is never NaN
        leading = other if graver.any() else worst
        worst = leading.revised(
            np.where(graver, other.value, worst.value),
            np.where(graver, other.status, worst.status),
        )
    return worst


def _rank(rating: Quantity) -> FloatArray:
    last = len(LABELS) - 1
    known = rating.status <= ESTIMATED
    return np.where(known, np.where(rating.value < last, rating.value, last + 1.0), float(last))


def _compute(setup: Setup) -> Iterable[Measure]:
    for place in setup.places:
        if place.is_end:
            continue
        materials = _touched(setup, place)
        converts = _converts(setup, place)
        pushed = pushed_out(setup, place, {s.name for s in setup.species if _swells(s)})
        if not any(part == "wall" for _, part in place.parts):
            yield from _unnamed(setup, place, pushed)
        held = (setup.reference.substance(name) for name in place.liquid)
        wet = dict(condensing(setup, place))
        acids = (setup.reference.substance(name) for name in wet)
        for substance in {s.name: s for s in (*setup.species, *held, *acids)}.values():
            exposures = _exposures(setup, place, substance, pushed)
            if substance.name in wet:
                exposures.append((wet[substance.name].where, wet[substance.name].strength))
            for one in materials:
                rated = _worst([_rated(setup, place, one, substance, e) for e in exposures])
                if substance.name not in wet and not place.liquid.get(substance.name):
                    rated = _briefly(setup, place, one.material, substance, rated)
                if one.bed and substance.name in converts and (rated.value > 1).any():
                    rated = BED(rating=rated)
                of = f"{one.material.name} and {substance.name}"
                note = wet[substance.name].note if substance.name in wet else ""
                yield setup.measure(KIND, rated, place.id, of, note=note)


#: Classes of what heavy metals make an explosive of.
EXPLODES_WITH_METALS = frozenset({"acetylene", "azide"})


def _unnamed(setup: Setup, place: Place, pushed: FloatArray) -> Iterator[Measure]:
    """Of what nobody names the material, it is the worst there is for what attacks many."""
    why = "the scenario names no material here"
    lost = Quantity.of(np.full(setup.trials, np.nan), name="rating")
    yield setup.measure(KIND, lost, place.id, note=why)
    held = [setup.reference.substance(name) for name in place.liquid]
    for substance in {s.name: s for s in (*setup.species, *held)}.values():
        if not attacks(substance):
            continue
        there = np.zeros(setup.trials, dtype=bool)
        if substance.name in setup.rows:
            row = setup.rows[substance.name]
            for point in ("old", "inlet", "outlet"):
                there |= ~(place.composition(point)[row] <= TRACE)
            there |= ~(pushed[row] <= TRACE)
        there |= place.liquid.get(substance.name, 0.0) >= IN_LIQUID
        if there.any():
            worst = float(LABELS.index("not suitable"))
            rated = Quantity.of(np.where(there, worst, 0.0), name="rating", source=why)
            of = f"an unnamed material (state it) and {substance.name}"
            yield setup.measure(KIND, rated, place.id, of, note=f"{why}: the worst")


def attacks(substance: Substance) -> bool:
    """Whether it attacks many a material, or explodes with one that parts are made of: what burns
    skin, oxidisers but oxygen, and what copper, brass or silver makes an acetylide or azide of."""
    burns = substance.skin_corrosion.startswith("1")
    oxidises = substance.oxidiser is not False and substance.name != "oxygen"
    classes = substance.classes
    return burns or oxidises or classes is None or not EXPLODES_WITH_METALS.isdisjoint(classes)


WETTED = Computation(kinds=(KIND,), compute=_compute)
