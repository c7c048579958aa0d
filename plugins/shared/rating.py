"""What each item holds: its maker's word, else its walls and ends, and always its joints."""

from __future__ import annotations

import numpy as np

from review import FloatArray, Input, Method, Place, Quantity, Setup
from review.physics.vessel import flat_plate_rating, thick_wall_rating

#: What the housing of a pump holds that has no rating: no less than the hose on it, Pa gauge.
PUMP = 0.5e5

WALL = Method(
    id="pressure.wall_rating",
    title="Pressure a round wall holds",
    result="rating of the wall",
    unit="Pa",
    formula="s * ((d + 2 * t)**2 - d**2) / ((d + 2 * t)**2 + d**2)",
    inputs=(
        Input("s", "s", "Pa", "allowable tensile stress of the material"),
        Input("d", "d", "m", "inner diameter"),
        Input("t", "t", "m", "wall thickness"),
    ),
    function=lambda s, d, t: thick_wall_rating(s, d, d + 2 * t),
    source="Lame, hoop stress at the bore; EN 1595 uses the thin-wall form of the same",
    validity="smooth annealed tube, no thermal stress, away from ends and joints",
)
FLAT_END = Method(
    id="pressure.flat_end_rating",
    title="Pressure a flat end holds",
    result="rating of the flat end",
    unit="Pa",
    formula="s * (t / (d / 2))**2 / (3 * (3 + nu) / 8)",
    inputs=(
        Input("s", "s", "Pa", "allowable tensile stress of the material"),
        Input("d", "d", "m", "diameter of the end"),
        Input("t", "t", "m", "thickness of the end"),
        Input("nu", "nu", "1", "Poisson's ratio"),
    ),
    function=lambda s, d, t, nu: flat_plate_rating(s, d / 2, t, nu),
    source="circular plate supported at its edge, Timoshenko & Woinowsky-Krieger, Theory of Plates "
    "and Shells: 3 (3 + nu)/8 p (a/t)^2",
    validity="a plate thin against its radius whose edge may turn, which is the weaker way",
)
#: Poisson's ratio where none is known: no solid has more, and more is the weaker plate.
MOST_POISSON = 0.5
WEAKEST = Method(
    id="pressure.rating",
    title="Weakest part of an item",
    result="rating",
    unit="Pa",
    formula="min(parts)",
    inputs=(Input("parts", "parts", "Pa", "what each part holds, gauge"),),
    function=lambda parts: np.min(np.broadcast_arrays(*parts), axis=0),
    source="a chain is as strong as its weakest link",
    validity="every part of the item is listed",
)


def rating(setup: Setup, place: Place, *, joint: bool = True) -> Quantity:
    """Gauge pressure an item holds, Pa, with its working; missing where a part is not known.

    Without its joint on request: what breaks, not what is lifted.
    """
    return _weakest([_body(setup, place), *(_joint(setup, place) if joint else ())])


#: Factor that an estimated strength is off by at most (common practice, no source).
OFF_BY = 2.0


def _weakest(parts: list[Quantity]) -> Quantity:
    """The least of the parts; known, where what is estimated holds more even if it is off."""
    found = WEAKEST(parts=parts)
    known, sure = np.full(found.value.shape, np.inf), np.ones(found.value.shape, dtype=bool)
    for part in parts:
        known = np.fmin(known, np.where(part.status == 0, part.value, np.inf))
    for part in parts:
        sure &= (part.status == 0) | (part.status == 1) & (part.value >= OFF_BY * known)
    return found.revised(found.value, np.where(sure, np.uint8(0), found.status))


def _gauge(setup: Setup, absolute: Quantity, name: str, source: str) -> Quantity:
    over = absolute.value - setup.number("ambient.pressure").value
    return Quantity.of(over, absolute.status, name=name, unit="Pa", source=source)


