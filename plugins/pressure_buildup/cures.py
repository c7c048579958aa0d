"""What to write or fit, with its size, where a supply presses more than an item holds."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, log10, pi

import numpy as np
from numpy.typing import NDArray

from review import Place, Quantity, Setup
from review.physics.gas import R

from ..shared.rating import OFF_BY, scratched

#: Shares of what passes at which a relief opens and that its bore costs (a judgement).
OPENS, COSTS = 0.4, 0.4
#: The vent line that is proposed, m, with its entrance and exit in velocity heads, and the friction
#: of a smooth tube from a Reynolds number of some 2500 on (Moody, the high end, from memory).
VENT, HEADS, FRICTION = 1.0, 1.5, 0.046
#: Bores that are proposed, mm: wider ones nobody has.
BORES = range(6, 26)
#: What the stem of a thistle funnel holds at most, Pa: 0.3 m of water; and its bore, mm.
COLUMN, SEAL = 3000.0, 6
#: Share of the rating from which on something has to be done.
MATTERS = 0.5


def cure(setup: Setup, place: Place, over: Quantity, holds: Quantity) -> str:
    """What would bring an item below what it holds, as a sentence; blank where nothing is known."""
    if not np.isfinite(over.value).any() or np.isnan(over.value).any():
        return ""
    found = [scratched(place)] if scratched(place) else []
    if np.nanmax(over.value * np.where(over.status == 1, OFF_BY, 1.0)) > MATTERS:
        found += [*_dip_tubes(setup, place), *_reliefs(setup, place, holds)]
        found += _thistle(setup, place, holds)
    return ". ".join(found)


def _dip_tubes(setup: Setup, place: Place) -> Iterator[str]:
    """Bottles at or behind the item whose dip tube counts as the narrowest there is."""
    bottles = [
        p.id
        for p in setup.places
        if place.index in p.before
        and p.kind.id == "wash bottle"
        and p.model.dip_tube_bore is None
        and p.id not in setup.scenario.gaping
    ]
    if bottles:
        named = " and of ".join([", ".join(bottles[:-1]), bottles[-1]] if bottles[1:] else bottles)
        yield f'State the bore of the dip tube of {named}, such as "dip_tube_bore: 4 mm"'


def _reliefs(setup: Setup, place: Place, holds: Quantity) -> Iterator[str]:
    """Reliefs on the items into which gas comes by a regulator, as wide as they have to be."""
    scenario = setup.scenario
    before = {setup.places[i].id: setup.places[i] for i in place.before}
    least = float(np.nanmin(holds.value / np.where(holds.status == 1, OFF_BY, 1.0)))
    if not least > 0:
        return
    widest: dict[str, int] = {}  # by item: two gases that enter it leave by one relief
    for name, flow in scenario.flows.items():
        entry = before.get(flow.into)
        failed = setup.number(f"flows.{name}.regulator_failed").value > 0
        if entry is None or not failed.any():
            continue
        bore = _bore(setup, place, failed, COSTS * least)
        fitted = getattr(entry.model.relief, "bore", None) or 0.0
        if bore is None or (bore and not fitted < bore / 1e3):
            continue
        if not bore:
            yield f"A mass flow controller for {name} would go on holding its rate"
            continue
        widest[entry.id] = max(bore, widest.get(entry.id, 0))
    hood = scenario.ventilation is not None and scenario.ventilation.hood is not None
    opens, to = _round(OPENS * least / 1e5), "hood" if hood else "outdoors"
    for at, bore in widest.items():
        yield (
            f"Put on {at} such as "
            f'"relief: {{opens_at: {opens:g} bar gauge, bore: {bore} mm, length: {VENT:g} m, '
            f'to: {to}}}"'
        )


def _thistle(setup: Setup, place: Place, holds: Quantity) -> Iterator[str]:
    """The liquid seal of a flask that makes gas, such as a thistle funnel, where it has none."""
    least = float(np.nanmin(holds.value / np.where(holds.status == 1, OFF_BY, 1.0)))
    before = {setup.places[i].id: setup.places[i] for i in place.before}
    for flow in setup.scenario.flows.values():
        held = setup.scenario.reagents[flow.reagent].held
        entry = before.get(flow.into)
        if held is None or held.as_ != "generator" or entry is None or not least > 0:
            continue
        if entry.model.relief is None:
            opens = _round(min(OPENS * least, COLUMN) / 1e5)
            seal = f'"relief: {{opens_at: {opens:g} bar gauge, bore: {SEAL} mm}}"'
            yield f"A thistle funnel or liquid seal on {entry.id}, such as {seal}, lets it out"


def _bore(setup: Setup, place: Place, failed: NDArray[np.bool_], costs: float) -> int | None:
    """Bore through which all that comes by a failed regulator leaves at so much pressure, mm; 0
    where that is wider than any, None where nobody knows."""
    flow = place.delivered.value[failed]
    if not np.isfinite(flow).all():
        return None
    worst = int(np.argmax(flow))
    share = place.composition("inlet")[:, failed][:, worst]
    masses = np.array([s.molar_mass for s in setup.species])
    room = float(setup.number("ambient.pressure").value[0])
    warm = float(setup.number("ambient.temperature").value[0])
    density = float(np.nansum(share * masses)) * room / (R * warm)
    volume = float(flow[worst]) * R * warm / room
    for bore in BORES:
        wide = bore / 1e3
        speed = volume / (pi / 4 * wide**2)
        if density / 2 * speed**2 * (HEADS + FRICTION * VENT / wide) <= costs:
            return bore
    return 0


def _round(value: float) -> float:
    """Down to one figure, as such things are set."""
    digit = 10.0 ** floor(log10(value))
    return floor(value / digit + 1e-9) * digit
