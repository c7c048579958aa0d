"""Detectors: which of them can warn, and when people have left at their alarm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from review import Setup

if TYPE_CHECKING:
    from review.scenario.models import Safeguard

#: Where a detector may stand, and the air that it is taken to sense: beside the source there is
#: never less than in the room.
AIR = {"hood": "hood", "room": "room", "bench": "room"}
#: The word for a nose; it is known so that it can be told that it warns of nothing.
ODOUR = "smell"
#: A second alarm at a quarter of the lower limit is the highest that is usual.
LFL_SHARE = 0.25


def unfit(setup: Setup, safeguard: Safeguard) -> str:
    """Why a safeguard warns of nothing here; '' where it may."""
    if safeguard.kind == ODOUR:
        return "odour is never counted as a warning"
    if safeguard.kind != "detector" and safeguard.senses is None:
        return ""
    if safeguard.senses is None:
        return "what the detector senses is not given"
    try:
        substance = setup.reference.substance(safeguard.senses)
    except LookupError as unknown:
        return str(unknown)
    if substance.name not in setup.rows:
        return f"{substance.name}, which it senses, cannot be in the gas here"
    if safeguard.at not in AIR:
        return "it does not stand in the hood, on the bench or in the room (at: room)"
    value = alarm_point(setup, safeguard)
    if np.isnan(value):
        return "its alarm point is not given in %, ppm or % LFL"
    lower = substance.datum("lower_limit_air").value
    if substance.name == "oxygen":
        return "" if 0.195 <= value <= 0.235 else "its alarm lies below 19.5 % or above 23.5 %"
    limits = [
        (datum.value, name)
        for name in ("limit_ceiling", "limit_short_term", "limit_8_hour")
        if (datum := substance.datum(name)).value is not None
    ][:1]
    if lower is not None:
        limits.append((LFL_SHARE * lower, "25 % of the lower limit"))
    if not limits:
        return f"no limit of {substance.name} is known"
    lowest, name = min(limits)
    words = name.replace("limit_", "").replace("_", " ")
    # An alarm at the limit itself is not above it, however the two were rounded.
    above = f"its alarm lies above the {words} of {substance.name}"
    return "" if value <= lowest * (1 + 1e-9) else above


def alarm_point(setup: Setup, safeguard: Safeguard) -> float:
    """Mole fraction at which a detector gives alarm; NaN where it is not given."""
    alarm = safeguard.alarm
    if alarm is None or alarm.of not in ("fraction", "lower limit"):
        return float("nan")
    if alarm.of == "fraction":
        return alarm.value
    lower = setup.reference.substance(str(safeguard.senses)).datum("lower_limit_air").value
    return float("nan") if lower is None else alarm.value * lower
