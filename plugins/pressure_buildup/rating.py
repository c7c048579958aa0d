"""What each item holds: its maker's word, else its walls and ends, and always its joints."""

from __future__ import annotations

import numpy as np

from review import Input, Method, Place, Quantity, Setup
from review.physics.vessel import flat_plate_rating, thick_wall_rating

ATMOSPHERE = 101325.0

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
    formula="s * (t / (d / 2))**2 / 0.75",
    inputs=(
        Input("s", "s", "Pa", "allowable tensile stress of the material"),
        Input("d", "d", "m", "diameter of the end"),
        Input("t", "t", "m", "thickness of the end"),
    ),
    function=lambda s, d, t: flat_plate_rating(s, d / 2, t),
    source="clamped circular plate, Roark's Formulas for Stress and Strain: 0.75 p (a/t)^2",
    validity="a plate clamped at its edge and thin against its radius",
)
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


def rating(setup: Setup, place: Place) -> Quantity:
    """Gauge pressure an item holds, Pa, with its working; missing where a part is not known."""
    return WEAKEST(parts=[_body(setup, place), *_joint(setup, place)])


def _gauge(absolute: Quantity, name: str, source: str) -> Quantity:
    return Quantity.of(
        absolute.value - ATMOSPHERE, absolute.status, name=name, unit="Pa", source=source
    )


def _body(setup: Setup, place: Place) -> Quantity:
    if place.model.rating is not None:
        return _gauge(place.number("rating"), f"rating of {place.id}", "scenario: maker's rating")
    material = place.material
    if material is None or place.model.wall is None or place.model.inner_diameter is None:
        return Quantity.missing(
            f"rating of {place.id}",
            "Pa",
            why="no rating, and no material, bore and wall to work it out from",
        )
    if place.model.ends is None and place.model.length is None:
        return Quantity.missing(
            f"rating of {place.id}", "Pa", why='its base may be flat: give "ends" or a rating'
        )
    home_made = place.model.home_made != "no"
    name = "allowable_stress_home_made" if home_made else "allowable_stress"
    stress = Quantity.of_datum(
        material.datum(name), f"{name.replace('_', ' ')} of {material.name}", place.hottest.value
    )
    bore, wall = place.number("inner_diameter"), place.number("wall")
    parts = [WALL(s=stress, d=bore, t=wall)]
    if place.model.ends == "flat":
        parts.append(FLAT_END(s=stress, d=bore, t=place.number("flat_end_thickness")))
    return WEAKEST(parts=parts)


def _joint(setup: Setup, place: Place) -> list[Quantity]:
    """The joint's own rating; a joint nobody described is missing, `none` is no joint."""
    if place.model.joint_rating is not None:
        return [
            _gauge(place.number("joint_rating"), f"joint of {place.id}", "scenario: maker's rating")
        ]
    if place.model.joint is None:
        return [
            Quantity.missing(
                f"joint of {place.id}", "Pa", why='not given; write "joint: none" for one piece'
            )
        ]
    datum = setup.reference.joint(place.model.joint).rating
    if datum.state == "none":
        return []
    return [Quantity.of_datum(datum, f"{place.model.joint} of {place.id}")]
