"""A whole cylinder of what burns, let go into the room."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup

from ..toxic_exposure.cylinders import FULLER, SHARE, let_go
from .dilute import Dilute
from .limits import limits_of

FUEL = Method(
    id="flammability.cylinder_fuel",
    title="A fuel of a whole cylinder, over its lower limit in air",
    result="share of the lower limit",
    unit="1",
    formula="x / L",
    inputs=(
        Input("x", "x", "mol/mol", "content of the room once the cylinder is in it"),
        Input("L", "L", "mol/mol", "lower limit in air"),
    ),
    function=lambda x, L: x / L,
    source="balance of the room",
    validity=SHARE.validity,
)
BURNS = Method(
    id="flammability.whole_cylinder",
    title="Fuel in the room once a whole cylinder is in it, over the lower limit",
    result="share of the lower limit",
    unit="1",
    formula="sum(F)",
    inputs=(Input("F", "F", "1", "each fuel over its lower limit in air"),),
    function=lambda F: np.sum(np.broadcast_arrays(*F), axis=0),
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
        burns = [
            FUEL(x=content, L=Quantity.of_datum(substance.datum("lower_limit_air"), name))
            for name, content in contents.items()
            if (substance := setup.reference.substance(name)).combustible is not False
        ]
        if not burns:
            continue
        found = True
        share = BURNS(F=burns)
        thin = _never_burns(setup, contents)
        value = np.where(thin, 0.0, share.value)
        status = np.where(thin, setup.engine_status, share.status)
        cold = setup.scenario.reagents[reagent].state != "gas"
        at = f"{'vessel' if cold else 'cylinder'} of {reagent}"
        yield setup.measure(KIND, share.revised(value, status), at)
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
    with np.errstate(divide="ignore", invalid="ignore"):
        gas = room / room.sum(axis=0)
    warm = setup.number("ambient.temperature").value
    share = Dilute.of(species, limits_of(species)).share(gas, warm, np.zeros(warm.shape, bool))
    return np.asarray(share <= 1)


RELEASED = Computation(kinds=(KIND,), compute=_compute)
