"""What an item is claimed to hold or to be, against what such an item is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress

from review.interface.holds import least_rated
from review.interface.items import ItemKind
from review.reference.data import Material
from review.reference.finding import Reference, UnknownName
from review.scenario.models import ItemModel as Item

#: A joint only pushed together that is said to hold more than so many times its table is another
#: kind of joint; up to there it slides apart before glass with its margin breaks (a judgement).
MOST_OF_LIFTED = 5.0
#: A figure that is no less than another, with room for rounding.
AS_STATED = 0.999
Claim = tuple[str, str, Sequence[str]]


def claims(
    item: Item, kind: ItemKind | None, reference: Reference, room: float
) -> Iterator[Claim]:
    """What is wrong with the joint, the make and the rating of an item: key, message, near names.

    room: its pressure, Pa.
    """
    if item.joint is not None:
        yield from _joint(item.joint, item.joint_rating, reference, room)
    material = None
    with suppress(UnknownName):
        material = reference.material(item.material or "")
    bought, apart = False, False
    with suppress(UnknownName):
        joint = reference.joint(item.joint or "")
        bought, apart = joint.bought, joint.rating.state != "none"
    yield from _made(item, kind, material, bought)
    fitting = material is not None and material.kind == "metal" and apart
    yield from _rated(item, kind, material, fitting or bought, room)


def _joint(name: str, stated: float | None, reference: Reference, room: float) -> Iterator[Claim]:
    """A kind of joint nobody knows, and a rating that no joint of its kind can have, or that is
    less than counts of it where none is stated."""
    try:
        joint = reference.joint(name)
    except UnknownName as unknown:
        yield "joint", f'unknown joint "{name}"', unknown.nearest
        return
    if stated is None:
        return
    holds = float(joint.rating.value or math.inf)
    over = stated - room
    if math.isfinite(holds) and not over >= AS_STATED * holds:
        said = (
            f"less than any {name} is taken to hold ({holds / 1e5:g} bar gauge): leave it out, or "
            "name the joint that holds so little, such as 'ground taper joint', 'pushed-on hose'"
        )
        yield "joint_rating", said, ()
    if joint.lifts and not over <= MOST_OF_LIFTED * holds:
        said = (
            f"no {name}, only pushed together, holds so much (about {holds / 1e5:g} bar): name "
            "the joint that does, such as 'wired stopper', 'screw-thread connector', "
            "'flange with clamp'"
        )
        yield "joint_rating", said, ()


def _made(
    item: Item, kind: ItemKind | None, material: Material | None, bought: bool
) -> Iterator[Claim]:
    """Glass that is said to be home-made, and is bought by its joint."""
    tube = kind is None or kind.packed  # it is clamped into a connector, cut by whomever
    glass = material is None or material.kind == "glass"
    tested = item.rating is not None  # after it was altered
    if item.home_made == "yes" and bought and glass and not tube and not tested:
        said = (
            "glass with a ground joint, thread or flange is bought: of what was altered "
            'at home write what it was tested for, "rating", too'
        )
        yield "home_made", said, ()


def _rated(
    item: Item, kind: ItemKind | None, material: Material | None, bought: bool, room: float
) -> Iterator[Claim]:
    """A rating below what counts of such a part of which none is stated."""
    if kind is None or item.rating is None or kind.is_end:
        return
    made = "" if material is None else material.kind
    walls = item.wall is not None and item.inner_diameter is not None
    bought &= made in ("glass", "metal") and item.home_made == "unknown"
    works = item.home_made == "no" or bought
    sold = works and (kind.holds_liquid or kind.id == "junction")
    if not (item.suction or made and (walls or sold)):
        return
    least = least_rated(item, kind.id, made)
    if AS_STATED * least <= item.rating - room:
        return
    cure = (
        'leave out its "wall", so that the rating alone counts' if item.home_made == "yes"
        else 'is it that of its joint ("joint_rating")? Of one altered or made at home say '
        '"home_made: yes"'
    )  # fmt: skip
    said = f"such a {kind.id} is taken to hold {least / 1e5:g} bar gauge where no rating is stated"
    yield "rating", f"{said}, and this is less: {cure}", ()
