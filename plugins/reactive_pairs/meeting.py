"""Pairs that meet: each with what forms, the temperature it needs, and its grade."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Material,
    Measure,
    Method,
    Pair,
    Place,
    Quantity,
    Setup,
)

from ..shared.residue import boiled_dry, dried_up
from .declared import declared, undone
from .present import BATH, MOISTURE, Presence, present
from .shut import shut
from .solids import made_of
from .undeclared import Lost, not_told

LABELS = ("nothing known", "with care", "must not meet")
CARE = LABELS[1]
_HARM = {
    "explodes": "explosive", "ignites": "ignites", "bursts": "bursts its vessel",
    "poisons": "poisonous", "heats": "heats and spits", "plugs": "plugs the train",
    "attacks": "destroys the part",
}  # fmt: skip
#: Of a solid that the file puts nowhere.
LIES = "; nothing says where {0} lies: write \"packing: {{material: {0}}}\" at its item"

#: Of a liquid that its heater boils off within the procedure.
DRY = "; it can boil dry there: take more liquid, less time or less power"

#: Of a bottle that no step, item or flow uses.
BOTTLE = '; nothing says where "{0}" goes, so it is poured in: name its item, or clear it away'

#: Of what would only want care in a hood if there were little of it.
FEW = "; at most 10 g of it, in a bed of at most 10 mL, may do so in a tested hood"
#: Of what would only want care if the file said that the run is for it.
MEANT = "; if the run is for that, write it as the equation of its reagent or item"

#: What smokes away in a hood without filling it, kg: common practice, no source.
A_FEW_GRAMS = 0.010

#: What a wall that nobody names may be of: one for each class of wall that the table speaks of.
WALLS = (
    "borosilicate glass 3.3", "copper", "carbon steel", "nickel", "aluminium", "natural rubber",
    "polyethylene", "PTFE",
)  # fmt: skip

#: Phases of what is in the air and has no amount of its own.
AIR = ("gas", MOISTURE)

#: What must be left of a liquid that explodes dry (common practice, no source), and the safeguard
#: after which it counts as declared.
TAIL, TESTED = 0.1, "peroxide test"

#: Share of a liquid, by mass, from which a solid in it counts as covered (a judgement, no source).
COVERS = 0.3

#: How long what becomes explosive as it stands may be kept, s (common practice, no source).
HOUR = 3600.0
#: More of a solution than a test takes, m3, counts as kept (a judgement, no source).
LITTLE = 5.01e-5

#: What breaking glass lets meet with the water of its bath: what lies in it, where that lights or
#: explodes.
WORST, LIE = ("explodes", "ignites"), {"liquid", "catalyst"}

#: From this least fraction on the table means how strong a reagent is, whatever its partner
#: dilutes; it counts so where it is a fifth of the liquid (a judgement, no source).
STRONG, MUCH = 0.3, 0.2
#: From which least share on a pair asks how strong it is (common practice, no source).
STRENGTH = 0.05

MEETS = Method(
    id="reactive.pair",
    title="Two partners in one item, by a table of pairs",
    result="grade of the pair (0 nothing known, 1 with care, 2 must not meet)",
    unit="1",
    formula=(
        "where((a > least_a) * (b > least_b) * (T >= above) * (T_low <= below) > 0, grade, 0)"
    ),
    inputs=(
        Input("a", "a", "1", "most of the one: mole fraction of a gas, mass fraction in a liquid"),
        Input("least_a", "least_a", "1", "least of it that counts"),
        Input("b", "b", "1", "most of the other"),
        Input("least_b", "least_b", "1", "least of it that counts"),
        Input("T", "T", "K", "hottest surface here"),
        Input("above", "above", "K", "temperature from which the pair counts"),
        Input("T_low", "T_low", "K", "coldest here from the step's beginning to its end"),
        Input("below", "below", "K", "temperature up to which the pair counts"),
        Input("grade", "grade", "1", "grade of the pair in the table"),
    ),
    function=lambda a, least_a, b, least_b, T, above, T_low, below, grade: np.where(
        (a > least_a) & (b > least_b) & (above <= T) & (T_low <= below), grade, 0.0
    ),
    source="table of pairs, each with its own source",
    validity="partners that the table or their classes name; amounts as the balance gives them",
)
KIND = Kind.of(
    MEETS,
    "higher",
    title="Partners that meet",
    labels=LABELS,
    absent=0.0,
    moves={"reagents.*.composition.*": "up"},
)


def _compute(setup: Setup) -> Iterable[Measure]:
    pairs = setup.reference.pairs()
    nothing = setup.quantity(0.0, "pairs of the table that meet", "1", MEETS.source)
    yield setup.measure(KIND, nothing, "set-up", note="no pair of the table meets elsewhere")
    for place in setup.places:
        here = list(present(setup, place))
        for name, lost, why in (
            *not_told(setup, place, here), *_unnamed_wall(setup, place, pairs, here)
        ):  # fmt: skip
            yield setup.measure(KIND, lost, place.id, name, note=why)
        found: dict[str, tuple[Quantity, str]] = {}
        for a, b, pair in _meetings(pairs, here, _dissolved(place)):
            grade = _graded(setup, place, a, b, pair)
            if not (grade.value <= 0).all():
                names = sorted({a.member.name, b.member.name} if b else {a.member.name})
                lies = "".join(LIES.format(name) for name in names if name in place.unplaced)
                dries = (not b or a.hot is not None) and not (boiled_dry(setup, place) <= 0).all()
                lies += DRY if dries else ""
                refused = (~(grade.value < LABELS.index("must not meet"))).any()
                lies += MEANT if refused and pair.declared != pair.grade else ""
                lies += FEW if refused and pair.in_hood != pair.grade else ""
                lies += _bottles(setup, a, b) if refused else ""
                note = f"{_HARM[pair.harm]}; forms {pair.forms}{lies} ({pair.source})"
                of = " with ".join(names)
                found[of] = _graver(found[of], (grade, note)) if of in found else (grade, note)
        for of, (grade, note) in found.items():
            yield setup.measure(KIND, grade, place.id, of, note=note)


def _bottles(setup: Setup, *met: Presence | None) -> str:
    """What to do about bottles that only somebody's pouring brings here."""
    names = {one.of for one in met if one is not None} & setup.scenario.reagents.keys()
    known = setup.scenario.in_use | setup.scenario.let_in_by_flow
    return "".join(BOTTLE.format(name) for name in sorted(names - known))