def _body(setup: Setup, place: Place) -> Quantity:
    if place.model.rating is not None:
        stated = place.number("rating")
        return _gauge(setup, stated, f"rating of {place.id}", "scenario: maker's rating")
    if place.model.suction is not None:
        return Quantity.of(
            PUMP, 1, name=f"rating of {place.id}", unit="Pa",
            source="the housing of a pump, whose maker says no more; common practice, no source",
        )  # fmt: skip
    sold = _as_sold(setup, place)
    material = place.material
    if material is None or place.model.wall is None or place.model.inner_diameter is None:
        return sold or Quantity.missing(f"rating of {place.id}", "Pa", why=_lacking(place))
    if place.model.ends is None and place.model.length is None:
        return Quantity.missing(
            f"rating of {place.id}", "Pa",
            why='its base may be flat: write "ends: round", or a rating, such as '
            '"rating: 0.1 bar gauge"',
        )  # fmt: skip
    if place.model.ends == "flat" and (sold or place.model.flat_end_thickness is None):
        return sold or Quantity.missing(f"rating of {place.id}", "Pa", why=_THICKNESS)
    stress = place.strength(_hottest(place))
    bore, wall = place.number("inner_diameter"), place.number("wall")
    parts = [WALL(s=stress, d=bore, t=wall)]
    if place.model.ends == "flat":
        ratio = material.datum("poisson").value
        nu = Quantity.of(
            MOST_POISSON if ratio is None else ratio,
            name=f"Poisson's ratio of {material.name}", unit="1",
            source="material data" if ratio is not None else "not known: the highest there is",
        )  # fmt: skip
        parts.append(FLAT_END(s=stress, d=bore, t=place.number("flat_end_thickness"), nu=nu))
    return _weakest(parts)


#: What laboratory glass holds whose maker says no more, Pa gauge: a quarter of what flasks mostly
#: bear from outside when they are evacuated. Common practice, no source.
GLASSWARE = 0.25e5
#: The same where its base is flat or may be: abraded borosilicate glass breaks in bending at some
#: 30 MPa (from memory), so that 2 mm on 85 mm by `FLAT_END` breaks at 0.55 bar. A third of it.
FLAT = 0.2e5
#: What narrow bottles, traps and taps of glass up to half a litre hold, Pa gauge: a base of 3 mm on
#: a bore of 60 mm by `FLAT_END` at 7 MPa holds 0.6 bar. Common practice, no source.
BOTTLE, LARGEST_BOTTLE = 0.5e5, 0.55e-3
#: The largest such vessel, m3: what is larger needs its maker's word.
LARGEST = 2.1e-3
#: The same of plastic.
PLASTIC = 0.5e5
#: A bottle, trap or bubbler of plastic up to half a litre, Pa gauge and K: a flat base of 1.5 mm on
#: a bore of 60 mm yields at 0.5 bar by `FLAT_END` at 25 MPa (polypropylene, from memory) and bulges
#: before it tears. Common practice, no source.
PLASTIC_BOTTLE, PLASTIC_UP_TO = 0.2e5, 313.15
#: What a metal tap, tee or adapter holds whose maker says no more, Pa gauge: half of what the low
#: end of metal tube fittings is. Common practice, no source.
FITTING = 5e5
#: The same where nobody says that it was bought: as little as what merely grips a tube.
UNSAID_FITTING = 2e5
_BLOWN = ("vessel", "trap", "wash bottle", "junction")
_THICKNESS = (
    'not given: its rating, such as "rating: 0.1 bar gauge", or its "flat_end_thickness"'
)


def _as_sold(setup: Setup, place: Place) -> Quantity | None:
    """What laboratory glass or a metal fitting of the trade holds of which nothing is measured.

    Not where a wall is stated: then that decides. A trade size is such glass whatever its base.
    """
    model, material = place.model, place.material
    bought = model.home_made == "no" or model.home_made == "unknown" and _bought(setup, place)
    if material is None or not bought or place.kind.id not in _BLOWN:
        return None
    name = f"rating of {place.id}"
    if material.kind in ("metal", "polymer") and place.kind.id == "junction":
        metal = FITTING if model.home_made == "no" else UNSAID_FITTING
        return None if model.wall is not None else Quantity.of(
            metal if material.kind == "metal" else PLASTIC, name=name, unit="Pa",
            source=f"a fitting of {material.name} whose maker says no more; common practice, no "
            "source",
        )  # fmt: skip
    sized = model.size is not None and model.ends == "flat"
    measured = model.flat_end_thickness is not None or model.wall is not None and not sized
    # What is made to be evacuated holds as much from inside, however thick it is said to be.
    evacuated = model.vacuum_rating is not None and model.vacuum_rating <= 1e4
    if material.kind == "polymer" and place.kind.id != "vessel":
        small = place.model.rating is None and not measured
        cool = _hottest(place) <= PLASTIC_UP_TO
        if small and cool.all() and (_room(place) <= LARGEST_BOTTLE).all():
            return Quantity.of(
                PLASTIC_BOTTLE, name=name, unit="Pa",
                source="a bottle of plastic whose maker says no more; common practice, no source",
            )  # fmt: skip
        return None
    if material.kind != "glass" or (measured and not evacuated):
        return None
    whole = _room(place)
    most = material.datum("maximum_temperature").value
    # Too hot after a failure, a criterion of its own tells, as of glass whose rating is stated.
    if most is None or not ((_hottest(place) <= most) | setup.failed).all():
        return None
    if not (whole <= LARGEST).all():
        return None
    narrow = place.kind.id != "vessel" and bool((whole <= LARGEST_BOTTLE).all())
    domed = evacuated or model.ends == "round"
    return Quantity.of(
        BOTTLE if narrow else GLASSWARE if domed else FLAT, name=name, unit="Pa",
        source="laboratory glass whose maker says no more; common practice, no source, the low end",
    )  # fmt: skip


