"""Below the room's pressure: what bears it, what glass that gives way throws, what comes back."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.vessel import flat_plate_rating, tube_buckling_pressure

from ..shared.rating import MOST_POISSON

#: Share of its ideal buckling pressure that a real tube is taken to bear: out of round, unevenly
#: thick (common practice, no source; 0.3 to 0.8 are seen).
KNOCK_DOWN = 0.3
#: Pressure below the room's from which an item counts as evacuated, Pa.
NOTICED = 1.0
#: What anything on a bench bears from outside, Pa: 20 cm of water (a judgement, no source).
SLIGHT = 2.0e3
#: What keeps splinters of evacuated glass away from people.
KEEPS_SPLINTERS = ("shield", "hood sash", "splinter net")
#: Vessels that are flat by their name.
FLAT = ("erlenmeyer", "conical", "flat", "beaker", "bottle", "jar")

BUCKLING = Method(
    id="pressure.buckling",
    title="Vacuum at which a tube buckles",
    result="difference it bears",
    unit="Pa",
    formula="k * 2 * E / (1 - nu**2) * (t / (d + 2 * t))**3",
    inputs=(
        Input("k", "k", "1", "knock-down for what is out of round"),
        Input("E", "E", "Pa", "Young's modulus"),
        Input("nu", "nu", "1", "Poisson's ratio"),
        Input("t", "t", "m", "wall thickness"),
        Input("d", "d", "m", "inner diameter"),
    ),
    function=lambda k, E, nu, t, d: tube_buckling_pressure(E, nu, t, d + 2 * t, k),
    source="Bresse; Timoshenko & Gere, Theory of Elastic Stability, section 7.5",
    validity="long tube without scratches; a short one bears more",
)
FLAT_END = Method(
    id="pressure.flat_end_vacuum",
    title="Vacuum that a flat end bears",
    result="difference it bears",
    unit="Pa",
    formula="s * (t / (d / 2))**2 / (3 * (3 + nu) / 8)",
    inputs=(
        Input("s", "s", "Pa", "allowable tensile stress of the material"),
        Input("d", "d", "m", "diameter of the end"),
        Input("t", "t", "m", "thickness of the end"),
        Input("nu", "nu", "1", "Poisson's ratio"),
    ),
    function=lambda s, d, t, nu: flat_plate_rating(s, d / 2, t, nu),
    source="circular plate supported at its edge, Timoshenko & Woinowsky-Krieger, article 16",
    validity="a plate thin against its radius; bent inward as outward",
)
OVER = Method(
    id="pressure.vacuum_over_rating",
    title="Vacuum as a share of what the item bears",
    result="share of what it bears",
    unit="1",
    formula="where(p0 - p <= slight, 0, where(bears > 0, max(p0 - p, 0) / bears, inf))",
    inputs=(
        Input("p", "p", "Pa", "absolute pressure inside"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("bears", "bears", "Pa", "difference it bears"),
        Input("slight", "slight", "Pa", "difference that anything bears"),
    ),
    function=lambda p, p0, bears, slight: np.where(
        p0 - p <= slight,
        0.0,
        np.where(
            np.isnan(bears), np.nan, np.where(bears > 0, np.maximum(p0 - p, 0.0) / bears, np.inf)
        ),
    ),
    compares=lambda p, p0, bears, slight: (np.maximum(p0 - p, 0.0), bears),
    compared_in=("Pa", "bar"),
    source="ratio; the pressure is the pump's lowest wherever no room air flows in",
    validity="steady; glass without scratches",
)
ENERGY = Method(
    id="pressure.implosion_energy",
    title="Work of the air on evacuated glass that gives way",
    result="energy",
    unit="J",
    formula="(p0 - p) * V",
    inputs=(
        Input("p", "p", "Pa", "absolute pressure inside"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("V", "V", "m3", "gas volume"),
    ),
    function=lambda p, p0, V: np.maximum(p0 - p, 0.0) * V,
    source="work of the atmosphere: about 100 J per litre of full vacuum",
    validity="0 behind a shield, a closed sash or a splinter net",
)
BACK = Method(
    id="pressure.drive_back",
    title="Water that comes back through a pump, over the room for it before what it harms",
    result="share of the room",
    unit="1",
    formula="sum([v * max(1 - q / p0, 0) for v, q in zip(V, p)]) / sum(way)",
    inputs=(
        Input("V", "V", "m3", "gas volume of each item that is sucked"),
        Input("p", "p", "Pa", "absolute pressure in each"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("way", "V_w", "m3", "gas volume of each item between pump and what water harms"),
    ),
    function=lambda V, p, p0, way: np.asarray(
        np.sum([v * np.maximum(1 - q / p0, 0.0) for v, q in zip(V, p, strict=True)], axis=0)
        / np.sum(np.broadcast_arrays(*way), axis=0)
    ),
    source="the vacuum is filled by what comes first: V (1 - p/p0) at constant temperature",
    validity="no check valve counts: those of water-jet pumps stick",
)


def _kind(method: Method, display: str, moves: dict[str, str]) -> Kind:
    return Kind(
        id=method.id, title=method.title, worse="higher", unit=method.unit, display=display,
        method=method.id, source=method.source, validity=method.validity,
        moves={path: "up" if way == "up" else "down" for path, way in moves.items()},
    )  # fmt: skip


OVER_KIND = _kind(
    OVER, "%", {"train.*.suction.lowest_pressure": "down", "train.*.vacuum_rating": "up"}
)
ENERGY_KIND = _kind(
    ENERGY, "J", {"train.*.suction.lowest_pressure": "down", "train.*.gas_volume": "up"}
)
BACK_KIND = _kind(BACK, "", {"train.*.suction.lowest_pressure": "down"})


def _compute(setup: Setup) -> Iterable[Measure]:
    ambient = setup.number("ambient.pressure")
    slight = setup.quantity(SLIGHT, "borne by anything", "Pa", "20 cm of water; a judgement")
    for pump in setup.places:
        if pump.model.suction is None:
            continue
        sucked = [setup.places[i] for i in pump.before if i != pump.index]
        for kind in (OVER_KIND, ENERGY_KIND):
            why = f"a soft tube collapses and closes; {pump.id} itself is made for it"
            nothing = setup.quantity(0.0, kind.title, kind.unit, why)
            yield setup.measure(kind, nothing, pump.id, note=why)
        for place in sucked:
            if (place.pressure.value >= ambient.value - NOTICED).all():
                continue
            if not _collapses(place):
                over = OVER(p=place.pressure, p0=ambient, bears=_bears(setup, place), slight=slight)
                yield setup.measure(OVER_KIND, over, place.id)
            if place.material is None or place.material.kind == "glass":
                yield setup.measure(ENERGY_KIND, _energy(setup, place, ambient), place.id)
        if sucked:
            yield setup.measure(BACK_KIND, _back(setup, pump, sucked, ambient), pump.id)


def _collapses(place: Place) -> bool:
    """A soft hose, which only closes; that is played as a blockage."""
    return place.material is not None and place.material.kind == "polymer" and _a_tube(place)


def _a_tube(place: Place) -> bool:
    return place.kind.packed


def _flat(place: Place) -> bool:
    """Whether it has a flat end: by word, by its kind's name or by its trade size."""
    if place.model.ends is not None:
        return place.model.ends == "flat"
    words = f"{place.model.kind} {place.model.size or ''}".lower()
    return any(name in words for name in FLAT) and place.kind.id == "vessel"