def _unnamed_wall(
    setup: Setup, place: Place, pairs: Sequence[Pair], here: Sequence[Presence]
) -> Iterator[Lost]:
    """A wall that nobody names: not known, where it may be of what must not meet what is here."""
    if place.is_end or any(part == "wall" for _, part in place.parts):
        return
    ones = np.ones(setup.trials)
    walls = [Presence(setup.reference.material(name), "wall", ones) for name in WALLS]
    worst, bad = float(len(LABELS) - 1), np.zeros(setup.trials, dtype=bool)
    for a, b, pair in _meetings(pairs, [*here, *walls], _dissolved(place)):
        if b is not None and (a.phase == "wall") != (b.phase == "wall"):
            bad |= ~(_graded(setup, place, a, b, pair).value < worst)
    if bad.any():
        why = 'say what it is made of, such as "material: borosilicate glass 3.3"'
        lost = Quantity.of(np.where(bad, np.nan, 0.0), name="reactivity of the wall")
        yield "a wall that nobody names", lost, why


def _meetings(
    pairs: Sequence[Pair],
    here: Sequence[Presence],
    absorbing: Collection[tuple[str, str]] = (),
) -> Iterator[tuple[Presence, Presence | None, Pair]]:
    """Each two that meet by some pair, in the table's order; the second None for a hot surface.

    Of several pairs for the same two names at the same phases all are told apart by the judge.
    """
    under = any(_covers(one) for one in here)
    members = [one.member for one in here if one.phase != BATH]
    spoken_of: dict[str, list[Presence]] = {}

    def partners(pair: Pair, which: Literal[0, 1]) -> list[Presence]:
        word = pair.partners[which]  # many pairs speak of the same class
        if word not in spoken_of:
            spoken_of[word] = [one for one in here if pair.is_partner(which, one.member)]
        return [one for one in spoken_of[word] if one.may_be(pair.phases[which])]

    for pair in pairs:
        first = partners(pair, 0)
        if not first or not pair.has_third(members) or (pair.stored_under_liquid and under):
            continue
        if pair.any_surface:  # what a flow lets in is no pouring, a suck-back is told by itself
            pours = pair.phases[0] == "drawn"
            yield from ((a, None, pair) for a in first if not (pours and a.by_itself))
            continue
        second = partners(pair, 1)
        yield from (
            (a, b, pair) for a in first for b in second if _may_meet(a, b, pair, absorbing)
        )


