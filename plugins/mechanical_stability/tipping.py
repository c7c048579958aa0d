"""Tipping of the frame: how far it can lean, in its worst direction, before it falls."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.statics import tipping_angle

CENTRE = Method(
    id="stability.centre",
    title="Height of the centre of mass",
    result="height of the centre of mass",
    unit="m",
    formula="sum([m * z for m, z in zip(masses, heights)]) / sum(masses)",
    inputs=(
        Input("masses", "m", "kg", "each mass"),
        Input("heights", "z", "m", "height of its centre"),
    ),
    function=lambda masses, heights: _mean(masses, heights),
    source="statics",
    validity="rigid frame; liquids at rest",
)
ANGLE = Method(
    id="stability.tipping_angle",
    title="Angle at which the frame tips, worst direction",
    result="tipping angle",
    unit="rad",
    formula="atan(b / h)",
    inputs=(
        Input("b", "b", "m", "distance from the centre of mass to the nearest edge of the feet"),
        Input("h", "h", "m", "height of the centre of mass"),
    ),
    function=lambda b, h: np.where(b > 0, tipping_angle(np.maximum(b, 0.0), h), 0.0),
    source="statics: the centre of mass stands over the edge",
    validity="level bench, all feet standing; zero where it falls by itself",
)
PUSH = Method(
    id="stability.push_share",
    title="Sideways push at the top that tips it as a share of its weight",
    result="push over weight",
    unit="1",
    formula="max(b, 0) / H",
    inputs=(
        Input("b", "b", "m", "distance from the centre of mass to the nearest edge of the feet"),
        Input("H", "H", "m", "height of the push"),
    ),
    function=lambda b, H: np.maximum(b, 0.0) / H,
    source="statics: F H = W b",
    validity="the feet do not slide first",
)
ANGLE_KIND = Kind.of(
    ANGLE, "lower", "deg", {"frame.masses.*.height": "down"}, factor=1.3,
    title="Angle at which the frame tips",
)  # fmt: skip
PUSH_KIND = Kind.of(
    PUSH, "lower", "%", {"frame.push_height": "down"}, factor=1.3,
    title="Sideways push at the top that tips it as a share of its weight",
)  # fmt: skip


FULL, EMPTY = "frame with its liquids", "frame without its liquids"


def _mean(masses: list[FloatArray], values: list[FloatArray]) -> FloatArray:
    weights = np.array(np.broadcast_arrays(*masses))
    return np.asarray((weights * np.array(np.broadcast_arrays(*values))).sum(0) / weights.sum(0))


def nearest_edge(
    feet: FloatArray, centre: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Distance from a point to the nearest edge of the feet's outline, and that direction.

    b = min over u of [max over feet of (foot . u) - centre . u]. The smallest value over all
    directions of a convex outline lies at right angles to one of its edges, so the directions at
    right angles to every pair of feet are enough.

    feet (feet, 2, trials) m, centre (2, trials) m. Returns (distance (trials,), direction
    (2, trials)); a negative distance means that the point lies outside.

    >>> square = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]])[:, :, None]
    >>> float(nearest_edge(square, np.array([[0.4], [0.0]]))[0][0])
    0.6
    >>> point = np.zeros((3, 2, 1))
    >>> float(nearest_edge(point, np.array([[0.0], [0.0]]))[0][0])
    0.0

    Source: [1] support function of a convex set.
    """
    first, second = np.triu_indices(feet.shape[0], 1)
    along = feet[second] - feet[first]
    length = np.hypot(along[:, 0], along[:, 1])
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / length[:, None]
    directions = np.concatenate([normal, -normal])
    reach = np.einsum("fct,dct->fdt", feet, directions).max(axis=0)
    distance = reach - np.einsum("ct,dct->dt", centre, directions)
    # Two feet on one spot give no direction; every foot on one line leaves nothing to stand on.
    distance = np.where(np.isnan(distance) & (np.tile(length, (2, 1)) == 0), np.inf, distance)
    best = distance.argmin(axis=0)
    pick = np.arange(distance.shape[1])
    nearest = distance[best, pick]
    # Where all feet share one spot it stands on a point, and falls.
    return np.where(np.isinf(nearest), 0.0, nearest), directions[best, :, pick].T


