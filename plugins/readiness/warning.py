"""Is there a detector for every gas that can reach people in a harmful amount."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Quantity, Setup, Substance

from ..shared.detectors import unfit
from ..shared.harm import failure_limit, limits_of
from ..shared.names import CONTENT, WHERE
from ..shared.stores import let_go

#: Share of the IDLH, and of the lower flammable limit where there is no limit for breathing, from
#: which on a detector is asked for (common practice, no source), and its stay, s.
TENTH, SHORTEST = 0.1, 600.0

UNWARNED = Method(
    id="readiness.unwarned",
    title="Gas that can reach people without a detector for it, over where one is asked for",
    result="share of what asks for a detector",
    unit="1",
    formula="where(warned > 0, 0, C / limit)",
    inputs=(
        Input("C", "C", "mol/mol", "air people breathe, or the room with a whole cylinder in it"),
        Input("limit", "L", "mol/mol", "a tenth of the IDLH; AEGL-2 for ten minutes"),
        Input("warned", "warned", "1", "1 where a detector for it is claimed that can warn"),
    ),
    function=lambda C, limit, warned: np.where(warned > 0, 0.0, C / limit),
    compares=lambda C, limit, warned: (C, limit),
    compared_in=("mol/mol", "ppm"),
    source="NIOSH IDLH, AEGL-2 of the US EPA; the tenth is common practice, no source",
    validity=(
        "the lower of both; without an AEGL the short-term limit, without any of them a tenth of "
        "the lower flammable limit. Whether the detector works and is looked at is not known"
    ),
)
KIND = Kind.of(
    UNWARNED, "higher", "",
    {"reagents.*.held.pressure": "up", "reagents.*.held.volume": "up",
     "ventilation.room_volume": "down"},
)  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    reach = {m.of: m for m in setup.measures(CONTENT)}
    cylinders = list(let_go(setup))
    found = False
    for name, peak in reach.items():
        substance = setup.reference.substance(name)
        limit = _asked_at(setup, substance)
        if limit is None:
            continue
        found = True
        warned = Quantity.of(
            float(_warned(setup, substance)), name="detector that can warn", unit="1",
            source="scenario",
        )  # fmt: skip
        own = Quantity.of(
            peak.value.reshape(-1), peak.status.reshape(-1), name="air people breathe",
            unit="mol/mol", source=CONTENT,
        )  # fmt: skip
        done = UNWARNED(C=own, limit=limit, warned=warned)
        yield setup.measure(KIND, _settled(done, own.value, warned), WHERE, substance.name)
        for reagent, named, content in cylinders:
            if named == substance.name:
                whole = UNWARNED(C=content, limit=limit, warned=warned)
                at = f"cylinder of {reagent}"
                yield setup.measure(
                    KIND, _settled(whole, content.value, warned), at, substance.name
                )
    if not found:
        why = "no gas here has a limit that asks for a detector"
        yield setup.measure(KIND, setup.quantity(0.0, "share", "1", why), WHERE, note=why)


def _settled(done: Quantity, amount: FloatArray, warned: Quantity) -> Quantity:
    """Nothing breathed and a warning that is given need no limit."""
    none = (amount == 0) | (warned.value > 0)
    return done.revised(np.where(none, 0.0, done.value), np.where(none, 0, done.status))


def _asked_at(setup: Setup, substance: Substance) -> Quantity | None:
    """From which content on a detector is asked for; None for what does no harm in air."""
    limits = limits_of(setup, substance)
    parts: list[FloatArray] = []
    acute = failure_limit(substance, limits, np.full(setup.trials, SHORTEST))
    if acute is not None:
        parts.append(np.broadcast_to(acute.value, (setup.trials,)))
    if "idlh" in limits.known:
        parts.append(TENTH * np.broadcast_to(limits.known["idlh"].value, (setup.trials,)))
    lower = substance.datum("lower_limit_air").value
    if not parts and lower is not None:
        parts.append(np.full(setup.trials, TENTH * lower))
    if not parts:
        return None
    value = np.fmin.reduce(parts)
    status = np.where(np.isnan(value), 3, 0)
    return Quantity.of(
        value, status, name=f"where a detector for {substance.name} is asked for",
        unit="mol/mol", source="limits of its file",
    )  # fmt: skip


def _warned(setup: Setup, substance: Substance) -> bool:
    """Whether a detector for it is claimed that stands where it can warn and warns in time."""
    return any(
        safeguard.kind == "detector"
        and not unfit(setup, safeguard)
        and setup.reference.substance(str(safeguard.senses)).name == substance.name
        for safeguard in setup.scenario.safeguards
    )


UNWARNED_GAS = Computation(kinds=(KIND,), compute=_compute, needs=(CONTENT,))