def _may_meet(
    a: Presence, b: Presence, pair: Pair, absorbing: Collection[tuple[str, str]]
) -> bool:
    """Whether two partners are not one, and not what an absorbent is there to take up."""
    phases = {a.phase, b.phase}
    own = phases <= {"liquid", "taken up"} and a.phase != b.phase
    names = (a.member.name, b.member.name)
    own |= "taken up" in phases and (names in absorbing or names[::-1] in absorbing)
    own |= phases == {"drawn"} and a.of == b.of != ""  # judged in the bottle that it comes from
    if a is b or a.member.name == b.member.name or own:
        return False
    if BATH in phases:
        return pair.harm in WORST and bool(phases & LIE)
    return "carried" not in phases or _by_drops(a, b, pair)


def _covers(one: Presence) -> bool:
    """Whether it is a liquid in which or under which a solid lies."""
    liquid = getattr(one.member, "phase_at_20C", "") == "liquid"
    return one.phase == "liquid" and liquid and bool((one.amount >= COVERS).all())


def _by_drops(a: Presence, b: Presence, pair: Pair) -> bool:
    """Whether drops of the bottle beside harm: by poison or an explosion, in a liquid alone.

    A few drops heat nothing, and what is in both bottles meets in either.
    """
    return pair.harm in ("poisons", "explodes") and {a.phase, b.phase} == {"carried", "liquid"}


def _dissolved(place: Place) -> set[tuple[str, str]]:
    """Each gas that a source says the liquid takes up, with each component of the liquid."""
    return {(gas, name) for gas in place.taken_up for name in place.liquid}


def _graver(one: tuple[Quantity, str], other: tuple[Quantity, str]) -> tuple[Quantity, str]:
    """The gravest of two pairs of the same partners in each trial, with the note of the graver.

    What must not meet is told whatever else is not known of them.
    """
    first, second = sorted((one, other), key=lambda each: -np.nanmax(each[0].value, initial=0))
    a, b = first[0], second[0]
    worst = float(len(LABELS) - 1)
    higher = np.maximum(a.value, b.value)  # NaN wins
    known = (a.value == worst) | (b.value == worst)
    status = np.where(known, np.uint8(0), np.maximum(a.status, b.status))
    return a.revised(np.where(known, worst, higher), status), first[1]


def _graded(setup: Setup, place: Place, a: Presence, b: Presence | None, pair: Pair) -> Quantity:
    most = [_amount(place, a, b, pair, 0), _amount(place, b, a, pair, 1)]

    def amount(which: int, one: Presence | None) -> Quantity:
        if one is None:
            return Quantity.of(1.0, name="surface", source="stated")
        return setup.quantity(
            most[which], f"{one.member.name} at {place.id}", "1", "balance of the train"
        )

    sealed = "seal" in (a.phase, b.phase if b else "")
    hottest = place.ends if sealed else place.hottest
    dried = [one.hot for one in (a, b) if one is not None and one.hot is not None]
    if a.phase == "gas" and a.member.name in place.liquid and not sealed:
        dried.append(boiled_dry(setup, place))  # its vapour stands over the wall once it is dry
    if dried:
        hottest = hottest.revised(np.max([hottest.value, *dried], axis=0), hottest.status)
    coldest = _coldest(setup, place) if np.isfinite(pair.below) else place.coldest
    grade = pair.declared if declared(setup, place, pair, a, b) else pair.grade
    if (pair.dry or pair.dries) and TESTED in {each.kind for each in setup.scenario.safeguards}:
        grade = pair.declared
    if grade == pair.grade != pair.in_hood and _a_little(setup, place, a, b):
        grade = pair.in_hood
    if b is not None and "carried" in (a.phase, b.phase) and pair.harm == "poisons":
        grade = CARE if grade == LABELS[-1] and _in_hood(setup, place) else grade

    def stated(value: float, name: str, unit: str) -> Quantity:
        return Quantity.of(value, name=name, unit=unit, source=f"pair {pair.name}")

    found = MEETS(
        a=amount(0, a),
        least_a=stated(pair.least[0], "least of it", "1"),
        b=amount(1, b),
        least_b=stated(pair.least[1], "least of it", "1"),
        T=hottest,
        above=stated(pair.above, "counts from", "K"),
        T_low=coldest,
        below=stated(pair.below, "counts up to", "K"),
        grade=stated(float(LABELS.index(grade)), f"grade of {pair.name}", "1"),
    )
    # One known reason not to count is enough, whatever else is not known.
    never = (most[0] <= pair.least[0]) | (hottest.value < pair.above)
    never |= (coldest.value > pair.below) | undone(setup, place, pair, a, b)
    if pair.harm == "ignites" and _wet_wall(place, a, b):
        never |= hottest.value <= WARM
    if b is not None:
        never |= most[1] <= pair.least[1]
    if pair.dry:
        never |= boiled_dry(setup, place, TAIL) <= 0
    if pair.dries:
        never |= ~dried_up(setup, place, TAIL)
    if pair.closed:
        never |= ~shut(setup, place)
    if pair.standing:
        never |= _fresh(setup, place)
    value = np.where(never, 0.0, found.value)
    status = np.where(never, setup.engine_status, found.status)
    if grade == CARE:  # the worst that can be is known: the two meet
        unknown = np.isnan(value)
        value = np.where(unknown, float(LABELS.index(grade)), value)
        status = np.where(unknown, np.uint8(0), status)
    return found.revised(value, status)


