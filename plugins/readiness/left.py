"""What burns or poisons and is still in the train after the last step."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Setup

from .gases import LIMITS, Gases

LEFT = Method(
    id="readiness.left_in_train",
    title="Gas left in the train as a share of what is allowed",
    result="share of what may be left",
    unit="1",
    formula="max(fuel / share, toxic)",
    inputs=(
        Input("fuel", "x/L", "1", "fuel held, over its lower limit"),
        Input("share", "share", "1", "share of the lower limit that may be left"),
        Input("toxic", "x/IDLH", "1", "gas held, over its IDLH; the largest of all"),
    ),
    function=lambda fuel, share, toxic: np.maximum(fuel / share, toxic),
    source="NFPA 69: 25 % of the lower limit (from memory); IDLH of NIOSH",
    validity="gas alone; what liquids, absorbents and beds hold is another question",
)
KIND = Kind(
    id=LEFT.id,
    title=LEFT.title,
    worse="higher",
    unit="1",
    display="",
    method=LEFT.id,
    source=LEFT.source,
    validity=LEFT.validity,
    moves={"reagents.*.composition.<fuel>": "up"},
)


def _compute(setup: Setup) -> Iterable[Measure]:
    gases = Gases(setup)
    last = gases.in_cell(setup.shape[0] - 1)
    fuel = gases.fuel(gases.old, gases.hot)
    toxic = np.zeros(fuel.shape)
    for row, substance in enumerate(setup.species):
        idlh = substance.datum("idlh")
        if idlh.state == "none":
            continue
        limit = np.nan if idlh.value is None else idlh.value
        held = gases.old[:, row]
        toxic = np.maximum(toxic, np.where(held > 0, held / limit, 0.0 * held))
    for place in setup.places:
        if place.is_end:
            continue
        i = place.index
        done = LEFT(
            fuel=gases.step_quantity(fuel[i], 0.0, last, f"fuel left in {place.id}", "1"),
            share=Quantity.of(
                gases.lean_share, name="share that may be left", unit="1", source="ruleset"
            ),
            toxic=gases.step_quantity(toxic[i], 0.0, last, f"toxic gas left in {place.id}", "1"),
        )
        yield setup.measure(KIND, done, place.id)


LEFT_OVER = Computation(kinds=(KIND,), compute=_compute, limits=LIMITS)
