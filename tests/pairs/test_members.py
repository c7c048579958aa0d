"""Every pair of classes speaks of every member of its classes, and few members are unclassified."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import pytest

from plugins.reactive_pairs.meeting import _meetings
from plugins.reactive_pairs.present import Presence
from review import Material, Pair, Reference, Substance

REFERENCE = Reference()
PAIRS = {pair.name: pair for pair in REFERENCE.pairs()}
#: As what a member may be in an item. Gases and solids are dissolved, liquids set and evaporate,
#: and what is solid in the cold is molten or fumes where it is hot.
SUBSTANCE = ("gas", "liquid", "solid", "catalyst", "reduced", "drawn", "moisture")
MATERIAL = ("wall", "seal", "catalyst", "solid")
ENOUGH = np.ones(1)


@cache
def everything() -> tuple[Substance | Material, ...]:
    return (
        *(REFERENCE.substance(name) for name in REFERENCE.names("substances")),
        *(REFERENCE.material(name) for name in REFERENCE.names("materials")),
    )


def members(pair: Pair, side: int) -> list[Substance | Material]:
    """Those of one partner that can be in an item in the phase that the pair asks for."""
    return [
        m for m in everything() if pair.is_partner(1 if side else 0, m) and there(m, pair, side)
    ]


def there(member: Substance | Material, pair: Pair, side: int) -> Presence | None:
    phases = SUBSTANCE if isinstance(member, Substance) else MATERIAL
    found = (Presence(member, phase, ENOUGH) for phase in phases)
    return next((one for one in found if one.may_be(pair.phases[side])), None)


@pytest.mark.parametrize("name", PAIRS)
def test_a_pair_fires_for_every_member_of_its_classes(name: str) -> None:
    pair = PAIRS[name]
    others: list[Substance | Material | None] = [None] if pair.any_surface else [*members(pair, 1)]
    thirds = [m for m in everything() if pair.third and pair.has_third([m])][:1]
    extra = [Presence(m, "catalyst", ENOUGH) for m in thirds]
    assert members(pair, 0) and others, "nothing in the data can be a partner of it"
    for one in members(pair, 0):
        for other in others:
            if other is not None and other.name == one.name:
                continue
            here = [there(one, pair, 0)] + ([there(other, pair, 1)] if other is not None else [])
            found = _meetings(REFERENCE.pairs(), [each for each in (*here, *extra) if each])
            assert any(each.name == name for *_, each in found), (one.name, other)


def test_few_pairs_cannot_be_judged() -> None:
    """Of all pairs of substances and materials at most 15 % have a partner that nobody classed."""
    known = [one.classes is not None for one in everything()]
    lost = sum(not (a and b) for a, b in combinations(known, 2))
    assert lost <= 0.15 * len(known) * (len(known) - 1) / 2