#: A liquid without a stated density, kg/m3; what is short by less than so much is rounding.
WATER, ROUNDED = 1000.0, 0.8
#: A mass hangs lower than its clamp holds it by at most so much (a judgement, no source).
HANGS = 0.75


def _left_out(setup: Setup) -> str:
    """What the file says stands or hangs there and the frame's masses do not count."""
    frame, liquids = setup.scenario.frame, 0.0
    assert frame is not None
    for place in setup.places:
        volume = place.number("liquid_volume").value[0]
        hangs = place.model.beside_frame == "no"
        if hangs and place.liquid and not np.isnan(volume):
            dense = setup.number(f"reagents.{place.model.liquid}.density").value[0]
            liquids += volume * (WATER if np.isnan(dense) else dense)
    counted = sum(mass.liquid or 0.0 for mass in frame.masses.values())
    if counted < ROUNDED * liquids:
        return (
            f"the train holds {liquids:.1f} kg of liquid and the frame's masses count "
            f"{counted:.1f} kg: give each vessel's mass, its liquid and its place; what stands on "
            'the bench by itself says "beside_frame: yes"'
        )
    for clamp in frame.clamps.values():
        carried = sum(c.carries for c in frame.clamps.values() if c.height >= clamp.height)
        up = (m for m in frame.masses.values() if m.height >= HANGS * clamp.height)
        there = sum(mass.mass for mass in up)
        if there < ROUNDED * carried:
            return (
                f"clamps at {1000 * clamp.height:.0f} mm and above carry {carried:.1f} kg and the "
                f"frame's masses count {there:.1f} kg up there"
            )
    return ""


def _compute(setup: Setup) -> Iterable[Measure]:
    frame = setup.scenario.frame
    if frame is None:
        return
    number = setup.number
    missing = _left_out(setup)
    feet = np.array(
        [
            [number(f"frame.feet.{n}.x").value, number(f"frame.feet.{n}.y").value]
            for n in frame.feet
        ]
    )
    for where in (FULL, EMPTY):
        masses, heights, xs, ys = [], [], [], []
        for name, part in frame.masses.items():
            path = f"frame.masses.{name}"
            mass = number(f"{path}.mass")
            if where == EMPTY and part.liquid is not None:
                mass = Quantity.of(
                    np.maximum(mass.value - number(f"{path}.liquid").value, 0.0),
                    name=f"{name} without its liquid", unit="kg", source="scenario",
                )  # fmt: skip
            masses.append(mass)
            heights.append(number(f"{path}.height"))
            xs.append(number(f"{path}.x").value)
            ys.append(number(f"{path}.y").value)
        weights = [m.value for m in masses]
        centre = np.array([_mean(weights, xs), _mean(weights, ys)])
        edge, towards = nearest_edge(feet, centre)
        b = setup.quantity(edge, "distance to the nearest edge", "m", "feet and masses")
        if missing:
            b = Quantity.missing("what the frame carries", "m", why=missing)
        h = CENTRE(masses=masses, heights=heights)
        note = f"worst towards ({towards[0, 0]:.2f}, {towards[1, 0]:.2f}) in x and y"
        yield setup.measure(ANGLE_KIND, ANGLE(b=b, h=h), where, note=note)
        if frame.push_height is not None:
            top = number("frame.push_height")
        else:
            highest = np.max([q.value for q in heights], axis=0)
            top = setup.quantity(highest, "highest mass", "m", "scenario")
        yield setup.measure(PUSH_KIND, PUSH(b=b, H=top), where, note=note)


TIPPING = Computation(kinds=(ANGLE_KIND, PUSH_KIND), compute=_compute)