def _bears(setup: Setup, place: Place) -> Quantity:
    """Difference to the room that it bears from outside, Pa, with its working."""
    name = f"vacuum rating of {place.id}"
    model = place.model
    if model.vacuum_rating is not None:
        stated = place.number("vacuum_rating")
        room = setup.number("ambient.pressure").value
        return Quantity.of(
            room - stated.value, stated.status, name=name, unit="Pa",
            source="scenario: maker's word",
        )  # fmt: skip
    glass = place.material is None or place.material.kind == "glass"
    if _flat(place) and glass:
        why = "flat glass without its maker's word for vacuum"
        if model.flat_end_thickness is None:
            return Quantity.of(0.0, name=name, unit="Pa", source=why)
        end = _end(place)
        known = np.where(end.value > setup.number("ambient.pressure").value, np.nan, end.value)
        return end.revised(known, end.status)
    if glass and not _a_tube(place):
        why = "a glass vessel without its maker's word: write \"vacuum_rating: full vacuum\" if so"
        return Quantity.missing(name, "Pa", why=why)
    fitting = place.kind.id == "junction" and model.wall is None
    if fitting and place.material is not None and place.material.kind == "metal":
        most = setup.number("ambient.pressure").value
        return Quantity.of(most, name=name, unit="Pa", source="a metal fitting bears vacuum")
    if place.material is None or model.wall is None or model.inner_diameter is None:
        why = (
            'not given: "vacuum_rating", such as "full vacuum", or "material", "inner_diameter" '
            'and "wall"'
        )
        return Quantity.missing(name, "Pa", why=why)
    walls = _wall(place)
    if not _flat(place):
        return walls
    end = _end(place)
    return end.revised(np.minimum(end.value, walls.value), np.maximum(end.status, walls.status))


