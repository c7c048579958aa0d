"""A whole cylinder of what burns, let go into the room."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup
from review.physics.mixtures import limit_ratio

from ..shared.dilute import Dilute
from ..shared.fuels import limits_of
from ..shared.stores import FULLER, SHARE, let_go, store_of

BURNS = Method(
    id="flammability.whole_cylinder",
    title="Fuel in the room once a whole cylinder is in it, over the lower limit",
    result="share of the lower limit",
    unit="1",
    formula="sum([a / b for a, b in zip(x, L)])",
    inputs=(
        Input("x", "x", "mol/mol", "each fuel in the room once the cylinder is in it"),
        Input("L", "L", "mol/mol", "its lower limit in air"),
    ),
    function=lambda x, L: limit_ratio(x, L),
    source="Le Chatelier (Bureau of Mines Bulletin 627)",
    validity=f"{SHARE.validity}; 0 for a gas that ISO 10156 calls not flammable in air",
)
KIND = Kind.of(
    BURNS,
    "higher",
    "%",
    FULLER,
    title="A whole cylinder in the room as a share of what burns in air",
)


def _compute(setup: Setup) -> Iterable[Measure]:
    found = False
    for reagent, group in groupby(let_go(setup), key=lambda each: each[0]):
        contents = {name: content for _, name, content in group}
        known = [(setup.reference.substance(name), x) for name, x in contents.items()]
        burns = [(one, x) for one, x in known if one.combustible is not False]
        if not burns:
            continue
        found = True
        limits = [
            Quantity.of_datum(one.datum("lower_limit_air"), f"limit of {one.name}")
            for one, _ in burns
        ]
        share = BURNS(x=[x for _, x in burns], L=limits)
        thin = _never_burns(setup, contents)
        value = np.where(thin, 0.0, share.value)
        status = np.where(thin, setup.engine_status, share.status)
        yield setup.measure(KIND, share.revised(value, status), store_of(setup, reagent))
    if not found:
        why = "no cylinder holds a gas that burns"
        none = setup.quantity(0.0, "share of the lower limit", "1", why)
        yield setup.measure(KIND, none, "room", note=why)


def _never_burns(setup: Setup, contents: dict[str, Quantity]) -> FloatArray:
    """Where the cylinder's gas does not burn with any amount of air, (trials,)."""
    names = [*dict.fromkeys([*contents, "oxygen", "nitrogen"])]
    species = tuple(setup.reference.substance(name) for name in names)
    zero = np.zeros(setup.trials)
    room = np.array([contents[n].value if n in contents else zero for n in names])
    gas = room / room.sum(axis=0)
    warm = setup.number("ambient.temperature").value
    share = Dilute.of(species, limits_of(species)).share(gas, warm, np.zeros(warm.shape, bool))
    return np.asarray(share <= 1)


RELEASED = Computation(kinds=(KIND,), compute=_compute)