def _bought(setup: Setup, place: Place) -> bool:
    """Whether its joint shows that a glass vessel was bought, or a tee, valve or adapter of metal:
    of what comes apart again hardly anybody makes one (common practice, no source)."""
    if place.model.joint is None or place.material is None:
        return False
    joint = setup.reference.joint(place.model.joint)
    if place.kind.id == "junction" and place.material.kind == "metal":
        return joint.rating.state != "none"
    return place.material.kind == "glass" and joint.bought


def _room(place: Place) -> FloatArray:
    """All that an item can hold, m3."""
    held = np.nan_to_num(place.number("liquid_volume").value)
    return np.fmax(place.volume.value + held, place.number("capacity").value)


def _lacking(place: Place) -> str:
    """What to write, with an example, that the rating would follow from."""
    model = place.model
    if model.material is None:
        return 'say what it is made of, such as "material: borosilicate glass 3.3"'
    why = _THICKNESS.replace('"flat_end_thickness"', '"inner_diameter" and "wall"')
    if place.material is not None and place.material.kind == "glass" and model.home_made != "no":
        why += '; of laboratory glass up to 2 L "home_made: no" with its "capacity" will do'
    if model.joint == "none":
        why += '; of an open vessel, how wide the outlet straight behind it is ("inner_diameter")'
    return why


def scratched(place: Place) -> str:
    """What to state where a part bears little only because nobody says that it is unharmed."""
    kind = getattr(place.material, "kind", "")
    if place.model.home_made != "unknown" or kind not in ("glass", "ceramic"):
        return ""
    return f'State "home_made: no" if its {kind} is bought and unharmed'


def _hottest(place: Place) -> FloatArray:
    """The hottest the wall gets: by heat, by what passes through it, or by its bath, K."""
    bath = place.number("bath_temperature")
    return np.fmax(place.hottest.value, bath.value)


#: A joint that is said to hold more than this many times its table counts as its table has it. A
#: judgement, no source.
MOST_CLAIMED = 5.0


def _joint(setup: Setup, place: Place) -> list[Quantity]:
    """The joint's own rating; a joint nobody described is missing, `none` is no joint."""
    kind = place.model.joint
    if kind is None:
        return [
            Quantity.missing(
                f"joint of {place.id}", "Pa",
                why='not given, such as "joint: clipped hose"; "joint: none" is one piece',
            )
        ]
    joint = setup.reference.joint(kind)
    wall = "" if place.material is None else place.material.kind
    table = joint.holds(place.model.inner_diameter, wall)
    if place.model.joint_rating is not None and table.value is not None:
        stated = place.number("joint_rating")
        claimed = _gauge(setup, stated, f"joint of {place.id}", "scenario: maker's rating")
        holds = float(table.value)
        believed = claimed.value <= holds * (1.0 if joint.lifts else MOST_CLAIMED)
        if believed.all():
            return [claimed]
        why = f"more than a {kind} is known to hold is stated; so much counts: {holds / 1e5:g} bar"
        return [
            Quantity.of(
                np.where(believed, claimed.value, holds), claimed.status,
                name=claimed.name, unit="Pa", source=why,
            )
        ]  # fmt: skip
    if table.state == "none":
        return []
    return [Quantity.of_datum(table, f"{kind} of {place.id}")]