def _wall(place: Place) -> Quantity:
    material = place.material
    assert material is not None
    return BUCKLING(
        k=Quantity.of(KNOCK_DOWN, name="knock-down", unit="1", source="common practice"),
        E=Quantity.of_datum(material.datum("youngs_modulus"), f"modulus of {material.name}"),
        nu=_poisson(place), t=place.number("wall"), d=place.number("inner_diameter"),
    )  # fmt: skip


def _end(place: Place) -> Quantity:
    return FLAT_END(
        s=place.strength(place.hottest.value), d=place.number("inner_diameter"),
        t=place.number("flat_end_thickness"), nu=_poisson(place),
    )  # fmt: skip


def _poisson(place: Place) -> Quantity:
    ratio = None if place.material is None else place.material.datum("poisson").value
    return Quantity.of(
        MOST_POISSON if ratio is None else ratio, name="Poisson's ratio", unit="1",
        source="material data" if ratio is not None else "not known: the highest there is",
    )  # fmt: skip


def _energy(setup: Setup, place: Place, ambient: Quantity) -> Quantity:
    """What flies; nothing where something keeps the splinters."""
    energy = ENERGY(p=place.pressure, p0=ambient, V=place.volume)
    kept = any(s.kind in KEEPS_SPLINTERS for s in setup.scenario.safeguards)
    return energy.revised(0.0 * energy.value, energy.status) if kept else energy


def _back(setup: Setup, pump: Place, sucked: list[Place], ambient: Quantity) -> Quantity:
    """Water in what is sucked; without anything that it harms, none that counts."""
    heated = {heat.heats for heat in setup.scenario.heat.values()}
    heated |= {catalyst.in_ for catalyst in setup.scenario.catalysts.values()}
    drive = pump.model.suction.drive if pump.model.suction else None
    harmed = (
        []
        if drive in ("motor", "compressed air")
        else [
            place
            for place in sucked
            if place.id in heated
            or place.model.packing is not None
            or place.model.reactions
            or place.model.temperature is not None
            or set(place.liquid) - {"water"}
        ]
    )
    if not harmed:
        why = "no water comes back, or nothing before the pump that it harms"
        return setup.quantity(0.0, BACK.result, "1", why)
    behind = set.union(*({place.index, *place.before} for place in harmed))
    way = [place.volume for place in sucked if place.index not in behind]
    way = way or [setup.quantity(1e-12, "no room between", "m3", "nothing stands between")]
    return BACK(
        V=[place.volume for place in sucked],
        p=[place.pressure for place in sucked],
        p0=ambient,
        way=way,
    )


VACUUM = Computation(kinds=(OVER_KIND, ENERGY_KIND, BACK_KIND), compute=_compute)