def _amount(
    place: Place, one: Presence | None, other: Presence | None, pair: Pair, which: int
) -> FloatArray:
    """How much of a partner there is; of a reagent that has to be strong its share in all but its
    partner: half of sulfuric acid in formic acid is neat acid. What is taken up in plenty of water
    is weak, and lights or explodes with nothing that only the strong does."""
    if one is None:
        return np.ones(1)
    least = pair.least[which]
    if one.weak is not None and least >= STRENGTH and pair.harm in WORST:
        return one.weak
    if one.phase != "liquid" or other is None or least < STRONG:
        return one.amount
    rest = 1.0 - place.liquid.get(other.member.name, 0.0)
    return np.where(~(one.amount < MUCH), one.amount / np.maximum(rest, one.amount), one.amount)


#: Share of water, by mass, from which a wall of plastic is not set alight by what is dissolved, up
#: to what temperature, K: 30 % hydrogen peroxide is sold in such bottles (common practice, no
#: source). What the solution does to the wall is rated by itself.
WATERY, WARM = 0.695, 323.15


def _wet_wall(place: Place, a: Presence, b: Presence | None) -> bool:
    """Whether the one is dissolved in much water and the other is the plastic that holds it."""
    wall = None if b is None else b.member
    plastic = isinstance(wall, Material) and wall.kind == "polymer"
    return plastic and a.phase == "liquid" and place.liquid.get("water", 0.0) >= WATERY


def _coldest(setup: Setup, place: Place) -> Quantity:
    """The coldest that the item is from the beginning of the step to its end, K: what a step heats
    is as cold at first as the step before left it, or as the room."""
    end = place.coldest
    low = end.value.reshape(setup.shape)
    room = setup.number("ambient.temperature").value.reshape(setup.shape)
    before = np.concatenate([low[:1], np.minimum(low, room)[1:2], low[1:-1]])
    return end.revised(np.minimum(low, before).reshape(-1), end.status)


def _fresh(setup: Setup, place: Place) -> NDArray[np.bool_]:
    """Where little is there and the whole procedure is known to be over within the hour."""
    procedure = range(len(setup.scenario.procedure))
    lasts = sum((setup.duration(cell + 1) for cell in procedure), np.zeros(setup.shape[1]))
    runs = lasts if procedure else np.full(setup.shape[1], np.nan)
    return np.tile(runs <= HOUR, setup.shape[0]) & (place.number("liquid_volume").value <= LITTLE)


def _in_hood(setup: Setup, place: Place) -> bool:
    """Whether it stands in a tested hood, and nothing is led into the room."""
    hood = setup.scenario.ventilation.hood if setup.scenario.ventilation else None
    tested = hood is not None and hood.tested == "yes" and place.model.in_ == "hood"
    outside = ("hood", "outdoors")
    return tested and all(p.model.to in outside for p in setup.places if p.is_end)


def _a_little(setup: Setup, place: Place, a: Presence, b: Presence | None) -> bool:
    """Whether a few grams of a solid stand in a tested hood."""
    if not _in_hood(setup, place):
        return False
    solids = {one.member.name for one in (a, b) if one is not None and one.phase not in AIR}
    for name, reagent in setup.scenario.reagents.items():
        here = {setup.reference.substance(text).name for text in reagent.composition}
        if here & solids:
            amount = reagent.amount
            if amount is None or amount.by != "mass":
                return False
            if not (setup.number(f"reagents.{name}.amount").value <= A_FEW_GRAMS).all():
                return False
            solids -= here
    if any(one is not None and one.phase == "catalyst" for one in (a, b)) and _much(place):
        return False
    return all(made_of(setup, place, name) <= A_FEW_GRAMS for name in solids)


def _much(place: Place) -> bool:
    """Whether a bed is larger than a few grams of a light powder (1 g/mL in bulk)."""
    bed = place.model.packing
    if bed is None or not bed.is_bed:
        return False
    long = bed.length or place.model.length or np.inf
    wide = place.model.inner_diameter or np.inf
    return not np.pi / 4 * wide**2 * long * 1000.0 <= A_FEW_GRAMS


MEETING = Computation(kinds=(KIND,), compute=_compute)
