"""How long it takes until the air people breathe keeps them from leaving or endangers life."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Setup

from ..shared.harm import levels
from ..shared.names import WHERE
from ..shared.rising import Rising

SECONDS = Method(
    id="exposure.seconds",
    title="Time until the near field is at a level that holds by then",
    result="time until the level is reached",
    unit="s",
    formula=(
        "min([where(max(t, s) <= e, max(t, s), inf) for t, s, e in zip(reached, since, until)])"
    ),
    inputs=(
        Input("reached", "t", "s", "near field is at each level, of the two-zone room"),
        Input("since", "t_1", "s", "time of exposure from which each level holds"),
        Input("until", "t_2", "s", "longest time of exposure for which it holds"),
    ),
    function=lambda reached, since, until: _first(reached, since, until),
    source=(
        "two-zone room in closed form: Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542; IDLH of "
        "NIOSH; AEGL of the US EPA, of the times stated the next longer"
    ),
    validity=(
        "from the beginning of each step, all that it lets out at its largest rate from then on; "
        "beyond eight hours the level for eight"
    ),
)


def _first(
    reached: Sequence[FloatArray], since: Sequence[FloatArray], until: Sequence[FloatArray]
) -> FloatArray:
    """The least of what falls within its own time; NaN where one is not known."""
    found = [
        np.where(np.maximum(t, s) <= e, np.maximum(t, s), np.where(np.isnan(t), np.nan, np.inf))
        for t, s, e in zip(reached, since, until, strict=True)
    ]
    return np.asarray(np.minimum.reduce(np.broadcast_arrays(*found)))


def _kind(name: str, title: str) -> Kind:
    return Kind.of(
        SECONDS, "lower", "min",
        {"ventilation.room_volume": "up", "ventilation.air_changes": "up",
         "ventilation.air_speed": "up"},
        id=f"exposure.seconds_to_{name}", title=title, clock=True,
    )  # fmt: skip


KINDS = {
    "aegl_2": _kind("aegl_2", "Time until people may be unable to leave (AEGL-2)"),
    "aegl_3": _kind("aegl_3", "Time until the air endangers life for so long a stay (AEGL-3)"),
    "idlh": _kind("idlh", "Time until the air people breathe endangers life (IDLH)"),
}


def _compute(setup: Setup) -> Iterable[Measure]:
    rising = setup.once(Rising.of)
    for row, substance in enumerate(rising.air.substances):
        for name, kind in KINDS.items():
            known = levels(setup, substance, name)
            if not known:
                continue
            reached, since, until = [], [], []
            for limit, begins, ends in known:
                seconds = rising.until(row, limit)
                reached.append(rising.quantity(seconds, f"{substance.name} at {kind.title}"))
                since.append(setup.quantity(begins, "from", "s", "AEGL of the US EPA"))
                until.append(setup.quantity(ends, "up to", "s", "AEGL of the US EPA"))
            done = SECONDS(reached=reached, since=since, until=until)
            yield setup.measure(kind, done, WHERE, substance.name)


CLOCK = Computation(kinds=tuple(KINDS.values()), compute=_compute)
